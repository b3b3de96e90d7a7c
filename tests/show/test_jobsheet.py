"""The job sheet, read as a browser reads it, against the plan and its stages."""

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from metrolib import __main__ as command
from metrolib.errors import ImpossiblePlanError, InputError, MetrolibError
from metrolib.heights.adjust import adjust
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.gauges import gauges_of
from metrolib.rebuild.stages.stages import stages
from metrolib.show.jobsheet import job_sheet
from metrolib.show.sheet_room import COLUMNS, face_width, plan_room
from metrolib.show.sheet_zones import lanes_of
from metrolib.survey.folder import read_survey
from tests.rebuild.beds import flat
from tests.show.conftest import SAMPLES

CHROMIUM = shutil.which("chromium")
DECIDED = [
    "long_rails",
    "milling_table",
    "published_autocollimator",
    "published_forward_backward",
    "rectangular_face",
    "toolroom_lathe",
]
POINT = 25.4 / 72  # mm


class _Sheet(HTMLParser):
    """What a sheet says: texts by the class they have, with their font size, by lane."""

    def __init__(self, page):
        super().__init__(convert_charrefs=True)
        self.said, self.lanes, self.kept, self.boxes, self.pages = [], [], [], 0, 0
        self.names, self._now = [], None
        self.feed(page)
        self.words = " ".join(" ".join(self.said).split())

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        kind = given.get("class")
        self.boxes += kind == "box"
        self.pages += kind == "page"
        if kind == "lane":
            self.lanes.append({"face": given["data-face"], "depth": [], "stop": {}, "marks": 0})
        if kind == "kept":
            self.kept.append(given["data-face"])
        if kind == "governs":
            self.lanes[-1]["marks"] += 1
        self._now = (kind, given) if tag in ("text", "td") else None

    def handle_endtag(self, tag):
        self._now = None

    def handle_data(self, data):
        self.said.append(data)
        if self._now is None:
            return
        kind, given = self._now
        if kind == "depth":
            self.lanes[-1]["depth"].append((data, float(given["font-size"])))
        if kind == "stop":
            self.lanes[-1]["stop"].setdefault(given["data-stage"], []).append(data)
        if kind == "name":
            self.names.append(data)


def _written(survey, heights, plan, folder):
    return _Sheet(job_sheet(survey, heights, plan, folder / "s.html").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def lathe_sheet(lathe, tmp_path_factory):
    return _written(lathe.survey, lathe.heights, lathe.plan, tmp_path_factory.mktemp("sheet"))


def test_each_station_shows_its_depth_rounded_down_in_large_figures(lathe, lathe_sheet):
    plan = lathe.plan
    assert [lane["face"] for lane in lathe_sheet.lanes] == [
        "rear flat",
        "tailstock flat",
        "front flat",
    ]
    for lane in lathe_sheet.lanes:
        mine = (plan.face == lane["face"]) & ~plan.left_out
        order = np.argsort(plan.x[mine])
        assert [int(text) for text, _ in lane["depth"]] == [
            int(1000 * depth + 1e-6) for depth in plan.depth[mine][order]
        ]
        assert all(size >= 18 * POINT - 1e-3 for _, size in lane["depth"])


def test_stop_readings_are_those_of_the_stages(lathe, lathe_sheet):
    work = stages(lathe.plan, lathe.survey.methods, gauges=gauges_of(lathe.survey, lathe.plan))
    for lane in lathe_sheet.lanes:
        assert lane["stop"] == {
            stage.name: stage.readings[lane["face"]].numbers("um") for stage in work
        }
    assert "lever indicator, zero at 1000" in lathe_sheet.words


def test_stages_have_a_box_for_each_face_that_is_cut(lathe, lathe_sheet):
    assert lathe_sheet.names == [method.name for method in lathe.survey.methods]
    assert lathe_sheet.boxes == 3 * len(lathe.survey.methods)


def test_stop_readings_are_read_from_a_metre(lathe, tmp_path):
    """Full sight reads letters of 5 minutes of arc, 1.45 mm at a metre (the definition of visual
    acuity 1.0, ISO 8596, from memory); a capital has 0.716 of its letters' size.
    """
    page = job_sheet(lathe.survey, lathe.heights, lathe.plan, tmp_path / "s.html").read_text(
        "utf-8"
    )
    sizes = re.findall(r'class="stop"[^>]*?font-size="([\d.]+)"', page)
    assert len(sizes) == 3 * (14 + 11 + 15) and min(map(float, sizes)) * 0.716 >= 2.5


def test_many_faces_and_long_names_keep_their_boxes_and_their_page():
    faces = [f"carriage guide way, operator side {n}" for n in range(7)]
    assert sum(COLUMNS.values()) + 7 * face_width(faces) == pytest.approx(277)
    assert face_width(faces) > 15
    alone = plan_room("bed", ["Sure."], ["file", "scraper"], faces[:1])
    many = plan_room("bed", ["Sure."], ["file", "scraper"], faces)
    more = plan_room("bed", ["Sure."], ["file", "scraper", "stone"], faces)
    assert alone > many > 100  # their names stand over the boxes, in more lines
    assert many - more == pytest.approx(7.3)  # a line for a box


def test_a_long_name_is_broken_and_not_squeezed(tmp_path):
    long = "carriage guide way, operator side"
    heights = given_heights([flat(long)], {long: ([0, 250, 500], [0.0, -0.05, 0.0])}, u=0.001)
    survey = read_survey(SAMPLES / "published_forward_backward")
    plan = plan_removal(heights, faces=[long])
    page = job_sheet(survey, heights, plan, tmp_path / "s.html").read_text(encoding="utf-8")
    lines = re.findall(r'class="face"[^>]*>([^<]*)<', page)
    assert " ".join(lines) == long and len(lines) > 1
    assert "textLength" not in page


def test_datums_and_governing_stations_are_marked(lathe, lathe_sheet):
    assert {*lathe_sheet.kept} == {"underside ledge", "rear ledge"}
    marks = {lane["face"]: lane["marks"] for lane in lathe_sheet.lanes}
    for face, count in marks.items():
        assert count == len({g.station for g in lathe.plan.governing if g.face == face})
    assert sum(marks.values()) > 0


def test_it_says_how_sure_it_is_and_what_is_not_settled(lathe, lathe_sheet):
    share = int(100 * lathe.plan.confidence + 1e-6)
    assert f"on {share} every place cleans up" in lathe_sheet.words
    assert "One reading stands out in the survey" in lathe_sheet.words
    assert "Cautions: supply off" in lathe_sheet.words


def test_a_target_set_by_hand_is_told_with_what_would_not_clean_up(lathe, tmp_path):
    plan = plan_removal(lathe.heights, lathe.survey.decision, target_height=-0.12)
    path = job_sheet(lathe.survey, lathe.heights, plan, tmp_path / "s.html")
    page = path.read_text(encoding="utf-8")
    assert "some place will not clean up. The target was set by hand." in page
    assert page.count('class="lacks"') == np.count_nonzero(plan.lacking) > 0
    assert "would not clean up to this target" in page


def test_an_untouchable_face_is_barred(tmp_path):
    faces = [flat("way"), flat("guide", y=60)]
    points = {"way": ([0, 250, 500], [0.05, 0.03, 0.05]), "guide": ([0, 500], [0.0, 0.0])}
    heights = given_heights(faces, points)
    plan = plan_removal(heights, faces=["way", "guide"], untouchable=["guide"])
    survey = read_survey(SAMPLES / "published_forward_backward")
    machine = replace(survey.machine, faces=heights.faces)
    sheet = _written(replace(survey, machine=machine), heights, plan, tmp_path)
    assert sheet.kept == ["guide"] and "DO NOT TOUCH: stays as it is" in sheet.words
    assert sheet.boxes == 3  # of the way alone: two lines to fill in, and the target


def test_without_methods_the_target_is_the_only_stop_and_lines_are_left_to_fill_in(lathe, tmp_path):
    bare = replace(lathe.survey, methods=())
    sheet = _written(bare, lathe.heights, lathe.plan, tmp_path)
    work = stages(lathe.plan, lathe.survey.methods, gauges=gauges_of(lathe.survey, lathe.plan))
    for lane in sheet.lanes:
        assert lane["stop"]["target"] == work["scraper"].readings[lane["face"]].numbers("um")
    assert sheet.boxes == 9 and "write yours" in sheet.words


def test_where_stations_stand_close_zones_show_the_least_of_them(tmp_path):
    x = np.linspace(0, 2000, 101)
    hollow = -0.12 * np.sin(np.pi * x / 2000) ** 2 + 0.002 * (np.arange(101) % 3)
    heights = given_heights([flat("way", length=2000)], {"way": (x, hollow)}, u=0.001)
    plan = plan_removal(heights, faces=["way"])
    survey = read_survey(SAMPLES / "published_forward_backward")
    sheet = _written(survey, heights, plan, tmp_path)
    (lane,) = sheet.lanes
    assert len(lane["depth"]) < 40 and "shows the least of them" in sheet.words
    assert all(size >= 18 * POINT - 1e-3 for _, size in lane["depth"])


def test_zones_cover_all_stations_and_never_show_more_than_the_least():
    x = np.linspace(0, 1000, 41)
    heights = given_heights([flat("way", length=1000)], {"way": (x, -0.1 * (x / 1000 - 0.5) ** 2)})
    plan = plan_removal(heights, faces=["way"], clean_up=0.01)
    (lane,) = lanes_of(plan, "um", lambda text: 25.0 * len(text))
    assert [i for zone in lane.zones for i in zone.stations] == lane.stations.tolist()
    for zone in lane.zones:
        assert float(zone.text) <= 1000 * plan.depth[list(zone.stations)].min() + 1e-6
        assert zone.right - zone.left >= 25.0 * len(zone.text)
    for one, after in zip(lane.zones, lane.zones[1:], strict=False):
        assert one.right == after.left


def test_a_bed_with_too_many_lines_gets_a_second_page_that_says_so(tmp_path):
    faces = [flat(f"way {n}", y=60.0 * n) for n in range(12)]
    wave = {face.name: ([0, 250, 500], [0.0, -0.05, 0.0]) for face in faces}
    heights = given_heights(faces, wave, u=0.001)
    plan = plan_removal(heights, faces=[face.name for face in faces])
    survey = read_survey(SAMPLES / "published_forward_backward")
    sheet = _written(survey, heights, plan, tmp_path)
    assert sheet.pages == 2 and "page 1 of 2: more lines of stations" in sheet.words
    assert len({lane["face"] for lane in sheet.lanes}) == 12


def test_thou_are_shown_where_the_survey_asks_for_them(tmp_path):
    survey = read_survey(SAMPLES / "published_forward_backward")
    heights = given_heights([flat("way")], {"way": ([0, 250, 500], [0.0, -0.0508, 0.0])})
    plan = plan_removal(heights, faces=["way"])
    sheet = _written(replace(survey, display="thou"), heights, plan, tmp_path)
    # 0.0508 mm is 2 thou exactly: 1 thou is 0.0254 mm
    assert [text for text, _ in sheet.lanes[0]["depth"]] == ["2.0", "0.0", "2.0"]
    assert "take off, in thou" in sheet.words and "given as exact" in sheet.words


def test_the_same_survey_gives_the_same_bytes(lathe, tmp_path):
    made = [
        job_sheet(lathe.survey, lathe.heights, lathe.plan, tmp_path / f"{n}.html").read_bytes()
        for n in (1, 2)
    ]
    assert made[0] == made[1] and b"http" not in made[0]


def test_names_are_escaped(lathe, tmp_path):
    machine = replace(lathe.survey.machine, name='<b>bed</b> & "co"')
    survey = replace(lathe.survey, machine=machine)
    page = job_sheet(survey, lathe.heights, lathe.plan, tmp_path / "s.html").read_text("utf-8")
    assert "<b>bed" not in page and "&lt;b&gt;bed" in page


def test_refusals(lathe, tmp_path):
    with pytest.raises(InputError, match="job_sheet: a page ends in .html or .pdf"):
        job_sheet(lathe.survey, lathe.heights, lathe.plan, tmp_path / "sheet.csv")
    with pytest.raises(InputError, match="no plan to put on a sheet, got no metal"):
        refused = ImpossiblePlanError("no metal")
        job_sheet(lathe.survey, lathe.heights, refused, tmp_path / "s.html")
    with pytest.raises(InputError, match="plan: a RemovalPlan is needed, got 3"):
        job_sheet(lathe.survey, lathe.heights, 3, tmp_path / "s.html")
    (tmp_path / "file").write_text("")
    with pytest.raises(MetrolibError, match="job_sheet: .*cannot be written"):
        job_sheet(lathe.survey, lathe.heights, lathe.plan, tmp_path / "file" / "s.html")


def test_the_command_line_writes_it(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    folder = str(SAMPLES / "published_forward_backward")
    assert command.main([folder, "--no-report", "--job-sheet", "wall.html"]) == 0
    assert f"Job sheet: {tmp_path / 'wall.html'}" in capsys.readouterr().out
    assert _Sheet((tmp_path / "wall.html").read_text(encoding="utf-8")).pages == 1


if CHROMIUM:

    @pytest.mark.parametrize("name", DECIDED)
    def test_it_prints_on_one_page(name, tmp_path, recwarn):
        survey = read_survey(SAMPLES / name)
        heights = adjust(survey)
        plan = plan_removal(heights, survey.decision)
        page = job_sheet(survey, heights, plan, tmp_path / "s.html")
        options = ["--headless", "--no-sandbox", "--no-pdf-header-footer"]
        own = [f"--user-data-dir={tmp_path / 'own'}", f"--print-to-pdf={tmp_path / 's.pdf'}"]
        subprocess.run([CHROMIUM, *options, *own, page.as_uri()], check=True, capture_output=True)
        printed = (tmp_path / "s.pdf").read_bytes()
        assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1

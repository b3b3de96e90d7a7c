import os
import re
import subprocess
import sys
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from metrolib.errors import ImpossiblePlanError, InputError, MetrolibError
from metrolib.heights.adjust import adjust
from metrolib.heights.result import NotDetermined, given_heights
from metrolib.rebuild.findings import findings
from metrolib.rebuild.removal.options import compare
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.progress import progress
from metrolib.rebuild.ways.choosing import choose_way
from metrolib.show.report import report
from metrolib.show.tables import form_tables, option_table
from metrolib.survey.folder import read_survey
from tests.rebuild.beds import flat
from tests.rebuild.rounds_given import HELD, bed_rounds
from tests.show.conftest import SAMPLES

VOID = {"meta", "br", "hr", "img", "link", "input", "col"}
NAMES = {"survey": '<b>evil</b> & "co"', "face": "way <i>1</i>"}


class _Walk(HTMLParser):
    """Walk a page: every tag that is opened is closed in order, and no id comes twice."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.open, self.ids, self.wrong, self.text, self.references = [], [], [], [], []

    def handle_starttag(self, tag, attrs):
        self._take(attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self._take(attrs)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append((tag, self.getpos()))

    def handle_data(self, data):
        if not {"style", "script", "svg"} & {*self.open}:
            self.text.append(data)

    def _take(self, attrs):
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            self.references += re.findall(r"url\(#([^)]+)\)", value or "")
            if name in ("href", "xlink:href", "src"):
                self.references.append(value.removeprefix("#"))


def _walk(page):
    walk = _Walk()
    walk.feed(page)
    walk.close()
    return walk


def _text(page):
    """Return what a reader reads, blanks folded."""
    return " ".join(" ".join(_walk(page).text).split())


@pytest.fixture(scope="module")
def small():
    """A survey of one way, quickly worked."""
    survey = read_survey(SAMPLES / "published_forward_backward")
    heights = adjust(survey)
    return survey, heights, plan_removal(heights, survey.decision)


@pytest.fixture(scope="module")
def lathe_page(lathe, tmp_path_factory):
    """The report of the lathe, with some of its options."""
    options = {"as decided": lathe.survey.decision, **dict([*lathe.survey.options.items()][:2])}
    comparison = compare(lathe.heights, options)
    path = tmp_path_factory.mktemp("lathe") / "report.html"
    report(lathe.survey, lathe.heights, lathe.plan, path, comparison=comparison)
    return path.read_text(encoding="utf-8")


def _page(tmp_path, survey, heights, plan, **choices):
    path = report(survey, heights, plan, tmp_path / "report.html", **choices)
    return path.read_text(encoding="utf-8")


def test_page_is_whole_and_by_itself(lathe_page):
    assert lathe_page.startswith("<!DOCTYPE html>")
    walk = _walk(lathe_page)
    assert walk.wrong == [] and walk.open == []
    # nothing is loaded from elsewhere: every reference leads to an id of this page
    assert {*walk.references} <= {*walk.ids}
    assert len(walk.references) > 50
    assert not re.search(r"<(script|link|img|iframe|object)\b|@import|url\((?!#)", lathe_page)
    # the only addresses are the names of the vocabularies of SVG, which nothing loads
    named = re.sub(r'xmlns(:\w+)?="[^"]*"', "", lathe_page)
    assert not re.search(r"https?://", named)


def test_no_id_comes_twice(lathe_page):
    ids = _walk(lathe_page).ids
    assert len(ids) == len({*ids})


def test_page_tells_the_decision_and_every_depth(lathe_page, lathe):
    text, plan = _text(lathe_page), lathe.plan
    assert lathe.survey.machine.name in text
    assert " ".join(plan.in_words("um").split()) in text
    for depth, out in zip(plan.depth, plan.left_out, strict=True):
        assert out or f"{1000 * depth:.1f} ±" in text
    assert "an expanded uncertainty (k = 2" in text


def test_page_tells_every_option_and_what_it_costs(lathe_page, lathe):
    text = _text(lathe_page)
    for name in ("as decided", *[*lathe.survey.options][:2]):
        assert name in text
    assert "leave it alone" in text
    assert f"{lathe.plan.volume / 1e3:.2f}" in text


def test_page_tells_the_form_and_what_was_measured(lathe_page, lathe):
    text = _text(lathe_page)
    for name, one in lathe.found.straightness.items():
        assert f"{name} *" in text or f"{name} {1000 * one.value.nominal_value:.1f} µm" in text
        assert f"{1000 * one.value.nominal_value:.1f} µm" in text
    for (a, b), one in lathe.found.twist.items():
        assert f"{a} and {b} {one.value.nominal_value:+.4f}" in text
    for name in (*lathe.survey.traverses, *lathe.survey.instruments):
        assert name in text
    assert lathe.heights.checks.verdict in text


def test_page_ranks_datums_as_scraped_faces_and_says_so(small, lathe_page, lathe, tmp_path):
    # a sound rear flat is not called off for what the scraper left on it; the front flank is,
    # for its wear runs out gently
    text = _text(lathe_page)
    asked = lathe.survey.decision
    scraped, strict = (findings(lathe.heights, asked, form=f).datums for f in (0.003, 0))
    assert all(f"{one.face} : {'; '.join(one.reasons())}" in text for one in scraped.candidates)
    [off] = [one.face for one in strict.candidates if one.outvoted]
    assert off == "rear flat" and off not in [o.face for o in scraped.candidates if o.outvoted]
    mark = "(common practice, no published source)"
    assert f"and 3.0 µm more for what the last scraping left {mark}." in text
    other = _text(_page(tmp_path, *small, form=0.0))
    assert "and 0.0 µm more for what the last scraping left." in other and mark not in other
    with pytest.raises(InputError, match="form: it must be at least 0"):
        report(*small, tmp_path / "report.html", form=-0.001)


def test_page_has_the_cautions(lathe_page):
    text = _text(lathe_page)
    assert "Cautions" in text and "locked and tried" in text and "never permission" in text


def test_page_has_a_picture_of_the_plan_each_face_the_twists_and_the_checks(lathe_page, lathe):
    titles = re.findall(r'<svg role="img" aria-label="([^"]+)"', lathe_page)
    assert titles[0] == "Plan view of what comes off"
    assert [t for t in titles if t.startswith("What comes off")] == [
        f"What comes off {name}" for name in lathe.plan.decision.faces
    ]
    assert sum(t.startswith("Twist of") for t in titles) == len(lathe.found.twist)
    assert {"Heights of all faces", "Residuals of the readings"} <= {*titles}


def test_no_text_of_a_picture_lies_outside_it(lathe_page):
    """Pictures are laid out before they are written: titles end before the right edge."""
    for svg in re.findall(r"<svg.*?</svg>", lathe_page, re.S):
        width, height = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())
        places = [
            tuple(map(float, found))
            for found in re.findall(r'<g [^>]*transform="translate\(([-\d.]+) ([-\d.]+)\)', svg)
        ]
        assert places
        assert all(0 <= x <= width and 0 <= y <= height for x, y in places)


def test_wide_face_gets_its_map_and_its_table(rectangle, tmp_path):
    page = _page(tmp_path, rectangle.survey, rectangle.heights, rectangle.plan)
    assert "Flatness of top" in page
    text = _text(page)
    assert "top, y 300" in text and "contacts at (x, y)" in text
    assert _walk(page).wrong == []


def test_same_survey_gives_the_same_bytes(small, tmp_path):
    one = report(*small, tmp_path / "one.html").read_bytes()
    assert report(*small, tmp_path / "two.html").read_bytes() == one
    code = (
        "import sys; from metrolib import *\n"
        f"s = read_survey({str(SAMPLES / 'published_forward_backward')!r}); h = adjust(s)\n"
        "report(s, h, plan_removal(h, s.decision), sys.argv[1])"
    )
    # another process with another order of sets
    command = [sys.executable, "-c", code, str(tmp_path / "three.html")]
    subprocess.run(command, check=True, env={**os.environ, "PYTHONHASHSEED": "7"})
    assert (tmp_path / "three.html").read_bytes() == one


def test_markup_in_names_and_notes_stays_text(small, tmp_path):
    survey, _, _ = small
    machine = replace(survey.machine, name=NAMES["survey"], note="<script>alert(1)</script>")
    faces = [flat(NAMES["face"]), flat("b & c", 200)]
    points = {face.name: ([0, 250, 500], [0.0, -0.05, 0.01]) for face in faces}
    heights = given_heights(faces, points, 0.001)
    heights = replace(heights, not_determined=(NotDetermined("<u>x</u>", (), "take <em>y</em>"),))
    plan = plan_removal(heights, faces=[face.name for face in faces])
    survey = replace(
        survey, machine=machine, decision=plan.decision, options={"<h1>": plan.decision}
    )
    options = compare(heights, survey.options)
    page = _page(tmp_path, survey, heights, plan, comparison=options)
    assert not re.search(r"<(b>evil|script|i>1|u>|em>|h1>\W*</)", page)
    text = _text(page)
    for written in (*NAMES.values(), "<script>alert(1)</script>", "<u>x</u>", "<h1>", "b & c"):
        assert written in text
    walk = _walk(page)
    assert walk.wrong == [] and walk.open == []


def test_what_is_not_determined_is_listed(small, tmp_path):
    survey, heights, plan = small
    missing = NotDetermined("twist between 'a' and 'b'", ("a", "b"), "take a level across both")
    page = _page(tmp_path, survey, replace(heights, not_determined=(missing,)), plan)
    assert "What the readings do not determine" in _text(page)
    assert str(missing) in unescape(page)


def test_an_impossible_plan_is_told_with_its_reason(small, tmp_path):
    survey, heights, _ = small
    decision = replace(survey.decision, clean_up=0.05, greatest_cut={"way": 0.02})
    with pytest.raises(ImpossiblePlanError) as caught:
        plan_removal(heights, decision)
    options = compare(heights, {"as asked": decision, "as it was": survey.decision})
    page = _page(tmp_path, survey, heights, caught.value, comparison=options)
    text = _text(page)
    assert "No removal was planned: " + " ".join(str(caught.value).split()) in text
    assert "may lose at most" in text and "cannot be done" in text
    assert "What comes off each face" not in text
    assert "Form as measured" in text and "Cautions" in text
    assert _walk(page).wrong == []


def test_thou(small, tmp_path):
    survey, heights, plan = small
    text = _text(_page(tmp_path, replace(survey, display="thou"), heights, plan))
    assert plan.in_words("thou") in text
    assert "take off, in thou" in text and "µm" not in text


def test_heights_given_as_exact_arrays(small, tmp_path):
    survey, _, _ = small
    heights = given_heights([flat("way")], {"way": ([0, 250, 500], [0.0, -0.05, 0.01])})
    plan = plan_removal(heights, faces=["way"])
    page = _page(tmp_path, replace(survey, decision=plan.decision), heights, plan)
    text = _text(page)
    assert "The heights were given as exact" in text
    assert "How the readings agree" not in text and "Which faces can be trusted" not in text


def test_written_in_one_step_with_the_usual_permissions(small, tmp_path):
    path = tmp_path / "new folder" / "report.html"
    assert report(*small, path) == path
    mask = os.umask(0)
    os.umask(mask)
    assert path.stat().st_mode & 0o777 == 0o666 & ~mask
    path.chmod(0o600)
    report(*small, path)
    assert path.stat().st_mode & 0o777 == 0o600  # what its owner chose stays
    assert [one.name for one in path.parent.iterdir()] == ["report.html"]  # no part is left


def test_relative_path_comes_back_absolute(small, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = report(*small, "page.htm")
    assert path == Path(tmp_path, "page.htm") and path.is_file()


def test_unwritable_place(small, tmp_path):
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(MetrolibError, match="report: .*cannot be written.*another folder"):
        report(*small, tmp_path / "file" / "report.html")
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(MetrolibError, match="report: .*folder.html.*cannot be written"):
        report(*small, tmp_path / "folder.html")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["file", "folder.html"]


def test_writes_over_nothing_that_is_no_page(small, tmp_path):
    survey = tmp_path / "survey.toml"
    survey.write_text("precious")
    with pytest.raises(InputError, match="report: a page ends in .html or .pdf, got 'survey.toml'"):
        report(*small, survey)
    assert survey.read_text() == "precious"


def test_form_tables_of_nothing():
    # two stations have no shape
    heights = given_heights([flat("flat")], {"flat": ([0, 500], [0.0, 0.02])})
    found = findings(heights, plan_removal(heights, faces=["flat"]).decision)
    assert form_tables(found, "um") == []


def test_form_table_in_figures():
    faces = [flat("front"), flat("rear", 200)]
    # rear climbs 0.02 mm over 500 mm against front, 200 mm away: twist 0.1 mm/m; to the middle
    # the rear climbs 0.01 and the front falls 0.02: 0.15 mm/m
    points = {"front": ([0, 250, 500], [0.0, -0.02, 0.0]), "rear": ([0, 250, 500], [0, 0.01, 0.02])}
    heights = given_heights(faces, points)
    found = findings(heights, plan_removal(heights, faces=["front", "rear"]).decision)
    tables = {table.title.split(" ")[0]: table for table in form_tables(found, "um")}
    assert tables["Straightness"].rows[0][:2] == ("front", "20.0 µm")
    assert tables["Straightness"].rows[0][3] == "0, 250 and 500"
    assert tables["Twist"].rows == (("front and rear", "+0.1000", "0.0000", "+0.1500", "0 to 250"),)
    assert "the +y side is higher" in tables["Twist"].note
    assert form_tables(found, "thou")[0].rows[0][1] == "0.79 thou"


def test_option_table_names_where_and_why(small):
    survey, heights, plan = small
    asked = replace(survey.decision, clean_up=0.05, greatest_cut={"way": 0.02})
    heads, rows = option_table(compare(heights, {"as it was": survey.decision, "no": asked}), "um")
    assert heads[0] == "deepest cut [µm]" and len(heads) == len(rows[0][2])
    named = {name: (said, figures) for name, said, figures in rows}
    said, figures = named["as it was"]
    assert "deepest at 300 mm" in said and "governed by low spot at" in said
    assert figures[0] == f"{1000 * plan.depth.max():.1f}"
    assert named["no"][0].startswith("cannot be done: ")


def test_ways_and_progress_get_a_section_where_they_are_given(small, tmp_path):
    survey, heights, plan = small
    ways = choose_way(heights, {"as <decided>": survey.decision}, draws=500)
    rounds = bed_rounds([0.0, -0.05, 0.0], [-0.03, -0.05, -0.056], u=0.001)
    now = progress(rounds, plan_removal(rounds["start"], **HELD, confidence=None))
    page = _page(tmp_path, survey, heights, plan, ways=ways, progress=now)
    walk = _walk(page)
    assert walk.wrong == [] and walk.open == []
    for title in ("Choosing the way", "Where the work stands"):
        assert f"<h2>{title}</h2>" in page and f"<h2>{title}</h2>" not in _page(tmp_path, *small)
    assert "as &lt;decided&gt;" in page and "<decided>" not in page
    assert now.in_words(survey.display) in unescape(page)
    assert 'aria-label="Left to come off"' in page and 'aria-label="Metal that each way' in page

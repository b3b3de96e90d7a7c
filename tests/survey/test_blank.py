import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.heights.adjust import adjust
from metrolib.heights.rows import At
from metrolib.survey.blank import EXAMPLE_FACES, blank_survey
from metrolib.survey.folder import read_survey
from metrolib.survey.machine import Face
from metrolib.survey.readings import KINDS
from metrolib.survey.sheets import _PLANS

FLAT = {"y": 0, "width": 40, "x_from": 0, "x_to": 1400}


def fill(folder, reading="1.0"):
    """Type a number into every empty cell of the column `reading`."""
    path = folder / "readings.csv"
    headings, *rows = path.read_text(encoding="utf-8").splitlines()
    assert headings == "traverse,face,x,reading,repeat,order,note"
    rows = [row.removesuffix(",,,,") + f",{reading},,," for row in rows]
    path.write_text("\n".join([headings, *rows]), encoding="utf-8")
    return len(rows)


@pytest.mark.parametrize("display", ["um", "thou"])
@pytest.mark.parametrize("kind", [*KINDS, "own: steel ball"])
def test_a_blank_folder_reads_without_faults_once_numbers_are_typed(tmp_path, kind, display):
    folder = blank_survey(tmp_path / "bed", kinds=kind, display=display)
    blank = read_survey(folder)
    assert len(blank.readings) == 0
    assert {traverse.kind for traverse in blank.traverses.values()} == {kind}
    assert set(blank.planned.traverse) == set(blank.traverses)
    count = fill(folder)
    filled = read_survey(folder)
    assert len(filled.readings) == count == len(blank.planned)
    assert len(filled.planned) == 0
    assert filled.display == display


def test_every_kind_has_its_sheet():
    assert set(_PLANS) == set(KINDS)


def test_all_kinds_together_make_one_survey(tmp_path):
    folder = blank_survey(tmp_path, kinds=[*KINDS, "own: ball"])
    fill(folder)
    survey = read_survey(folder)
    assert {traverse.kind for traverse in survey.traverses.values()} == {*KINDS, "own: ball"}


def test_the_readings_that_are_taken_so_far_are_readings(tmp_path):
    folder = blank_survey(tmp_path, faces={"flat": FLAT}, kinds="level along")
    text = (folder / "readings.csv").read_text()
    (folder / "readings.csv").write_text(text.replace("flat,200,,", "flat,200,0,", 1))
    survey = read_survey(folder)
    assert survey.readings.x.tolist() == [200.0]
    assert survey.readings.value.tolist() == [0.0]  # 0 is a reading
    assert survey.planned.of("level along flat").x.tolist() == [0, 400, 600, 800, 1000, 1200]
    assert "1 readings, 6 still planned" in repr(survey)


def test_stations_and_foot_spacing_of_a_long_face(tmp_path):
    # 1400 mm in steps of 200: the last step begins at 1200 and ends at the end of the face
    folder = blank_survey(tmp_path, "My lathe", faces={"flat": FLAT}, kinds=["level along"])
    survey = read_survey(folder)
    assert survey.machine.name == "My lathe"
    assert survey.traverses["level along flat"].settings["foot_spacing"] == 200
    assert survey.planned.of("level along flat").x.tolist() == list(range(0, 1400, 200))


def test_the_level_comes_back_turned(tmp_path):
    survey = read_survey(blank_survey(tmp_path, faces={"flat": FLAT}, kinds="level along"))
    out, back = survey.traverses.values()
    assert (out.settings["turned"], back.settings["turned"]) == (False, True)
    assert back.name == "level along flat turned"
    assert survey.planned.of(back.name).x.tolist() == list(range(1200, -1, -200))


def test_the_bridge_is_read_both_ways_round_at_the_same_stations(tmp_path):
    survey = read_survey(blank_survey(tmp_path, kinds="level across"))
    there, back = survey.traverses.values()
    assert back.name == f"{there.name} turned"
    assert (there.settings.pop("turned"), back.settings.pop("turned")) == (False, True)
    assert there.settings == back.settings
    planned = [survey.planned.of(one.name).x.tolist() for one in (there, back)]
    assert planned[0] == planned[1] == list(range(0, 1001, 100))


def test_an_instrument_of_ones_own_gets_inner_stations_of_every_face(tmp_path):
    folder = blank_survey(tmp_path, kinds="own: sled")
    survey = read_survey(folder)
    inner = [(face.name, x) for face in EXAMPLE_FACES for x in range(100, 1000, 100)]
    assert list(zip(survey.planned.face, survey.planned.x, strict=True)) == inner
    assert survey.traverses["sled"].settings == {}
    text = (folder / "survey.toml").read_text(encoding="utf-8")
    assert "# its reach is not known here: the rows leave out both ends of a face" in text


def test_an_instrument_of_ones_own_on_a_single_face(tmp_path):
    survey = read_survey(blank_survey(tmp_path, faces={"flat": FLAT}, kinds="own: sled"))
    assert survey.traverses["sled"].settings == {"face": "flat"}


#: A vee and a flat, with a second flat behind and a face below.
VEE_BED = (
    Face("outer flank", y=0, width=20, x_from=0, x_to=900, normal=135),
    Face("inner flank", y=20, width=20, x_from=0, x_to=900, normal=45),
    Face("flat", y=150, width=30, x_from=0, x_to=900),
    Face("rear flat", y=250, width=30, x_from=100, x_to=800),
    Face("underside", y=150, width=30, x_from=0, x_to=900, normal=180),
)


def filled_and_adjusted(folder):
    """Give each planned row the reading of a machine as drawn, and adjust."""
    survey = read_survey(folder)
    rows = survey.planned
    size = {
        name: sum(face.nominal_height for face in survey.machine.faces.values())
        / survey.instruments[traverse.instrument].factor
        if traverse.kind == "micrometer"
        else 0
        for name, traverse in survey.traverses.items()
    }
    filled = survey.with_readings(
        {"traverse": traverse, "face": face, "x": x, "reading": size[traverse]}
        for traverse, face, x in zip(rows.traverse, rows.face, rows.x.tolist(), strict=True)
    )
    assert (len(filled.planned), len(filled.readings)) == (0, len(rows))

    def indicator(traverse, readings, survey):
        return [At(readings.face, readings.x, traverse.sign)]

    return adjust(filled, row_functions={"steel ball": indicator})


@pytest.mark.parametrize("faces", [EXAMPLE_FACES, VEE_BED], ids=["flats", "vee"])
@pytest.mark.parametrize("kind", [*KINDS, "own: steel ball"])
def test_a_filled_folder_can_be_adjusted(tmp_path, kind, faces):
    heights = filled_and_adjusted(blank_survey(tmp_path, kinds=kind, faces=faces))
    assert heights.checks.agrees
    assert len(heights.x) > 0


def test_both_ways_round_with_both_runs_leave_nothing_open(tmp_path):
    assert filled_and_adjusted(blank_survey(tmp_path)).not_determined == ()


def test_a_blank_folder_cannot_be_adjusted_yet(tmp_path):
    with pytest.raises(InputError, match="readings: none is taken yet.*fill them in"):
        adjust(read_survey(blank_survey(tmp_path)))


def test_a_short_face_with_awkward_figures(tmp_path):
    face = Face('vee, "outer" flank', y=-12.25, width=8, x_from=-33.33, x_to=66.67, normal=45.5)
    folder = blank_survey(tmp_path, faces=[face], kinds=["level along", "wire", "straightedge"])
    fill(folder)
    assert read_survey(folder).machine.faces[face.name] == face


def test_the_folder_is_filled_by_default_for_a_level(tmp_path):
    survey = read_survey(blank_survey(tmp_path))
    kinds = [traverse.kind for traverse in survey.traverses.values()]
    assert kinds == ["level along"] * 4 + ["level across"] * 2
    assert survey.decision.faces == ("front flat", "rear flat")
    assert list(survey.machine.faces) == [face.name for face in EXAMPLE_FACES]


@pytest.mark.parametrize("name", ["survey.toml", "readings.csv"])
def test_an_existing_survey_is_not_overwritten(tmp_path, name):
    (tmp_path / name).write_text("mine")
    with pytest.raises(SurveyError, match="stands already.*choose another folder"):
        blank_survey(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"kinds": "levle along"}, "kinds: .*'levle along'.*'level along'"),
        ({"kinds": []}, "kinds: at least one"),
        ({"kinds": "own: "}, "kinds: "),
        ({"faces": {}}, "faces: at least one"),
        ({"faces": {"flat": {**FLAT, "widht": 3}}}, "unknown key 'widht'.*did you mean 'width'"),
        ({"faces": {"flat": {"y": 0}}}, "width is missing.*x_from is missing.*x_to is missing"),
        ({"faces": {"flat": 7}}, "no table"),
        ({"faces": ["flat"]}, r"faces\[0\]: this is no Face"),
        ({"faces": [EXAMPLE_FACES[0]] * 2}, "faces: a name stands twice"),
        ({"faces": {"flat": FLAT}, "kinds": "level across"}, "needs 2 flat faces that look upward"),
        ({"faces": VEE_BED[:3], "kinds": "level across"}, r"there are 1; .*both flanks, \[A, B\]"),
        ({"faces": {"a": FLAT, "b": FLAT}, "kinds": "level across"}, "side by side.*one y"),
        ({"faces": {"flat": FLAT}, "kinds": "micrometer"}, "two faces with opposite normals"),
        ({"faces": {"flat": FLAT}, "kinds": "gauge"}, "three faces"),
        (
            {"faces": {"a": FLAT, "b": {**FLAT, "y": 9, "x_from": 1400, "x_to": 1500}}},
            "beside each other",
        ),
        ({"display": "mm"}, "display: .*'mm'"),
        ({"machine": ""}, "machine: a name is needed"),
        ({"kinds": ["own: comparison", "comparison"]}, "faces: they make no survey.*twice"),
    ],
)
def test_refusals(tmp_path, arguments, words):
    with pytest.raises(InputError, match=words):
        blank_survey(tmp_path / "new", **arguments)
    assert not (tmp_path / "new").exists()


def test_no_path():
    with pytest.raises(InputError, match="folder: a path is needed"):
        blank_survey(3)

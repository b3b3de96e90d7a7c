"""From typed answers to a survey folder, without widgets."""

import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.heights.adjust import adjust
from metrolib.show.worksheet.setting_up.answers import READS, Answers, Entry
from metrolib.show.worksheet.setting_up.form_fields import ASKED
from metrolib.show.worksheet.setting_up.setting_up import describe, texts, write_survey
from metrolib.survey.examples import INSTRUMENTS
from metrolib.survey.folder import read_survey, survey_from_texts
from metrolib.survey.layouts import LAYOUTS
from metrolib.survey.machine import LeftOut


def begun(layout="two flats and a ledge", **typed):
    answers = Answers(machine="My lathe", **typed)
    answers.begin_with(layout)
    return answers


def fault(answers, entry, key):
    return describe(answers).faults.get((entry.key, key))


@pytest.mark.parametrize("display", ["um", "thou"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_each_layout_makes_a_survey_that_leaves_nothing_open(layout, display):
    survey = survey_from_texts(*texts(begun(layout, display=display)))
    planned = survey.planned
    thickness = {"mm": 25, "in": 25 / 25.4}
    tools = {name: survey.instruments[one.instrument] for name, one in survey.traverses.items()}
    size = {
        name: thickness[tools[name].unit] if one.kind == "micrometer" else 0
        for name, one in survey.traverses.items()
    }
    columns = zip(planned.traverse, planned.face, planned.x.tolist(), strict=True)
    filled = survey.with_readings(
        {"traverse": name, "face": face, "x": x, "reading": size[name]} for name, face, x in columns
    )
    heights = adjust(filled)
    assert heights.not_determined == ()
    assert heights.checks.agrees


def test_layouts_and_their_readings_belong_together():
    assert set(READS) == set(LAYOUTS)


def test_what_is_typed_stands_in_the_survey():
    answers = begun(note="bought at a sale", display="thou")
    front, level = answers.faces[0], answers.instruments[0]
    front.typed |= {
        "name": "front way",
        "y": "-1,5",
        "width": "1.5 in",
        "x_to": "1200",
        "left_out": "610 to 640 oil hole",
    }
    level.typed |= {"sensitivity": "0.05", "sensitivity_unit": "mm/m", "reading_range": "20"}
    survey = survey_from_texts(*texts(answers))
    face = survey.machine.faces["front way"]
    assert (face.y, face.width, face.x_from, face.x_to) == (-1.5, 38.1, 0, 1200)
    assert face.left_out == (LeftOut(610, 640, "oil hole"),)
    assert (survey.machine.name, survey.machine.note) == ("My lathe", "bought at a sale")
    assert survey.display == "thou"
    block = survey.instruments["block level"]
    assert (block.sensitivity, block.sensitivity_unit, block.reading_range) == (0.05, "mm/m", 20)
    assert survey.traverses["level along front way"].settings["face"] == "front way"


def test_an_empty_field_takes_its_example_and_the_file_says_so():
    answers = begun()
    answers.instruments[0].typed["repeatability"] = "0.3"
    toml_text, _ = texts(answers)
    level = toml_text[toml_text.index('[instruments."block level"]') :]
    lines = level[: level.index("[instruments.", 1)].splitlines()
    repeats = next(line for line in lines if line.startswith("repeatability"))
    resolution = next(line for line in lines if line.startswith("resolution"))
    assert repeats == "repeatability = 0.3"
    assert resolution == "resolution = 0.2    # an example value: put yours"
    assumed = next(words for words in describe(answers).assumed if words.startswith("block level"))
    assert "smallest step that you read 0.2" in assumed
    assert "repeats to" not in assumed


def test_the_examples_follow_unit_and_display():
    answers = begun()
    answers.add_instrument("dial indicator")
    dial = answers.instruments[-1]
    describe(answers)
    assert (dial.text("unit"), dial.text("repeatability")) == ("um", "0.8")
    dial.typed["unit"] = "mm"
    describe(answers)
    assert float(dial.text("repeatability")) == pytest.approx(0.0008)
    answers.display, dial.typed["unit"] = "thou", ""
    describe(answers)
    assert (dial.text("unit"), dial.text("repeatability")) == ("thou", "0.05")


def test_a_dial_in_divisions_counts_its_smallest_step_as_one():
    answers = begun()
    answers.add_instrument("dial indicator")
    dial = answers.instruments[-1]
    dial.typed |= {"unit": "division", "sensitivity": "2", "sensitivity_unit": "um"}
    tool = describe(answers).instruments[dial.key]
    assert tool.factor == pytest.approx(0.002)
    assert (tool.resolution, tool.repeatability) == (1, 0.8)


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("width", "0", "0 is too small; it must be above 0"),
        ("width", "4x", "no known unit"),
        ("y", "1,2,3", "is no number"),
        ("x_to", "-5", "to x -5 is not beyond from x 0; write the lower first"),
        ("name", "#1", "does not begin with #"),
        ("name", "rear flat", "'rear flat' stands twice"),
        ("left_out", "2000 to 2100 hole", "2000 to 2100 is not on the face"),
        ("left_out", "hole", "write from, to and why"),
    ],
)
def test_a_fault_stands_at_its_field(key, text, words):
    answers = begun()
    front, rear = answers.faces[:2]
    front.typed[key] = text
    faults = describe(answers).faults
    assert [where for where in faults if where[1] == key]
    told = " ".join(faults.values())
    assert words in told
    at = rear if "twice" in words else front
    assert words in faults[at.key, key]


def test_a_face_without_its_place_is_told():
    answers = begun()
    answers.add_face()
    assert fault(answers, answers.faces[-1], "y") == "its middle at y is not typed yet; type it"
    answers.faces[-1].typed["y"] = "300"
    assert describe(answers).faults == {}


def test_a_faulty_face_is_not_drawn_and_its_readings_wait():
    answers = begun()
    front = answers.faces[0]
    front.typed["width"] = "?"
    said = describe(answers)
    assert list(said.faults) == [(front.key, "width")]  # nothing else is blamed
    assert front.key not in said.faces
    assert [sheet.name for sheet in said.all_sheets] == [
        "level along rear flat",
        "level along rear flat turned",
    ]


def test_another_angle_is_asked_in_degrees():
    answers = begun()
    front = answers.faces[0]
    front.typed |= {"normal": "another angle", "angle": "12,5"}
    assert describe(answers).faces[front.key].normal == 12.5


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("resolution", "-1", "must be at least 0"),
        ("sensitivity", "0", "must be above 0"),
        ("sensitivity_uncertainty", "300", "3 means that it is known to 3 %"),
        ("reading_range", "0", "must be above 0"),
    ],
)
def test_a_fault_of_an_instrument_stands_at_its_field(key, text, words):
    answers = begun()
    level = answers.instruments[0]
    level.typed[key] = text
    assert words in fault(answers, level, key)


def test_an_instrument_without_any_scatter_is_refused():
    answers = begun()
    level = answers.instruments[0]
    level.typed |= {"resolution": "0", "repeatability": "0"}
    assert "ten set-downs" in fault(answers, level, "repeatability")


@pytest.mark.parametrize("kind", ASKED)
def test_every_kind_can_be_asked_for(kind):
    answers = begun()
    answers.readings.clear()
    answers.instruments.clear()
    front, rear, ledge = (face.key for face in answers.faces)
    rests = (front, ledge) if kind == "micrometer" else (front, rear, ledge)
    answers.add_readings(kind, *rests[: len(ASKED[kind].roles)])
    survey = survey_from_texts(*texts(answers))
    assert {traverse.kind for traverse in survey.traverses.values()} == {kind}
    assert [one.typed["kind"] for one in answers.instruments] == [ASKED[kind].tool]
    assert ASKED[kind].tool in INSTRUMENTS


def test_pitch_feet_and_instrument_can_be_given():
    answers = begun()
    answers.add_instrument("block level")
    along = answers.readings[0]
    along.typed |= {"pitch": "250", "instrument": answers.instruments[-1].key}
    answers.add_readings("carriage", answers.faces[0].key, answers.faces[1].key)
    answers.readings[-1].typed |= {"foot": "60", "pitch": "4 in"}
    survey = survey_from_texts(*texts(answers))
    level = survey.traverses["level along front flat"]
    assert level.settings["foot_spacing"] == 250
    assert level.instrument == "block level 2"
    assert survey.planned.of(level.name).x.tolist() == [0, 250, 500, 750]
    sled = survey.planned.of("carriage, rear flat").x.tolist()
    assert survey.traverses["carriage, rear flat"].settings["feet"] == (-60, 60)
    assert sled[:3] == [60, 161.6, 263.2]
    assert sled[-1] == 940


def test_a_straightedge_is_asked_for_where_one_is_used():
    answers = begun()
    answers.add_readings("straightedge", answers.faces[0].key)
    answers.edge.typed |= {"length": "600", "profile_uncertainty": "0,003"}
    survey = survey_from_texts(*texts(answers))
    edge = survey.straightedges["straightedge"]
    assert (edge.length, edge.profile_uncertainty) == (600, 0.003)
    assert survey.planned.of("straightedge on front flat, sole up").x.max() == 600
    answers.edge.typed["length"] = "no"
    assert fault(answers, answers.edge, "length") is not None


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        ({"role 1": ""}, "role 1", "no face is chosen"),
        ({"role 1": "entry 0"}, "role 1", "the face that was chosen is gone"),
        ({"pitch": "0"}, "pitch", "must be above 0"),
        ({"pitch": "0,1"}, "pitch", "more than 400; take a longer step"),
    ],
)
def test_a_fault_of_a_set_of_readings_stands_at_its_field(change, key, words):
    answers = begun()
    across = answers.readings[2]
    across.typed |= change
    assert words in fault(answers, across, key)


def test_one_face_cannot_be_both():
    answers = begun()
    across = answers.readings[2]
    across.typed["role 1"] = across.typed["role 0"]
    assert "chosen twice" in fault(answers, across, "role 1")


def test_a_step_that_is_too_long_is_told():
    answers = begun()
    along = answers.readings[0]
    along.typed["pitch"] = "600"
    assert "room for two steps of 600 mm" in fault(answers, along, "kind")


def test_the_same_readings_twice():
    answers = begun()
    answers.add_readings("level along", answers.faces[0].key)
    assert "stand here twice" in fault(answers, answers.readings[-1], "kind")


def test_flanks_that_make_no_vee_any_more():
    answers = begun("an inverted vee and a flat")
    answers.faces[1].typed["normal"] = "up"
    assert "make no vee any more" in fault(answers, answers.readings[0], "role 0")


def test_no_instrument_for_the_readings():
    answers = begun()
    answers.instruments[:] = answers.instruments[1:]  # the level
    words = "no instrument here reads a slope; add one under Instruments"
    assert fault(answers, answers.readings[0], "instrument") == words


def test_a_renamed_face_keeps_its_readings():
    answers = begun()
    answers.faces[1].typed["name"] = "back way"
    names = [sheet.name for sheet in describe(answers).all_sheets]
    assert "level across front flat and back way" in names


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda answers: setattr(answers, "machine", " "), "the machine has no name yet"),
        (lambda answers: answers.faces.clear(), "no face is described yet"),
        (lambda answers: answers.readings.clear(), "no readings are planned yet"),
    ],
)
def test_what_is_missing_altogether(spoil, words):
    answers = begun()
    spoil(answers)
    with pytest.raises(InputError, match=words):
        texts(answers)


def test_a_survey_that_is_there_is_never_overwritten(tmp_path):
    answers = begun()
    folder = write_survey(answers, tmp_path / "lathe")
    assert len(read_survey(folder).planned) == 73
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    answers.machine = "Another"
    with pytest.raises(SurveyError, match="stands already"):
        write_survey(answers, folder)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_nothing_is_written_while_anything_is_wrong(tmp_path):
    answers = begun()
    answers.faces[0].typed["width"] = "x"
    with pytest.raises(InputError, match="setting up: 'x'"):
        write_survey(answers, tmp_path / "lathe")
    assert not (tmp_path / "lathe").exists()


def test_blanks_are_no_answer():
    entry = Entry({"width": "  "}, {"width": "40"})
    assert entry.text("width") == "40"
    assert not entry.is_typed("width")

"""Further traverses and further rounds, begun from an open worksheet."""

import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import read_survey
from metrolib.survey.rounds import read_rounds


@pytest.fixture
def comments(folder):
    """The folder with a comment and an unknown column of its owner's."""
    path = folder / "survey.toml"
    path.write_text("# mine: the bed from the barn\n" + path.read_text())
    path = folder / "readings.csv"
    lines = path.read_text().splitlines()
    path.write_text("\n".join([lines[0] + ",lamp", *(line + ",on" for line in lines[1:])]) + "\n")
    return folder


def test_a_traverse_is_added_with_its_stations_and_nothing_else_changes(comments):
    sheet = worksheet(comments)
    sheet.take("1")
    before = [(comments / name).read_text() for name in ("survey.toml", "readings.csv")]
    names = sheet.new_traverse("level along", ["front flat"], name="again", pitch=150)
    assert names == ("again", "again turned")
    assert sheet.traverse == "again"
    assert [prompt.x for prompt in sheet.prompts] == [0, 150, 300, 450]
    assert [prompt.x for prompt in sheet.course_of("again turned")] == [450, 300, 150, 0]
    after = [(comments / name).read_text() for name in ("survey.toml", "readings.csv")]
    for old, new in zip(before, after, strict=True):
        assert new.startswith(old.rstrip())
    assert "foot_spacing = 150    # between the feet" in after[0]
    sheet.take("2")
    assert sorted(read_survey(comments).readings.value) == [1, 2]


def test_stations_may_be_given_and_keep_the_direction_of_the_traverse(sheet):
    out, back = sheet.new_traverse(
        "level along", ["rear flat"], name="mine", stations=[0, 300], pitch=300
    )
    assert [prompt.x for prompt in sheet.course_of(out)] == [0, 300]
    assert [prompt.x for prompt in sheet.course_of(back)] == [300, 0]


@pytest.mark.parametrize(
    ("kind", "wanted", "words"),
    [
        ("levelling", {}, "kind: this is not one of the choices, got 'levelling'"),
        ("level along", {"faces": ["side"]}, "faces: this is not one of the choices, got 'side'"),
        ("level along", {}, "name: a traverse is called so already, got 'level along front flat'"),
        (
            "carriage",
            {},
            "instrument: 'carriage' needs one that reads a length, survey.toml has none",
        ),
        ("straightedge", {}, "'straightedge' needs a straightedge, survey.toml describes none"),
        ("micrometer", {}, "'micrometer' needs two faces with opposite normals"),
        ("level along", {"instrument": "dial"}, "instrument: this is not one of the choices"),
        ("level along", {"name": "n", "stations": [0]}, "stations: at least 2 values are needed"),
    ],
)
def test_what_cannot_be_begun_is_refused_and_nothing_is_written(folder, sheet, kind, wanted, words):
    before = [(folder / name).read_bytes() for name in ("survey.toml", "readings.csv")]
    with pytest.raises(InputError) as caught:
        sheet.new_traverse(kind, **wanted)
    assert words in str(caught.value)
    assert [(folder / name).read_bytes() for name in ("survey.toml", "readings.csv")] == before


def test_stations_off_the_face_are_refused_with_the_fault(folder, sheet):
    before = (folder / "readings.csv").read_bytes()
    with pytest.raises(SurveyError, match="is outside the face 'front flat'"):
        sheet.new_traverse("level along", ["front flat"], name="n", stations=[0, 9000])
    assert (folder / "readings.csv").read_bytes() == before


def test_another_worksheet_learns_of_the_new_traverse_and_loses_no_reading(folder, sheet):
    other = worksheet(folder)
    other.take("1")
    sheet.new_traverse("level along", ["front flat"], name="again", pitch=150)
    other.take("2")
    assert "again turned" in other.traverses
    assert sorted(read_survey(folder).readings.value) == [1, 2]


def test_a_round_has_the_machine_and_the_chosen_stations_and_no_reading(comments):
    sheet = worksheet(comments)
    sheet.take("1")
    sheet.repeat()
    sheet.take("1.5")
    first = [(comments / name).read_bytes() for name in ("survey.toml", "readings.csv")]
    assert sheet.rounds == ()
    round_1 = sheet.new_round(traverses=["level along front flat"])
    assert sheet.rounds == round_1.rounds == ("1",)
    assert round_1.traverses == ("level along front flat",)
    assert round_1.survey.machine == sheet.survey.machine
    assert round_1.survey.instruments == sheet.survey.instruments
    assert [prompt.x for prompt in round_1.prompts] == [0, 100, 200, 300, 400, 500]
    assert {prompt.state for prompt in round_1.prompts} == {"open"}
    assert "# mine: the bed from the barn" in (round_1.folder / "survey.toml").read_text()
    assert (round_1.folder / "readings.csv").read_text().startswith("traverse,face,x,reading")
    round_1.take("3")
    round_2 = round_1.new_round("2 after scraping")
    assert round_2.folder == comments / "rounds" / "2 after scraping"
    assert sheet.rounds == ("1", "2 after scraping")
    assert [(comments / name).read_bytes() for name in ("survey.toml", "readings.csv")] == first
    assert list(read_rounds(comments)) == ["start", "1", "2 after scraping"]


def test_a_round_is_opened_where_it_stood(sheet):
    sheet.new_round().take("3")
    again = sheet.open_round("1")
    assert again.prompt.x == 100
    with pytest.raises(InputError, match="name: this is not one of the choices, got '7'"):
        sheet.open_round("7")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("after scraping", "this is no name of a round, got 'after scraping'; begin it with the"),
        ("../2", "this is no name of a round"),
        ("1 anew", "there is a round 1 already, got '1 anew'; open it, or begin round 2"),
        (3, "this is no name of a round, got 3"),
    ],
)
def test_a_round_overwrites_none(sheet, name, words):
    round_1 = sheet.new_round()
    round_1.take("3")
    before = (round_1.folder / "readings.csv").read_bytes()
    with pytest.raises(InputError) as caught:
        sheet.new_round(name)
    assert words in str(caught.value)
    assert (round_1.folder / "readings.csv").read_bytes() == before
    assert sheet.rounds == ("1",)


def test_a_round_of_unknown_traverses_is_refused(folder, sheet):
    with pytest.raises(InputError, match="traverses: this is not one of the choices, got 'x'"):
        sheet.new_round(traverses=["x"])
    with pytest.raises(InputError, match="traverses: at least one is needed"):
        sheet.new_round(traverses=[])
    assert not (folder / "rounds").exists()


def test_a_changed_decision_meets_the_readings_of_another_and_loses_none(folder, sheet):
    other = worksheet(folder)
    other.take("1")
    sheet.change_survey(lambda survey: survey.with_decision(band=0.02))
    other.take("2")
    assert read_survey(folder).decision.band == 0.02
    assert other.survey.decision.band == 0.02
    assert sorted(read_survey(folder).readings.value) == [1, 2]

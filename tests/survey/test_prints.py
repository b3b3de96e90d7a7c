"""The print log in survey.toml: what is read, and each fault with its line."""

import pytest

from metrolib.errors import SurveyError
from metrolib.survey.folder import read_survey
from metrolib.survey.prints import FILM, Print

from .example import TOML, line_of

GOOD = """
[[prints]]
face = "front flat"
straightedge = "one metre edge"
laid = [0, 900]
printed = [[0, 130], [420, 900]]
film = 0.002
note = "first of the day"

[[prints]]
face = "rear flat"
straightedge = "small plate"
laid = [800, 1100]
printed = false
"""


def test_prints_are_read(folder):
    (folder / "survey.toml").write_text(TOML + GOOD)
    first, second = read_survey(folder).prints
    assert first == Print(
        "front flat",
        (0.0, 900.0),
        ((0.0, 130.0), (420.0, 900.0)),
        "one metre edge",
        film=0.002,
        straightedge_u=0.004,  # that of the survey's straightedge of this name
        note="first of the day",
    )
    assert second == Print("rear flat", (800.0, 1100.0), (), "small plate", film=FILM)
    assert str(first) == "'front flat', one metre edge at 0 to 900 mm"


def test_true_is_all_over(folder):
    (folder / "survey.toml").write_text(TOML + GOOD.replace("false", "true"))
    assert read_survey(folder).prints[1].printed == ((800.0, 1100.0),)


def test_without_prints_there_are_none(folder):
    assert read_survey(folder).prints == ()


def test_changes_of_the_survey_keep_them(folder, tmp_path):
    (folder / "survey.toml").write_text(TOML + GOOD)
    survey = read_survey(folder)
    row = {"traverse": "across", "x": 500, "reading": 2.2}
    assert survey.with_readings([row]).prints == survey.prints
    assert survey.with_decision(band=0.01).prints == survey.prints
    survey.write(tmp_path / "copy")
    assert read_survey(tmp_path / "copy").prints == survey.prints


def test_a_survey_is_not_written_over_prints_that_it_lacks(folder):
    old = read_survey(folder)
    (folder / "survey.toml").write_text(TOML + GOOD)
    with pytest.raises(SurveyError, match="it holds 2 prints that this survey lacks") as caught:
        old.write(folder)
    (fault,) = caught.value.faults
    assert fault.line == line_of(TOML + GOOD, "[[prints]]")
    assert "read that folder and add to it" in fault.remedy
    assert "first of the day" in (folder / "survey.toml").read_text()
    longer = read_survey(folder)
    (folder / "survey.toml").write_text(TOML)
    longer.write(folder)  # nothing is lost this way round
    assert len(read_survey(folder).prints) == 2


FAULTS = {
    "face": ('face = "front flat"', 'face = "font flat"', "font", "unknown face", "'front flat'?"),
    "no face": ('face = "front flat"\n', "", "[[prints]]", "print 1: face is missing", "add face"),
    "laid": ("laid = [0, 900]", "laid = [900, 0]", "laid", "not ascending", "lower one first"),
    "laid alone": ("laid = [0, 900]", "laid = 900", "laid", "two numbers", "[number, number]"),
    "elsewhere": (
        "laid = [800, 1100]",
        "laid = [1000, 1100]",
        "laid = [1000",
        "print 2: laid 1000 to 1100 is not on the face",
        "from 0 to 1000",
    ),
    "too long": (
        "laid = [0, 900]",
        "laid = [-60, 1000]",
        "laid = [-60",
        "laid over 1060 mm, 'one metre edge' is 1000 mm long",
        "one print for each place",
    ),
    "printed missing": ("printed = false\n", "", "small", "printed is missing", "true (all over)"),
    "printed a word": ("= false", '= "no"', '"no"', "printed is 'no'", "true (all over), false"),
    "a stretch": ("[[0, 130]", "[[0]", "[[0]", "printed is [0], two numbers", "[number, number]"),
    "beyond": (
        "[420, 900]]",
        "[420, 950]]",
        "420",
        "printed 420 to 950 lies beyond what was laid",
        "from 0 to 900",
    ),
    "film": ("film = 0.002", "film = 0", "film", "film is 0", "above 0"),
    "key": ("film = 0.002", "flim = 0.002", "flim", "unknown key 'flim'", "did you mean 'film'?"),
    "edge": ('straightedge = "small plate"\n', "", "rear", "straightedge is missing", "a text"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_faults(name, faults_of):
    old, new, part, wrong, remedy = FAULTS[name]
    assert old in GOOD
    good = GOOD.replace(old, new)
    (fault,) = faults_of(TOML + good)
    assert wrong in fault.wrong and remedy in fault.remedy
    if name in ("printed missing", "edge"):
        assert fault.line == _second_heading(TOML + good)  # a missing key: at the head of its table
    else:
        assert fault.line == _line_in_prints(TOML + good, part)


def _second_heading(text):
    return [number for number, line in enumerate(text.split("\n"), 1) if line == "[[prints]]"][1]


def _line_in_prints(text, part):
    start = line_of(text, "[[prints]]")
    lines = text.split("\n")[start - 1 :]
    return start + next(number for number, line in enumerate(lines) if part in line)


@pytest.mark.parametrize("other", ["prints = 3\n", '[prints]\nface = "front flat"\n'])
def test_one_pair_of_brackets_is_not_enough(other, faults_of):
    text = f"{other}{TOML}" if other.startswith("prints") else f"{TOML}\n{other}"
    (fault,) = faults_of(text)
    assert fault.wrong == "prints is no list of tables" and "[[prints]]" in fault.remedy


def test_every_fault_comes_in_one_pass(faults_of):
    good = GOOD.replace("[0, 900]", "[0, 2000]").replace("film = 0.002", "film = -1")
    wrong = [fault.wrong for fault in faults_of(TOML + good.replace("rear flat", "rear"))]
    assert len(wrong) == 3
    assert any("2000 mm" in one for one in wrong) and any("unknown face" in one for one in wrong)

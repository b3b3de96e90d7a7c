"""The two files of a new survey, from instruments that were given."""

import tomllib
from dataclasses import replace

import pytest

from metrolib.errors import SurveyError
from metrolib.survey.examples import INSTRUMENTS, example_instrument, example_straightedge
from metrolib.survey.folder import read_survey, survey_from_texts
from metrolib.survey.instruments import Instrument
from metrolib.survey.layouts import LAYOUTS
from metrolib.survey.new_texts import new_texts, write_new
from metrolib.survey.sheets import plan_sheets

BED = list(LAYOUTS["two flats and a ledge"])
LEVEL = Instrument(
    "block level",
    "division",
    0.1,
    0.25,
    sensitivity=0.123456789012,
    sensitivity_unit="arcsec",
    sensitivity_uncertainty=0.02,
    reading_range=20,
)


def made(tool=LEVEL, kind="level along", **given):
    return new_texts("Bed", BED, [tool], plan_sheets(kind, BED), **given)


def test_a_given_instrument_comes_back_digit_for_digit():
    assert survey_from_texts(*made()).instruments == {"block level": LEVEL}


@pytest.mark.parametrize("display", ["um", "thou"])
@pytest.mark.parametrize("name", INSTRUMENTS)
def test_each_example_instrument_comes_back(name, display):
    tool = example_instrument(name, display)
    kind = "level along" if name == "block level" else "comparison"
    sheets = [replace(sheet, instrument=name) for sheet in plan_sheets(kind, BED)]
    survey = survey_from_texts(*new_texts("Bed", BED, [tool], sheets, display=display))
    assert survey.instruments == {name: tool}


def test_a_note_with_quotes_is_kept():
    assert survey_from_texts(*made(note='called "the old one"')).machine.note == (
        'called "the old one"'
    )


def test_only_examples_are_marked_as_such():
    text, _ = made(examples={"block level": ["repeatability"]})
    marked = [line for line in text.splitlines() if "an example value" in line]
    assert marked == ["repeatability = 0.25    # an example value: put yours"]
    assert tomllib.loads(text)["instruments"]["block level"]["repeatability"] == 0.25


def test_flats_are_decided_together_and_flanks_are_not():
    vee = list(LAYOUTS["an inverted vee and a flat"])
    tool = example_instrument("block level", "um")
    sheets = plan_sheets("level along", [vee[2]])
    assert survey_from_texts(*new_texts("Bed", vee, [tool], sheets)).decision.faces == ("flat",)


def test_a_given_straightedge_stands_in_the_file():
    edge = example_straightedge(1000)
    tool = example_instrument("dial indicator", "um")
    text = made(tool, "straightedge", edge=edge)
    assert survey_from_texts(*text).straightedges == {"straightedge": edge}


def test_neither_file_may_stand_there_already(tmp_path):
    texts = made()
    (tmp_path / "readings.csv").write_text("mine")
    with pytest.raises(SurveyError, match="readings.csv: it stands already"):
        write_new(tmp_path, texts)
    assert (tmp_path / "readings.csv").read_text() == "mine"
    assert (
        len(read_survey(write_new(tmp_path / "new", texts)).planned)
        == len(texts[1].splitlines()) - 1
    )

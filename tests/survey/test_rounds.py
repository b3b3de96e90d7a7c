"""Folders of rounds: their order, and every fault of all of them in one pass."""

import shutil
from pathlib import Path

import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.survey.rounds import read_rounds

LATHE = Path(__file__).resolve().parents[2] / "sample_surveys" / "toolroom_lathe"


@pytest.fixture
def lathe(tmp_path):
    """A copy of the sample with its rounds, to be spoiled."""
    return Path(shutil.copytree(LATHE, tmp_path / "lathe"))


def faults_of(folder):
    with pytest.raises(SurveyError) as caught:
        read_rounds(folder)
    return [str(fault) for fault in caught.value.faults]


def test_reads_the_first_survey_then_the_rounds():
    rounds = read_rounds(LATHE)
    assert list(rounds) == ["start", "1", "2", "3", "4_finished"]
    assert len(rounds["start"].traverses) > len(rounds["1"].traverses)
    assert "plunger indicator" in rounds["2"].instruments
    assert {survey.machine.name for survey in rounds.values()} == {"Toolroom lathe, 1.4 m bed"}


def test_order_is_that_of_the_numbers(lathe):
    (lathe / "rounds" / "4_finished").rename(lathe / "rounds" / "10 finished")
    (lathe / "rounds" / "1").rename(lathe / "rounds" / "01")
    assert list(read_rounds(lathe)) == ["start", "01", "2", "3", "10 finished"]


def test_files_beside_the_rounds_do_not_matter(lathe):
    (lathe / "rounds" / "notes.txt").write_text("cold morning")
    assert len(read_rounds(lathe)) == 5


def test_tells_a_name_without_a_number_and_a_number_given_twice(lathe):
    shutil.copytree(lathe / "rounds" / "2", lathe / "rounds" / "2 again")
    shutil.copytree(lathe / "rounds" / "2", lathe / "rounds" / "last")
    told = faults_of(lathe)
    assert told == [
        "rounds/2 again: '2' has the same number; number each round once",
        "rounds/last: its name does not begin with a number; begin its name with the number of "
        "the round, such as 2",
    ]


def test_tells_the_faults_of_all_surveys_with_their_lines(lathe):
    for name in ("1", "3"):
        path = lathe / "rounds" / name / "survey.toml"
        path.write_text(path.read_text().replace("foot_spacing = 100", "foot_spacing = -5", 1))
    told = faults_of(lathe)
    assert len(told) == 2
    assert told[0].startswith("rounds/1/survey.toml, line ")
    assert told[1].startswith("rounds/3/survey.toml, line ")
    assert "-5" in told[0]


def test_tells_a_round_of_another_machine(lathe):
    path = lathe / "rounds" / "2" / "survey.toml"
    path.write_text(path.read_text().replace("Toolroom lathe, 1.4 m bed", "Old planer"))
    (told,) = faults_of(lathe)
    assert told.startswith("rounds/2/survey.toml: it is of the machine 'Old planer', the first")


def test_tells_that_there_is_no_round(lathe):
    shutil.rmtree(lathe / "rounds")
    (told,) = faults_of(lathe)
    assert told.startswith("lathe/rounds: there is no round in it; make a survey folder")


def test_tells_a_folder_that_is_none(tmp_path):
    told = faults_of(tmp_path / "nowhere")
    assert "there is no such folder" in told[0]


def test_refuses_what_is_no_path():
    with pytest.raises(InputError, match="folder: a path is needed, got 7"):
        read_rounds(7)

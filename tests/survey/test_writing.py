"""Writing a survey folder: whole or not at all, and without losing a reading."""

import os

import pytest

from metrolib.errors import SurveyError
from metrolib.survey import files
from metrolib.survey.folder import read_survey

from .example import READINGS, TOML, semicolons


class TestWrite:
    def test_makes_the_folder_and_leaves_nothing_else(self, folder, tmp_path):
        read_survey(folder).write(tmp_path / "a" / "b")
        assert sorted(os.listdir(tmp_path / "a" / "b")) == ["readings.csv", "survey.toml"]

    def test_keeps_the_rights_of_the_files(self, folder):
        (folder / "readings.csv").chmod(0o640)
        read_survey(folder).with_decision(band=0.5).write(folder)
        assert (folder / "readings.csv").stat().st_mode & 0o777 == 0o640

    def test_refuses_to_lose_readings(self, folder):
        survey = read_survey(folder)
        survey.with_readings([{"traverse": "across", "x": 500, "reading": 0}]).write(folder)
        with pytest.raises(
            SurveyError, match=r"line 13: it holds 1 readings that this survey lacks"
        ):
            survey.write(folder)
        assert "across,500,0" in (folder / "readings.csv").read_text()

    def test_refuses_a_reading_that_differs(self, folder):
        survey = read_survey(folder)
        (folder / "readings.csv").write_text(READINGS.replace("26.031", "26.032"))
        with pytest.raises(SurveyError, match="line 11: it holds 1 readings.*another folder"):
            survey.write(folder)

    def test_refuses_when_nobody_can_tell(self, folder):
        survey = read_survey(folder)
        (folder / "readings.csv").write_text(READINGS.replace("26.031", "26.03I"))
        with pytest.raises(SurveyError, match="line 11: .*nobody can tell what would be lost"):
            survey.write(folder)

    def test_a_different_spelling_of_the_same_readings_is_no_loss(self, folder):
        survey = read_survey(folder)
        (folder / "readings.csv").write_text(semicolons(READINGS))
        survey.write(folder)
        assert (folder / "readings.csv").read_text() == READINGS

    def test_a_plan_without_readings_is_no_loss(self, folder):
        survey = read_survey(folder)
        (folder / "readings.csv").write_text("traverse,x,reading\nthickness,3,\n")
        survey.write(folder)
        assert (folder / "readings.csv").read_text() == READINGS

    def test_refuses_the_folder_of_another_machine(self, folder, tmp_path):
        (tmp_path / "mill").mkdir()
        theirs = tmp_path / "mill" / "survey.toml"
        theirs.write_text(
            TOML.replace("Bench lathe", "Toolroom mill").replace("y = 150", "y = 1,5")
        )
        before = theirs.read_bytes()
        with pytest.raises(
            SurveyError,
            match="line 5: it is of the machine 'Toolroom mill', this survey is of 'Bench lathe'; "
            "write to another folder",
        ):
            read_survey(folder).write(tmp_path / "mill")
        assert os.listdir(tmp_path / "mill") == ["survey.toml"]
        assert theirs.read_bytes() == before

    def test_another_machine_and_lost_readings_are_told_together(self, folder, tmp_path):
        survey = read_survey(folder)
        (folder / "survey.toml").write_text(TOML.replace("Bench lathe", "Toolroom mill"))
        (folder / "readings.csv").write_text(READINGS.replace("26.031", "26.032"))
        with pytest.raises(SurveyError) as caught:
            survey.write(folder)
        files = [fault.file for fault in caught.value.faults]
        assert files == ["survey.toml", "readings.csv"]

    @pytest.mark.parametrize("text", ["", "[machine]\nname = 3\n", "[machine]\nname = lathe\n"])
    def test_refuses_a_folder_that_does_not_name_its_machine(self, folder, text):
        survey = read_survey(folder)
        (folder / "survey.toml").write_text(text)
        with pytest.raises(SurveyError, match="does not say of which machine it is; write to"):
            survey.write(folder)
        assert (folder / "survey.toml").read_text() == text

    def test_the_same_machine_described_otherwise_is_no_other_one(self, folder):
        survey = read_survey(folder)
        (folder / "survey.toml").write_text(TOML.replace("width = 40.0", "width = 41.0"))
        survey.write(folder)
        assert (folder / "survey.toml").read_text() == TOML

    def test_a_file_where_the_folder_should_be(self, folder, tmp_path):
        (tmp_path / "taken").write_text("")
        with pytest.raises(SurveyError, match="taken.*cannot be written.*another folder"):
            read_survey(folder).write(tmp_path / "taken")

    def test_a_folder_that_may_not_be_written(self, folder, tmp_path, monkeypatch):
        survey = read_survey(folder)

        def refuse(*arguments, **keywords):
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(files.os, "replace", refuse)
        with pytest.raises(SurveyError, match=r"readings.csv: it cannot be written \(Permission"):
            survey.with_decision(band=1).write(folder)
        assert (folder / "survey.toml").read_text() == TOML
        assert not list(folder.glob(".*"))

    def test_a_full_disk_leaves_the_old_files(self, folder, monkeypatch):
        survey = read_survey(folder)

        def refuse(handle):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(files.os, "fsync", refuse)
        with pytest.raises(SurveyError, match="No space left"):
            survey.with_decision(band=1).write(folder)
        assert (folder / "survey.toml").read_text() == TOML
        assert not list(folder.glob(".*"))

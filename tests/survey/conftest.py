import pytest

from metrolib.errors import SurveyError
from metrolib.survey.folder import read_survey

from .example import READINGS, TOML, line_of


@pytest.fixture
def folder(tmp_path):
    """A survey folder in order."""
    (tmp_path / "survey.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / "readings.csv").write_text(READINGS, encoding="utf-8")
    return tmp_path


@pytest.fixture
def faults_of(tmp_path):
    """Write a survey and return its faults."""

    def read(toml=TOML, readings=READINGS):
        for name, text in {"survey.toml": toml, "readings.csv": readings}.items():
            raw = text if isinstance(text, bytes) else text.encode()
            (tmp_path / name).write_bytes(raw)
        with pytest.raises(SurveyError) as caught:
            read_survey(tmp_path)
        return caught.value.faults

    return read


@pytest.fixture
def expect_fault(faults_of):
    """Spoil survey.toml in one place, and look whether that line is told, and what to do."""

    def expect(old, new, part, wrong, remedy):
        assert old in TOML
        toml = TOML.replace(old, new, 1)
        fault = next(fault for fault in faults_of(toml) if wrong in fault.wrong)
        assert (fault.file, fault.line) == ("survey.toml", line_of(toml, part))
        assert remedy in fault.remedy

    return expect

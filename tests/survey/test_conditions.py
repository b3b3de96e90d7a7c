import pytest

from metrolib.errors import SurveyError
from metrolib.survey.folder import read_survey
from tests.survey.example import TOML


@pytest.mark.parametrize(
    ("key", "value"),
    [("between_stations = true", True), ("between_stations = false", False), ("", False)],
)
def test_between_stations(folder, key, value):
    (folder / "survey.toml").write_text(TOML.replace("band = 0.0 ", f"{key}\n#"))
    assert read_survey(folder).decision.between_stations is value


def test_between_stations_is_a_flag(folder):
    text = TOML.replace("band = 0.0 ", "between_stations = 1\n#")
    (folder / "survey.toml").write_text(text)
    line = 1 + text[: text.index("between_stations")].count("\n")
    with pytest.raises(SurveyError, match="between_stations is 1; write true or false") as error:
        read_survey(folder)
    assert f":{line}:" in str(error.value) or f"line {line}" in str(error.value)


def test_the_choice_can_be_changed_and_is_written(folder, tmp_path):
    survey = read_survey(folder).with_decision(between_stations=True)
    assert survey.decision.between_stations is True
    survey.write(tmp_path / "copy")
    assert read_survey(tmp_path / "copy").decision.between_stations is True

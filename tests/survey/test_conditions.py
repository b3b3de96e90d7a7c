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


@pytest.mark.parametrize(
    ("key", "value"),
    [("crown = 0.01", 0.01), ("crown = -0.005", -0.005), ("crown = 0", 0.0), ("", 0)],
)
def test_a_crown_is_a_height_of_either_sign(folder, key, value):
    (folder / "survey.toml").write_text(TOML.replace("band = 0.0 ", f"{key}\n#"))
    assert read_survey(folder).decision.crown == value


@pytest.mark.parametrize("value", ['"10 um"', "true", "nan"])
def test_a_crown_that_is_no_height(folder, value):
    text = TOML.replace("band = 0.0 ", f"crown = {value}\n#")
    (folder / "survey.toml").write_text(text)
    line = 1 + text[: text.index("crown")].count("\n")
    with pytest.raises(SurveyError, match=f"line {line}.*crown is "):
        read_survey(folder)


def test_a_crown_is_written_and_an_option_may_have_its_own(folder, tmp_path):
    survey = read_survey(folder).with_decision(crown=0.01)
    options = "\n[options.level]\ncrown = 0\n\n[options.as_decided]\nclean_up = 0.02\n"
    survey.with_option("full", survey.decision).write(tmp_path / "copy")
    toml = tmp_path / "copy" / "survey.toml"
    toml.write_text(toml.read_text() + options)
    again = read_survey(tmp_path / "copy")
    found = [again.options[name].crown for name in ("level", "as_decided", "full")]
    assert (again.decision.crown, found) == (0.01, [0.0, 0.01, 0.01])

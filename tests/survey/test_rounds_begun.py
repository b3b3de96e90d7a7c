import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.survey.folder import read_survey
from metrolib.survey.rounds_begun import blank_round


def test_the_stations_are_planned_once_each_in_the_order_of_the_file():
    survey = read_survey("sample_surveys/toolroom_lathe")
    found = blank_round(survey, ["level on front flat turned", "measuring arm"])
    assert len(found.readings) == 0
    assert list(found.traverses) == ["level on front flat turned", "measuring arm"]
    for name in found.traverses:
        old, new = (kept.of(name) for kept in (survey.readings, found.planned))
        first = sorted(
            np.unique([*zip(old.face, old.x, strict=True)], axis=0, return_index=True)[1]
        )
        assert new.x.tolist() == old.x[first].tolist()
        assert new.face.tolist() == old.face[first].tolist()
    assert np.all(np.isnan(found.planned.value)) and set(found.planned.repeat) == {1}


def test_everything_but_traverses_and_prints_is_taken_over():
    survey = read_survey("sample_surveys/toolroom_lathe")
    found = blank_round(survey, "measuring arm")
    same = "machine", "instruments", "straightedges", "decision", "options", "methods", "tolerances"
    for name in same:
        assert getattr(found, name) == getattr(survey, name), name
    assert survey.prints and found.prints == ()


def test_without_a_choice_all_is_read_again():
    survey = read_survey("sample_surveys/milling_table")
    assert list(blank_round(survey).traverses) == list(survey.traverses)


def test_the_dialect_and_the_further_columns_are_kept(folder):
    path = folder / "readings.csv"
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    german = [line.replace(".", "#").replace(",", ";").replace("#", ",") for line in lines]
    path.write_text("\ufeff" + "\r\n".join([german[0] + ";lamp", *german[1:]]) + "\r\n")
    found = blank_round(read_survey(folder), ["across"])
    assert (
        found.readings_text == "traverse;x;reading;note;lamp\r\nacross;0;;;\r\nacross;1000;;;\r\n"
    )


def test_what_is_no_traverse_is_refused():
    survey = read_survey("sample_surveys/milling_table")
    with pytest.raises(InputError, match="traverses: this is not one of the choices, got 'x'"):
        blank_round(survey, ["x"])
    with pytest.raises(InputError, match="traverses: at least one is needed"):
        blank_round(survey, [])

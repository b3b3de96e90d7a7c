import pytest

from metrolib.errors import InputError
from metrolib.survey.folder import read_survey
from metrolib.survey.traverses_begun import new_sheets, with_sheets


@pytest.fixture(scope="module")
def lathe():
    return read_survey("sample_surveys/toolroom_lathe")


def test_a_traverse_of_a_kind_known_to_the_survey_takes_its_instrument(lathe):
    (sheet,) = new_sheets(lathe, "carriage", ["tailstock flat", "front flat"])
    assert (sheet.instrument, sheet.name) == ("lever indicator", "carriage, front flat")
    assert 'riding = "tailstock flat"' in sheet.keys[1]


def test_an_instrument_that_could_be_several_must_be_named(lathe):
    with pytest.raises(
        InputError, match="instrument: several read it, got micrometer 25-50, lever"
    ):
        new_sheets(lathe, "wire", ["front flat"])
    (sheet,) = new_sheets(lathe, "wire", ["front flat"], instrument="lever indicator")
    assert sheet.instrument == "lever indicator"


def test_an_instrument_that_reads_something_else_is_refused(lathe):
    with pytest.raises(
        InputError, match="'wire' needs one that reads a length, 'block level' does"
    ):
        new_sheets(lathe, "wire", ["front flat"], instrument="block level")


def test_a_vee_is_named_by_both_flanks(lathe):
    vee = ("front flank", "rear flank")
    out, back = new_sheets(lathe, "level along", [vee], pitch=100)
    changed = with_sheets(lathe, [out, back])
    assert changed.traverses[out.name].settings["face"] == vee
    assert changed.planned.of(back.name).x[0] == 1160  # both flanks end at 1340
    with pytest.raises(InputError, match="faces: a vee has two flanks, got 3"):
        new_sheets(lathe, "level along", [(*vee, "front flat")])


def test_a_level_across_several_faces_has_a_name_for_each(lathe):
    faces = ["front flat", "tailstock flat", "rear flat"]
    sheets = new_sheets(lathe, "level across", faces, name="second day", pitch=200)
    names = [sheet.name for sheet in sheets]
    assert len(set(names)) == len(names) == 4
    assert all(name.startswith("second day") for name in names)
    assert set(names) <= set(with_sheets(lathe, sheets).traverses)


def test_a_kind_of_ones_own_takes_any_instrument(lathe):
    (sheet,) = new_sheets(lathe, "own: plumb", ["front flat"], instrument="block level")
    assert (sheet.kind, sheet.name) == ("own: plumb", "plumb")


def test_readings_and_text_stay(lathe):
    changed = with_sheets(lathe, new_sheets(lathe, "level along", ["rear ledge", "rear flat"]))
    assert changed.toml_text.startswith(lathe.toml_text.rstrip())
    assert changed.readings_text.startswith(lathe.readings_text)
    assert len(changed.readings) == len(lathe.readings)

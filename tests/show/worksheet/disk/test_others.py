import numpy as np

from metrolib.show.worksheet.disk.history import key_of, new_event
from metrolib.show.worksheet.disk.others import changes_elsewhere, last_readings

ONE, TWO, THREE = (key_of("level", "flat", x, 1) for x in (0, 100, 200))
NONE = np.nan


def _changes(expected, actual, events=()):
    lacking, edits = changes_elsewhere(expected, actual, list(events))
    return [event.now for event in lacking], [(one.place, one.was, one.now) for one in edits]


def test_what_is_as_expected_is_no_change():
    same = {ONE: 1.5, TWO: NONE}
    assert _changes(same, same) == ([], [])
    assert _changes({TWO: NONE}, {}) == ([], [])


def test_a_changed_added_or_removed_number_is_an_edit_that_keeps_the_old_one():
    found = _changes({ONE: 1.5, TWO: NONE, THREE: 3.0}, {ONE: 2.5, TWO: 7.0, THREE: NONE})
    assert found == ([], [(ONE, "1.5", "2.5"), (TWO, "", "7"), (THREE, "3", "")])


def test_a_reading_of_the_history_that_is_gone_is_lacking():
    events = [new_event("taken", ONE, now="1.5"), new_event("corrected", ONE, was="1.5", now="2")]
    assert _changes({ONE: 2.0}, {}, events) == (["2"], [])
    assert _changes({ONE: 2.0}, {ONE: NONE}, events) == (["2"], [])


def test_a_reading_that_the_history_took_back_is_not_lacking():
    events = [new_event("taken", ONE, now="1"), new_event("taken back", ONE, was="1")]
    assert _changes({ONE: NONE}, {}, events) == ([], [])


def test_notes_are_no_readings():
    events = [new_event("taken", ONE, now="1"), new_event("noted", ONE, now="warm")]
    assert [event.now for event in last_readings(events).values()] == ["1"]

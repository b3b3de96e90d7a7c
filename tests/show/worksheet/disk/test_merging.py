import numpy as np
import pytest

from metrolib.show.worksheet.disk.history import key_of, new_event
from metrolib.show.worksheet.disk.merging import merged, values_by_place
from metrolib.survey.columns import read_columns
from metrolib.survey.table import read_table

TEXT = (
    "traverse,face,x,reading,repeat,order,note\n"
    "level,flat,0,1.5,,1,\n"
    "level,flat,100,,,,warm\n"
    "other,flat,0,7,,,\n"
    "other,flat,100,,,,\n"
)


def _event(action, x, now="", traverse="level", repeat=1):
    return new_event(action, key_of(traverse, "flat", x, repeat), now=now)


def _merged(*events, text=TEXT):
    return merged(text, events, "readings.csv", {})


def _values(text):
    return values_by_place(read_columns(read_table(text), {}).rows)


def test_a_reading_goes_into_its_planned_row_with_its_number_in_the_order():
    assert _merged(_event("taken", 100, "2.50")) == TEXT.replace(
        "flat,100,,,,warm", "flat,100,2.50,,2,warm"
    )


def test_no_order_is_written_where_the_traverse_has_none():
    text = _merged(_event("taken", 100, "8", "other"))
    assert "other,flat,100,8,,,\n" in text


def test_a_repeat_is_added_below():
    text = _merged(_event("repeated", 0, "1.6", repeat=2))
    assert text == TEXT + "level,flat,0,1.6,2,2,\n"


def test_a_repeat_that_is_taken_back_leaves_nothing_behind():
    events = _event("repeated", 0, "1.6", repeat=2), _event("repeat taken back", 0, repeat=2)
    assert _merged(*events) == TEXT


def test_a_reading_that_is_taken_back_leaves_its_row():
    text = _merged(_event("taken back", 0))
    assert text == TEXT.replace("flat,0,1.5,,1,", "flat,0,,,1,")
    assert np.isnan(_values(text)[key_of("level", "flat", 0, 1)])


def test_notes_touch_no_reading():
    text = _merged(_event("noted", 0, "wiped"), _event("skipped", 100, "skipped: hole"))
    assert "flat,0,1.5,,1,wiped\n" in text and "flat,100,,,,skipped: hole\n" in text


def test_a_note_of_a_reading_to_come_plans_its_row_and_a_skip_of_it_none():
    assert _merged(_event("skipped", 0, "skipped: late", repeat=2)) == TEXT
    text = _merged(_event("noted", 0, "late", repeat=2))
    assert text == TEXT + "level,flat,0,,2,,late\n"


EVENTS = [
    _event("taken", 100, "2.50"),
    _event("corrected", 0, "1.75"),
    _event("repeated", 0, "1.6", repeat=2),
    _event("noted", 0, "wiped"),
    _event("taken back", 0, traverse="other"),
    _event("edited elsewhere", 0, "1.75"),
]


@pytest.mark.parametrize("done", range(len(EVENTS) + 1))
def test_what_was_merged_before_changes_nothing_more(done):
    once = _merged(*EVENTS)
    assert _merged(*EVENTS[done:], text=_merged(*EVENTS[:done])) == once
    assert _merged(*EVENTS[done:], text=once) == once


def test_the_dialect_of_the_file_is_kept():
    text = TEXT.replace("1.5", "1#5").replace(",", ";").replace("#", ",")
    changed = _merged(_event("taken", 100, "2.50"), _event("corrected", 0, "-0.5"), text=text)
    assert "flat;100;2,50;;2;warm" in changed and "flat;0;-0,5;;1;" in changed


def test_a_file_without_the_column_of_faces_gets_none():
    text = "traverse,x,reading,repeat\nlevel,0,1.5,\n"
    event = _event("repeated", 0, "1.6", repeat=2)
    found = merged(text, [event], "readings.csv", {"level": "flat"})
    assert found == text + "level,0,1.6,2\n"


def test_of_two_rows_of_one_place_the_read_one_counts():
    doubled = TEXT + "level,flat,0,,,,\n"
    assert _merged(_event("corrected", 0, "9"), text=doubled) == doubled.replace(",1.5,", ",9,")

"""All readings as lines: state, marks, history, suspects."""

import os
import time
from types import SimpleNamespace

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.table.table import (
    ALL,
    CHANGED,
    OPEN,
    SHOWN,
    SUSPECT,
    history_of,
    lines_of,
    suspects_of,
)
from metrolib.show.worksheet.worksheet import worksheet

ALONG = "level along front flat"


def lines(sheet, traverse=ALONG):
    return lines_of(sheet.rows, sheet.history, suspects_of(sheet.heights), traverse)


def states(sheet):
    return [line.state for line in lines(sheet)]


@pytest.fixture
def taken(sheet):
    """A sheet with three of the six readings of the first traverse taken."""
    for text in ("1,5", "-2", "0"):
        sheet.take(text)
    return sheet


def test_readings_and_open_stations_in_the_order_of_the_file(taken):
    assert states(taken) == ["read"] * 3 + ["open"] * 3
    assert [line.row.digits for line in lines(taken)] == ["1.5", "-2", "0", "", "", ""]
    assert lines(taken)[3].marks == ("○ still to be taken",)
    assert len(lines(taken, None)) == len(taken.rows)


def test_a_corrected_reading_says_what_stood_first(taken):
    taken.correct(lines(taken)[1].row, "-2,5")
    taken.correct(lines(taken)[1].row, "-2,25")
    line = lines(taken)[1]
    assert (line.row.digits, line.marks) == ("-2.25", ("✎ changed, first -2",))
    told = [words.split(": ", 1)[1] for words in history_of(line.row)]
    assert told == [
        "taken, -2",
        "corrected from -2 to -2.5 (-2,5)",
        "corrected from -2.5 to -2.25 (-2,25)",
    ]


def test_a_reading_that_is_left_out_keeps_its_number_and_reason(taken):
    taken.take_back(lines(taken)[0].row, "chip under the foot")
    line = lines(taken)[0]
    assert line.state == "left out"
    assert line.marks == ("✗ left out, it was 1.5: chip under the foot",)
    taken.bring_back(line.row)
    assert (lines(taken)[0].state, lines(taken)[0].row.digits) == ("read", "1.5")


def test_bringing_back_can_be_undone_and_the_reason_is_still_told(taken):
    taken.take_back(lines(taken)[0].row, "chip")
    taken.bring_back(lines(taken)[0].row)
    taken.undo()
    assert lines(taken)[0].marks == ("✗ left out, it was 1.5: chip",)
    taken.undo()
    assert lines(taken)[0].state == "read"


def test_only_what_was_left_out_can_be_brought_back(taken):
    with pytest.raises(InputError, match="bring_back: .* at 0 mm is not left out"):
        taken.bring_back(lines(taken)[0].row)
    with pytest.raises(InputError, match="is not left out"):
        taken.bring_back(lines(taken)[4].row)


def test_a_reading_taken_anew_is_not_replaced_by_the_one_left_out(taken):
    taken.take_back(lines(taken)[0].row, "chip")
    taken.take("1,25", key=lines(taken)[0].row.key)
    with pytest.raises(InputError, match="is not left out"):
        taken.bring_back(lines(taken)[0].row)
    assert lines(taken)[0].row.digits == "1.25"


def test_a_repeat_that_is_left_out_is_still_in_the_table(taken):
    taken.step_back()
    taken.repeat()
    taken.take("0,5")
    repeat = next(line for line in lines(taken) if line.row.repeat == 2)
    taken.take_back(repeat.row, "elbow on the bed")
    gone = lines(taken)[-1]
    assert (gone.row.repeat, gone.state, gone.row.unit) == (2, "left out", "division")
    assert gone.marks == ("✗ left out, it was 0.5: elbow on the bed",)
    taken.bring_back(gone.row)
    back = next(line for line in lines(taken) if line.row.repeat == 2)
    assert (back.state, back.row.digits) == ("read", "0.5")


def test_a_station_that_is_skipped_says_why(taken):
    taken.skip("oil hole")
    line = lines(taken)[3]
    assert (line.state, line.marks) == ("skipped", ("✗ skipped: oil hole",))
    taken.unskip(key=line.row.key)
    assert lines(taken)[3].state == "open"


def test_a_note_is_shown(taken):
    taken.note("second try", key=lines(taken)[0].row.key)
    assert lines(taken)[0].marks == ("note: second try",)


def test_what_another_program_changed_is_told(taken, folder):
    path = folder / "readings.csv"
    path.write_text(path.read_text().replace(",200,0,", ",200,7,"))
    os.utime(path, (time.time() + 1,) * 2)  # no hand saves within the same tick of a coarse clock
    assert taken.news
    line = lines(taken)[2]
    assert line.marks == ("✎ changed, first 0",)
    assert "changed by another program from 0 to 7" in history_of(line.row)[-1]


def test_each_kind_of_line_can_be_asked_for(taken):
    taken.correct(lines(taken)[1].row, "-2,5")
    taken.skip("oil hole")
    count = {shown: sum(line.is_shown(shown) for line in lines(taken)) for shown in SHOWN}
    assert count == {ALL: 6, OPEN: 2, CHANGED: 2, SUSPECT: 0}


def test_a_row_without_history_says_so(sheet):
    assert history_of(sheet.rows[0]) == ["nothing has happened to it here"]


def test_nothing_is_suspect_without_heights():
    assert suspects_of(None) == {}
    assert suspects_of(SimpleNamespace(checks=None)) == {}


def test_suspects_are_those_of_the_adjustment():
    sheet = worksheet("sample_surveys/toolroom_lathe")
    checks = sheet.heights.checks
    marked = [line for line in lines(sheet, None) if line.is_shown(SUSPECT)]
    alike = [one for ones in checks.inseparable.values() for one in ones]
    known = set(checks.line[[*checks.suspects, *alike]].tolist())
    assert {line.row.line for line in marked} == known
    assert len(known) >= 1
    first = int(checks.suspects[0])
    line = next(one for one in marked if one.row.line == checks.line[first])
    assert line.marks[-1].startswith("? suspect: reads about")
    assert line.marks[-1].endswith("high" if checks.residual[first] > 0 else "low")
    sheet.close()


def test_one_of_two_that_cannot_be_told_apart_is_marked_too():
    checks = SimpleNamespace(
        suspects=np.array([1]),
        inseparable={1: (2,)},
        line=np.array([2, 3, 4]),
        describe=lambda reading: "'level' at 0 mm (line 3) reads about 5.0 µm too high",
    )
    assert suspects_of(SimpleNamespace(checks=checks)) == {
        3: "? suspect: reads about 5.0 µm too high",
        4: "? suspect: this one, or line 3",
    }

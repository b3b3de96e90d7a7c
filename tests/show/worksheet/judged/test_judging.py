"""What a worksheet makes of its readings: one adjustment for each state of the folder."""

import pytest

from metrolib.heights import adjust as adjusting


@pytest.fixture
def counted(monkeypatch):
    """Count the adjustments."""
    calls = []
    real = adjusting.adjust

    def adjust(*given, **named):
        calls.append(given)
        return real(*given, **named)

    monkeypatch.setattr(adjusting, "adjust", adjust)
    return calls


def test_a_reading_out_of_line_is_doubted_once_and_only_when_asked(sheet, counted):
    for text in ("1", "1.2", "0.9"):
        assert sheet.take(text).doubt is None
    sheet.repeat()
    before = len(counted)
    wild = sheet.take("19")
    assert len(counted) == before  # the reading is on disk before anything is computed
    doubt = wild.doubt
    assert (doubt.x, doubt.repeat, doubt.value, doubt.against) == (200, 2, 19, "its repeats")
    assert wild.doubt is doubt
    assert sheet.correct(wild.prompt, "18").doubt.value == 18  # another number, another question
    assert sheet.correct(wild.prompt, "1.1").doubt is None


def test_one_adjustment_serves_the_doubt_and_the_heights(sheet, counted):
    taken = sheet.take("1")
    assert sheet.heights is not None and taken.doubt is None and sheet.heights is not None
    assert len(counted) == 1


def test_what_is_known_grows_with_the_readings(sheet):
    assert (sheet.known.taken, sheet.known.planned) == (0, len(sheet.rows))
    sheet.take("1")
    known = sheet.known
    assert (known.taken, known.planned) == (1, len(sheet.rows) - 1)
    assert known.next_useful


def test_what_is_known_is_worked_out_once_for_each_state_and_traverse(sheet):
    sheet.take("1")
    known = sheet.known
    assert sheet.known is known
    sheet.take("1.2")
    further = sheet.known
    assert further is not known
    sheet.choose(sheet.traverses[-1])
    assert sheet.known is not further

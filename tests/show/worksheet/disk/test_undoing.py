import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import read_survey


def _file(folder):
    return (folder / "readings.csv").read_text()


def _do_take(sheet):
    sheet.take("5")


def _do_correct(sheet):
    sheet.correct(sheet.rows[0], "9")


def _do_take_back(sheet):
    sheet.take_back(sheet.rows[0], "slipped")


def _do_repeat(sheet):
    sheet.repeat()
    sheet.take("1.25")


def _do_take_back_a_repeat(sheet):
    again = next(row for row in sheet.rows if row.repeat == 2)
    sheet.take_back(again, "slipped")


def _do_skip(sheet):
    sheet.skip("oil hole")


def _do_unskip(sheet):
    sheet.unskip(next(one for one in sheet.prompts if one.state == "skipped"))


def _do_note(sheet):
    sheet.note("jack moved")


_ALL = (
    _do_take,
    _do_correct,
    _do_take_back,
    _do_repeat,
    _do_take_back_a_repeat,
    _do_skip,
    _do_unskip,
    _do_note,
)


@pytest.fixture
def worked(sheet):
    """A worksheet with a reading, a repeat of it, a skipped station and another reading."""
    sheet.take("1.0")
    sheet.repeat()
    sheet.take("1.1")
    sheet.skip("hole")
    sheet.take("2")
    return sheet


def _values(folder):
    found = read_survey(folder).readings
    columns = (found.traverse, found.x, found.repeat, found.value)
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


@pytest.mark.parametrize("do", _ALL)
def test_every_kind_of_change_can_be_taken_back(folder, worked, do):
    values, notes = _values(folder), [row.note for row in worked.rows]
    states = [(one.key, one.state) for one in worked.prompts]
    events = len(worked.history)
    do(worked)
    assert (_values(folder), [row.note for row in worked.rows]) != (values, notes)
    worked.undo()
    assert _values(folder) == values
    assert [row.note for row in worked.rows] == notes
    assert [(one.key, one.state) for one in worked.prompts] == states
    assert len(worked.history) == events + 2  # the change and its undoing are both kept


@pytest.mark.parametrize("do", _ALL)
def test_a_new_worksheet_sees_the_same_and_can_undo_too(folder, worked, do):
    values = _values(folder)
    do(worked)
    later = worksheet(folder)
    later.undo()
    assert _values(folder) == values
    assert worked.news
    assert [row.digits for row in later.rows] == [row.digits for row in worked.rows]


def test_undo_goes_back_step_by_step_to_the_beginning(folder, sheet):
    before = _file(folder)
    sheet.note("first")
    sheet.take("1")
    sheet.correct(sheet.rows[0], "2")
    sheet.repeat()
    sheet.take("3")
    sheet.skip("hole")
    for _ in range(5):
        sheet.undo()
    assert [row.digits for row in sheet.rows if row.digits] == []
    assert _file(folder).replace(",1,\n", ",,\n") == before  # the order of reading stays
    with pytest.raises(InputError, match="undo: nothing was changed in this folder"):
        sheet.undo()


def test_undo_says_what_it_took_back_and_goes_there(sheet):
    sheet.take("1")
    sheet.take("2")
    sheet.choose("level along rear flat")
    event = sheet.undo()
    assert (event.action, event.now, event.x) == ("taken", "2", 100)
    assert (sheet.traverse, sheet.prompt.x, sheet.prompt.state) == (
        "level along front flat",
        100,
        "open",
    )


def test_undo_takes_back_the_own_change_before_that_of_another(folder, sheet):
    other = worksheet(folder)
    sheet.take("1")
    other.choose("level along rear flat")
    other.take("2")
    assert sheet.undo().now == "1"
    assert [row.digits for row in sheet.rows if row.digits] == ["2"]


def test_what_was_changed_since_is_not_undone_in_silence(folder, sheet):
    other = worksheet(folder)
    sheet.take("1")
    other.correct(sheet.prompts[0], "2")
    with pytest.raises(InputError, match="at 0 mm was changed since, from 1 to 2"):
        sheet.undo()
    assert [row.digits for row in sheet.rows if row.digits] == ["2"]

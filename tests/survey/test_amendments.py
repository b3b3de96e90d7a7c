import pytest

from metrolib.survey.amendments import amend_row, remove_row

TEXT = (
    "# first day\r\n"
    "traverse;x;reading;note\r\n"
    'level; 0 ;0,5;"jack; moved"\r\n'
    "level;200;\r\n"
    'level;400;"1,5";"two\r\nlines"\r\n'
    "level;600;2"
)


def test_only_the_cell_changes():
    assert amend_row(TEXT, 3, {"reading": "0,75"}) == TEXT.replace(";0,5;", ";0,75;")


def test_a_cell_is_emptied():
    assert amend_row(TEXT, 3, {"reading": ""}) == TEXT.replace(";0,5;", ";;")


def test_a_row_that_ends_early_is_made_longer():
    assert amend_row(TEXT, 4, {"note": "warm"}) == TEXT.replace("200;", "200;;warm")


def test_a_cell_with_a_separator_or_a_quote_is_quoted():
    changed = amend_row(TEXT, 3, {"note": 'a;b "c"'})
    assert changed == TEXT.replace('"jack; moved"', '"a;b ""c"""')


def test_a_row_over_two_lines_and_the_last_one_without_an_end():
    assert amend_row(TEXT, 5, {"note": "one line"}) == TEXT.replace('"two\r\nlines"', "one line")
    assert amend_row(TEXT, 7, {"reading": "3"}) == TEXT[:-1] + "3"


def test_a_column_that_is_missing_is_added_unless_its_cell_stays_empty():
    changed = amend_row(TEXT, 7, {"reading": "3", "order": "9"})
    assert changed.splitlines()[1] == "traverse;x;reading;note;order"
    assert changed.endswith("level;600;3;;9")
    assert amend_row(TEXT, 7, {"order": ""}) == TEXT


@pytest.mark.parametrize(
    ("line", "gone"),
    [(3, 'level; 0 ;0,5;"jack; moved"\r\n'), (5, 'level;400;"1,5";"two\r\nlines"\r\n')],
)
def test_a_row_goes_with_its_line_end(line, gone):
    assert remove_row(TEXT, line) == TEXT.replace(gone, "")


def test_the_last_row_goes_too():
    assert remove_row(TEXT, 7) == TEXT.removesuffix("level;600;2")

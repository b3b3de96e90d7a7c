import random

import pytest

from metrolib.survey.cells import _split_plain, _split_quoted, split_cells


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_two_ways_to_split_agree(separator):
    draw = random.Random(20260101)
    cells = ["", " ", "1.5", " 2", "level 1 ", "# 3", "\N{NO-BREAK SPACE}", "x"]
    for _ in range(300):
        width = draw.randint(1, 4)
        lines = [separator.join(draw.choices(cells, k=width)) for _ in range(draw.randint(1, 6))]
        plain, quoted = _split_plain(lines, separator), _split_quoted(lines, separator)
        if plain is None:  # nothing but blank rows
            assert not quoted.columns
            continue
        assert plain.columns == quoted.columns
        assert plain.lines == quoted.lines
        assert quoted.too_wide == [] and quoted.open_line is None


def test_uneven_rows():
    cells = split_cells(["a,b", "1", "1,2,3", "", "4,5"], ",")
    assert cells.columns == [("a", "1", "1", "4"), ("b", "", "2", "5")]
    assert cells.lines == [1, 2, 3, 5]
    assert cells.too_wide == [(3, 3)]


def test_an_open_quote_keeps_the_rows_before_it():
    cells = split_cells(["a,b", "1,2", '3,"4', "5,6"], ",")
    assert cells.columns == [("a", "1"), ("b", "2")]
    assert cells.open_line == 3


def test_an_open_quote_that_swallows_a_large_file():
    cells = split_cells(["a,b", '3,"4', *["5,6"] * 50_000], ",")
    assert cells.columns == [("a",), ("b",)]
    assert cells.open_line == 2


def test_a_hash_inside_a_quoted_cell_is_no_comment():
    cells = split_cells(["a,b", '1,"one', '# two"'], ",")
    assert cells.columns[1] == ("b", "one\n# two")

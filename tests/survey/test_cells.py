import random

import pytest

from metrolib.survey.cells import _split_plain, _split_quoted, split_cells


def columns_of(cells):
    return [list(column) for column in cells.columns]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_two_ways_to_split_agree(separator):
    draw = random.Random(20260101)
    cells = ["", " ", "1.5", " 2", "level 1 ", "# 3", "\N{NO-BREAK SPACE}", "x", "sep=", "# 4"]
    # as long as one and two of the words by which they are compared, and a byte more
    cells += ["level 12", "level 123", "level 1234567 µ", "level 1234567 m", "level 1234567 mm"]
    cells += ["\ud800"]  # half a character, which UTF-16 may hold
    for _ in range(300):
        width = draw.randint(1, 4)
        lines = [separator.join(draw.choices(cells, k=width)) for _ in range(draw.randint(1, 9))]
        plain, quoted = _split_plain("\n".join(lines), separator), _split_quoted(lines, separator)
        if plain is None:  # nothing but blank rows
            assert not quoted.headings
            continue
        assert plain.headings == quoted.headings
        assert columns_of(plain) == columns_of(quoted)
        assert plain.heading_line == quoted.heading_line
        assert plain.lines.tolist() == quoted.lines.tolist()
        assert quoted.too_wide == [] and quoted.open_line is None


def test_uneven_rows():
    cells = split_cells("a,b\n1\n1,2,3\n\n4,5", ",")
    assert cells.headings == ["a", "b"]
    assert columns_of(cells) == [["1", "1", "4"], ["", "2", "5"]]
    assert (cells.heading_line, cells.lines.tolist()) == (1, [2, 3, 5])
    assert cells.too_wide == [(3, 3)]


def test_an_open_quote_keeps_the_rows_before_it():
    cells = split_cells('a,b\n1,2\n3,"4\n5,6', ",")
    assert columns_of(cells) == [["1"], ["2"]]
    assert cells.open_line == 3


def test_an_open_quote_that_swallows_a_large_file():
    cells = split_cells('a,b\n3,"4' + "\n5,6" * 50_000, ",")
    assert cells.headings == ["a", "b"] and columns_of(cells) == [[], []]
    assert cells.open_line == 2


def test_a_hash_inside_a_quoted_cell_is_no_comment():
    cells = split_cells('a,b\n1,"one\n# two"', ",")
    assert columns_of(cells)[1] == ["one\n# two"]

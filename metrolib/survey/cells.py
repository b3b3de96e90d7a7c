"""Cells: lines of a table in text -> columns of cells, each row with the line where it begins."""

import csv
from dataclasses import dataclass, field
from itertools import compress, count, repeat


@dataclass(frozen=True, eq=False)
class Cells:
    """The cells of a table, comments and blank rows left out.

    Attributes
    ----------
    columns : list of sequence of str
        As many as the first row has cells; each begins with its heading. Blanks are left on.
    lines : list of int
        Line in which each row begins, from 1.
    too_wide : list of (int, int)
        Line and number of cells of each row that has more of them than the first; the rest of
        its cells is left out here.
    open_line : int or None
        Line of a row in which a quote is opened and never closed; it is left out here.
    """

    columns: list = field(default_factory=list)
    lines: list = field(default_factory=list)
    too_wide: list = field(default_factory=list)
    open_line: int | None = None


def split_cells(lines, separator):
    r"""Split lines into cells.

    Parameters
    ----------
    lines : list of str
        Without their line ends.
    separator : str

    Returns
    -------
    Cells

    Examples
    --------
    >>> cells = split_cells(["# first day", "x;note", '200;"two', 'lines"'], ";")
    >>> cells.columns, cells.lines
    ([('x', '200'), ('note', 'two\nlines')], [2, 3])
    """
    return _split_plain(lines, separator) or _split_quoted(lines, separator)


def is_comment(line):
    """Tell whether a line is a comment.

    A spreadsheet puts a comment with a comma in quotes; some begin a file with ``sep=;``.
    """
    return line.startswith(("#", '"#', "sep=", '"sep=')) or line.lstrip(" ").startswith("#")


def _split_plain(lines, separator):
    """Split a table without quotes whose rows are equally wide; None where it is another one."""
    blank = separator + " \t\N{NO-BREAK SPACE}"
    filled = list(map(str.strip, lines, repeat(blank)))
    numbers, rows = list(compress(count(1), filled)), list(compress(lines, filled))
    end = f"{separator}\n{separator}"  # the end of a row becomes a cell of its own
    text = end.join(rows)
    if "#" in text or "sep=" in text:
        told = [not is_comment(line) for line in rows]
        numbers, rows = list(compress(numbers, told)), list(compress(rows, told))
        text = end.join(rows)
    if not rows or '"' in text:
        return None
    flat = text.split(separator)
    width = rows[0].count(separator) + 1
    ends = flat[width :: width + 1]
    if len(flat) != len(rows) * (width + 1) - 1 or ends.count("\n") != len(rows) - 1:
        return None
    return Cells([tuple(flat[place :: width + 1]) for place in range(width)], numbers)


class _Feed:
    """Lines for the CSV reader, less the comments between rows; knows where the last row began."""

    def __init__(self, lines):
        self._lines = iter(enumerate(lines, start=1))
        self.between_rows = True
        self.start = 0
        self.open_to_the_end = False

    def __iter__(self):
        return self

    def __next__(self):
        for number, line in self._lines:
            if self.between_rows:
                if not line or is_comment(line):
                    continue
                self.start, self.between_rows = number, False
            return line + "\n"
        self.open_to_the_end |= not self.between_rows
        raise StopIteration


def _split_quoted(lines, separator):
    """Split any table, with quoted cells that may run over several lines."""
    feed = _Feed(lines)
    rows = []
    try:
        for row in csv.reader(feed, delimiter=separator):
            rows.append((feed.start, row))
            feed.between_rows = True
    except csv.Error:  # a cell of more than 128 KiB: a quote has swallowed the rest
        feed.open_to_the_end = True
    open_line = feed.start if feed.open_to_the_end else None
    rows = [(start, row) for start, row in rows if start != open_line and "".join(row).strip()]
    if not rows:
        return Cells(open_line=open_line)
    width = len(rows[0][1])
    too_wide = [(start, len(row)) for start, row in rows if len(row) > width]
    even = [[*row[:width], *[""] * (width - len(row))] for _, row in rows]
    columns = list(zip(*even, strict=True))
    return Cells(columns, [start for start, _ in rows], too_wide, open_line)

"""Cells: lines of a table in text -> columns of cells, each row with the line where it begins."""

import csv
from dataclasses import dataclass, field

import numpy as np

from metrolib.survey.texts import Texts, cut


@dataclass(frozen=True, eq=False)
class Cells:
    """The cells of a table, comments and blank rows left out.

    Attributes
    ----------
    headings : list of str
        The cells of the first row, blanks taken off; empty where there is no row.
    heading_line : int or None
        Line in which it begins, from 1.
    columns : list of Texts
        The cells below each heading.
    lines : ndarray of int
        Line in which each of their rows begins.
    too_wide : list of (int, int)
        Line and number of cells of each row that has more of them than the first; the rest of
        its cells is left out here.
    open_line : int or None
        Line of a row in which a quote is opened and never closed; it is left out here.
    """

    headings: list = field(default_factory=list)
    heading_line: int | None = None
    columns: list = field(default_factory=list)
    lines: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=int))
    too_wide: list = field(default_factory=list)
    open_line: int | None = None


def split_cells(text, separator):
    r"""Split a text into cells.

    Parameters
    ----------
    text : str
        Its lines end with ``"\n"``.
    separator : str

    Returns
    -------
    Cells

    Examples
    --------
    >>> cells = split_cells('# first day\nx;note\n200;"two\nlines"', ";")
    >>> cells.headings, [list(column) for column in cells.columns], cells.lines.tolist()
    (['x', 'note'], [['200'], ['two\nlines']], [3])
    """
    return _split_plain(text, separator) or _split_quoted(text.split("\n"), separator)


def is_comment(line):
    """Tell whether a line is a comment.

    A spreadsheet puts a comment with a comma in quotes; some begin a file with ``sep=;``.
    """
    return line.startswith(("#", '"#', "sep=", '"sep=')) or line.lstrip(" ").startswith("#")


def _split_plain(text, separator):
    """Split a table without quotes whose rows are equally wide; None where it is another one."""
    if '"' in text or "\0" in text:
        return None
    blank = separator + " \t\N{NO-BREAK SPACE}"

    def is_row(line):
        return line.strip(blank) and not is_comment(line)

    headings, columns, lines = cut(text, separator, is_row)
    if headings is None:
        return None
    return Cells([cell.strip() for cell in headings], int(lines[0]), columns, lines[1:])


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
    even = [[*row[:width], *[""] * (width - len(row))] for _, row in rows[1:]]
    columns = [Texts.of([row[place] for row in even]) for place in range(width)]
    headings, lines = [cell.strip() for cell in rows[0][1]], [start for start, _ in rows]
    return Cells(headings, lines[0], columns, np.array(lines[1:], int), too_wide, open_line)

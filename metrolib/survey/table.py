"""Table: the text of readings.csv -> cells with their lines, in whatever dialect it was saved."""

import re
from dataclasses import dataclass, field

import numpy as np

from metrolib.errors import Fault
from metrolib.survey.cells import is_comment, split_cells
from metrolib.survey.sections import suggest

NEEDED = ("traverse", "x", "reading")
COLUMNS = ("traverse", "face", "x", "reading", "repeat", "order", "note")

#: Where columns may be parted; spreadsheets with a decimal comma write semicolons.
_SEPARATORS = (",", ";", "\t")


@dataclass(frozen=True, eq=False)
class Table:
    """The cells of a readings file.

    Attributes
    ----------
    file : str
    separator : str
    line_end : str
        The file's own, which is its first.
    headings : list of str
        As the first row spells them.
    heading_line : int or None
        Line of the headings; None where there are none.
    columns : dict of str to Texts
        The known columns; those that the file lacks are missing here.
    line : ndarray of int
        Line in which each row begins, from 1.
    faults : list of Fault
    """

    file: str
    separator: str = ","
    line_end: str = "\n"
    headings: list = field(default_factory=list)
    heading_line: int | None = None
    columns: dict = field(default_factory=dict)
    line: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=int))
    faults: list = field(default_factory=list)

    def place(self, column):
        """Return at which place among the headings a known column stands, or None."""
        names = [_plain(heading) for heading in self.headings]
        return names.index(column) if column in names else None


def read_table(text, file="readings.csv"):
    r"""Read the cells of a readings file.

    Parameters
    ----------
    text : str
        With any line ends; lines that start with ``#`` are comments.
    file : str
        Its name, for the faults.

    Returns
    -------
    Table

    Examples
    --------
    >>> table = read_table("# first day\ntraverse;x;reading\nlevel; 200;0,5\n")
    >>> list(table.columns["reading"]), table.line.tolist()
    (['0,5'], [3])
    """
    line_end = match.group() if (match := re.search("\r\n|\n|\r", text)) else "\n"
    plain = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    separator = _find_separator(plain)
    cells = split_cells(plain, separator)
    faults = _shape_faults(cells, separator, file)
    if not cells.headings:
        remedy = f"write the headings {','.join(COLUMNS)} in the first line"
        faults.append(Fault(file, None, "no headings", remedy))
        return Table(file, separator, line_end, faults=faults)
    headings, heading_line = cells.headings, cells.heading_line
    faults += _heading_faults(headings, heading_line, file)
    columns = {}
    for heading, column in zip(headings, cells.columns, strict=True):
        if _plain(heading) in COLUMNS:
            columns.setdefault(_plain(heading), column)
    return Table(file, separator, line_end, headings, heading_line, columns, cells.lines, faults)


def _plain(heading):
    """Return a heading without the spelling that spreadsheets and people add."""
    return " ".join(heading.replace("_", " ").split()).casefold()


def _find_separator(text):
    """Return what parts the columns: what makes most known headings of the first row."""
    for line in map(re.Match.group, re.finditer(".+", text)):
        if line.strip() and not is_comment(line):
            known = [
                sum(_plain(cell.strip(' "')) in COLUMNS for cell in line.split(separator))
                for separator in _SEPARATORS
            ]
            return _SEPARATORS[known.index(max(known))]
    return ","


def _heading_faults(headings, line, file):
    names = [_plain(heading) for heading in headings]
    faults = []
    for name in NEEDED:
        if name not in names:
            others = [heading for heading in headings if _plain(heading) not in COLUMNS]
            otherwise = f"the first row must name the columns, at least {', '.join(NEEDED)}"
            remedy = suggest(name, others, otherwise=otherwise).replace("did you mean", "is it")
            faults.append(Fault(file, line, f"there is no column {name!r}", remedy))
    for name in COLUMNS:
        if names.count(name) > 1:
            wrong = f"{names.count(name)} columns are called {name!r}"
            faults.append(Fault(file, line, wrong, "rename those that are not meant"))
    return faults


def _shape_faults(cells, separator, file):
    """Note rows with too many cells, and a quote that is never closed."""
    width = len(cells.headings)
    remedy = "take the extra separator out"
    if separator == ",":
        remedy += ' (a decimal comma needs quotes, "0,5", or semicolons between columns)'
    faults = [
        Fault(file, line, f"the row has {count} cells, the headings {width}", remedy)
        for line, count in cells.too_wide
    ]
    if cells.open_line is not None:
        wrong = "a quote that is opened in this row is never closed"
        remedy = 'close it, or write two quotes ("") for one that belongs to the text'
        faults.append(Fault(file, cells.open_line, wrong, remedy))
    return faults

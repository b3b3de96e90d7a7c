"""Amendments: cells of readings.csv written anew in its text, everything else left as it stands."""

import re

from metrolib.survey.additions import widen_headings
from metrolib.survey.rowtext import RowText
from metrolib.survey.table import read_table


def amend_row(text, line, cells, table=None):
    r"""Return the text of a readings file with changed cells in one row.

    Parameters
    ----------
    text : str
    line : int
        Line in which the row begins, from 1.
    cells : dict of str to str
        By column, as they are to stand in the file; empty text empties a cell. A column that the
        file lacks is added, unless its cell stays empty.
    table : Table, optional
        What `read_table` makes of the text, where it was read before: that saves the time.

    Returns
    -------
    str

    Examples
    --------
    >>> amend_row("traverse;x;reading;note\nlevel;0;0,5;\n", 2, {"reading": "0,75"})
    'traverse;x;reading;note\nlevel;0;0,75;\n'
    """
    table = read_table(text) if table is None else table
    new = [name for name, cell in cells.items() if table.place(name) is None and cell]
    places = {name: table.place(name) for name in cells}
    places |= {name: len(table.headings) + at for at, name in enumerate(new)}
    start = _start_of(text, line)
    row = RowText(text, start, table.separator)
    end = row.end
    for name, cell in cells.items():
        if places[name] is not None:
            row.replace(places[name], cell)
    text = text[:start] + row.text() + text[end:]
    return widen_headings(text, table, new) if new else text


def remove_row(text, line):
    r"""Return the text of a readings file without one row.

    Parameters
    ----------
    text : str
    line : int
        Line in which the row begins, from 1.

    Examples
    --------
    >>> remove_row("x;reading\n0;0,5\n0;0,75\n", 3)
    'x;reading\n0;0,5\n'
    """
    start = _start_of(text, line)
    end = RowText(text, start, read_table(text).separator).end
    end = re.compile("\r\n|\n|\r|").match(text, end).end()
    return text[:start] + text[end:]


def _start_of(text, line):
    """Return where a line begins in the text."""
    starts = [0, *(match.end() for match in re.finditer("\r\n|\n|\r", text))]
    return starts[line - 1]

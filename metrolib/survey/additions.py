"""Additions: readings written into the text of readings.csv, into their planned rows or below."""

import re
from numbers import Integral, Real

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey.cells import is_comment
from metrolib.survey.columns import number, read_columns
from metrolib.survey.rowtext import RowText, cell_text
from metrolib.survey.sections import suggest
from metrolib.survey.table import COLUMNS, read_table

_NUMBERS = ("x", "reading", "repeat", "order")

#: Columns that say which planned row is meant; the others are written into it.
_WHERE = ("traverse", "face", "x", "repeat")


def add_rows(text, rows, file, default_face=None):
    r"""Return the text of a readings file with more readings, in its own dialect.

    Parameters
    ----------
    text : str
    rows : iterable of dict, or DataFrame
        A row whose traverse, face, x and repeat are those of a planned row, one without a
        reading, is written into that row; all others are appended.
    file : str
        Name of the file, for the faults.
    default_face : dict of str to str, optional
        The face of each traverse, for rows that name none.

    Returns
    -------
    str
        Outside the cells that are filled and the lines that are appended nothing has changed.

    Raises
    ------
    InputError
        If a key is no column, a number is missing or not finite, or a cell of the planned row
        holds something else already.

    Examples
    --------
    >>> text = "traverse;x;reading\r\nlevel;0;0,5\r\nlevel;200;\r\n"
    >>> rows = [{"traverse": "level", "x": x, "reading": -1.25} for x in (200, 400)]
    >>> add_rows(text, rows, "readings.csv")
    'traverse;x;reading\r\nlevel;0;0,5\r\nlevel;200;-1,25\r\nlevel;400;-1,25\r\n'
    """
    rows = rows.to_dict("records") if hasattr(rows, "to_dict") else list(rows)
    table = read_table(text, file)
    columns = read_columns(table, default_face or {})
    places = {heading: place for place, heading in enumerate(table.headings) if heading}
    places |= {name: table.place(name) for name in COLUMNS if table.place(name) is not None}
    _check_names(rows, places)
    mark = columns.decimal_mark or ("," if table.separator == ";" else ".")
    filled, appended = _sorted_out(_as_cells(rows, mark), columns, default_face or {}, mark)
    written = [cells for _, _, cells in filled] + [cells for _, cells in appended]
    new = list(dict.fromkeys(name for cells in written for name in cells if name not in places))
    places |= {name: len(table.headings) + at for at, name in enumerate(new)}
    text = _fill(text, table.separator, filled, places)
    if new:
        text = widen_headings(text, table, new)
    return _append(text, table, appended, places, len(table.headings) + len(new))


def _check_names(rows, places):
    """Refuse rows that lack a column or name an unknown one."""
    for at, row in enumerate(rows):
        argument = f"rows[{at}]"
        if not isinstance(row, dict):
            raise checks.wrong(
                argument, "a dict is needed", repr(row)[:60], 'give {"traverse": ..., "x": ...}'
            )
        for name in row:
            if name not in places and name not in COLUMNS:
                remedy = suggest(
                    name, [*places, *COLUMNS], otherwise="add its heading to the file first"
                )
                raise InputError(f"{argument}: the readings file has no column {name!r}; {remedy}")
        for name in ("traverse", "x", "reading"):
            if name not in row:
                raise InputError(
                    f"{argument}: {name!r} is missing, got {sorted(map(str, row))}; give it"
                )


def _as_cells(rows, mark):
    """Return what each row writes, by column; what is not given is left out."""
    texts = [
        {name: _cell(f"rows[{at}][{name!r}]", name, value, mark) for name, value in row.items()}
        for at, row in enumerate(rows)
    ]
    return [{name: cell for name, cell in cells.items() if cell} for cells in texts]


def _sorted_out(given, columns, default_face, mark):
    """Tell the rows that have a planned place from those to append.

    Returns
    -------
    filled : list of (int, int, dict)
        Number of the row given, line of the planned row, cells to write into it.
    appended : list of (int, dict)
    """
    rows = columns.rows
    planned = {}
    for at in np.flatnonzero(np.isnan(rows.value)):
        key = _key(rows.traverse[at], rows.face[at], rows.x[at], rows.repeat[at])
        planned.setdefault(key, []).append(int(rows.line[at]))
    filled, appended = [], []
    for at, cells in enumerate(given):
        traverse = cells.get("traverse", "").strip()
        x, repeat = number(cells.get("x", "").strip(), mark), number(cells.get("repeat", "1"), mark)
        face = cells.get("face", "").strip() or default_face.get(traverse, "")
        lines = None if None in (x, repeat) else planned.get(_key(traverse, face, x, repeat))
        if not lines:
            appended.append((at, cells))
            continue
        # a row that is planned once more leaves the place open for its reading
        line = lines.pop(0) if "reading" in cells else lines[0]
        what = {name: cell for name, cell in cells.items() if name not in _WHERE}
        filled.append((at, line, what))
    return filled, appended


def _key(traverse, face, x, repeat):
    """Return what makes two rows the same: x counts to a hundredth of a millimetre."""
    return str(traverse), str(face), float(np.round(x * 100)), float(repeat)


def _fill(text, separator, filled, places):
    """Return the text with cells written into its planned rows."""
    starts = [0, *(match.end() for match in re.finditer("\r\n|\n|\r", text))]
    rows = {}
    for at, line, cells in filled:
        row = rows.setdefault(line, RowText(text, starts[line - 1], separator))
        for name, cell in cells.items():
            there = row.value(places[name])
            if there and there != cell.strip():
                wrong = f"rows[{at}]: the planned row in line {line} has {name} {there!r}"
                raise InputError(f"{wrong}, got {cell!r}; leave {name} out, or change the file")
            if not there:
                row.write(places[name], cell)
        if is_comment(row.text()):
            raise _comment(at, row.text())
    parts, end = [], 0
    for _, row in sorted(rows.items()):
        parts += [text[end : row.start], row.text()]
        end = row.end
    return "".join([*parts, text[end:]])


def _append(text, table, appended, places, width):
    """Return the text with further rows at its end."""
    lines = []
    for at, given in appended:
        cells = [""] * width
        for name, cell in given.items():
            cells[places[name]] = cell
        line = table.separator.join(cell_text(cell, table.separator) for cell in cells)
        if is_comment(line):
            raise _comment(at, cells[0])
        lines.append(line + table.line_end)
    open_end = "" if not text or text[-1] in "\r\n" else table.line_end
    return text + open_end + "".join(lines) if lines else text


def _comment(at, cell):
    wrong = f"rows[{at}]: the first cell {cell!r} would make the line a comment"
    return InputError(f"{wrong}; begin it with a letter")


def widen_headings(text, table, new):
    """Return the text with further headings; rows that end earlier have empty cells there."""
    parts = re.split("(\r\n|\n|\r)", text)  # line, line end, line, ...
    parts[2 * (table.heading_line - 1)] += "".join(table.separator + name for name in new)
    return "".join(parts)


def _is_missing(value):
    return value is None or (not isinstance(value, str) and str(value) in ("nan", "<NA>", "NaT"))


def _cell(argument, name, value, mark):
    """Return a value as the file writes it; empty where nothing is given."""
    if value is None and name in ("traverse", "x"):
        raise checks.wrong(argument, "it is needed", value, "say where the reading belongs")
    if value is None or (name not in ("traverse", "x", "reading") and _is_missing(value)):
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, Integral) and not isinstance(value, bool):
        return str(int(value))
    if isinstance(value, Real) and not isinstance(value, bool):
        shown = repr(checks.number(argument, value)).removesuffix(".0")
        return shown.replace(".", mark)
    if name in _NUMBERS:
        raise checks.wrong(
            argument, "a number is needed", repr(value)[:60], "give one plain number"
        )
    return str(value)

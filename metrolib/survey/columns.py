"""Columns: the cells of readings.csv -> numbers and names, with a fault for each that is none."""

import re
from dataclasses import dataclass, field
from math import isfinite

import numpy as np

from metrolib.errors import Fault
from metrolib.survey.readings import Readings
from metrolib.survey.texts import Texts

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)
#: Numbers as most files write them, each in a line: `float` makes the same of them as `number`.
_PLAIN = re.compile(r"(-?\d{1,9}(\.\d{1,9})?\n)*", re.ASCII)
_OTHER_MARK = {".": ",", ",": "."}
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.IGNORECASE)


@dataclass(frozen=True, eq=False)
class Columns:
    """The rows of readings.csv as columns.

    Attributes
    ----------
    rows : Readings
        All rows with usable cells, those without a reading too; their value is NaN.
    incomplete : set of str
        Traverses of which a row is missing in `rows`, for a cell of it is at fault.
    decimal_mark : str or None
        ``"."`` or ``","`` as the file writes it; None where no number has one.
    faults : list of Fault
    """

    rows: Readings
    incomplete: set
    decimal_mark: str | None
    faults: list = field(default_factory=list)


def read_columns(table, default_face):
    """Turn the cells of a table into readings.

    Parameters
    ----------
    table : Table
    default_face : dict of str to str
        The face of each traverse, for rows that name none.

    Returns
    -------
    Columns
    """
    count = len(table.line)
    line = table.line
    empty = Texts(np.zeros(count, dtype=int), [""])
    cells = {name: table.columns.get(name, empty) for name in _ALL}
    mark = _decimal_mark(cells)
    if not {"traverse", "x", "reading"} <= set(table.columns):
        # nothing to say about cells before the headings are right
        nothing = {name: np.zeros(count) for name in _NUMBERS}
        none = np.zeros(count, dtype=bool)
        return Columns(_rows(cells, {}, nothing, line, none), set(), mark)
    whole = ~np.isin(line, [fault.line for fault in table.faults])
    usable, faults, numbers = whole.copy(), [], {}
    for name in _NUMBERS:
        numbers[name], bad = _numbers(cells[name], mark)
        if name in ("repeat", "order"):
            bad |= _no_whole_number(numbers[name], 1 if name == "repeat" else -_MOST)
        usable &= ~bad
        for at in np.flatnonzero(bad & whole):
            faults.append(_number_fault(table, name, cells[name][at], line[at]))
    faults += _missing(table, cells, line, usable)
    faults += _half_given_order(table, cells, numbers, line, usable)
    rows = _rows(cells, default_face, numbers, line, usable)
    missing = np.ones(count, dtype=bool) if table.faults else ~usable
    incomplete = {cells["traverse"][at] for at in np.flatnonzero(missing)}
    return Columns(rows, incomplete, mark, faults)


_NUMBERS = ("x", "reading", "repeat", "order")
_ALL = ("traverse", "face", *_NUMBERS, "note")


#: No repeat or order is larger.
_MOST = 10**9


def _no_whole_number(values, least):
    """Return where a number is given that is no whole one from `least` on; shape of `values`."""
    given = np.isfinite(values)
    return given & ((values != np.round(values)) | (values < least) | (values > _MOST))


def _rows(cells, default_face, numbers, line, usable):
    default = cells["traverse"].each(lambda name: default_face.get(name, ""), object)
    repeat = np.where(np.isnan(numbers["repeat"]), 1, numbers["repeat"])
    taken = np.cumsum(usable & ~np.isnan(numbers["reading"]))
    order = np.where(np.isnan(numbers["order"]), taken, numbers["order"])
    rows = Readings(
        traverse=cells["traverse"].each(str, object),
        face=np.where(cells["face"].filled, cells["face"].each(str, object), default),
        x=numbers["x"],
        value=numbers["reading"],
        repeat=np.where(usable, repeat, 1).astype(int),
        order=np.where(usable, order, 0).astype(int),
        note=cells["note"].each(str, object),
        line=line,
    )
    return rows.select(usable)


def _numbers(column, mark):
    """Return the numbers (NaN where there is none) and where a cell that is filled has none."""
    plain = mark != "," and _PLAIN.fullmatch("\n".join([*column.different, ""]))
    values = column.each(float if plain else lambda cell: number(cell, mark), float)
    return values, np.isnan(values) & column.filled


def number(cell, mark):
    """Return the number in a cell, or None where it holds none.

    Examples
    --------
    >>> number("-0,5", ","), number("0.5 mm", ".")
    (-0.5, None)
    """
    cell = cell.replace("\N{MINUS SIGN}", "-")
    if not _NUMBER.fullmatch(cell) or (mark is not None and _OTHER_MARK[mark] in cell):
        return None
    value = float(cell.replace(",", "."))
    return value if isfinite(value) else None


def _decimal_mark(cells):
    """Return the decimal mark that most numbers of the file have; the others fail as numbers."""
    columns = [cells[name] for name in ("x", "reading")]
    seen = "".join(text for column in columns for text in column.different)
    marks = [mark for mark in _OTHER_MARK if mark in seen]
    if len(marks) < 2:
        return marks[0] if marks else None
    return max(marks, key=lambda mark: sum(_how_often(mark, column) for column in columns))


def _how_often(mark, column):
    """Return how often a mark stands in the cells of a column."""
    return int(column.each(lambda cell: cell.count(mark), int).sum())


def _number_fault(table, column, cell, line):
    if _NOT_FINITE.fullmatch(cell):
        remedy = (
            "leave the cell empty where nothing was read"
            if column == "reading"
            else "write a plain number"
        )
        return Fault(table.file, int(line), f"{column} {cell!r} is not finite", remedy)
    if column in ("repeat", "order"):
        remedy = "write a whole number, from 1" if column == "repeat" else "write a whole number"
        return Fault(table.file, int(line), f"{column} {cell!r} is no whole number", remedy)
    wrong = f"{column} {cell!r} is no number"
    if _NUMBER.fullmatch(cell):
        wrong = f"{column} {cell!r} has another decimal mark than the rest of the file"
    remedy = "write digits with one decimal mark, without unit or blanks"
    return Fault(table.file, int(line), wrong, remedy)


def _missing(table, cells, line, usable):
    """Note rows that give a reading, or plan one, without saying where."""
    faults = []
    for name, remedy in {
        "traverse": "name the traverse of survey.toml that the reading belongs to",
        "x": "write the place along the ways in mm",
    }.items():
        empty = ~cells[name].filled
        for at in np.flatnonzero(empty):
            if any(cells[other][at] for other in ("traverse", "x", "reading")):
                faults.append(
                    Fault(table.file, int(line[at]), f"the cell {name!r} is empty", remedy)
                )
        usable &= ~empty
    return faults


def _half_given_order(table, cells, numbers, line, usable):
    """Note traverses where only some readings have an order: where do the rest belong."""
    read = usable & ~np.isnan(numbers["reading"])
    given = ~np.isnan(numbers["order"])
    if not given[read].any() or given[read].all():
        return []
    traverse = cells["traverse"].each(str, object)
    faults = []
    for name in dict.fromkeys(traverse[read & given].tolist()):
        without = np.flatnonzero(read & ~given & (traverse == name))
        if len(without):
            wrong = f"{len(without)} readings of {name!r} have no order, others have one"
            faults.append(
                Fault(
                    table.file,
                    int(line[without[0]]),
                    wrong,
                    "number all of them, or none to take the row order",
                )
            )
    return faults

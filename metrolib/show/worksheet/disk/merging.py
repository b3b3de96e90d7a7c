"""Merging: events of the history written into the text of readings.csv as it stands now."""

import numpy as np

from metrolib.show.worksheet.disk.history import OF_NOTES, key_of
from metrolib.survey.additions import add_rows
from metrolib.survey.amendments import amend_row, remove_row
from metrolib.survey.columns import read_columns
from metrolib.survey.table import read_table


def merged(text, events, file, default_face):
    """Return the text of a readings file in which events have happened; those that did change none.

    Parameters
    ----------
    text : str
    events : iterable of Event
    file : str
        Name of the file, for the faults.
    default_face : dict of str to str
        The face of each traverse, for rows that name none.
    """
    for event in events:
        text = _merge(text, event, file, default_face)
    return text


def values_by_place(rows):
    """Return the reading of each row by its place; NaN where it is still to be taken.

    Parameters
    ----------
    rows : Readings
    """
    columns = (rows.traverse, rows.face, rows.x, rows.repeat)
    places = zip(*(column.tolist() for column in columns), strict=True)
    return {key_of(*place): value for place, value in zip(places, rows.value.tolist(), strict=True)}


def _merge(text, event, file, default_face):
    table = read_table(text, file)
    columns = read_columns(table, default_face)
    at = _row_of(columns.rows, event.place)
    if event.action in OF_NOTES:
        return _with_note(text, event, columns.rows, at, table)
    mark = columns.decimal_mark or ("," if table.separator == ";" else ".")
    now = event.now.replace(".", mark)
    if at is None:
        new = [_new_row(event, now, columns.rows, table)]
        return add_rows(text, new, file, default_face) if now else text
    line, value = int(columns.rows.line[at]), columns.rows.value[at]
    if event.action == "repeat taken back":
        return remove_row(text, line)
    if value == event.value or (np.isnan(value) and not now):
        return text
    cells = {"reading": now}
    orders = table.columns.get("order")
    row = int(np.flatnonzero(table.line == line)[0])
    if np.isnan(value) and orders is not None and not orders[row]:
        cells |= {"order": _next_order(columns.rows, event.traverse, table)}
    return amend_row(text, line, cells, table)


def _with_note(text, event, rows, at, table):
    if at is not None:
        if " ".join(str(rows.note[at]).split()) == event.now:
            return text
        return amend_row(text, int(rows.line[at]), {"note": event.now}, table)
    if event.action != "noted":
        return text  # the return to the first station was left out: it has no row
    row = {"traverse": event.traverse, "face": event.face, "x": event.x, "reading": None}
    return add_rows(text, [row | {"repeat": event.repeat, "note": event.now}], table.file)


def _row_of(rows, place):
    """Return where the row of an event is: that with a reading before one that is planned."""
    traverse, face, x, repeat = place
    same = (rows.traverse == traverse) & (rows.face == face) & (rows.repeat == repeat)
    found = np.flatnonzero(same & (np.round(rows.x * 100) == x)).tolist()
    return max(found, key=lambda at: not np.isnan(rows.value[at])) if found else None


def _new_row(event, now, rows, table):
    row = {"traverse": event.traverse, "x": event.x, "reading": now}
    row |= {"face": event.face} if table.place("face") is not None else {}
    row |= {"repeat": event.repeat} if event.repeat > 1 else {}
    order = _next_order(rows, event.traverse, table)
    return row | ({"order": order} if order else {})


def _next_order(rows, traverse, table):
    """Return the number in the order of reading for a new reading; empty where none has one."""
    if table.place("order") is None:
        return ""
    read = rows.select(~np.isnan(rows.value))
    cells = dict(zip(table.line, table.columns["order"], strict=True))
    given = np.array([bool(cells[line]) for line in read.line.tolist()], dtype=bool)
    if not given[read.traverse == traverse].all():
        return ""
    return str(int(read.order[given].max(initial=0)) + 1)

"""Merging: events of the history written into the text of readings.csv as it stands now."""

import numpy as np

from metrolib.show.worksheet.history import key_of
from metrolib.survey.additions import add_rows
from metrolib.survey.amendments import amend_row
from metrolib.survey.columns import read_columns
from metrolib.survey.table import read_table

#: Events whose `was` and `now` are notes; those of all others are readings.
OF_NOTES = ("skipped", "unskipped", "noted")


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


def values_by_key(rows):
    """Return the reading of each row by its key; NaN where it is still to be taken.

    Parameters
    ----------
    rows : Readings
    """
    keys = zip(rows.traverse, rows.face, rows.x, rows.repeat, strict=True)
    return {key_of(*key): value for key, value in zip(keys, rows.value.tolist(), strict=True)}


def _merge(text, event, file, default_face):
    table = read_table(text, file)
    columns = read_columns(table, default_face)
    rows = columns.rows
    mark = columns.decimal_mark or ("," if table.separator == ";" else ".")
    at = _row_of(rows, event.key)
    if event.action in OF_NOTES:
        note = " ".join(str(rows.note[at]).split()) if at is not None else None
        if note is None or note == event.now:
            return text  # the return to the first station has no row before it is read
        return amend_row(text, int(rows.line[at]), {"note": event.now}, file)
    now = event.now.replace(".", mark)
    if at is None:
        return add_rows(text, [_new_row(event, now, rows, table)], file) if now else text
    value = rows.value[at]
    if (not now and np.isnan(value)) or (now and value == float(event.now)):
        return text
    cells = {"reading": now}
    if np.isnan(value) and (order := _next_order(rows, event.traverse, table)):
        given = table.columns["order"][table.line.index(int(rows.line[at]))]
        cells |= {} if given else {"order": order}
    return amend_row(text, int(rows.line[at]), cells, file)


def _row_of(rows, key):
    """Return the place of the row of an event: that with a reading before one that is planned."""
    same = (rows.traverse == key[0]) & (rows.face == key[1]) & (rows.repeat == key[3])
    found = np.flatnonzero(same & (np.round(rows.x * 100) == key[2]))
    if not len(found):
        return None
    return max(found.tolist(), key=lambda at: not np.isnan(rows.value[at]))


def _new_row(event, now, rows, table):
    row = {"traverse": event.traverse, "face": event.face, "x": event.x, "reading": now}
    row |= {"repeat": event.repeat} if event.repeat > 1 or table.place("repeat") is not None else {}
    order = _next_order(rows, event.traverse, table)
    return row | ({"order": order} if order else {})


def _next_order(rows, traverse, table):
    """Return the number in the order of reading for a new reading; empty where none has one."""
    if table.place("order") is None:
        return ""
    read = rows.select((rows.traverse == traverse) & ~np.isnan(rows.value))
    given = {
        line for line, cell in zip(table.line, table.columns["order"], strict=True) if cell.strip()
    }
    if not set(read.line.tolist()) <= given:
        return ""
    return str(int(rows.order[~np.isnan(rows.value)].max(initial=0)) + 1)

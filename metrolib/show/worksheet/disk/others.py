"""Others: what another program, such as a spreadsheet, has changed in readings.csv."""

import numpy as np

from metrolib.show.worksheet.disk.history import OF_NOTES, new_event


def last_readings(events):
    """Return the last event of each place that changed its reading, by place.

    Parameters
    ----------
    events : iterable of Event
    """
    return {event.place: event for event in events if event.action not in OF_NOTES}


def changes_elsewhere(expected, actual, events):
    """Return what another program has done to the readings.

    Parameters
    ----------
    expected, actual : dict of Place to float
        The readings that readings.csv should have, by all that is known, and has; NaN where it has
        none. Places that are not expected at all are new.
    events : list of Event
        The whole history.

    Returns
    -------
    lacking : list of Event
        For each reading of the history that is gone: the event that put it there last.
    edits : list of Event
        For each other difference: an event that keeps the old value.
    """
    last, lacking, edits = last_readings(events), [], []
    for place in expected | actual:
        was, now = expected.get(place, np.nan), actual.get(place, np.nan)
        if was == now or (np.isnan(was) and np.isnan(now)):
            continue
        event = last.get(place)
        if np.isnan(now) and event is not None and event.now:
            lacking.append(event)
        else:
            edits.append(new_event("edited elsewhere", place, was=_text(was), now=_text(now)))
    return lacking, edits


def _text(value):
    return "" if np.isnan(value) else f"{value:.10g}"

"""Rows: every row of readings.csv with what happened to it."""

from dataclasses import dataclass

from metrolib.show.worksheet.disk.history import Event, key_of


@dataclass(frozen=True)
class Row:
    """One row of readings.csv.

    Attributes
    ----------
    traverse, face : str
    x : float
        [mm]
    repeat : int
    value : float
        As read [unit]; NaN where it is still to be taken.
    unit : str
    note : str
    line : int
        Of readings.csv.
    events : tuple of Event
        Its history, the first one first.
    """

    traverse: str
    face: str
    x: float
    repeat: int
    value: float
    unit: str
    note: str
    line: int
    events: tuple[Event, ...] = ()

    @property
    def place(self):
        """Which reading it is, to be compared with that of prompts and events."""
        return key_of(self.traverse, self.face, self.x, self.repeat)

    @property
    def key(self):
        """Which reading it is, as a text: the key of its prompt."""
        return self.place.key

    @property
    def digits(self):
        """The reading as it was typed, or as the file's number; empty where none stands."""
        if self.value != self.value:
            return ""
        for event in reversed(self.events):
            if event.value == self.value:
                return event.now
        return f"{self.value:.10g}"


def rows_of(survey, events):
    """Return the rows of a survey in the order of the file.

    Parameters
    ----------
    survey : Survey
    events : iterable of Event

    Returns
    -------
    tuple of Row
    """
    by_place = {}
    for event in events:
        by_place.setdefault(event.place, []).append(event)
    rows = [*_rows(survey, survey.readings, by_place), *_rows(survey, survey.planned, by_place)]
    return tuple(sorted(rows, key=lambda row: row.line))


def row_at(survey, events, place):
    """Return the row of one reading, or None; that with a reading before one that is planned."""
    mine = {place: [event for event in events if event.place == place]}
    for readings in (survey.readings, survey.planned):
        here = readings.select(
            (readings.traverse == place.traverse) & (readings.face == place.face)
        )
        for row in _rows(survey, here, mine):
            if row.place == place:
                return row
    return None


def _rows(survey, readings, by_place):
    names = "traverse", "face", "x", "repeat", "value", "note", "line"
    columns = (getattr(readings, name).tolist() for name in names)
    for traverse, face, x, repeat, value, note, line in zip(*columns, strict=True):
        unit = survey.instruments[survey.traverses[traverse].instrument].unit
        events = tuple(by_place.get(key_of(traverse, face, x, repeat), ()))
        yield Row(traverse, face, x, repeat, value, unit, note, line, events)

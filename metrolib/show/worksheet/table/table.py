"""Table: all readings as lines, each with what happened to it and what is doubtful about it."""

from dataclasses import dataclass

from metrolib.show.worksheet.disk.history import OF_NOTES, UNDO
from metrolib.show.worksheet.disk.rows import Row

#: Which lines can be shown.
ALL, OPEN, CHANGED, SUSPECT = "all", "still to be taken", "changed or left out", "suspect"
SHOWN = (ALL, OPEN, CHANGED, SUSPECT)

#: What each action is called in the history of a reading.
_WORDS = {
    "taken": "taken, {now}",
    "repeated": "read once more, {now}",
    "corrected": "corrected from {was} to {now}",
    "taken back": "left out, it was {was}",
    "repeat taken back": "left out, it was {was}",
    "brought back": "brought back, {now}",
    "edited elsewhere": "changed by another program from {was} to {now}",
    "skipped": "skipped",
    "unskipped": "no longer skipped",
    "noted": "noted: {now}",
}


@dataclass(frozen=True)
class Line:
    """One reading as the table shows it.

    Attributes
    ----------
    row : Row
    marks : tuple of str
        What is special about it, each a sign and words.
    state : str
        ``"read"``, ``"open"``, ``"left out"`` or ``"skipped"``.
    """

    row: Row
    marks: tuple[str, ...]
    state: str

    def is_shown(self, shown):
        """Tell whether it belongs to one of `SHOWN`."""
        return {
            ALL: True,
            OPEN: self.state == "open",
            CHANGED: self.state in ("left out", "skipped") or _was_changed(self.row),
            SUSPECT: any(mark.startswith(_SUSPECT) for mark in self.marks),
        }[shown]


_SUSPECT = "? suspect"


def lines_of(rows, history, suspects, traverse=None):
    """Return the lines of the table, in the order of the file.

    Parameters
    ----------
    rows : iterable of Row
    history : iterable of Event
        Readings whose row is gone, for they were left out, follow those of the file.
    suspects : dict of int to str
        By line of readings.csv, what the adjustment says: `suspects_of`.
    traverse : str, optional
        Only this one.
    """
    rows = [*rows, *_rows_gone(rows, history)]
    return [
        _line(row, suspects.get(row.line))
        for row in rows
        if traverse is None or row.traverse == traverse
    ]


def suspects_of(heights):
    """Return what the adjustment finds doubtful, in words, by line of readings.csv.

    Parameters
    ----------
    heights : Heights or None
    """
    checks = None if heights is None else heights.checks
    if checks is None:
        return {}
    words = {}
    for reading in checks.suspects.tolist():
        others = checks.inseparable.get(reading, ())
        off = checks.describe(reading).split(" reads ")[-1]
        words[int(checks.line[reading])] = f"{_SUSPECT}: reads {off}"
        for other in others:
            words.setdefault(
                int(checks.line[other]), f"{_SUSPECT}: this one, or line {checks.line[reading]}"
            )
    return words


def history_of(row):
    """Return what happened to a reading, a sentence for each change.

    Parameters
    ----------
    row : Row
    """
    return [_sentence(event) for event in row.events] or ["nothing has happened to it here"]


def _sentence(event):
    day, _, clock = event.time.partition("T")
    was, now = event.was or "nothing", event.now or "nothing"
    said = _WORDS.get(event.action, event.action).format(was=was, now=now)
    told = event.words not in ("", event.now, "brought back")
    return f"{day} {clock[:8]}: {said}" + (f" ({event.words})" if told else "")


def _was_changed(row):
    return any(event.action not in ("taken", "repeated", *OF_NOTES) for event in row.events)


def _line(row, suspect):
    state, marks = _state(row), []
    if state in ("left out", "skipped"):
        marks.append(f"✗ {state}{_reason(row, state)}")
    elif state == "open":
        marks.append("○ still to be taken")
    elif _was_changed(row):
        marks.append(f"✎ changed, first {_first(row)}")
    if suspect is not None and state == "read":
        marks.append(suspect)
    if row.note and state != "skipped":
        marks.append(f"note: {row.note}")
    return Line(row, tuple(marks), state)


def _state(row):
    if row.digits:
        return "read"
    of_readings = [event for event in row.events if event.action not in OF_NOTES]
    of_skips = [event for event in row.events if event.action in ("skipped", "unskipped")]
    if of_skips and of_skips[-1].action == "skipped":
        return "skipped"
    left_out = of_readings and of_readings[-1].was and not of_readings[-1].now
    return "left out" if left_out else "open"


def _reason(row, state):
    actions = ("skipped",) if state == "skipped" else ("taken back", "repeat taken back")
    last = [event for event in row.events if event.action in actions]
    why = [event.words for event in last if not event.token.startswith(UNDO)]
    was = f", it was {last[-1].was}" if last and state == "left out" else ""
    return was + (f": {why[-1]}" if why else "")


def _first(row):
    """Return the number that stood first."""
    numbers = [event for event in row.events if event.action not in OF_NOTES]
    return numbers[0].was or numbers[0].now


def _rows_gone(rows, history):
    """Return rows that readings.csv lacks: repeats that were left out."""
    there = {row.place for row in rows}
    units = {row.traverse: row.unit for row in rows}
    gone = {}
    for event in history:
        if event.place not in there and event.action not in OF_NOTES:
            gone.setdefault(event.place, []).append(event)
    return [
        Row(
            events[0].traverse,
            events[0].face,
            events[0].x,
            events[0].repeat,
            value=float("nan"),
            unit=units.get(events[0].traverse, ""),
            note="",
            line=0,
            events=tuple(events),
        )
        for events in gone.values()
    ]

"""History: every change to the readings as a line of history.csv, which is only ever added to."""

import csv
import io
import os
import secrets
from dataclasses import astuple, dataclass, fields, replace
from datetime import datetime
from typing import NamedTuple

from metrolib.survey.files import decode

NAME = "history.csv"

#: Actions whose `was` and `now` are notes; those of all others are readings.
OF_NOTES = ("skipped", "unskipped", "noted")

#: Begins the token of an undo; the token that it undoes follows.
UNDO = "undo "

#: Begin the words of readings that no row was planned for.
AT_ONCE = "repeat at once"
BACK = "back at the first station"


class Place(NamedTuple):
    """Which reading is meant: x counts to a hundredth of a millimetre."""

    traverse: str
    face: str
    hundredths: int
    repeat: int

    @property
    def x(self):
        """Place along the ways [mm]."""
        return self.hundredths / 100

    @property
    def key(self):
        """The same as a text, for the browser."""
        return "|".join(map(str, self))


@dataclass(frozen=True)
class Event:
    """One change to one reading.

    Attributes
    ----------
    time : str
        When, local time in ISO form.
    token : str
        Its unique name; that of an undo is ``"undo "`` and the token that it undoes.
    action : str
        ``"taken"`` into a planned row, ``"repeated"`` without one, ``"corrected"``, ``"taken
        back"``, ``"repeat taken back"``, ``"brought back"``, ``"edited elsewhere"`` (by another
        program, seen later), ``"skipped"``, ``"unskipped"``, ``"noted"``.
    traverse, face : str
    x : float
        [mm]
    repeat : int
    was, now : str
        The reading in the unit of the instrument, with a decimal point, or the note, before and
        after; empty where there is none.
    words : str
        The text as typed, or the reason.
    """

    time: str
    token: str
    action: str
    traverse: str
    face: str
    x: float
    repeat: int
    was: str
    now: str
    words: str

    @property
    def place(self):
        """Which reading it concerns, to be compared with that of rows and prompts."""
        return key_of(self.traverse, self.face, self.x, self.repeat)

    @property
    def value(self):
        """The reading after it, NaN where none stands; None where it concerns a note."""
        return None if self.action in OF_NOTES else float(self.now or "nan")


def key_of(traverse, face, x, repeat):
    """Return the `Place` of a reading; two rows with the same one are the same."""
    return Place(str(traverse), str(face), round(x * 100), int(repeat))


def new_event(action, place, *, was="", now="", words="", token=None):
    """Return an event that happens now.

    Parameters
    ----------
    action : str
    place : object
        With ``traverse``, ``face``, ``x`` and ``repeat``: a place, prompt, row or other event.
    was, now, words : str
    token : str, optional
        A new one when not given.
    """
    return Event(
        datetime.now().isoformat(timespec="milliseconds"),
        token or new_token(),
        action,
        place.traverse,
        place.face,
        float(place.x),
        int(place.repeat),
        *(" ".join(text.split()) for text in (was, now, words)),
    )


def new_token():
    """Return a new unique name; it begins with a letter, so that no spreadsheet rounds it."""
    return f"w{secrets.token_hex(6)}"


class History:
    """The file history.csv as it grows, also by the hand of other writers.

    Parameters
    ----------
    folder : Path

    Attributes
    ----------
    path : Path
    events : list of Event
        As read so far, in the order of the file.
    """

    def __init__(self, folder):
        self.path = folder / NAME
        self.events, self._missing = [], []
        self._raw = b""

    def read_on(self):
        """Return the events that were added since the last call."""
        try:
            raw = self.path.read_bytes()
        except FileNotFoundError:
            raw = b""
        except OSError:
            return []  # another program holds it; what is in it can wait
        if raw == self._raw:
            return []
        known = {event.token for event in self.events}
        if raw.startswith(self._raw):
            # what is torn by a power cut has no line end; the next line may still complete it
            begun = self._raw[self._raw.rfind(b"\n") + 1 :]
            events = _events(begun + raw[len(self._raw) :], self._raw or raw)
            self.events += [event for event in events if event.token not in known]
        else:
            before, self.events = self.events, _events(raw, raw)
            there = {event.token for event in self.events}
            self._missing += [event for event in before if event.token not in there]
        self._raw = raw
        return [event for event in self.events if event.token not in known]

    def taken_out(self):
        """Return events that another program took out of the file since the last call."""
        missing, self._missing = self._missing, []
        return missing

    def append(self, events):
        """Write events so that a power cut after the return cannot lose them.

        Raises
        ------
        OSError
            If they cannot be written; the file is then as it was.
        """
        added = b"".join(_line(astuple(event), self._separator) for event in events)
        if not self._raw:  # the mark tells spreadsheets that this is UTF-8
            added = "\ufeff".encode() + _line([field.name for field in fields(Event)]) + added
        elif not self._raw.endswith(b"\n"):
            added = b"\n" + added
        with open(self.path, "ab") as file:
            size = file.tell()
            try:
                file.write(added)
                file.flush()
                os.fsync(file.fileno())
            except OSError:
                file.truncate(size)
                raise
        self._raw += added
        self.events += events

    @property
    def _separator(self):
        return _separator_of(self._raw)


def _separator_of(raw):
    """Return what parts the cells of the file: a spreadsheet may have saved it its own way."""
    heading = raw.partition(b"\n")[0]
    return max((",", ";", "\t"), key=lambda mark: heading.count(mark.encode()))


def _line(cells, separator=","):
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator="\n").writerow(
        f"{cell:.10g}" if isinstance(cell, float) else cell for cell in cells
    )
    return out.getvalue().encode()


def _events(raw, heading):
    """Return the events of whole lines, each once."""
    text, _ = decode(raw[: raw.rfind(b"\n") + 1])
    separator, found = _separator_of(heading), {}
    for line in text.removeprefix("\ufeff").splitlines():
        # line by line: a quote that a power cut left open must not swallow what follows
        cells = next(csv.reader([line], delimiter=separator), [])
        event = _event(cells)
        if event is not None:
            found.setdefault(event.token, event)
    return list(found.values())


def _event(cells):
    """Return the event of a line; None for the headings and for what was torn by a power cut."""
    if len(cells) != len(fields(Event)):
        return None
    time, token, action, traverse, face, x, repeat, was, now, words = cells
    try:
        place = float(x.replace(",", ".")), int(repeat)
        event = Event(time, token, action, traverse, face, *place, was, now, words)
        if action not in OF_NOTES:  # a spreadsheet may have written its own decimal mark
            event = replace(event, was=was.replace(",", "."), now=now.replace(",", "."))
        return event if event.value is None or token else None
    except ValueError:
        return None

"""History: every change to the readings as a line of history.csv, which is only ever added to."""

import csv
import io
import os
import secrets
from dataclasses import astuple, dataclass, fields
from datetime import datetime

import numpy as np

from metrolib.survey.files import decode

NAME = "history.csv"

#: Actions after which a reading stands, and after which none does.
STANDING = ("taken", "corrected", "brought back", "edited elsewhere")
GONE = ("taken back",)

UNDO = "undo "


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
        ``"taken"``, ``"corrected"``, ``"taken back"``, ``"brought back"``, ``"skipped"``,
        ``"unskipped"``, ``"noted"`` or ``"edited elsewhere"``.
    traverse, face : str
    x : float
        [mm]
    repeat : int
    was, now : str
        The reading, or the note of a note, before and after; empty where there is none.
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
    def key(self):
        """Which reading it concerns, to be compared with that of rows and prompts."""
        return key_of(self.traverse, self.face, self.x, self.repeat)


def key_of(traverse, face, x, repeat):
    """Return what makes two rows the same: x counts to a hundredth of a millimetre."""
    return str(traverse), str(face), int(np.round(x * 100)), int(repeat)


def new_event(action, place, *, was="", now="", words="", token=None):
    """Return an event that happens now.

    Parameters
    ----------
    action : str
    place : object
        With ``traverse``, ``face``, ``x`` and ``repeat``: a prompt, a row or another event.
    was, now, words : str
    token : str, optional
        A new one when not given.
    """
    return Event(
        datetime.now().isoformat(timespec="milliseconds"),
        token or secrets.token_hex(6),
        action,
        place.traverse,
        place.face,
        float(place.x),
        int(place.repeat),
        was,
        now,
        " ".join(words.split()),
    )


_HEADINGS = [field.name for field in fields(Event)]


class History:
    """The file history.csv as it grows, also by the hand of other writers.

    Parameters
    ----------
    folder : Path

    Attributes
    ----------
    events : list of Event
        As read so far, in the order of the file.
    """

    def __init__(self, folder):
        self.path = folder / NAME
        self.events = []
        self._end = 0

    def read_on(self):
        """Return the events that were added since the last call."""
        try:
            with open(self.path, "rb") as file:
                file.seek(self._end)
                raw = file.read()
        except FileNotFoundError:
            return []
        whole = raw[: raw.rfind(b"\n") + 1]  # a power cut may leave a line without its end
        self._end += len(whole)
        found = [event for event in map(_event, _rows(whole)) if event is not None]
        self.events += found
        return found

    def append(self, events):
        """Write events so that a power cut after the return cannot lose them.

        Raises
        ------
        OSError
            If they cannot be written; then none is in `events`.
        """
        with open(self.path, "ab+") as file:
            if file.tell() == 0:
                file.write("\ufeff".encode() + _line(_HEADINGS))  # so that spreadsheets read UTF-8
            else:
                file.seek(-1, os.SEEK_END)
                if file.read(1) != b"\n":
                    file.write(b"\n")
            file.write(b"".join(_line(astuple(event)) for event in events))
            file.flush()
            os.fsync(file.fileno())
        self.read_on()


def _line(cells):
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(
        f"{cell:.10g}" if isinstance(cell, float) else cell for cell in cells
    )
    return out.getvalue().encode()


def _rows(raw):
    text, _ = decode(raw)
    return csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""))


def _event(cells):
    """Return the event of a line; None for the headings and for what was torn by a power cut."""
    try:
        *words, x, repeat, was, now, said = cells
        return Event(*words, float(x), int(repeat), was, now, said) if len(words) == 5 else None
    except ValueError:
        return None

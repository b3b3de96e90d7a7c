"""Worksheet: a survey folder at the bench, one reading after another, each on disk at once."""

import warnings
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from metrolib.errors import DoubtfulReadingsWarning, InputError, MetrolibError
from metrolib.show.worksheet.beginning import Beginning, is_unbegun
from metrolib.show.worksheet.course import AT_ONCE, Prompt, course, repeated
from metrolib.show.worksheet.history import UNDO, key_of, new_event
from metrolib.show.worksheet.kept import Kept
from metrolib.show.worksheet.typed import typed_reading


@dataclass(frozen=True)
class Taken:
    """A reading that was taken.

    Attributes
    ----------
    prompt : Prompt
        Where.
    value : float
        In the unit of the instrument.
    text : str
        As typed.
    token : str
        The unique name of the event.
    on_disk : bool
        Whether it is in history.csv; False where nothing could be written.
    doubt : object or None
        What is odd about it, where it is out of line.
    """

    prompt: Prompt
    value: float
    text: str
    token: str
    on_disk: bool = True
    doubt: object = None


@dataclass(frozen=True)
class Row:
    """One row of readings.csv with what happened to it.

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
    events: tuple = ()

    @property
    def place(self):
        """Which reading it is, to be compared with that of prompts and events."""
        return key_of(self.traverse, self.face, self.x, self.repeat)


def worksheet(folder, *, row_functions=None):
    """Open a survey folder for taking readings at the bench."""

    def open_worksheet(folder):
        return Worksheet(folder, row_functions=row_functions)

    folder = Path(folder)
    return Beginning(folder, open_worksheet) if is_unbegun(folder) else open_worksheet(folder)


class Worksheet:
    """A survey folder open for work."""

    def __init__(self, folder, *, row_functions=None):
        self.folder = Path(folder)
        self.kept = Kept(self.folder)
        self._row_functions = row_functions
        self._heights = None, None
        self._own = []
        self._again = None
        self._at = None
        self.choose(self._first_traverse())

    # ---- where it stands ----

    @property
    def survey(self):
        """The survey as on disk now."""
        return self.kept.survey

    @property
    def traverses(self):
        """Names of the traverses."""
        return tuple(self.survey.traverses)

    def choose(self, traverse):
        """Go to a traverse, to its first station that is open."""
        if traverse not in self.survey.traverses:
            raise InputError(
                f"traverse: there is no {traverse!r}; it is one of {', '.join(self.traverses)}"
            )
        self.traverse = traverse
        self._again = None
        self._go_to_open()

    @property
    def prompts(self):
        """The whole course of the chosen traverse, with the state of each station."""
        return course(self.survey, self.traverse, self.kept.all_events)

    @property
    def prompt(self):
        """Where the instrument goes next; None at the end."""
        if self._again is not None:
            return self._again
        return next((one for one in self.prompts if one.place == self._at), None)

    # ---- the work ----

    def prompt_of(self, key):
        """Return the prompt with a key, of any traverse, also one that reads a station again."""
        if self._again is not None and self._again.key == key:
            return self._again
        for traverse in (self.traverse, *self.traverses):
            for one in course(self.survey, traverse, self.kept.all_events):
                if one.key == key:
                    return one
        raise InputError(f"key: no station has it, got {key!r}; use the key of a prompt")

    def take(self, text, unit=None, token=None, key=None):
        """Take a reading at the prompt; it is on disk when this returns."""
        prompt = self._prompt_for(key)
        instrument = self.survey.instruments[self.survey.traverses[prompt.traverse].instrument]
        typed = typed_reading(text, instrument, unit)
        if prompt.state == "taken":
            return self.correct(prompt, text, unit=unit, token=token)
        words = f"{AT_ONCE}, {text.strip()}" if prompt is self._again else text.strip()
        event = new_event("taken", prompt, now=typed.digits, words=words, token=token)
        return self._record([event], prompt, typed)

    def correct(self, row, text, unit=None, token=None):
        """Write another number for a reading; the old one stays in the history."""
        instrument = self.survey.instruments[self.survey.traverses[row.traverse].instrument]
        typed = typed_reading(text, instrument, unit)
        was = self._digits_at(row)
        event = new_event("corrected", row, was=was, now=typed.digits, words=text, token=token)
        return self._record([event], row, typed)

    def take_back(self, row, reason):
        """Leave a reading out; it stays in the history and its station is open again."""
        event = new_event("taken back", row, was=self._digits_at(row), words=reason)
        self._record([event], row)

    def skip(self, reason, key=None):
        """Leave the station at the prompt out, with a reason."""
        prompt = self._prompt_for(key)
        event = new_event(
            "skipped", prompt, was=prompt.note, now=f"skipped: {reason}", words=reason
        )
        self._record([event], prompt)

    def note(self, text, key=None):
        """Write a note to the reading at the prompt."""
        prompt = self._prompt_for(key)
        self._record([new_event("noted", prompt, was=prompt.note, now=text)], prompt, stay=True)

    def undo(self):
        """Take back the last change; this is itself an event."""
        event = self._last_change()
        if event is None:
            raise InputError("undo: there is nothing to undo; nothing was changed in this folder")
        self._record([_inverse(event)], event, stay=True)
        self._at = event.key
        return event

    # ---- steps ----

    def step_back(self):
        """Go to the station before."""
        self._step(-1)

    def step_on(self):
        """Go to the station after."""
        self._step(1)

    def repeat(self):
        """Read the station at the prompt, or the last one read, once more."""
        prompt = self.prompt
        if prompt is None or prompt.state != "taken":
            done = [e for e in self.kept.all_events if e.action == "taken"]
            places = {one.place: one for one in self.prompts if one.state == "taken"}
            last = next((e.key for e in reversed(done) if e.key in places), None)
            if last is None:
                raise InputError("repeat: nothing is read yet; take a reading first")
            prompt = places[last]
        self._again = repeated(self.survey, prompt)
        self._at = prompt.place

    def go_to(self, key):
        """Go to the station whose prompt has a key, also in another traverse."""
        prompt = self.prompt_of(key)
        self.traverse, self._at, self._again = prompt.traverse, prompt.place, None

    # ---- what there is ----

    @property
    def rows(self):
        """Every row of readings.csv, with its history."""
        events = {}
        for event in self.kept.all_events:
            events.setdefault(event.key, []).append(event)
        found = [
            self._row(readings, at, events)
            for readings in (self.survey.readings, self.survey.planned)
            for at in range(len(readings))
        ]
        return tuple(sorted(found, key=lambda row: row.line))

    @property
    def history(self):
        """All changes, the first one first."""
        return tuple(self.kept.all_events)

    @property
    def unsaved(self):
        """Changes that are on no disk."""
        return tuple(self.kept.unsaved)

    @property
    def news(self):
        """What the user should be told; empty when it was read."""
        self.kept.look()
        told, self.kept.news = self.kept.news, []
        return told

    @property
    def heights(self):
        """Adjusted heights of what is there, or None where they cannot be had."""
        text = self.survey.readings_text, self.survey.toml_text, self.traverse
        if self._heights[0] != text:
            self._heights = text, self._adjusted()
        return self._heights[1]

    def __str__(self):
        done = sum(one.state == "taken" for one in self.prompts)
        lines = [
            f"{self.survey.machine.name}: {self.traverse}, {done} of {len(self.prompts)} read",
            f"next: {self.prompt}" if self.prompt else "next: choose another traverse",
        ]
        return "\n".join(lines)

    __repr__ = __str__

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Show the screen in Jupyter, or the text where it cannot be had."""
        try:
            from metrolib.show.worksheet.screen import screen
        except ImportError:
            return {"text/plain": str(self)}
        shown = screen(self)._repr_mimebundle_(include=include, exclude=exclude)
        return {**shown, "text/plain": str(self)}

    # ---- behind the curtain ----

    def _adjusted(self):
        from metrolib.heights.adjust import adjust

        state = self.survey.traverses[self.traverse].state
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DoubtfulReadingsWarning)
                return adjust(self.survey, states=[state], row_functions=self._row_functions)
        except MetrolibError:
            return None

    def _record(self, events, place, typed=None, stay=False):
        known = {event.token: event for event in self.kept.all_events}
        if events[0].token in known:
            return Taken(place, typed.value, typed.text, events[0].token) if typed else None
        before = [one.place for one in self.prompts]
        self.kept.record(lambda: events)
        self._own += [event.token for event in events]
        if not stay:
            self._again = None
            self._go_to_open(after=self._at, before=before)
        if typed is None:
            return None
        on_disk = events[0] not in self.kept.unsaved
        return Taken(place, typed.value, typed.text, events[0].token, on_disk)

    def _go_to_open(self, after=None, before=()):
        prompts = self.prompts
        at = [one.place for one in prompts].index(after) + 1 if after in before else 0
        later = [*prompts[at:], *prompts[:at]]
        self._at = next((one.place for one in later if one.state == "open"), None)

    def _step(self, by):
        self._again = None
        places = [one.place for one in self.prompts]
        at = places.index(self._at) if self._at in places else len(places)
        self._at = places[min(max(at + by, 0), len(places) - 1)]

    def _first_traverse(self):
        names = self.survey.planned.traverse.tolist() or self.survey.readings.traverse.tolist()
        return names[0] if names else self.traverses[0]

    def _prompt_for(self, key):
        return self._needed_prompt() if key is None else self.prompt_of(key)

    def _needed_prompt(self):
        if self.prompt is None:
            raise InputError(
                f"take: {self.traverse!r} is read from end to end; choose another traverse"
            )
        return self.prompt

    def _digits_at(self, place):
        row = next((one for one in self.rows if one.place == place.place), None)
        if row is None or np.isnan(row.value):
            raise InputError("correct: nothing is read there; take a reading first")
        last = [e.now for e in row.events if e.now and e.action in ("taken", "corrected")]
        return last[-1] if last and float(last[-1]) == row.value else f"{row.value:.10g}"

    def _row(self, readings, at, events):
        name = str(readings.traverse[at])
        traverse = self.survey.traverses[name]
        row = Row(
            name,
            str(readings.face[at]),
            float(readings.x[at]),
            int(readings.repeat[at]),
            float(readings.value[at]),
            self.survey.instruments[traverse.instrument].unit,
            str(readings.note[at]),
            int(readings.line[at]),
        )
        return replace(row, events=tuple(events.get(row.place, ())))

    def _last_change(self):
        undone = {
            event.token.removeprefix(UNDO)
            for event in self.kept.all_events
            if event.token.startswith(UNDO)
        }
        left = [
            event
            for event in self.kept.all_events
            if event.token not in undone and not event.token.startswith(UNDO)
        ]
        own = [event for event in left if event.token in self._own]
        return (own or left or [None])[-1]


_INVERSE = {
    "taken": "taken back",
    "taken back": "brought back",
    "skipped": "unskipped",
}


def _inverse(event):
    action = _INVERSE.get(event.action, event.action)
    return new_event(
        action, event, was=event.now, now=event.was, words="undone", token=UNDO + event.token
    )

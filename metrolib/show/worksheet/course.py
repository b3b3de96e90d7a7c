"""Course: the stations of a traverse in the order of work, and in words where each one is."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from metrolib.show.worksheet.disk.history import AT_ONCE, BACK, key_of
from metrolib.show.worksheet.placing import booking, placing


@dataclass(frozen=True)
class Prompt:
    """One station of a traverse: where the instrument goes, and what was read there.

    Attributes
    ----------
    traverse, face : str
    x : float
        Place along the ways, or along the traverse's line [mm].
    repeat : int
    kind : str
        Of the traverse.
    unit : str
        Of the instrument's readings.
    words : str
        Where the instrument goes and which way round.
    booking : str
        When its reading counts as positive.
    planned_line : int or None
        Line of its row in readings.csv; None where it has none yet.
    low, high : float or None
        What the instrument can show [unit]; None where nobody knows.
    state : str
        ``"open"``, ``"taken"`` or ``"skipped"``.
    value : float or None
        The reading [unit].
    note : str
    closing : bool
        Whether it is the return to the first station, which shows what has moved meanwhile.
    """

    traverse: str
    face: str
    x: float
    repeat: int
    kind: str
    unit: str
    words: str
    booking: str
    planned_line: int | None = None
    low: float | None = None
    high: float | None = None
    state: str = "open"
    value: float | None = None
    note: str = ""
    closing: bool = False

    @property
    def key(self):
        """Which reading it asks for, as a text."""
        return self.place.key

    @cached_property
    def place(self):
        """Which reading it asks for, to be compared with that of rows and events."""
        return key_of(self.traverse, self.face, self.x, self.repeat)

    def __str__(self):
        return self.words


def course(survey, traverse, history=()):
    """Return the stations of a traverse in the order of work.

    Parameters
    ----------
    survey : Survey
    traverse : str
        Its name.
    history : iterable of Event
        What was done in this folder; it says which stations were skipped and which readings were
        repeats made at once.

    Returns
    -------
    tuple of Prompt
        In the order of the rows of readings.csv, a repeat made at once behind what it repeats. When
        all stations of a traverse worked here are done, the return to the first one follows.
    """
    mine = [event for event in history if event.traverse == traverse]
    skipped = _skipped(mine)
    prompts = [_prompt(survey, traverse, row, skipped) for row in _rows(survey, traverse)]
    prompts = _repeats_in_place(prompts, mine)
    return (*prompts, *_closing(survey, prompts, mine, skipped))


def read_again(survey, prompt):
    """Return the prompt for reading the station of a prompt once more."""
    here = _station(prompt)
    again = [row[3] for row in _rows(survey, prompt.traverse) if _station_of(row) == here]
    return _open_prompt(survey, prompt, max([prompt.repeat, *again]) + 1)


def _station(prompt):
    return prompt.place[1:3]


def _station_of(row):
    _, face, x, *_ = row
    return key_of("", face, x, 1)[1:3]


def _rows(survey, traverse):
    """Return (line, face, x, repeat, value, note) of each row of a traverse, as the file has them.

    A planned row whose place is read in another row is left out.
    """
    once = {}
    for readings in (survey.readings, survey.planned):
        at = np.flatnonzero(readings.traverse == traverse)
        names = "line", "face", "x", "repeat", "value", "note"
        columns = (getattr(readings, name)[at].tolist() for name in names)
        for row in zip(*columns, strict=True):
            once.setdefault((*_station_of(row), row[3]), row)
    return sorted(once.values())


def _prompt(survey, name, row, skipped):
    line, face, x, repeat, value, note = row
    place = key_of(name, face, x, repeat)
    prompt = _open_prompt(survey, place, repeat, planned_line=line, note=str(note), x=x)
    if not np.isnan(value):
        return replace(prompt, state="taken", value=value)
    return replace(prompt, state="skipped") if place in skipped else prompt


def _open_prompt(survey, place, repeat, *, closing=False, x=None, **known):
    """Return the prompt for a reading that is still to be taken."""
    traverse = survey.traverses[place.traverse]
    instrument = survey.instruments[traverse.instrument]
    limit = instrument.reading_range
    x = place.x if x is None else x
    return Prompt(
        traverse=traverse.name,
        face=place.face,
        x=x,
        repeat=repeat,
        kind=traverse.kind,
        unit=instrument.unit,
        words=placing(survey, traverse, place.face, x, repeat=repeat, closing=closing),
        booking=booking(survey, traverse),
        low=None if limit is None else -limit,
        high=limit,
        closing=closing,
        **known,
    )


def _skipped(events):
    """Return the places whose last event but for notes is that they were skipped."""
    last = {event.place: event.action for event in events if event.action != "noted"}
    return {place for place, action in last.items() if action == "skipped"}


def _repeats_in_place(prompts, events):
    """Return the prompts with each repeat made at once behind the reading that it repeats."""
    at_once = {event.place for event in events if event.words.startswith(AT_ONCE)}
    if not at_once:
        return prompts
    ordered = [prompt for prompt in prompts if prompt.place not in at_once]
    for prompt in sorted(prompts, key=lambda one: one.repeat):
        if prompt.place not in at_once:
            continue
        before = prompt.place._replace(repeat=prompt.repeat - 1)
        places = [one.place for one in ordered]
        at = places.index(before) + 1 if before in places else len(ordered)
        ordered.insert(at, prompt)
    return ordered


def _closing(survey, prompts, events, skipped):
    """Return the return to the first station, in a list, where it is still to be asked for."""
    worked = any(event.action == "taken" for event in events)
    taken = [prompt for prompt in prompts if prompt.state == "taken"]
    if not worked or len(taken) < 3 or any(prompt.state == "open" for prompt in prompts):
        return []
    came_back = {event.place for event in events if event.words.startswith(BACK)}
    if _station(taken[-1]) == _station(taken[0]) or any(one.place in came_back for one in taken):
        return []
    prompt = replace(read_again(survey, taken[0]), closing=True)
    prompt = _open_prompt(survey, prompt.place, prompt.repeat, closing=True)
    return [] if prompt.place in skipped else [prompt]

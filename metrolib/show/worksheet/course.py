"""Course: the stations of a traverse in the order of work, and in words where each one is."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.show.worksheet.history import key_of
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
    planned_line: int | None
    low: float | None
    high: float | None
    state: str = "open"
    value: float | None = None
    note: str = ""
    closing: bool = False

    @property
    def key(self):
        """Which reading it asks for, as a text."""
        return "|".join(map(str, self.place))

    @property
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
    closing = _closing(survey, prompts, mine, skipped)
    return (*prompts, *closing)


def repeated(survey, prompt):
    """Return the prompt for reading a station once more."""
    again = [
        one.repeat
        for one in course(survey, prompt.traverse)
        if (one.face, round(one.x * 100)) == (prompt.face, round(prompt.x * 100))
    ]
    return _as_open(survey, prompt, max([prompt.repeat, *again]) + 1)


#: The word of an event that repeats the reading before it.
AT_ONCE = "repeat at once"


def _rows(survey, traverse):
    """Return (face, x, repeat, value, note, line) of each row of a traverse, as the file has them.

    A planned row whose place is read in another row is left out.
    """
    rows = []
    for readings in (survey.readings, survey.planned):
        at = np.flatnonzero(readings.traverse == traverse)
        columns = (readings.face, readings.x, readings.repeat, readings.value, readings.note)
        rows += zip(
            readings.line[at].tolist(), *(column[at].tolist() for column in columns), strict=True
        )
    once = {}
    for line, face, x, repeat, value, note in rows:
        once.setdefault((face, round(x * 100), repeat), (line, face, x, repeat, value, note))
    return sorted(once.values())


def _prompt(survey, name, row, skipped):
    line, face, x, repeat, value, note = row
    prompt = _open_prompt(survey, name, face, x, repeat, line, str(note))
    if not np.isnan(value):
        return replace(prompt, state="taken", value=value)
    return replace(prompt, state="skipped") if prompt.place in skipped else prompt


def _open_prompt(survey, name, face, x, repeat, line=None, note="", closing=False):
    traverse = survey.traverses[name]
    instrument = survey.instruments[traverse.instrument]
    limit = instrument.reading_range
    return Prompt(
        traverse=name,
        face=face,
        x=x,
        repeat=repeat,
        kind=traverse.kind,
        unit=instrument.unit,
        words=placing(survey, traverse, face, x, repeat=repeat, closing=closing),
        booking=booking(survey, traverse),
        planned_line=line,
        low=None if limit is None else -limit,
        high=limit,
        note=note,
        closing=closing,
    )


def _as_open(survey, prompt, repeat, closing=False):
    return _open_prompt(survey, prompt.traverse, prompt.face, prompt.x, repeat, closing=closing)


def _skipped(events):
    """Return the keys of the stations whose last event but for notes is that they were skipped."""
    last = {event.key: event.action for event in events if event.action != "noted"}
    return {key for key, action in last.items() if action == "skipped"}


def _repeats_in_place(prompts, events):
    """Return the prompts with each repeat made at once behind the reading that it repeats."""
    at_once = {event.key for event in events if event.words.startswith(AT_ONCE)}
    ordered = [prompt for prompt in prompts if prompt.place not in at_once]
    for prompt in sorted(prompts, key=lambda one: one.repeat):
        if prompt.place not in at_once:
            continue
        before = (*prompt.place[:3], prompt.repeat - 1)
        places = [one.place for one in ordered]
        at = places.index(before) + 1 if before in places else len(ordered)
        ordered.insert(at, prompt)
    return ordered


def _closing(survey, prompts, events, skipped):
    """Return the return to the first station, in a list, where it is worth a reading."""
    worked = any(event.action == "taken" for event in events)
    if not worked or len(prompts) < 3 or any(prompt.state == "open" for prompt in prompts):
        return []
    first = next((prompt for prompt in prompts if prompt.state == "taken"), None)
    if first is None:
        return []
    last = [prompt for prompt in prompts if prompt.state == "taken"][-1]
    here = (first.face, round(first.x * 100))
    again = [one for one in prompts if (one.face, round(one.x * 100)) == here]
    back = any(one.repeat > 1 and one is last for one in again)
    prompt = _as_open(survey, first, max(one.repeat for one in again) + 1, closing=True)
    if back or prompt.place in skipped:
        return []
    return [prompt]

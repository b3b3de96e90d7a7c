"""Undoing: which change is taken back next, and the event that does so."""

from metrolib.errors import InputError
from metrolib.show.worksheet.disk.history import OF_NOTES, UNDO, new_event

#: What takes back each action; a correction and a note are taken back by another one.
_INVERSE = {
    "taken": "taken back",
    "repeated": "repeat taken back",
    "taken back": "brought back",
    "repeat taken back": "brought back",
    "brought back": "taken back",
    "skipped": "unskipped",
    "unskipped": "skipped",
    "corrected": "corrected",
    "noted": "noted",
}


def last_change(events, own):
    """Return the last change that is not undone yet.

    Parameters
    ----------
    events : list of Event
    own : set of str
        Tokens of the changes made in this worksheet; they go before those of others.

    Raises
    ------
    InputError
        If there is none.
    """
    undone = {event.token.removeprefix(UNDO) for event in events if event.token.startswith(UNDO)}
    left = [event for event in events if event.action in _INVERSE and event.token not in undone]
    left = [event for event in left if not event.token.startswith(UNDO)]
    mine = [event for event in left if event.token in own]
    if not left:
        raise InputError("undo: nothing was changed in this folder, so there is nothing to undo")
    return (mine or left)[-1]


def inverse(event, now):
    """Return the event that takes back another one.

    Parameters
    ----------
    event : Event
    now : str
        The digits of the reading as it stands; empty where none does.

    Raises
    ------
    InputError
        If the reading was changed since.
    """
    if event.action not in OF_NOTES and not _same(now, event.now):
        raise InputError(
            f"undo: {event.traverse} at {event.x:g} mm was changed since, from"
            f" {event.now or 'nothing'} to {now or 'nothing'}; correct it by hand"
        )
    return new_event(
        _INVERSE[event.action],
        event,
        was=event.now,
        now=event.was,
        words="undone",
        token=UNDO + event.token,
    )


def _same(one, other):
    """Tell whether two readings are the same number, or neither stands."""
    return one == other or ("" not in (one, other) and float(one) == float(other))

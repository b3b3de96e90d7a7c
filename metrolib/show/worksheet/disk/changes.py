"""Changes: what a hand does to a reading or a station -> the events that say so."""

from metrolib import checks
from metrolib.errors import InputError
from metrolib.show.worksheet.disk.history import AT_ONCE, BACK, OF_NOTES, new_event


def taking(prompt, typed, token, row):
    """Return the events that take a reading at a prompt that is not taken.

    Parameters
    ----------
    prompt : Prompt
    typed : Typed
    token : str
    row : Row or None
        Of readings.csv, where one is planned.
    """
    before = [unskipping(prompt, row.events)] if prompt.state == "skipped" else []
    action, words = "taken", typed.text
    if row is None:
        action, words = "repeated", f"{BACK if prompt.closing else AT_ONCE}, {typed.text}"
    return [*before, new_event(action, prompt, now=typed.digits, words=words, token=token)]


def correcting(row, typed, token):
    """Return the event that writes another number for a reading."""
    was, now = row.digits, typed.digits
    return new_event("corrected", row, was=was, now=now, words=typed.text, token=token)


def taking_back(row, reason):
    """Return the event that leaves a reading out."""
    check_reason("take_back", reason)
    unplanned = any(event.action == "repeated" for event in row.events)
    action = "repeat taken back" if unplanned else "taken back"
    return new_event(action, row, was=row.digits, words=reason)


def bringing_back(place, events):
    """Return the event that brings back a reading that was left out.

    Parameters
    ----------
    place : object
        With ``traverse``, ``face``, ``x`` and ``repeat``.
    events : list of Event
        What happened to it.
    """
    last = next((event for event in reversed(events) if event.action not in OF_NOTES), None)
    if last is None or last.now or not last.was:
        raise InputError(
            f"bring_back: {place.traverse} at {place.x:g} mm is not left out; choose one that is"
        )
    return new_event("brought back", place, now=last.was, words="brought back")


def skipping(prompt, reason):
    """Return the event that leaves a station out."""
    check_reason("skip", reason)
    if prompt.state == "taken":
        raise InputError(
            f"skip: {prompt.traverse} at {prompt.x:g} mm is read already, {prompt.value:g};"
            " take it back instead"
        )
    note = f"{prompt.note}; skipped: {reason}" if prompt.note else f"skipped: {reason}"
    return new_event("skipped", prompt, was=prompt.note, now=note, words=reason)


def unskipping(prompt, events):
    """Return the event that opens a station again, with the note that it had before."""
    skipped = [event for event in events if event.action == "skipped"]
    if prompt.state != "skipped" or not skipped:
        raise InputError(
            f"unskip: {prompt.traverse} at {prompt.x:g} mm is {prompt.state}; choose one that is"
            " skipped"
        )
    return new_event("unskipped", prompt, was=prompt.note, now=skipped[-1].was)


def check_reason(what, reason):
    """Refuse a reason that says nothing."""
    if not isinstance(reason, str) or not reason.strip():
        raise checks.wrong(what, "a reason is needed", repr(reason), "say why, e.g. 'oil hole'")

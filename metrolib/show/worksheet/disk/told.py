"""Told: what a worksheet says when something happens beside the work, one sentence each."""

from metrolib.show.worksheet.disk.history import NAME


def others_here(count):
    """Say that others have the folder open; empty where there are none."""
    if not count:
        return ""
    who = "Another worksheet has" if count == 1 else f"{count} other worksheets have"
    return (
        f"{who} this folder open. Both may write; what is read there shows here with the next thing"
        " that you do."
    )


def by_another(events):
    """Say what another worksheet did; empty where it did nothing."""
    if not events:
        return ""
    return f"Another worksheet made {_counted(len(events), 'change')}: {_places(events)}."


def lacking(events):
    """Say that readings were put back; empty where there are none."""
    if not events:
        return ""
    return (
        f"The readings file lacked {_counted(len(events), 'reading')} that {NAME} has; put back:"
        f" {_places(events)}."
    )


def edited(events):
    """Say what another program changed; empty where it did nothing."""
    if not events:
        return ""
    changes = [
        f"{_place(event)}: {event.was or 'nothing'} → {event.now or 'nothing'}" for event in events
    ]
    return (
        f"The readings file was changed in another program ({_some(changes)}). That is kept; the"
        f" old numbers stay in {NAME}."
    )


def unreadable(error):
    """Say that the files cannot be read as another program left them."""
    return (
        f"The folder was changed in another program and cannot be read: {error.faults[0]}. Mend it;"
        f" until then your readings go into {NAME} only."
    )


def unfit(error):
    """Say that the changes do not fit the survey as it stands now."""
    return (
        f"The last readings do not fit the survey as it stands: {error.faults[0]}. They are safe"
        f" in {NAME} and go into the readings file when that is mended."
    )


def unmerged(file, wrong):
    """Say that the readings file cannot be written."""
    return (
        f"{file}: {wrong}. The readings are safe in {NAME} and go into it as soon as it can be"
        " written; close it in other programs."
    )


def unwritten(count, unsaved, wrong):
    """Say that the history cannot be written, and what to do.

    Parameters
    ----------
    count, unsaved : int
        Changes that it lacks, and those of them that readings.csv lacks as well.
    wrong : str
    """
    if not count:
        return (
            f"{wrong[:1].upper()}{wrong[1:]}. What you read stays on this screen and in the browser"
            " until it can: make the folder writable, or save elsewhere."
        )
    if not unsaved:
        return (
            f"{NAME}: {wrong}. {_counted(count, 'reading')} went into the readings file alone; the"
            " history follows as soon as it can be written; close it in other programs."
        )
    are = "is" if unsaved == 1 else "are"
    return (
        f"{_counted(unsaved, 'change')} {are} on no disk: {wrong}. Nothing is lost while this"
        f" worksheet stays open: make the folder writable, free the disk or close {NAME} in other"
        " programs and go on, or save elsewhere."
    )


def refused(error):
    """Say why the system refused to write."""
    return f"it cannot be written ({error.strerror or error})"


def read_meanwhile(prompt):
    """Say that two worksheets read the same station."""
    return (
        f"{prompt.traverse} at {prompt.x:g} mm was read in another worksheet meanwhile; yours is"
        f" kept beside it as reading no. {prompt.repeat}."
    )


def _counted(count, noun):
    return f"1 {noun}" if count == 1 else f"{count} {noun}s"


def _places(events):
    return _some(dict.fromkeys(_place(event) for event in events))


def _place(event):
    again = "" if event.repeat == 1 else f", no. {event.repeat}"
    return f"{event.traverse} at {event.x:g} mm{again}"


def _some(items):
    items = list(items)
    return "; ".join(items[:4]) + (f"; and {len(items) - 4} more" if len(items) > 4 else "")

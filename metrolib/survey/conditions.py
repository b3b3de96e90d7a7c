"""Conditions: the tables [decision] and [options.NAME] of survey.toml."""

from metrolib.survey.decision import Decision
from metrolib.survey.sections import Section, suggest
from metrolib.survey.syntax import TOLD

TOGETHER = ("coplanar", "parallel")
MINIMISE = ("volume", "deepest cut")

#: The words that take a condition of [decision] off again, in an option.
OPEN = {
    "tilt_along": "free",
    "tilt_across": "free",
    "confidence": "none",
    "target_height": "least removal",
}
DEFAULT_CONFIDENCE = Decision().confidence


def take_decision(book, table, faces, path=("decision",), title="decision"):
    """Return the `Decision` of one table.

    Parameters
    ----------
    book : Book
    table : dict
    faces : set of str
        Names of the faces.
    path : tuple of str
    title : str
    """
    section = Section(book, path, table, title)
    decision = Decision(
        faces=section.names("faces", faces, ()),
        together=section.choice("together", TOGETHER, "coplanar"),
        datum=section.names("datum", faces, ()),
        tilt_along=_take_unless_open(section, "tilt_along", at_least=0),
        tilt_across=_take_unless_open(section, "tilt_across", at_least=0),
        clean_up=section.number("clean_up", 0.0, at_least=0),
        band=section.number("band", 0.0, at_least=0),
        confidence=_take_confidence(section),
        minimise=section.choice("minimise", MINIMISE, "volume"),
        untouchable=section.names("untouchable", faces, ()),
        greatest_cut=_take_greatest_cut(section, faces),
        between_stations=section.flag("between_stations", False),
        target_height=_take_unless_open(section, "target_height"),
        crown=section.number("crown", 0.0),
    )
    section.finish()
    return decision


def take_options(book, entries, table, faces):
    """Return the options by name: each overrides keys of the table [decision]."""
    basis = table if isinstance(table, dict) else {}
    options = {}
    for name, changes in entries:
        path, title = ("options", name), f"option {name!r}"
        if changes == TOLD:
            continue
        if not isinstance(changes, dict):
            Section(book, path, changes, title)
            continue
        noted = len(book.faults)
        take_decision(book, changes, faces, path, title)
        if len(book.faults) == noted:
            # the keys of [decision] have had their faults noted: those stay out of the option's
            options[name] = take_decision(_Silent(book), {**basis, **changes}, faces, path, title)
    return options


class _Silent:
    """A book that keeps no faults."""

    def __init__(self, book):
        self.file, self.places = book.file, book.places

    def fault(self, path, wrong, remedy):
        """Leave the fault out."""


def _take_unless_open(section, key, **limits):
    """Return a number; None where the key is missing, or holds the word that takes it off."""
    open_ = section.raw(key, OPEN[key]) == OPEN[key]
    return None if open_ else section.number(key, None, **limits)


def _take_confidence(section):
    value = section.raw("confidence", DEFAULT_CONFIDENCE)
    if value == OPEN["confidence"]:
        return None
    confidence = section.number("confidence", DEFAULT_CONFIDENCE)
    if confidence is None or confidence == 0:
        return None
    if not 0 < confidence < 1:
        return section.fault(
            "confidence",
            f"confidence is {confidence:g}, outside 0 to 1",
            'write a probability such as 0.95, or "none" to plan without a guard',
        )
    return confidence


def _take_greatest_cut(section, faces):
    table = section.raw("greatest_cut", {})
    inner = Section(
        section.book, (*section.path, "greatest_cut"), table, f"{section.title}, greatest_cut"
    )
    limits = {}
    for name in inner.table:
        if name in faces:
            limits[name] = inner.number(name, at_least=0)
        else:
            remedy = suggest(name, faces, otherwise="name a face of the machine")
            inner.fault(name, f"unknown face {name!r}", remedy)
    section.sound &= inner.sound
    return limits

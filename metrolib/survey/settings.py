"""Settings: survey.toml as text -> machine, instruments, traverses, decision, with every fault."""

import re
import tomllib
from dataclasses import dataclass, field

from metrolib.errors import Fault
from metrolib.survey.conditions import take_decision, take_options
from metrolib.survey.decision import Decision
from metrolib.survey.equipment import take_instrument, take_straightedge
from metrolib.survey.faces import take_face
from metrolib.survey.machine import Machine
from metrolib.survey.places import Places
from metrolib.survey.sections import Book, Section
from metrolib.survey.set_ups import APART, take_traverse
from metrolib.units import DISPLAYS

FILE = "survey.toml"


@dataclass(frozen=True, eq=False)
class Settings:
    """What survey.toml says.

    Attributes
    ----------
    machine : Machine
    instruments : dict of str to Instrument
    straightedges : dict of str to Straightedge
    traverses : dict of str to Traverse
    decision : Decision
    options : dict of str to Decision
    display : str
    names : dict of str to set of str
        All names that the file gives, also those of faulty entries: ``"faces"``,
        ``"instruments"``, ``"straightedges"``, ``"traverses"``.
    places : Places
    faults : list of Fault
    """

    machine: Machine = field(default_factory=lambda: Machine("?"))
    instruments: dict = field(default_factory=dict)
    straightedges: dict = field(default_factory=dict)
    traverses: dict = field(default_factory=dict)
    decision: Decision = field(default_factory=Decision)
    options: dict = field(default_factory=dict)
    display: str = "um"
    names: dict = field(default_factory=dict)
    places: Places = field(default_factory=lambda: Places(""))
    faults: list = field(default_factory=list)


def load_toml(text):
    """Return the tables of survey.toml, or the fault that stops it from being read.

    Returns
    -------
    document : dict or None
    fault : Fault or None
    """
    try:
        return tomllib.loads(plain(text)), None
    except tomllib.TOMLDecodeError as error:
        return None, _syntax_fault(text, str(error))


def plain(text):
    r"""Return a text without byte-order mark and with ``\n`` as the only line end."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def read_settings(text):
    """Read survey.toml.

    Parameters
    ----------
    text : str

    Returns
    -------
    Settings
        With `faults`; an entry that is at fault is left out of the views, but for a
        traverse whose faults do not touch where it was taken: its rows can still be checked.
    """
    document, fault = load_toml(text)
    if fault is not None:
        return Settings(faults=[fault])
    book = Book(FILE, Places(text))
    top = Section(book, (), document, FILE)
    display = top.choice("display", DISPLAYS, "um")
    top.raw("readings")  # the name of the readings file is checked where the folder is known
    faces = top.tables("faces")
    instruments = top.tables("instruments")
    straightedges = top.tables("straightedges")
    traverses = top.tables("traverses")
    names = {
        "faces": {name for name, _ in faces},
        "instruments": {name for name, _ in instruments},
        "straightedges": {name for name, _ in straightedges},
        "traverses": {name for name, _ in traverses},
    }
    for needed, entries in {
        "faces": faces,
        "instruments": instruments,
        "traverses": traverses,
    }.items():
        if not entries:
            top.fault(None, f"there are no {needed}", f'add a table [{needed}."NAME"] for each')
    machine = _take_machine(book, top, _each(book, "faces", faces, take_face))
    decision = take_decision(book, top.raw("decision", {}), names["faces"])
    settings = Settings(
        machine=machine,
        instruments=_each(book, "instruments", instruments, take_instrument),
        straightedges=_each(book, "straightedges", straightedges, take_straightedge),
        traverses=_each(
            book, "traverses", traverses, lambda section: take_traverse(section, names), APART
        ),
        decision=decision,
        options=take_options(book, top.tables("options"), top.raw("decision", {}), names["faces"]),
        display=display,
        names=names,
        places=book.places,
        faults=book.faults,
    )
    top.finish()
    return settings


def _each(book, kind, entries, take, apart=frozenset()):
    """Return the entries of one kind by name: those whose faults, if any, are in keys `apart`."""
    found = {}
    for name, table in entries:
        section = Section(book, (kind, name), table, f"{kind.removesuffix('s')} {name!r}")
        if not name.strip() or name != name.strip() or name.startswith("#"):
            section.fault(
                None, "the name is empty, begins with # or has blanks at an end", "rename it"
            )
        entry = take(section) if section.sound else None
        if section.sound or (entry is not None and section.wrong_keys <= apart):
            found[name] = entry
    return found


def _take_machine(book, top, faces):
    if "machine" not in top.table:
        top.fault(None, "the table [machine] is missing", 'add [machine] with name = "..."')
    table = top.raw("machine", {"name": "?"})
    section = Section(book, ("machine",), table, "machine")
    name, note = section.text("name"), section.text("note", "")
    section.finish()
    return Machine(name, note, faces)


def _syntax_fault(text, message):
    """Turn the message of the TOML reader into a fault with its line."""
    at = re.search(r"\(at line (\d+), column (\d+)\)", message)
    line = int(at[1]) if at else plain(text).rstrip("\n").count("\n") + 1
    wrong = re.sub(r"\s*\(at [^()]*\)$", "", message)
    if "twice" in wrong or "overwrite" in wrong:
        remedy = "give each table and key a name of its own"
    else:
        remedy = "correct it there: texts in quotes, one key = value in a line, brackets closed"
    return Fault(FILE, line, f"this is no TOML: {wrong}", remedy)

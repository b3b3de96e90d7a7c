"""Settings: survey.toml as text -> machine, instruments, traverses, decision, with every fault."""

from dataclasses import dataclass, field

from metrolib.survey.carried import Drive, take_carried, take_drive
from metrolib.survey.conditions import take_decision, take_options
from metrolib.survey.decision import Decision
from metrolib.survey.equipment import take_instrument, take_straightedge
from metrolib.survey.faces import APART as APART_FROM_PLACE
from metrolib.survey.faces import take_face
from metrolib.survey.machine import Machine
from metrolib.survey.methods import in_order, take_method
from metrolib.survey.places import Places
from metrolib.survey.prints import take_prints
from metrolib.survey.sections import Book, Section
from metrolib.survey.set_ups import APART, take_traverse
from metrolib.survey.syntax import FILE, TOLD, load_toml
from metrolib.survey.tolerances import take_tolerance
from metrolib.units import DISPLAYS


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
    methods : tuple of Method
    carried : dict of str to Carried
    drive : Drive or None
    tolerances : dict of str to Tolerance
    prints : tuple of Print
    display : str
    names : dict of str to set of str
        All names that the file gives, also those of faulty entries: ``"faces"``,
        ``"instruments"``, ``"straightedges"``, ``"traverses"``. Empty where nobody can tell.
    places : Places
    faults : list of Fault
    """

    machine: Machine = field(default_factory=lambda: Machine("?"))
    instruments: dict = field(default_factory=dict)
    straightedges: dict = field(default_factory=dict)
    traverses: dict = field(default_factory=dict)
    decision: Decision = field(default_factory=Decision)
    options: dict = field(default_factory=dict)
    methods: tuple = ()
    carried: dict = field(default_factory=dict)
    drive: Drive | None = None
    tolerances: dict = field(default_factory=dict)
    prints: tuple = ()
    display: str = "um"
    names: dict = field(default_factory=dict)
    places: Places = field(default_factory=lambda: Places(""))
    faults: list = field(default_factory=list)


def read_settings(text):
    """Read survey.toml.

    Parameters
    ----------
    text : str

    Returns
    -------
    Settings
        With `faults`; an entry that is at fault is left out of the views, but for a face or a
        traverse whose faults do not touch where it lies: its rows can still be checked.
    """
    document = load_toml(text)
    if document.tables is None:
        return Settings(faults=document.faults)
    book = Book(FILE, Places(document.text))
    book.faults += document.faults
    top = Section(book, (), document.tables, FILE)
    display = top.choice("display", DISPLAYS, "um")
    top.raw("readings")  # the name of the readings file is checked where the folder is known
    faces = top.tables("faces")
    instruments = top.tables("instruments")
    straightedges = top.tables("straightedges")
    traverses = top.tables("traverses")
    entries = {
        "faces": faces,
        "instruments": instruments,
        "straightedges": straightedges,
        "traverses": traverses,
    }
    lost = document.doubtful | top.told
    names = {
        kind: _AnyName(name for name, _ in given) if kind in lost else {name for name, _ in given}
        for kind, given in entries.items()
    }
    for needed in ("faces", "instruments", "traverses"):
        if not entries[needed] and needed not in lost:
            top.fault(None, f"there are no {needed}", f'add a table [{needed}."NAME"] for each')
    machine = _take_machine(book, top, _each(book, "faces", faces, take_face, APART_FROM_PLACE))
    decision = take_decision(book, top.raw("decision", {}), names["faces"])
    edges = _each(book, "straightedges", straightedges, take_straightedge)
    settings = Settings(
        machine=machine,
        instruments=_each(book, "instruments", instruments, take_instrument),
        straightedges=edges,
        traverses=_each(
            book, "traverses", traverses, lambda section: take_traverse(section, names), APART
        ),
        decision=decision,
        options=take_options(book, top.tables("options"), top.raw("decision", {}), names["faces"]),
        methods=in_order(book, _each(book, "methods", top.tables("methods"), take_method)),
        carried=take_carried(book, top.tables("carried"), names["faces"], machine.faces),
        drive=take_drive(book, top.raw("drive")),
        tolerances=_each(
            book,
            "tolerances",
            top.tables("tolerances"),
            lambda section: take_tolerance(section, names["faces"]),
        ),
        prints=take_prints(book, top.raw("prints", []), names["faces"], machine, edges),
        display=display,
        names=names,
        places=book.places,
        faults=book.faults,
    )
    top.finish()
    return settings


class _AnyName(set):
    """The names of one kind where a heading was lost: any other name may be the lost one."""

    def __contains__(self, name):
        return True


def _each(book, kind, entries, take, apart=frozenset()):
    """Return the entries of one kind by name: those whose faults, if any, are in keys `apart`."""
    found = {}
    for name, table in entries:
        if table == TOLD:
            continue
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
    if not top.given("machine"):
        top.fault(None, "the table [machine] is missing", 'add [machine] with name = "..."')
    table = top.raw("machine", {"name": "?"})
    section = Section(book, ("machine",), table, "machine")
    name, note = section.text("name"), section.text("note", "")
    section.finish()
    return Machine(name, note, faces)

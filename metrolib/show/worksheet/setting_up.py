"""Setting up: what somebody typed about a machine -> a survey folder, or what is wrong with it."""

from dataclasses import dataclass, field, replace

from metrolib.errors import InputError
from metrolib.show.worksheet.answers import settle_defaults, vee_key
from metrolib.show.worksheet.form_fields import (
    ASKED,
    EDGE,
    FACE,
    INSTRUMENT,
    typed_length,
)
from metrolib.survey.agreement import SLOPE_KINDS
from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.survey.machine import Face
from metrolib.survey.new_texts import new_texts, write_new
from metrolib.survey.rests import vees
from metrolib.survey.sheets import UNDER_AN_EDGE, Sheet, Spacing, plan_sheets
from metrolib.survey.wording import STRAIGHTEDGE_NAME

#: More stations than this in one traverse are a slip of the pitch.
_MOST_STATIONS = 400

_ONLY_DIVISIONS = ("sensitivity", "sensitivity_unit")

#: Fields whose defaults are no examples: their owner sees at a glance whether they are right.
_PLAIN = ("name", "unit", "sensitivity_unit", "normal")


@dataclass
class Described:
    """What the answers say so far.

    Attributes
    ----------
    faces : dict of str to Face
        By the key of its entry; those without a fault.
    rests : dict of str to Face or Vee
        What readings can be taken on: the faces, and the vees that they make.
    instruments : dict of str to Instrument
    edge : Straightedge or None
    sheets : dict of str to list of Sheet
        The traverses of each set of readings.
    faults : dict of (str, str) to str
        What is wrong, by key of the entry and of the field; ``("", "")`` is the whole.
    assumed : list of str
        Sentences: what is taken as shown, for nobody typed it.
    """

    faces: dict[str, Face] = field(default_factory=dict)
    rests: dict = field(default_factory=dict)
    instruments: dict[str, Instrument] = field(default_factory=dict)
    edge: Straightedge | None = None
    sheets: dict[str, list[Sheet]] = field(default_factory=dict)
    faults: dict[tuple[str, str], str] = field(default_factory=dict)
    assumed: list[str] = field(default_factory=list)

    @property
    def all_sheets(self):
        """The traverses of all sets of readings, in order."""
        return [sheet for sheets in self.sheets.values() for sheet in sheets]


def describe(answers):
    """Return what the answers describe, with a fault for each field that cannot be used.

    Parameters
    ----------
    answers : Answers

    Returns
    -------
    Described
    """
    settle_defaults(answers)
    said = Described()
    if not answers.machine.strip():
        said.faults["machine", "name"] = "the machine has no name yet; write one"
    for entry in answers.faces:
        _take_face(entry, said)
    if not answers.faces:
        said.faults["", ""] = "no face is described yet; choose a layout, or add a face"
    said.rests = _rests(said.faces)
    for entry in answers.instruments:
        _take_instrument(entry, said)
    if is_edge_needed(answers):
        values = _taken(answers.edge, EDGE, said, "straightedge")
        said.edge = Straightedge(STRAIGHTEDGE_NAME, **values) if values else None
    for entry in answers.readings:
        _take_readings(entry, answers, said)
    _refuse_same_names(answers, said)
    if not said.faults:
        _try_texts(answers, said)
    return said


def is_edge_needed(answers):
    """Tell whether something is read under a straightedge."""
    return any(entry.typed["kind"] in UNDER_AN_EDGE for entry in answers.readings)


def texts(answers):
    """Return the texts of survey.toml and readings.csv.

    Raises
    ------
    InputError
        With all faults, if there are any.
    """
    said = describe(answers)
    if said.faults:
        raise InputError("setting up: " + "; ".join(said.faults.values()))
    return _texts(answers, said)


def write_survey(answers, folder):
    """Write the survey folder, and return it; a survey that is there already stays.

    Raises
    ------
    InputError
        If the answers have faults.
    SurveyError
        If the folder holds a survey already, or cannot be written.
    """
    return write_new(folder, texts(answers))


def _texts(answers, said):
    tools = {entry.key: entry for entry in answers.instruments}
    examples = {
        tool.name: [
            each.key
            for each in INSTRUMENT
            if each.key not in _PLAIN and not tools[key].is_typed(each.key)
        ]
        for key, tool in said.instruments.items()
    }
    return new_texts(
        answers.machine.strip(),
        list(said.faces.values()),
        list(said.instruments.values()),
        said.all_sheets,
        display=answers.display,
        note=answers.note.strip(),
        edge=said.edge,
        examples=examples,
    )


def _try_texts(answers, said):
    """Note what shows only when all is read together."""
    if not said.all_sheets:
        said.faults["", ""] = "no readings are planned yet; add some"
        return
    try:
        _texts(answers, said)
    except InputError as error:
        said.faults["", ""] = str(error)


def _taken(entry, fields, said, what, optional=()):
    """Return the values of the fields of one entry; None where one is at fault."""
    values, sound, assumed = {}, True, []
    for each in fields:
        text = entry.text(each.key)
        try:
            if text or each.key not in optional:
                values[each.key] = each.take(text)
            if not (entry.is_typed(each.key) or each.key in _PLAIN or text in ("", "0")):
                assumed.append(f"{each.label} {text}")
        except InputError as error:
            sound = False
            nothing = f"{each.label} is not typed yet; type it"
            said.faults[entry.key, each.key] = str(error) if text else nothing
    if assumed:
        said.assumed.append(f"{what}: {', '.join(assumed)}")
    return values if sound else None


def _take_face(entry, said):
    values = _taken(entry, FACE, said, entry.text("name") or "face", optional=("left_out",))
    if values is None:
        return
    face = Face(**values)
    if face.x_from >= face.x_to:
        words = f"to x {face.x_to:g} is not beyond from x {face.x_from:g}; write the lower first"
        said.faults[entry.key, "x_to"] = words
        return
    off = [one for one in face.left_out if one.x_to < face.x_from or one.x_from > face.x_to]
    if off:
        words = f"{off[0].x_from:g} to {off[0].x_to:g} is not on the face; correct it"
        said.faults[entry.key, "left_out"] = words
        return
    said.faces[entry.key] = face


def _rests(faces):
    """Return the faces, and the vees that they make, by key."""
    key_of = {face.name: key for key, face in faces.items()}
    found = {
        vee_key(key_of[vee.first.name], key_of[vee.second.name]): vee
        for vee in vees(faces.values())
    }
    return {**faces, **found}


def _take_instrument(entry, said):
    in_divisions = entry.text("unit") == "division"
    fields = [each for each in INSTRUMENT if in_divisions or each.key not in _ONLY_DIVISIONS]
    values = _taken(entry, fields, said, entry.text("name"), optional=("reading_range",))
    if values is None:
        return
    tool = Instrument(**values)
    if tool.resolution == 0 and tool.repeatability == 0:
        words = "it cannot repeat to 0 and be read to 0; write what ten set-downs scatter by"
        said.faults[entry.key, "repeatability"] = words
        return
    said.instruments[entry.key] = tool


def instruments_for(kind, instruments):
    """Return the keys of the instruments that can read a kind.

    Parameters
    ----------
    kind : str
    instruments : dict of str to Instrument
    """
    needed = "slope" if kind in SLOPE_KINDS else "length"
    return [key for key, tool in instruments.items() if tool.measures == needed]


def rests_for(kind, role, rests):
    """Return the keys of what can stand for a role of a kind: vees only where they can."""
    vee = ASKED[kind].vee[role]
    return [key for key, rest in rests.items() if vee or isinstance(rest, Face)]


def _take_readings(entry, answers, said):
    """Plan the traverses of one set of readings."""
    kind = entry.typed["kind"]
    tool = _tool(entry, kind, answers, said)
    spacing = _spacing(entry, said)
    rests = _chosen_rests(entry, kind, answers, said)
    if tool is None or spacing is None or rests is None:
        return
    try:
        sheets = plan_sheets(kind, rests, spacing)
    except InputError as error:
        said.faults[entry.key, "kind"] = str(error).removeprefix("kinds: ")
        return
    most = max((len(sheet.stations) for sheet in sheets), default=0)
    if most > _MOST_STATIONS:
        words = f"this makes {most} stations, more than {_MOST_STATIONS}; take a longer step"
        said.faults[entry.key, "pitch"] = words
        return
    said.sheets[entry.key] = [replace(sheet, instrument=tool.name) for sheet in sheets]


def _tool(entry, kind, answers, said):
    """Return the instrument of a set of readings: the chosen one, else the one usual for it."""
    fitting = instruments_for(kind, said.instruments)
    chosen = entry.typed.get("instrument")
    if chosen in fitting:
        return said.instruments[chosen]
    usual = [one.key for one in answers.instruments if one.typed["kind"] == ASKED[kind].tool]
    first = next((key for key in [*usual, *fitting] if key in fitting), None)
    if first is not None:
        entry.default["instrument"] = first
        return said.instruments[first]
    if len(said.instruments) == len(answers.instruments):  # else it may be the faulty one
        reads = "slope" if kind in SLOPE_KINDS else "length"
        words = f"no instrument here reads a {reads}; add one under Instruments"
        said.faults[entry.key, "instrument"] = words
    return None


def _spacing(entry, said):
    """Return the lengths of a set of readings; None where one is at fault."""
    lengths = {}
    for key in ("pitch", "foot"):
        try:
            text = entry.text(key)
            lengths[key] = typed_length(text, above=0) if text else None
        except InputError as error:
            said.faults[entry.key, key] = str(error)
            return None
    return Spacing(**lengths, edge=said.edge.length if said.edge else None)


def _chosen_rests(entry, kind, answers, said):
    """Return what a set of readings is taken on; None while a face of it is not described."""
    if not ASKED[kind].roles:
        return list(said.faces.values()) if len(said.faces) == len(answers.faces) else None
    keys = [entry.typed.get(f"role {at}") for at in range(len(ASKED[kind].roles))]
    for at, key in enumerate(keys):
        if key is None:
            said.faults[entry.key, f"role {at}"] = "no face is chosen; choose one"
        elif keys.index(key) < at:
            said.faults[entry.key, f"role {at}"] = "this face is chosen twice; choose another"
    chosen = [said.rests.get(key) for key in keys]
    return None if None in chosen or len(set(keys)) < len(keys) else chosen


def _refuse_same_names(answers, said):
    """Note names that stand twice."""
    for entries, key in ((answers.faces, "name"), (answers.instruments, "name")):
        names = [entry.text(key) for entry in entries]
        for at, entry in enumerate(entries):
            if names[at] in names[:at]:
                words = f"{names[at]!r} stands twice; give each its own name"
                said.faults[entry.key, key] = words
    names = []
    for key, sheets in said.sheets.items():
        if any(sheet.name in names for sheet in sheets):
            said.faults[key, "kind"] = "the same readings stand here twice; remove one"
        names += [sheet.name for sheet in sheets]

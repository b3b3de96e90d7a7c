"""Setting up: what somebody typed about a machine -> a survey folder, or what is wrong with it."""

from dataclasses import dataclass, field

from metrolib.errors import InputError
from metrolib.show.worksheet.setting_up.answers import settle_defaults, vee_key
from metrolib.show.worksheet.setting_up.form_fields import (
    ANOTHER_ANGLE,
    EDGE,
    FACE,
    INSTRUMENT,
    typed_normal,
)
from metrolib.show.worksheet.setting_up.reading_sets import take_readings
from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.survey.machine import Face
from metrolib.survey.new_texts import new_texts, write_new
from metrolib.survey.rests import vees
from metrolib.survey.sheets import UNDER_AN_EDGE, Sheet
from metrolib.survey.wording import STRAIGHTEDGE_NAME

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
        take_readings(entry, answers, said)
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


def fields_of_face(entry):
    """Return the fields that a face is described by: its angle only where no word says it."""
    left = "normal" if entry.text("normal") == ANOTHER_ANGLE else "angle"
    return [field for field in FACE if field.key != left]


def fields_of_instrument(entry):
    """Return the fields that an instrument is described by: what a division is only of those."""
    left = () if entry.text("unit") == "division" else ("sensitivity", "sensitivity_unit")
    return [field for field in INSTRUMENT if field.key not in left]


def _take_face(entry, said):
    fields = fields_of_face(entry)
    values = _taken(entry, fields, said, entry.text("name") or "face", optional=("left_out",))
    if values is None:
        return
    angle = values.pop("angle", None)
    normal = typed_normal(values.pop("normal")) if angle is None else angle
    face = Face(**values, normal=normal)
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
    fields = fields_of_instrument(entry)
    values = _taken(entry, fields, said, entry.text("name"), optional=("reading_range",))
    if values is None:
        return
    tool = Instrument(**values)
    if tool.resolution == 0 and tool.repeatability == 0:
        words = "it cannot repeat to 0 and be read to 0; write what ten set-downs scatter by"
        said.faults[entry.key, "repeatability"] = words
        return
    said.instruments[entry.key] = tool


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

"""Answers: what somebody types to describe a machine, each text as typed, with what else holds."""

import secrets
from dataclasses import dataclass, field

from metrolib.show.worksheet.setting_up.form_fields import ASKED, EDGE
from metrolib.survey.examples import example_instrument, example_straightedge
from metrolib.survey.layouts import LAYOUTS
from metrolib.survey.machine import NORMALS
from metrolib.survey.rests import vees
from metrolib.units import LENGTHS, SLOPES

#: The readings that each layout begins with: kind, then a face for each of its roles.
READS = {
    "two flats and a ledge": (
        ("level along", "front flat"),
        ("level along", "rear flat"),
        ("level across", "front flat", "rear flat"),
        ("micrometer", "front flat", "front ledge"),
    ),
    "an inverted vee and a flat": (
        ("level along", "vee"),
        ("level along", "flat"),
        ("level across", "vee", "flat"),
        ("carriage", "flat", "front flank"),
        ("carriage", "flat", "rear flank"),
    ),
    "a hollow vee and a flat": (
        ("level along", "vee"),
        ("level along", "flat"),
        ("level across", "vee", "flat"),
        ("carriage", "flat", "front flank"),
        ("carriage", "flat", "rear flank"),
    ),
    "a flat table, read along three strips": (
        ("level along", "front strip"),
        ("level along", "middle strip"),
        ("level along", "rear strip"),
        ("level across", "front strip", "middle strip"),
        ("level across", "front strip", "rear strip"),
    ),
    "one way by itself": (("level along", "way"),),
}

#: Stands between the keys of the two flanks in the key of a vee.
VEE = " + "


@dataclass
class Entry:
    """One face, instrument or set of readings of the form.

    Attributes
    ----------
    typed : dict of str to str
        Text of each field as typed; one left empty, or not there, takes its default.
    default : dict of str to str
    key : str
        By which other entries name it, so that it can be renamed.
    """

    typed: dict[str, str] = field(default_factory=dict)
    default: dict[str, str] = field(default_factory=dict)
    key: str = field(default_factory=lambda: f"entry {secrets.token_hex(4)}")

    def text(self, name):
        """Return what holds for a field: as typed, else its default."""
        return self.typed.get(name, "").strip() or self.default.get(name, "")

    def is_typed(self, name):
        """Tell whether somebody typed it."""
        return bool(self.typed.get(name, "").strip())


@dataclass
class Answers:
    """All that is typed on the page that sets up a survey.

    Attributes
    ----------
    machine, note : str
    display : str
        ``"um"`` or ``"thou"``.
    faces, instruments, readings : list of Entry
    edge : Entry
        The straightedge, where readings are taken under one.
    """

    machine: str = ""
    note: str = ""
    display: str = "um"
    faces: list[Entry] = field(default_factory=list)
    instruments: list[Entry] = field(default_factory=list)
    readings: list[Entry] = field(default_factory=list)
    edge: Entry = field(default_factory=Entry)

    def add_face(self):
        """Add a face behind the last one, as long as that."""
        last = self.faces[-1] if self.faces else Entry()
        name = f"face {len(self.faces) + 1}"
        like = {key: last.text(key) for key in ("width", "x_from", "x_to")}
        self.faces.append(Entry(default=_FIRST_FACE | {k: v for k, v in like.items() if v}))
        self.faces[-1].default["name"] = name
        self.faces[-1].default.pop("y", None)  # nobody can guess where it lies

    def add_instrument(self, kind):
        """Add one of the example instruments, for its owner to correct."""
        alike = sum(entry.typed["kind"] == kind for entry in self.instruments)
        entry = Entry({"kind": kind}, {"name": f"{kind} {alike + 1}" if alike else kind})
        self.instruments.append(entry)

    def add_readings(self, kind, *rests):
        """Add a set of readings, and the instrument that it needs where there is none."""
        roles = {f"role {at}": rest for at, rest in enumerate(rests)}
        self.readings.append(Entry({"kind": kind, **roles}))
        self.complete()

    def complete(self):
        """Add the instruments that the readings need and that nobody has described."""
        for entry in self.readings:
            tool = ASKED[entry.typed["kind"]].tool
            if not any(one.typed["kind"] == tool for one in self.instruments):
                self.add_instrument(tool)

    def begin_with(self, layout):
        """Take the faces and readings of a layout instead of those that are there."""
        faces = LAYOUTS[layout]
        self.faces = [Entry(default=_texts_of(face)) for face in faces]
        key_of = {face.name: entry.key for face, entry in zip(faces, self.faces, strict=True)}
        for vee in vees(faces):  # a layout has one at most
            key_of["vee"] = vee_key(key_of[vee.first.name], key_of[vee.second.name])
        self.instruments, self.readings = [], []
        for kind, *rests in READS[layout]:
            self.add_readings(kind, *(key_of[rest] for rest in rests))


def vee_key(first, second):
    """Return the key by which readings name a vee, from those of its flanks."""
    return f"{first}{VEE}{second}"


_FIRST_FACE = {
    "normal": "up",
    "angle": "30",
    "width": "40",
    "x_from": "0",
    "x_to": "1000",
    "nominal_height": "0",
}


def _texts_of(face):
    """Return the defaults of a face of a layout."""
    words = {angle: word for word, angle in NORMALS.items()}
    lengths = ("y", "width", "x_from", "x_to", "nominal_height")
    return {
        "name": face.name,
        "normal": words.get(face.normal, f"{face.normal:g}"),
        "angle": _FIRST_FACE["angle"],
        **{key: f"{getattr(face, key):g}" for key in lengths},
    }


def settle_defaults(answers):
    """Fill in the defaults of instruments and straightedge: they follow unit and display."""
    for entry in answers.instruments:
        entry.default |= _instrument_defaults(entry, answers.display)
    edge = example_straightedge(1000)
    entry = answers.edge
    entry.default |= {field.key: f"{getattr(edge, field.key):g}" for field in EDGE}


def _instrument_defaults(entry, display):
    """Return the values of the example instrument, in the unit that was chosen."""
    usual = example_instrument(entry.typed["kind"], display)
    unit = entry.typed.get("unit") or usual.unit
    texts = {"unit": usual.unit, "reading_range": "", "sensitivity": "", "sensitivity_unit": ""}
    if unit == "division":
        texts["sensitivity_unit"] = usual.sensitivity_unit or usual.unit
        texts["sensitivity"] = f"{usual.sensitivity or usual.resolution:g}"
    scale = 1.0
    if unit != usual.unit and unit != "division" and usual.measures == _measures(unit):
        scale = usual.factor / {**LENGTHS, **SLOPES}[unit]
    elif unit == "division" and usual.unit != "division":
        scale = 1 / usual.resolution  # its smallest step becomes one division
    for key in ("resolution", "repeatability", "calibration_uncertainty"):
        texts[key] = f"{getattr(usual, key) * scale:.3g}"
    texts["sensitivity_uncertainty"] = f"{100 * usual.sensitivity_uncertainty:g}"
    return texts


def _measures(unit):
    return "slope" if unit in SLOPES else "length"

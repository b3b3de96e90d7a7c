"""Adding: a further traverse, or the next round of work, while readings are taken."""

import ipywidgets as widgets

from metrolib.errors import InputError
from metrolib.show.worksheet.screen.look import button, column, field, heading, paragraph, row
from metrolib.survey.readings import KINDS
from metrolib.survey.rests import vees

_HINT = "Stations are planned over the whole length; a level gets its way back turned end for end."


class Adding:
    """A part of a page that stays folded until it is wanted.

    Parameters
    ----------
    sheet : Worksheet
    screen : Screen
    added : callable
        Called without arguments when a traverse was added.

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, sheet, screen, added):
        self._sheet, self._screen, self._added = sheet, screen, added
        survey = sheet.survey
        self._kind = field("Reading kind", choices=KINDS, name="metro-new-kind")
        self._instrument = field(
            "Instrument",
            choices=[("the usual one", None), *((name, name) for name in survey.instruments)],
            name="metro-new-instrument",
        )
        self._pitch = field("Stations apart", unit="mm", hint="usual", name="metro-new-pitch")
        self._rests = _rests_of(survey.machine)
        self._boxes = {name: _box(name) for name in self._rests}
        self._fold = button("", self._turn, screen, name="metro-add")
        self._inside = column(
            heading("A further traverse", _HINT),
            row(self._kind, self._instrument, self._pitch),
            paragraph("On which faces? None ticked means all."),
            row(*self._boxes.values()),
            button("Add the traverse", self._add, screen, main=True, name="metro-add-traverse"),
            heading("The next round", "When metal came off, the places are read again from new."),
            button("Begin the next round", self._begin, screen, name="metro-begin-round"),
        )
        self.widget = column(self._fold, self._inside)
        self._open(False)

    def _turn(self):
        self._open(self._inside.layout.display == "none")

    def _open(self, wanted):
        self._inside.layout.display = "" if wanted else "none"
        self._fold.description = ("▾ " if wanted else "▸ ") + "Add a traverse, or a round"

    def _add(self):
        faces = [self._rests[name] for name, box in self._boxes.items() if box.value]
        pitch = {"pitch": _length(self._pitch.value)} if self._pitch.value.strip() else {}
        names = self._sheet.new_traverse(
            self._kind.value, faces or None, instrument=self._instrument.value, **pitch
        )
        self._screen.tell(f"Planned, and ready to be read: {', '.join(names)}.")
        self._open(False)
        self._added()

    def _begin(self):
        begun = self._sheet.new_round()
        self._open(False)
        self._screen.open(begun.folder)
        self._screen.tell(f"Round {begun.folder.name} is begun in {begun.folder.parent.name}.")


def _rests_of(machine):
    """Return what a traverse can run on, by name: faces, and vees by their two flanks."""
    faces = machine.faces
    found = {name: name for name in faces}
    for vee in vees(faces.values()):
        found[vee.name] = (vee.first.name, vee.second.name)
    return found


def _box(name):
    made = widgets.Checkbox(description=name, indent=False)
    made.add_class("metro-new-face")
    return made


def _length(text):
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise InputError(f"Stations apart: a length in mm is needed, got {text!r}") from None

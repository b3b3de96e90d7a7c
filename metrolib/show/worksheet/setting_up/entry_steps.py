"""Entry steps: faces, instruments and sets of readings, one of them open at a time."""

from metrolib.show.worksheet.screen.look import button, column, field, heading, paragraph, row, say
from metrolib.show.worksheet.setting_up.form import Form
from metrolib.show.worksheet.setting_up.form_fields import ASKED, EDGE, FACE, INSTRUMENT, Field
from metrolib.show.worksheet.setting_up.reading_sets import instruments_for, rests_for
from metrolib.show.worksheet.setting_up.setting_up import (
    fields_of_face,
    fields_of_instrument,
    is_edge_needed,
)
from metrolib.survey.examples import INSTRUMENTS


def _count(entries, said):
    """Return how many fields of some entries are at fault."""
    keys = {entry.key for entry in entries}
    return sum(key in keys for key, _ in said.faults)


class _EntriesStep:
    """A button for each entry, the form of the one that is open, and adding and removing.

    Parameters
    ----------
    answers : Answers
    screen : Screen
    changed : callable
    """

    what = ""  # an entry in one word
    title_words = hint = ""

    def __init__(self, answers, screen, changed):
        self._answers, self._screen, self._changed = answers, screen, changed
        self._forms, self._named, self._open = {}, [], None
        self._names, self._place = row(), column()
        self._whole = paragraph(name="metro-fault")
        words = f"Remove this {self.what}"
        remove = button(words, self._remove, screen, name="metro-remove")
        self.widget = column(
            heading(self.title_words, self.hint),
            self._names,
            self._place,
            self._whole,
            row(remove, *self.adding()),
        )

    def show(self, said):
        """Show names, faults and defaults."""
        entries = self.entries()
        self._forms = {e.key: self._forms.get(e.key) or self._new_form(e, said) for e in entries}
        if self._open not in self._forms:
            self._open = next(iter(self._forms), None)
        for entry in entries:
            self.show_form(entry, self._forms[entry.key], said)
        self._show_names(entries, said)
        form = self._forms.get(self._open)
        self._place.children = () if form is None else (form.widget,)
        say(self._whole, "" if entries else f"There is no {self.what} yet: add one.")

    def _show_names(self, entries, said):
        """Keep one button for each entry, its words new."""
        keys = [entry.key for entry in entries]
        if self._named != keys:
            self._named = keys
            self._names.children = tuple(self._name_button(entry) for entry in entries)
        for entry, one in zip(entries, self._names.children, strict=True):
            count = _count([entry], said)
            mark = "▸ " if entry.key == self._open else ""
            wrong = f" (✗ {count})" if count else ""
            one.description = f"{mark}{self.title(entry, said)}{wrong}"

    def _name_button(self, entry):
        def choose():
            self.choose(entry.key)

        return button(entry.key, choose, self._screen, name="metro-entry-name")

    def choose(self, key):
        """Open another entry."""
        self._open = key
        self._changed()

    def _remove(self):
        entries = self.entries()
        entries[:] = [entry for entry in entries if entry.key != self._open]
        self._changed()

    def _added(self):
        self._open = self.entries()[-1].key
        self._changed()

    def fault_count(self, said):
        """Return how many fields are at fault."""
        return _count(self.entries(), said)

    def _new_form(self, entry, said):
        return Form(entry, self.fields(entry, said), self._screen, self._changed)


class FacesStep(_EntriesStep):
    """The faces of the machine."""

    what = "face"
    title_words = "The faces"
    hint = "Each flat top, flank of a vee, underside or side is one face."

    def entries(self):
        """Return the faces."""
        return self._answers.faces

    def title(self, entry, said):
        """Return its name."""
        return entry.text("name") or "face without a name"

    def fields(self, entry, said):
        """Return all that may be asked."""
        return FACE

    def show_form(self, entry, form, said):
        """Show its faults, and the angle only where it is asked for."""
        form.show(said, [each.key for each in fields_of_face(entry)])

    def adding(self):
        """Return what adds a face."""
        return [button("Add a face", self._add, self._screen, name="metro-add")]

    def _add(self):
        self._answers.add_face()
        self._added()


class InstrumentsStep(_EntriesStep):
    """The instruments, and the straightedge where one is needed."""

    what = "instrument"
    title_words = "The instruments"
    hint = (
        "How well it repeats matters most: set it down ten times at one place and take the"
        " standard deviation of the readings. The straightedge is asked for where one is used."
    )

    def __init__(self, answers, screen, changed):
        super().__init__(answers, screen, changed)
        self._edge = Form(answers.edge, EDGE, screen, changed)
        self._edge_place = column(heading("The straightedge"), self._edge.widget)
        self.widget.children = (*self.widget.children, self._edge_place)

    def show(self, said):
        """Show names, faults and defaults, also those of the straightedge."""
        super().show(said)
        needed = is_edge_needed(self._answers)
        self._edge_place.layout.display = "" if needed else "none"
        self._edge.show(said, [each.key for each in EDGE])

    def entries(self):
        """Return the instruments."""
        return self._answers.instruments

    def title(self, entry, said):
        """Return its name."""
        return entry.text("name")

    def fields(self, entry, said):
        """Return all that may be asked."""
        return INSTRUMENT

    def show_form(self, entry, form, said):
        """Show its faults, and what a division is only where it is read in divisions."""
        form.show(said, [each.key for each in fields_of_instrument(entry)])

    def adding(self):
        """Return what adds an instrument."""
        self._kind = field("Another instrument", choices=INSTRUMENTS, name="metro-add-kind")
        return [self._kind, button("Add it", self._add, self._screen, name="metro-add")]

    def _add(self):
        self._answers.add_instrument(self._kind.value)
        self._added()

    def fault_count(self, said):
        """Return how many fields are at fault, those of the straightedge among them."""
        return _count([*self.entries(), self._answers.edge], said)


class ReadingsStep(_EntriesStep):
    """Which readings are to be taken where."""

    what = "set of readings"
    title_words = "The readings"
    hint = "A level goes there and comes back turned end for end; both ways are planned for you."

    def entries(self):
        """Return the sets of readings."""
        return self._answers.readings

    def title(self, entry, said):
        """Return what is done, and on what."""
        asked = ASKED[entry.typed["kind"]]
        rests = [said.rests.get(entry.typed.get(f"role {at}")) for at in range(len(asked.roles))]
        return f"{asked.words} {', '.join(rest.name if rest else '?' for rest in rests)}".strip()

    def fields(self, entry, said):
        """Return faces, instrument and lengths of its kind."""
        kind = entry.typed["kind"]
        roles = [
            Field(f"role {at}", words, choices=self._rests(kind, at, said))
            for at, words in enumerate(ASKED[kind].roles)
        ]
        foot = Field("foot", "feet from the stylus", hint="mm; empty: a usual one")
        return [
            *roles,
            Field("instrument", "read with", choices=self._tools(kind, said)),
            Field("pitch", ASKED[kind].pitch, hint="mm; empty: a usual one"),
            *([foot] if kind == "carriage" else []),
        ]

    def show_form(self, entry, form, said):
        """Show its faults, and offer the faces and instruments that there are now."""
        kind = entry.typed["kind"]
        roles = [f"role {at}" for at in range(len(ASKED[kind].roles))]
        for at, role in enumerate(roles):
            form.choose_from(role, self._rests(kind, at, said))
        form.choose_from("instrument", self._tools(kind, said))
        form.show(said, [*roles, "instrument", "pitch", "foot"])

    def _rests(self, kind, at, said):
        return [(said.rests[key].name, key) for key in rests_for(kind, at, said.rests)]

    def _tools(self, kind, said):
        return [
            (said.instruments[key].name, key) for key in instruments_for(kind, said.instruments)
        ]

    def adding(self):
        """Return what adds a set of readings."""
        kinds = [(asked.words, kind) for kind, asked in ASKED.items()]
        self._kind = field("More readings", choices=kinds, name="metro-add-kind")
        return [self._kind, button("Add them", self._add, self._screen, name="metro-add")]

    def _add(self):
        kind, said = self._kind.value, self._answers
        taken = [
            entry.typed.get("role 0") for entry in said.readings if entry.typed["kind"] == kind
        ]
        keys = [entry.key for entry in said.faces]
        free = [key for key in keys if key not in taken] or keys
        order = free[:1] + [key for key in keys if key != free[:1][0]] if free else []
        said.add_readings(kind, *order[: len(ASKED[kind].roles)])
        self._added()

"""Setting up on screen: from nothing to the first reading, step by step beside a drawing."""

from pathlib import Path

import ipywidgets as widgets

from metrolib.show.worksheet.screen.look import (
    button,
    column,
    field,
    heading,
    paragraph,
    row,
    say,
    shown_errors,
)
from metrolib.show.worksheet.setting_up.answers import Answers
from metrolib.show.worksheet.setting_up.draft import Draft
from metrolib.show.worksheet.setting_up.entry_steps import FacesStep, InstrumentsStep, ReadingsStep
from metrolib.show.worksheet.setting_up.reading_sets import sheets_of
from metrolib.show.worksheet.setting_up.section_drawing import picture_of, words_of
from metrolib.show.worksheet.setting_up.setting_up import describe, write_survey
from metrolib.survey.layouts import LAYOUTS

_INCHES = (
    "All lengths of the machine are in mm, also where depths are shown in thou; write 1.5 in for"
    " one and a half inches. What a field shows in pale letters is an example: it holds until you"
    " type your own."
)


def page(sheet, screen):
    """Return the page that sets up a survey, or shows the one that is set up."""
    if sheet.survey is not None:
        return _standing(sheet, screen)
    return _SettingUpPage(sheet, screen).widget


def _standing(sheet, screen):
    """Return what is set up already: it is not written over."""
    drawing, words = _drawing()

    def show():
        faces, sheets = list(sheet.survey.machine.faces.values()), sheets_of(sheet.survey)
        drawing.value = picture_of(faces, sheets)
        say(words, words_of(faces))

    screen.when_shown(show)
    told = (
        f"{sheet.folder.name} is set up. It is changed in its file survey.toml, in any editor;"
        " a new survey begins in a folder of another name."
    )
    return column(heading(sheet.survey.machine.name, told), drawing, words)


def _drawing():
    drawing = widgets.Image(format="png")
    drawing.add_class("metro-section")
    return drawing, paragraph(name="metro-section-words")


class _SettingUpPage:
    """The page's pieces: steps, the drawing above them, and the answers that they fill."""

    def __init__(self, sheet, screen):
        self.sheet, self.screen = sheet, screen
        self._draft = Draft(sheet.folder)
        self.answers = self._draft.read()
        if self.answers is None:
            self.answers = Answers()
            self.answers.begin_with(next(iter(LAYOUTS)))
        else:
            screen.tell("What was typed here before stands in its fields again.")
        self.said = describe(self.answers)
        self.drawing, self.words = _drawing()
        self._drawn = None
        given = self.answers, screen, self.changed
        self.steps = {
            "Machine": _MachineStep(*given),
            "Faces": FacesStep(*given),
            "Instruments": InstrumentsStep(*given),
            "Readings": ReadingsStep(*given),
            "Write": _WriteStep(self),
        }
        self._tabs = {
            name: button(name, lambda name=name: self.open(name), screen, name="metro-step")
            for name in self.steps
        }
        self._open = column(name="metro-open-step")
        self._on = button("Go on", self._go_on, screen, main=True, name="metro-go-on")
        halves = row(self._open, column(self.drawing, self.words))
        halves.add_class("metro-halves")
        # "Go on" stands before the form, so that Tab leads from it into the next step
        head = row(*self._tabs.values(), self._on)
        self.widget = column(head, halves, name="metro-setting-up")
        self.open("Machine")

    def open(self, name):
        """Open a step."""
        self._name = name
        self._open.children = (self.steps[name].widget,)
        self._on.layout.display = "none" if name == "Write" else ""
        self.changed()

    def _go_on(self):
        names = list(self.steps)
        self.open(names[names.index(self._name) + 1])

    def changed(self):
        """Say anew what is described: faults, defaults, and the drawing."""
        self.said = describe(self.answers)
        self._draft.keep(self.answers)
        for number, (name, step) in enumerate(self.steps.items(), 1):
            step.show(self.said)
            count = step.fault_count(self.said)
            mark = "▸ " if name == self._name else ""
            wrong = f" (✗ {count})" if count else ""
            self._tabs[name].description = f"{mark}{number} {name}{wrong}"
        self._draw()

    def _draw(self):
        faces, sheets = list(self.said.faces.values()), self.said.all_sheets
        if (faces, sheets) != self._drawn:
            self.drawing.value = picture_of(faces, sheets)
            say(self.words, words_of(faces))
            self._drawn = faces, sheets

    def write(self):
        """Write the folder and go to the first reading."""
        write_survey(self.answers, self.sheet.folder)
        self._draft.forget()
        self.screen.tell(f"The survey stands in the folder {self.sheet.folder.name}.")
        self.screen.open(self.sheet.folder)


class _MachineStep:
    """Name, display and layout."""

    def __init__(self, answers, screen, changed):
        self._answers, self._changed = answers, changed
        guard = shown_errors(screen)
        self._name = field("Name of the machine", answers.machine, name="metro-machine")
        self._note = field("Its story, if you like", answers.note, name="metro-note")
        units = (("µm", "um"), ("thou", "thou"))
        display = answers.display
        self._display = field("Show depths in", display, choices=units, name="metro-display")
        self._layout = field("Begin with", choices=LAYOUTS, name="metro-layout")
        self._wrong = paragraph(name="metro-fault")
        for one in (self._name, self._note, self._display):
            one.observe(lambda _: guard(self._typed)(), "value")
        take = button("Take these faces", self._take, screen, name="metro-take-layout")
        self._replaced = paragraph(name="metro-replaced")
        self.widget = column(
            heading("The machine", _INCHES),
            row(column(self._name, self._wrong), self._note, self._display),
            row(self._layout, take),
            self._replaced,
        )

    def _typed(self):
        self._answers.machine, self._answers.note = self._name.value, self._note.value
        self._answers.display = self._display.value
        self._changed()

    def _take(self):
        """Begin with the layout; figures that were typed go only at a second press."""
        typed = sum(len(face.typed) for face in self._answers.faces)
        if typed and not self._replaced.value:
            words = f"This replaces the faces with their {typed} typed figures: press once more."
            say(self._replaced, words)
            return
        say(self._replaced, "")
        self._answers.begin_with(self._layout.value)
        self._changed()

    def show(self, said):
        """Show what is wrong."""
        fault = said.faults.get(("machine", "name"), "")
        say(self._wrong, f"✗ {fault}" if fault else "")

    def fault_count(self, said):
        """Return how many of its fields are at fault."""
        return int(("machine", "name") in said.faults)


class _WriteStep:
    """What is taken as shown, what is still wrong, and the button that writes."""

    def __init__(self, setting_up):
        self._folder = Path(setting_up.sheet.folder)
        self._faults, self._ready = paragraph(name="metro-faults"), paragraph(name="metro-ready")
        self._assumed = paragraph(name="metro-assumed")
        write = button(
            "Write the survey folder",
            setting_up.write,
            setting_up.screen,
            main=True,
            name="metro-write",
        )
        told = f"It is written into {self._folder.name}: two files that any editor opens."
        told_above = heading("The folder", told)
        self.widget = column(told_above, self._faults, self._ready, row(write), self._assumed)

    def show(self, said):
        """Say what would be written."""
        count = len(said.all_sheets), sum(len(sheet.stations) for sheet in said.all_sheets)
        ready = f"Ready: {count[1]} readings in {count[0]} traverses are planned, nothing is wrong."
        say(self._faults, [f"✗ {words}" for words in said.faults.values()])
        say(self._ready, "" if said.faults else ready)
        held = "Nobody typed these, so they are taken as shown:"
        say(self._assumed, [held, *said.assumed] if said.assumed else "")

    def fault_count(self, said):
        """Return how many faults belong to no field."""
        return int(("", "") in said.faults)

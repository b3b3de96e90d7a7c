"""Deciding: the plan on top, controls and what they come to below it, options side by side."""

import base64
from html import escape

import ipywidgets as widgets

from metrolib.errors import InputError, MetrolibError, NotDeterminedError, SurveyError
from metrolib.show.worksheet.deciding.decided import write_decision
from metrolib.show.worksheet.deciding.deciding import AS_DECIDED, SHEET, Deciding
from metrolib.show.worksheet.deciding.deciding_controls import Controls
from metrolib.show.worksheet.deciding.deciding_words import (
    moved_words,
    option_table,
    sentences,
    summary,
)
from metrolib.show.worksheet.deciding.pins import drop_pin, keep_pin, pins_of
from metrolib.show.worksheet.deciding.plan_drawing import plan_drawing
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
from metrolib.units import unit_sign

_NOTHING_YET = "There are no heights to decide from yet: take the readings first."
_KEY = (
    "Seen from above; figures are rounded down. Denser hatch: deeper; triangle and heavy frame: "
    "low spot that sets the target; ! and dashed frame: would not clean up; crossed: left out."
)
_ON_SCREEN = "what is on screen"


def page(sheet, screen):
    """Return the page on which the removal is decided."""
    return _DecidingPage(sheet, screen).widget


class _DecidingPage:
    """The page's pieces; it is laid out when there are heights for the first time."""

    def __init__(self, sheet, screen):
        self.sheet, self.screen = sheet, screen
        self.work, self._read, self._laid_out, self._quiet = None, None, None, False
        self.widget = column(paragraph(_NOTHING_YET), name="metro-deciding")
        screen.when_shown(self._catch_up)

    def _catch_up(self):
        """Take in readings and decisions that came since the page was shown last."""
        self.screen.tell_news()
        survey = self.sheet.survey
        kept = pins_of(self.sheet.folder, survey.machine.faces)
        read = survey.readings_text, survey.toml_text, kept
        if self._read == read:
            return
        try:
            fresh = Deciding(survey, self.sheet.heights)
        except NotDeterminedError:
            return
        if self.work is not None:
            fresh.choice, kept = self.work.choice, {**self.work.pinned, **kept}
        fresh.pinned = {**kept, **fresh.pinned}  # what is decided is as the survey has it now
        self.work, self._read = fresh, read
        if self._laid_out != (fresh.faces, fresh.unit):
            self._lay_out()
        self._show()

    def _lay_out(self):
        self._laid_out = self.work.faces, self.work.unit
        self._plan, self._depths, self._options, self._link = (widgets.HTML() for _ in range(4))
        for made, name in (
            (self._plan, "metro-plan"),
            (self._depths, "metro-depths"),
            (self._options, "metro-options"),
            (self._link, "metro-sheet-link"),
        ):
            made.add_class(name)
        self._summary = paragraph(name="metro-summary")
        self._words, self._moved = paragraph(name="metro-outcome"), paragraph(name="metro-moved")
        self._controls = Controls(lambda: self.work, self._show, self.screen)
        self._start = field("Start again from", choices=[_ON_SCREEN], name="metro-start")
        self._start.observe(shown_errors(self.screen)(self._started), "value")
        self._name = field("Name of this option", name="metro-option-name")
        self._pinned = field("Pinned", choices=[], name="metro-pinned")
        title = heading(f"Take off, in {unit_sign(self.work.unit)}", _KEY)
        follows = column(self._plan, self._summary, name="metro-follows")
        self.widget.children = (title, follows, self._halves(), *self._below())

    def _halves(self):
        """Return the controls with what they come to beside them."""
        moved = heading("What it does to the rest", "From the faces as measured to those planned.")
        halves = row(
            column(self._controls.widget, self._start),
            column(heading("What it comes to"), self._words, moved, self._moved),
        )
        halves.add_class("metro-halves")
        return halves

    def _below(self):
        """Return what stands below the two halves."""
        screen = self.screen
        pin = button("Pin this option", self._pin, screen, name="metro-pin")
        unpin = button("Take it away", self._unpin, screen, name="metro-unpin")
        use = button("Use this one", self._use, screen, main=True, name="metro-use")
        sheet = button("Print the job sheet", self._print, screen, name="metro-job-sheet")
        return (
            heading("Options side by side"),
            self._options,
            row(self._name, pin, self._pinned, unpin),
            row(use, sheet, self._link),
            heading("Depths, station by station"),
            self._depths,
        )

    # ---- what is shown ----

    def _show(self, told=()):
        """Show what the choice comes to: the plan first, what takes longer after it.

        Parameters
        ----------
        told : sequence of str
            What was changed besides.
        """
        work, plan = self.work, self.work.outcome
        possible = not isinstance(plan, MetrolibError)
        self._plan.value = plan_drawing(plan, work.unit) if possible else ""
        self._controls.show()
        say(self._words, sentences(work))
        say(self._summary, "\n".join([summary(work), *told]))
        self._link.value = ""
        say(self._moved, moved_words(work) or "Nothing that the survey tells of is moved.")
        self._depths.value = plan.to_html(work.unit) if possible else ""
        self._show_options()

    def _show_options(self):
        work = self.work
        self._options.value = option_table(work).to_html(border=0)
        self._pinned.options = [*work.pinned]
        self._pinned.value = next(reversed(work.pinned), None)
        self._quiet = True
        self._start.options = [_ON_SCREEN, *work.starts]
        self._start.value = _ON_SCREEN
        self._quiet = False

    # ---- what is done ----

    def _started(self, change):
        if not self._quiet and change["new"] != _ON_SCREEN:
            self.work.start_from(change["new"])
            self._show()

    def _pin(self):
        name = self.work.pin(self._name.value)
        self._name.value = ""
        self._show_options()
        self._keep(name, lambda folder: keep_pin(folder, name, self.work.choice))

    def _unpin(self):
        name = self._pinned.value
        if name is not None:
            self.work.unpin(name)
            self._show_options()
            self._keep(name, lambda folder: drop_pin(folder, name))

    def _keep(self, name, do):
        """Have it stay beyond this worksheet; what is decided is in the survey anyway."""
        if name == AS_DECIDED:
            return
        try:
            do(self.sheet.folder)
        except SurveyError as error:
            self.screen.alarm(
                f"{name!r}: this change of the pinned options holds only until the worksheet is "
                f"closed; {error.faults[0].wrong}"
            )

    def _use(self):
        plan = self.work.outcome
        if isinstance(plan, MetrolibError):
            raise InputError(f"decision: it is not written, for it cannot be done; {plan}")
        self.screen.tell(write_decision(self.sheet.folder, self.work.choice))
        self._catch_up()

    def _print(self):
        path = self.work.print_sheet(self.sheet.folder)
        raw = base64.b64encode(path.read_bytes()).decode()
        link = f'<a download="{SHEET}" href="data:text/html;base64,{raw}">{SHEET}</a>'
        self._link.value = (
            f'<p role="status">{link}: open it, and print it across the page. '
            f"It is written: {escape(str(path))}</p>"
        )

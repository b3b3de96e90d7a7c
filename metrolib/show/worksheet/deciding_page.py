"""Deciding: controls on one side, what they come to on the other, options pinned below."""

import base64
from html import escape
from pathlib import Path

import ipywidgets as widgets

from metrolib.errors import MetrolibError, NotDeterminedError
from metrolib.show.worksheet.deciding import SHEET, Deciding
from metrolib.show.worksheet.deciding_controls import Controls
from metrolib.show.worksheet.look import (
    button,
    column,
    field,
    heading,
    paragraph,
    row,
    say,
    shown_errors,
)
from metrolib.show.worksheet.plan_drawing import plan_drawing
from metrolib.units import unit_sign

_STYLE = (Path(__file__).parent / "browser" / "deciding.css").read_text(encoding="utf-8")
_NOTHING_YET = "There are no heights to decide from yet: take the readings first."


def page(sheet, screen):
    """Return the page on which the removal is decided."""
    return _DecidingPage(sheet, screen).widget


class _DecidingPage:
    """The page's pieces; it is laid out when there are heights for the first time."""

    def __init__(self, sheet, screen):
        self.sheet, self.screen = sheet, screen
        self.deciding, self._read = None, None
        self.widget = column(paragraph(_NOTHING_YET), name="metro-deciding")
        screen.when_shown(self._catch_up)

    def _catch_up(self):
        """Take in readings and decisions that came since the page was shown last."""
        survey = self.sheet.survey
        texts = survey.readings_text, survey.toml_text
        if self._read == texts:
            return
        try:
            fresh = Deciding(survey, self.sheet.heights)
        except NotDeterminedError:
            return
        if self.deciding is not None:
            fresh.change(**vars(self.deciding.choice))
            fresh.pinned |= self.deciding.pinned
        self.deciding, self._read = fresh, texts
        self._lay_out()
        self._show()

    def _lay_out(self):
        self._title = heading(
            f"Take off, in {unit_sign(self.deciding.unit)}",
            "Seen from above; figures are rounded down. Denser hatch: deeper; a triangle and a "
            "heavy frame: the low spot that sets the target; crossed: left out.",
        )
        self._controls = Controls(lambda: self.deciding, self._show, self.screen)
        self._start = field("Start from", choices=["on screen"], name="metro-start")
        self._start.observe(shown_errors(self.screen)(self._started), "value")
        self._plan = widgets.HTML()
        self._plan.add_class("metro-plan")
        self._words = paragraph(name="metro-outcome")
        self._moved = paragraph(name="metro-consequences")
        self._depths, self._options = widgets.HTML(), widgets.HTML()
        self._depths.add_class("metro-depths")
        self._options.add_class("metro-options")
        self._name = field("Name of this option", name="metro-option-name")
        self._pinned = field("Pinned", choices=[], name="metro-pinned")
        self._link = widgets.HTML()
        self._link.add_class("metro-sheet-link")
        found = column(
            self._words,
            heading("What it does to the rest", "From the faces as measured to those as planned."),
            self._moved,
        )
        halves = row(column(self._start, self._controls.widget), found)
        halves.add_class("metro-halves")
        style = widgets.HTML(f"<style>{_STYLE}</style>")
        style.layout.display = "none"
        self.widget.children = (style, self._title, self._plan, halves, *self._below())

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

    def _show(self):
        """Show what the choice comes to: the plan first, what takes longer after it."""
        work, plan = self.deciding, self.deciding.outcome
        self._controls.show()
        impossible = isinstance(plan, MetrolibError)
        self._plan.value = "" if impossible else plan_drawing(plan, work.unit)
        say(self._words, work.sentences)
        self._link.value = ""
        say(self._moved, work.consequences or "Nothing that the survey tells of is moved.")
        self._depths.value = "" if impossible else plan.to_html(work.unit)
        self._show_options()

    def _show_options(self):
        work = self.deciding
        table = work.table.set_index("option").T
        self._options.value = (
            f'<div class="metro-wide">{table.to_html(border=0)}</div>' if len(table) else ""
        )
        self._pinned.options = list(work.pinned)
        names = [name for name in work.starts if name not in work.pinned]
        self._start.unobserve_all("value")
        self._start.options = ["on screen", *work.pinned, *names]
        self._start.value = "on screen"
        self._start.observe(shown_errors(self.screen)(self._started), "value")

    # ---- what is done ----

    def _started(self, change):
        self.deciding.start_from(change["new"])
        self._show()

    def _pin(self):
        self.deciding.pin(self._name.value or self.deciding.name)
        self._name.value = ""
        self._show_options()

    def _unpin(self):
        if self._pinned.value is not None:
            self.deciding.unpin(self._pinned.value)
            self._show_options()

    def _use(self):
        self.screen.tell(self.deciding.use(self.sheet.folder))

    def _print(self):
        path = self.deciding.print_sheet(self.sheet.folder)
        raw = base64.b64encode(path.read_bytes()).decode()
        self._link.value = (
            f'<a download="{SHEET}" href="data:text/html;base64,{raw}">{SHEET}</a>: open it, and '
            "print it across the page"
        )
        self.screen.tell(f"The job sheet is written: {escape(str(path))}")

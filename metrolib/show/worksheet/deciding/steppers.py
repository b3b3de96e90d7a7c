"""Steppers: a number to be typed, with a button on either side that makes it less or more."""

from html import escape

import ipywidgets as widgets

from metrolib.errors import MetrolibError
from metrolib.show.worksheet.screen.look import button, column, field, row, shown_errors


class Stepper:
    """A field for a number with a button for less and one for more; all of it by keyboard too.

    Parameters
    ----------
    label, unit : str
    step : float
        By which a button changes the number, in the unit shown.
    take : callable
        Called with the text when it was changed.
    screen : Screen
    name : str
        Class for the style sheet and the tests; the buttons have it with -less and -more.
    empty : callable, optional
        Returns the number from which the buttons step where the field is empty; 0 when not given.
    """

    def __init__(self, label, unit, step, take, screen, name, *, empty=float):
        self._take, self._step, self._quiet = take, step, False
        self._empty = empty
        self._field = field(label, unit=unit, name=name)
        self._field.observe(lambda _: self._heard(), "value")
        self._heard = shown_errors(screen)(self._typed)
        less, more = (
            button(sign, move, screen, hint=f"{label}: {words}", name=f"{name}-{words}")
            for sign, move, words in (
                ("−", lambda: self._move(-1), "less"),
                ("+", lambda: self._move(1), "more"),
            )
        )
        self._wrong = widgets.HTML()
        self._wrong.add_class("metro-stepper-wrong")
        self._tell("")
        line = row(less, self._field, more)
        line.add_class("metro-stepper")
        self.widget = column(self._wrong, line)  # above: below it might lie off the screen

    def show(self, number, digits):
        """Show a number; None shows an empty field. What was wrong before is put right by it."""
        self._tell("")
        self._quiet = True
        self._field.value = "" if number is None else f"{round(number, digits) + 0.0:g}"
        self._quiet = False

    def hide(self, hidden):
        """Take it off the page, or put it back."""
        self.widget.layout.display = "none" if hidden else ""

    def _typed(self):
        if self._quiet:
            return
        try:
            self._take(self._field.value)
        except MetrolibError as error:
            self._tell(str(error))

    def _tell(self, words):
        """Say what is wrong with what was typed; nothing takes it away."""
        told = f'<p class="metro-wrong" role="alert"><b>Wrong:</b> {escape(words)}</p>'
        self._wrong.value = told if words else ""
        self._wrong.layout.display = "" if words else "none"

    def _move(self, way):
        try:
            number = float(self._field.value.replace(",", "."))
        except ValueError:
            number = self._empty()
        self._field.value = f"{round(number + way * self._step, 6) + 0.0:g}"

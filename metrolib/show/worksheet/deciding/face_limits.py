"""Face limits: for each face that ends true, whether it is left alone, or how much it may lose."""

import ipywidgets as widgets

from metrolib.errors import InputError
from metrolib.show.worksheet.deciding.deciding import typed_amount
from metrolib.show.worksheet.deciding.steppers import Stepper
from metrolib.show.worksheet.screen.look import column, shown_errors
from metrolib.units import from_millimetres, unit_sign


class FaceLimits:
    """A box to tick and a number for each face of the group.

    Parameters
    ----------
    deciding : function
        Returns the `Deciding` at work.
    change : callable
        Called with attributes of `Decision` that are to be changed.
    step : float
        By which a button changes a number [display unit].
    screen : Screen

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, deciding, change, step, screen):
        self._deciding, self._change = deciding, change
        self._guard, self._quiet = shown_errors(screen), False
        self._step, self._screen = step, screen
        faces = deciding().faces
        self._alone = {face: self._box(face) for face in faces}
        self._most = {face: self._stepper(face) for face in faces}
        self._rows = {
            face: column(box, self._most[face].widget, name="metro-face-limit")
            for face, box in self._alone.items()
        }
        self.widget = column(*self._rows.values())

    def show(self, digits):
        """Show the choice as it is now; a face outside the group has no limits."""
        self._quiet = True
        choice, unit = self._deciding().choice, self._deciding().unit
        for face, line in self._rows.items():
            line.layout.display = "" if face in choice.faces else "none"
            alone = face in choice.untouchable
            self._alone[face].value = alone
            self._most[face].hide(alone)
            most = choice.greatest_cut.get(face)
            self._most[face].show(None if most is None else from_millimetres(most, unit), digits)
        self._quiet = False

    def _box(self, face):
        box = widgets.Checkbox(description=f"leave {face} alone", indent=False)
        box.add_class("metro-alone")
        box.observe(lambda _: self._heard(), "value")
        return box

    def _stepper(self, face):
        return Stepper(
            f"Off {face} at most (empty: no limit)",
            unit_sign(self._deciding().unit),
            self._step,
            lambda text: self._set_most(face, text),
            self._screen,
            "metro-most",
            empty=lambda: self._deepest(face),
        )

    def _deepest(self, face):
        """Return what comes off a face now, where the buttons begin without a limit."""
        work = self._deciding()
        return round(from_millimetres(work.deepest_on(face), work.unit), 1)

    def _heard(self):
        if not self._quiet:
            self._guard(self._set_alone)()

    def _set_alone(self):
        self._change(untouchable=tuple(face for face, box in self._alone.items() if box.value))

    def _set_most(self, face, text):
        work = self._deciding()
        cuts = {name: cut for name, cut in work.choice.greatest_cut.items() if name != face}
        if text.strip():
            most = typed_amount(f"off {face} at most", text, work.unit)
            if most < 0:
                raise InputError(
                    f"off {face} at most: metal only comes off, got {text.strip()}; type 0 or "
                    "more, or leave the field empty"
                )
            cuts[face] = most
        self._change(greatest_cut=cuts)

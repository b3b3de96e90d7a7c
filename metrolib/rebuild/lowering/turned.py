"""Turned: what the movements of saddle and centres do to the diameter of turned work."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form.wording import nominal, table
from metrolib.rebuild.lowering.centres import head_at, nose_of, spindle_of
from metrolib.rebuild.lowering.lowering import Lowering
from metrolib.rebuild.lowering.lowering_words import NOTHING, expanded, numbers, span, with_factor
from metrolib.units import from_millimetres, show_length, unit_sign

TOOLS = ("front", "rear")


@dataclass(frozen=True, eq=False)
class TurnedDiameter:
    """Error of the diameter along turned work.

    Attributes
    ----------
    x : ndarray, shape (P,)
        Places of the saddle's middle [mm].
    radius : float
        Radius that the tool was set to before [mm].
    error : ndarray, shape (P,)
        Diameter less the one that was set: floats or `uncertainties` numbers [mm].
    into_work : ndarray, shape (P,)
        How far the tool moved into the work, sideways [mm].
    above : ndarray, shape (P,)
        How far it moved above the work's axis [mm].
    """

    x: np.ndarray
    radius: float
    error: np.ndarray
    into_work: np.ndarray
    above: np.ndarray

    @property
    def value(self):
        """Largest less smallest error along the travel: what no setting removes [mm]."""
        plain = numbers(self.error)
        return self.error[int(plain.argmax())] - self.error[int(plain.argmin())]

    @property
    def taper(self):
        """Diameter at the end of the travel less that at its beginning [mm].

        Above zero: larger towards the tailstock.
        """
        return self.error[int(self.x.argmax())] - self.error[int(self.x.argmin())]

    def in_words(self, unit="um"):
        """Say what the diameter does along the work."""
        said = f"diameter off by {span(self.x, self.error, unit, sign=True)}"
        if self.x.size == 1:
            return with_factor(said)
        return with_factor(
            f"{said}; it varies by {show_length(nominal(self.value), unit)}"
            f"{expanded(self.value, unit)} from {self.x.min():g} to {self.x.max():g} mm, "
            f"{self._tapers(unit)}"
        )

    def _tapers(self, unit):
        taper = nominal(self.taper)
        sure = expanded(self.taper, unit)
        if abs(taper) < NOTHING:
            return f"no taper{sure}"
        end = "tailstock" if taper > 0 else "headstock"
        return f"{show_length(abs(taper), unit)}{sure} larger at the {end} end"

    def to_dataframe(self, unit="um"):
        """Return the errors as a pandas table, a place along the ways a row."""
        from pandas import DataFrame

        sign = unit_sign(unit)
        columns = {"diameter": self.error, "into the work": self.into_work, "above": self.above}
        lengths = {
            f"{name} [{sign}]": from_millimetres(numbers(values), unit)
            for name, values in columns.items()
        }
        return DataFrame({"x [mm]": self.x, **lengths})

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return table("Turned diameter", [("error", self.in_words())])


def turned_diameter(saddle, drive, radius, *, headstock=None, tailstock=None, tool="front"):
    """Find the error of the turned diameter along the travel of the saddle.

    Parameters
    ----------
    saddle : Lowering
    drive : Drive
        With `spindle`, the line of centres.
    radius : float
        Of the work [mm].
    headstock, tailstock : Lowering, optional
        At one place each: work between centres; a headstock alone: work in a chuck. Without them
        the axis of the work stays where it is.
    tool : {"front", "rear"}
        Side from which the tool meets the work: the operator's (smaller y) or the back.

    Returns
    -------
    TurnedDiameter

    Raises
    ------
    InputError
        If there is no spindle line, the radius is not above zero, or a tailstock comes without a
        headstock or at several places.
    NotDeterminedError
        If no face holds the saddle sideways or in height.

    Notes
    -----
    With the tool moved s into the work and h in height against the axis, the radius becomes
    sqrt((r - s)² + h²). So a sidestep counts in full, a height hardly: sqrt(r² + h²) - r. Roll
    moves the tool sideways by roll times its height over the ways.

    What is alike along the travel goes when the tool is set anew; `value` and `taper` remain.
    Springing of work and tool are not in it.

    Examples
    --------
    The front flat lost 0.01 mm at one end: 200 mm apart, the tool 150 mm above the flats.

    >>> from metrolib import Carried, Drive, Face, lowering, turned_diameter
    >>> shape = {"width": 20, "x_from": 0, "x_to": 900}
    >>> faces = [Face("front", 0, **shape), Face("rear", 200, **shape)]
    >>> faces += [Face("guide", 0, normal=-90, **shape)]
    >>> faces = {face.name: face for face in faces}
    >>> saddle = Carried("saddle", tuple(faces), feet=(-50, 50), travel=(100, 800))
    >>> lower = lowering(saddle, faces, {"front": 0.01}, at=300)
    >>> print(turned_diameter(lower, Drive(spindle=(100, 150)), 20))
    diameter off by +15.0 µm
    """
    checks.kind("saddle", saddle, Lowering, "give what lowering returns")
    y, z = spindle_of(drive)
    radius = checks.number("radius", radius, above=0)
    checks.choice("tool", tool, TOOLS)
    towards = 1.0 if tool == "front" else -1.0
    side, up = saddle.at(y - towards * radius, z)
    axis_side, axis_up = _axis(saddle.x, drive, headstock, tailstock)
    into, above = (side - axis_side) * towards, up - axis_up
    if (numbers(into) >= radius).any():
        raise checks.wrong(
            "radius", "the tool moved beyond the axis", radius, "give the radius of the work in mm"
        )
    turned = ((radius - into) ** 2 + above**2) ** 0.5
    return TurnedDiameter(saddle.x, radius, (turned - radius) * 2.0, into, above)


def _axis(x, drive, headstock, tailstock):
    """Return how the axis of the work moves at places along the ways."""
    for name, body in (("headstock", headstock), ("tailstock", tailstock)):
        if body is not None:
            checks.kind(name, body, Lowering, "give what lowering returns")
    if headstock is None:
        if tailstock is not None:
            raise InputError("tailstock: work between centres has a headstock too; give both")
        return 0.0, 0.0
    nose = nose_of(headstock, drive)
    near = head_at(headstock, drive, nose)
    if tailstock is None:
        far, end = head_at(headstock, drive, nose + 1000), nose + 1000
    else:
        if tailstock.x.size != 1:
            raise checks.wrong(
                "tailstock", "it stands at one place", tailstock.x.size, "give at=place"
            )
        (far_side,), (far_up,) = tailstock.at(*drive.spindle)
        far, end = (far_side, far_up), float(tailstock.x[0])
    if end <= nose:
        raise checks.wrong(
            "tailstock", f"it stands before the spindle nose at {nose:g} mm", end, "move it out"
        )
    share = (x - nose) / (end - nose)
    return tuple(a + (b - a) * share for a, b in zip(near, far, strict=True))

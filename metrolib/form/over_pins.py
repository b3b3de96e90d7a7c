"""What a dovetail measures over pins in its acute corners, or between them."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.bench import bench_readings, pin_diameters, slopes_by_name
from metrolib.form.vee_pins import millimetres

#: Angles between flank and base lie between these [deg].
LEAST, MOST = 20.0, 160.0

_DEGREE = np.pi / 180


@dataclass(frozen=True, eq=False)
class OverPins:
    """What a dovetail measures over its pins, or between them.

    Attributes
    ----------
    value : float or `uncertainties` number
        [mm]
    internal : bool
        Measured between the pins.
    diameter : float
        [mm]
    sensitivity : dict of str to float
        How much it changes for one mm, or one degree, more of each.
    """

    value: object
    internal: bool
    diameter: float
    sensitivity: dict

    def __str__(self):
        where = "between" if self.internal else "over"
        return f"{millimetres(self.value)} {where} pins of {self.diameter:g} mm"

    __repr__ = __str__

    def _repr_html_(self):
        rows = [("between pins" if self.internal else "over pins", millimetres(self.value))]
        rows += [(f"for 1 more of {k}", f"{slope:+.3g}") for k, slope in self.sensitivity.items()]
        return wording.table(f"Pins of {self.diameter:g} mm", rows)


def over_pins(
    width, diameter, u=None, *, angle, internal=False, flanks=2, diameter_u=None, angle_u=None
):
    """Say what a dovetail of known width and angle measures over pins, or between them.

    Parameters
    ----------
    width : float
        At the base on which the pins lie [mm]; see `dovetail`, as for the other arguments.
    diameter : float
        Of the pins [mm].
    u : float, optional
        Standard uncertainty of the width [mm].
    angle : float or (float, float)
        [deg]
    internal, flanks, diameter_u, angle_u
        As for `dovetail`.

    Returns
    -------
    OverPins

    Raises
    ------
    InputError
        If width or pin has no size, an angle lies outside 20 to 160 deg, or the pins do not fit
        between the flanks.

    Examples
    --------
    >>> from metrolib.form.over_pins import over_pins
    >>> print(over_pins(40, 10, angle=60))
    67.321 mm over pins of 10 mm
    >>> print(over_pins(60, 10, angle=55, internal=True))
    30.790 mm between pins of 10 mm
    """
    if pin_diameters(diameter).size != 1:
        raise checks.wrong("diameter", "one size of pins is needed", diameter, "ask twice")
    check_flanks(flanks)
    parts = {"width": (width, u), "diameter": (diameter, diameter_u), "angle": (angle, angle_u)}
    readings = bench_readings(parts)
    away = -1.0 if internal else 1.0
    base, size = readings.values[:2]
    checks.number("width", base, above=0)
    factor, per_degree = pins_factor(readings.values[2:], flanks)
    if base + away * size * factor <= 0:
        raise checks.wrong(
            "diameter",
            f"nothing is left between pins of {base / factor:.4g} mm or more",
            f"{size:g} mm",
            "take smaller pins",
        )
    row = np.array([1.0, away * factor, *(away * size * per_degree)])
    return OverPins(
        value=readings.several(row[None, :], [base + away * size * factor])[0],
        internal=internal,
        diameter=float(size),
        sensitivity=slopes_by_name(["width", "diameter", *angle_names(len(per_degree))], row),
    )


def pins_factor(angles, flanks):
    """Return by how many diameters the pins add to the width, and its change with each angle."""
    if len(angles) not in (1, flanks):
        raise checks.wrong("angle", f"one angle, or {flanks}, are needed", len(angles), "correct")
    for angle in angles:
        check_angle(angle)
    half = np.asarray(angles) * _DEGREE / 2
    alike = flanks / len(angles)
    factor = (flanks + alike * np.sum(1 / np.tan(half))) / 2
    return factor, -alike / np.sin(half) ** 2 * _DEGREE / 4


def angle_names(count):
    """Return the names of the angles in a sensitivity."""
    return ["angle"] if count == 1 else ["angle 1", "angle 2"]


def check_flanks(flanks):
    """Refuse a measurement over other than one pin or two."""
    if flanks not in (1, 2):
        raise checks.wrong(
            "flanks", "a measurement lies over one pin or two", flanks, "give 1 or 2"
        )


def check_angle(angle):
    """Refuse an angle that no dovetail or ridge has."""
    if not LEAST <= angle <= MOST:
        raise checks.wrong(
            "angle",
            f"between flank and base it must lie between {LEAST:g} and {MOST:g} deg",
            f"{angle:.4g} deg",
            "check the sizes of the pins and what was measured over which",
        )

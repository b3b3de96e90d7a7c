"""A dovetail gauged with pins in its acute corners: its width, and its angle from two sizes."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.bench import bench_readings, pin_diameters, slopes_by_name
from metrolib.form.over_pins import angle_names, check_angle, check_flanks, pins_factor
from metrolib.form.vee_pins import angle_in_words, millimetres
from metrolib.uncertain.linear import Measured

_DEGREE = np.pi / 180


@dataclass(frozen=True, eq=False)
class Dovetail:
    """A dovetail as pins show it.

    Attributes
    ----------
    width : float or `uncertainties` number
        In the plane of the base on which the pins lie, between the lines where the flanks would
        meet it [mm].
    angle : float or `uncertainties` number, or tuple of two
        Between flank and base, through the air where the pin lies [deg]; of each flank where they
        were given one by one.
    internal : bool
    flanks : int
        2, or 1 for a measurement from a side face over one pin.
    diameter : ndarray, shape (1,) or (2,)
        [mm]
    sensitivity : dict of str to dict of str to float
        For ``"width"`` and, with two sizes of pins, ``"angle"``: how much it changes for one mm,
        or one degree, more of each reading.
    drawn_from : Measured
        The readings it came from, in the order of `sensitivity`.
    """

    width: object
    angle: object
    internal: bool
    flanks: int
    diameter: np.ndarray
    sensitivity: dict
    drawn_from: Measured

    @property
    def angles(self):
        """Angle of each flank that was gauged, floats [deg]."""
        given = self.angle if isinstance(self.angle, tuple) else (self.angle,) * self.flanks
        return tuple(wording.nominal(one) for one in given)

    @property
    def touch_height(self):
        """How high over the base each size of pin touches a flank, at most [mm]."""
        return self.diameter / 2 * (1 + np.cos(np.deg2rad(min(self.angles))))

    def width_at(self, height):
        """Return the width at a height over the base [mm]; where the flanks reach so far.

        Parameters
        ----------
        height : float
            [mm]

        Returns
        -------
        float or `uncertainties` number
        """
        height = checks.number("height", height)
        angles = self.angle if isinstance(self.angle, tuple) else (self.angle,) * self.flanks
        away = -1.0 if self.internal else 1.0
        return self.width + sum(away * height * _cotangent(angle) for angle in angles)

    def __str__(self):
        told = self.angle if isinstance(self.angle, tuple) else (self.angle,)
        kind = "internal" if self.internal else "external"
        touched = wording.listing(f"{at:.1f}" for at in self.touch_height)
        return (
            f"{kind} dovetail: width at its base {millimetres(self.width)}; flank at "
            f"{wording.listing(angle_in_words(one) for one in told)}; the pins touch the flanks "
            f"{touched} mm over the base"
        )

    __repr__ = __str__

    def _repr_html_(self):
        told = self.angle if isinstance(self.angle, tuple) else (self.angle,)
        rows = [("width at the base", millimetres(self.width))]
        rows += [("angle of a flank", angle_in_words(one)) for one in told]
        rows += [
            (f"{what} for 1 more of {name}", f"{slope:+.3g}")
            for what, slopes in self.sensitivity.items()
            for name, slope in slopes.items()
        ]
        return wording.table("Dovetail", rows)


def dovetail(
    diameter,
    measurement,
    u=None,
    *,
    angle=None,
    internal=False,
    flanks=2,
    diameter_u=None,
    angle_u=None,
):
    r"""Find the width of a dovetail from a measurement over pins; from two sizes its angle too.

    Parameters
    ----------
    diameter : float or (float, float)
        Of the pins: one pair, or two pairs of different size in turn [mm].
    measurement : float or (float, float)
        Over each pair of pins (between them, if internal) [mm]. All numbers may be
        `uncertainties` numbers.
    u : float or (float, float), optional
        Standard uncertainty of the measurements [mm].
    angle : float or (float, float), optional
        Between flank and base, through the air where the pin lies, with one size of pins [deg];
        two where the flanks differ. Above 90 for a ridge that narrows upward.
    internal : bool
        The hollow part: pins inside, measured between them.
    flanks : int
        2, or 1 where the measurement runs from a side face over one pin: so each flank shows its
        own angle.
    diameter_u, angle_u : float, optional
        Standard uncertainty of the pins [mm] and of the angle [deg].

    Returns
    -------
    Dovetail

    Raises
    ------
    InputError
        If there are more than two sizes of pins, two differ by less than a tenth, one comes
        without an angle or two with one, an angle lies outside 20 to 160 deg, or no width is left.

    Notes
    -----
    Over pins of diameter D in the corners of flanks at θ to the base,
    :math:`M = w + D (1 + \cot(\theta / 2))`; between pins, :math:`M = w - D (1 + \cot(\theta/2))`
    (Machinery's Handbook). The width w lies in the plane on which the pins lie, at the acute
    corners: of an external dovetail it is the narrow one. From two sizes the width is right
    whatever the flanks are; the angle is that of flanks alike, and where they differ its
    cot(θ/2) is the mean of theirs. One pair of pins is taken as alike, its error as common.

    Pins tell the sum of both sides, never which side wore.

    Examples
    --------
    >>> from metrolib.form.dovetail import dovetail
    >>> print(dovetail(10, 67.320, 0.003, angle=60, angle_u=0.05))
    external dovetail: width at its base 39.999 mm, U = 0.035 mm (k = 2); flank at 60.000 deg,
    U = 0.100 deg (k = 2); the pins touch the flanks 7.5 mm over the base
    """
    diameters = pin_diameters(diameter)
    check_flanks(flanks)
    if (angle is None) != (diameters.size == 2):
        raise checks.wrong(
            "angle",
            "one size of pins needs the angle, two sizes find it",
            f"{diameters.size} sizes and angle={angle}",
            "give one size with it or two without",
        )
    parts = {"diameter": (diameter, diameter_u), "measurement": (measurement, u)}
    if angle is not None:
        parts["angle"] = (angle, angle_u)
    readings = bench_readings(parts)
    if np.size(measurement) != diameters.size:
        raise checks.wrong(
            "measurement",
            f"one for each of {diameters.size} sizes is needed",
            measurement,
            "give them all",
        )
    away = -1.0 if internal else 1.0
    if angle is not None:
        factor, per_degree = pins_factor(readings.values[2:], flanks)
        size, over = readings.values[:2]
        values = [over - away * size * factor, *readings.values[2:]]
        rows = np.eye(len(values), readings.values.size, 1)
        rows[0] = [-away * factor, 1.0, *(-away * size * per_degree)]
        names = ["diameter", "measurement", *angle_names(len(per_degree))]
        told = {"width": rows[0]}
    else:
        values, rows = _two_sizes(readings.values, away, flanks)
        names = [f"{part} {pair}" for part in parts for pair in (1, 2)]
        told = {"width": rows[0], "angle": rows[1]}
    if values[0] <= 0:
        raise checks.wrong(
            "measurement",
            "it leaves the dovetail no width",
            f"{values[0]:.3f} mm of it",
            "check the size of the pins, and whether it was measured over or between them",
        )
    width, *found = readings.several(rows, values)
    return Dovetail(
        width=width,
        angle=found[0] if len(found) == 1 else tuple(found),
        internal=internal,
        flanks=flanks,
        diameter=diameters,
        sensitivity={what: slopes_by_name(names, row) for what, row in told.items()},
        drawn_from=readings,
    )


def _two_sizes(values, away, flanks):
    """Return width and angle, and how they answer to both diameters and both measurements."""
    unit = np.eye(4)
    size, apart = values[0] - values[1], unit[0] - unit[1]
    factor = away * (values[2] - values[3]) / size
    factor_row = (away * (unit[2] - unit[3]) - factor * apart) / size
    cotangent = 2 * factor / flanks - 1
    angle = 2 * np.arctan2(1.0, cotangent) / _DEGREE
    check_angle(angle)
    width = values[2] - away * values[0] * factor
    rows = [
        unit[2] - away * (factor * unit[0] + values[0] * factor_row),
        -2 / (1 + cotangent**2) / _DEGREE * 2 * factor_row / flanks,
    ]
    return [width, angle], np.array(rows)


def _cotangent(angle):
    """Return the cotangent of an angle [deg], of first order where it is uncertain."""
    at = wording.nominal(angle) * _DEGREE
    return 1 / np.tan(at) - (angle - wording.nominal(angle)) * _DEGREE / np.sin(at) ** 2

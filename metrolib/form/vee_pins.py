"""A vee gauged with pins: its angle, and where its apex lies."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.bench import bench_readings, pin_diameters, slopes_by_name
from metrolib.form.vee import FLATTEST, SHARPEST
from metrolib.uncertain.linear import Measured

_DEGREE = np.pi / 180


@dataclass(frozen=True, eq=False)
class VeeOverPins:
    """A hollow vee as one or two pins show it.

    Attributes
    ----------
    half_angle : float or `uncertainties` number
        Half of the angle between the flanks [deg]; as given, for one pin.
    apex : float or `uncertainties` number
        Height of the line where the flanks would meet [mm].
    lean : float or `uncertainties` number
        How far the middle between the flanks leans toward +y from the direction of the heights
        [deg]; 0 for flanks alike.
    apex_across : float or `uncertainties` number, or None
        Place of the apex across [mm], where the pins' places across were given.
    diameter, height : ndarray, shape (1,) or (2,)
        Of each pin: its size, and how high its top lies [mm].
    sensitivity : dict of str to dict of str to float
        For ``"apex"`` and, with two pins, ``"half_angle"``: how much it changes for one mm, or one
        degree, more of each reading.
    drawn_from : Measured
        The readings it came from, in the order of `sensitivity`.
    """

    half_angle: object
    apex: object
    lean: object
    apex_across: object
    diameter: np.ndarray
    height: np.ndarray
    sensitivity: dict
    drawn_from: Measured

    @property
    def normals(self):
        """Outward normals of the flank at smaller y and of the other, floats [deg]."""
        off, lean = 90 - wording.nominal(self.half_angle), wording.nominal(self.lean)
        return lean + off, lean - off

    @property
    def touches(self):
        """How far from the apex, along the flanks, each pin touches, shape of `diameter` [mm]."""
        return self.diameter / 2 / np.tan(wording.nominal(self.half_angle) * _DEGREE)

    def top(self, diameter):
        """Return how high the top of another pin must lie, if the flanks are plane.

        Parameters
        ----------
        diameter : float or `uncertainties` number
            [mm]

        Returns
        -------
        float or `uncertainties` number
            [mm]; a reading that differs by more than its uncertainty tells of worn flanks.
        """
        pin_diameters(diameter)
        half_angle, lean = wording.nominal(self.half_angle), wording.nominal(self.lean)
        rise = np.cos(lean * _DEGREE) / np.sin(half_angle * _DEGREE)
        # of first order in what is not known of the angles
        less = (self.half_angle - half_angle) * _DEGREE / np.tan(half_angle * _DEGREE)
        less += (self.lean - lean) * _DEGREE * np.tan(lean * _DEGREE)
        return self.apex + diameter / 2 * (1 + rise - rise * less)

    def __str__(self):
        lean = wording.nominal(self.lean)
        leaning = "" if lean == 0 else f", leaning {lean:+.4g} deg toward +y"
        touched = wording.listing(f"{at:.1f}" for at in self.touches)
        return (
            f"vee with a half angle of {angle_in_words(self.half_angle)}{leaning}; its apex lies "
            f"at {millimetres(self.apex)}; the flanks are touched {touched} mm from the apex"
        )

    __repr__ = __str__

    def _repr_html_(self):
        rows = [
            ("half angle", angle_in_words(self.half_angle)),
            ("lean toward +y", f"{wording.nominal(self.lean):.4g} deg"),
            ("height of the apex", millimetres(self.apex)),
        ]
        rows += [
            (f"{what} for 1 more of {name}", f"{slope:+.3g}")
            for what, slopes in self.sensitivity.items()
            for name, slope in slopes.items()
        ]
        return wording.table("Vee over pins", rows)


def vee_over_pins(
    diameter,
    height,
    u=None,
    *,
    half_angle=None,
    lean=0.0,
    across=None,
    diameter_u=None,
    angle_u=None,
):
    r"""Find the apex of a hollow vee from one pin, and its angle as well from two of unlike size.

    Parameters
    ----------
    diameter : float or (float, float)
        Of the pin, or of both pins in turn [mm].
    height : float or (float, float)
        Height of the top of each pin over one datum [mm]. All numbers may be `uncertainties`
        numbers.
    u : float or (float, float), optional
        Standard uncertainty of the heights, and of `across` [mm].
    half_angle : float, optional
        Half of the angle between the flanks, with one pin [deg].
    lean : float
        How far the middle between the flanks leans toward +y from the direction of the heights
        [deg], where that is known: half the difference of the flanks' angles.
    across : (float, float), optional
        Places of the two pins' centres across [mm]; they tell the lean.
    diameter_u : float or (float, float), optional
        Standard uncertainty of the pins [mm].
    angle_u : float, optional
        Standard uncertainty of `half_angle` [deg].

    Returns
    -------
    VeeOverPins

    Raises
    ------
    InputError
        If there are more than two pins, two differ by less than a tenth, one comes without a half
        angle or two with one, the half angle lies outside 5 to 85 deg, or the lean reaches it.

    Notes
    -----
    The centre of a pin of radius r lies :math:`r / \sin\alpha` from the apex, on the line midway
    between the flanks, so its top lies :math:`r (1 + \cos\beta / \sin\alpha)` above the apex, with
    the half angle α and the lean β. Two pins give, without lean,
    :math:`\sin\alpha = (D_1 - D_2) / (2 (H_1 - H_2) - (D_1 - D_2))`. The flanks count as planes
    between the lines touched; a worn flank has another angle lower down.

    Examples
    --------
    >>> from metrolib.form.vee_pins import vee_over_pins
    >>> print(vee_over_pins((25, 15), (30.178, 18.107), 0.002, diameter_u=0.0005))
    vee with a half angle of 45.001 deg, U = 0.048 deg (k = 2); its apex lies at 0.000 mm,
    U = 0.012 mm (k = 2); the flanks are touched 12.5 and 7.5 mm from the apex
    """
    diameters = pin_diameters(diameter)
    if (half_angle is None) != (diameters.size == 2):
        raise checks.wrong(
            "half_angle",
            "one pin needs the half angle, two pins find it",
            f"{diameters.size} pins and half_angle={half_angle}",
            "give one pin with it or two without",
        )
    if across is not None and diameters.size == 1:
        raise checks.wrong("across", "one pin tells no lean", "one pin", "give two or the lean")
    lean = checks.number("lean", lean)
    if across is not None and lean != 0:
        raise checks.wrong("lean", "the places across tell it already", lean, "give one of the two")
    parts = {"diameter": (diameter, diameter_u), "height": (height, u)}
    if half_angle is not None:
        parts["half_angle"] = (half_angle, angle_u)
    if across is not None:
        parts["across"] = (across, u)
    readings = bench_readings(parts)
    if readings.values.size != len(parts) * diameters.size:
        raise checks.wrong(
            "height", f"one for each of {diameters.size} pins is needed", height, "give them all"
        )
    law = _one_pin if half_angle is not None else _two_pins
    values, rows = law(readings.values, lean, across is not None)
    leaning = values[2] if across is not None else lean
    _check_vee(values[0], leaning)
    found = readings.several(rows, values)
    pins = [""] if half_angle is not None else [" 1", " 2"]
    names = [f"{part}{pin}" for part in parts for pin in pins]
    told = {"half_angle": rows[0], "apex": rows[1]}
    if half_angle is not None:
        del told["half_angle"]
    return VeeOverPins(
        half_angle=found[0],
        apex=found[1],
        lean=found[2] if across is not None else lean,
        apex_across=found[3] if across is not None else None,
        diameter=diameters,
        height=readings.values[diameters.size : 2 * diameters.size],
        sensitivity={what: slopes_by_name(names, row) for what, row in told.items()},
        drawn_from=readings,
    )


def _one_pin(values, lean, _):
    """Return half angle and apex, and how they answer to diameter, height and half angle."""
    diameter, height, half_angle = values
    _check_vee(half_angle, lean)
    sine, cosine = np.sin(half_angle * _DEGREE), np.cos(half_angle * _DEGREE)
    rise = np.cos(lean * _DEGREE) / sine
    apex = height - diameter / 2 * (1 + rise)
    tilted = diameter / 2 * rise * cosine / sine * _DEGREE
    return [half_angle, apex], np.array([[0, 0, 1.0], [-(1 + rise) / 2, 1.0, tilted]])


def _two_pins(values, lean, placed):
    """Return half angle, apex, lean and place of the apex, and how they answer to the readings."""
    unit = np.eye(values.size)
    size, apart = values[0] - values[1], unit[0] - unit[1]
    rise = 2 * (values[2] - values[3]) / size - 1  # of the centre, for 1 mm of radius
    rise_row = (2 * (unit[2] - unit[3]) - (rise + 1) * apart) / size
    aside, aside_row = rise * np.tan(lean * _DEGREE), rise_row * np.tan(lean * _DEGREE)
    if placed:
        aside = 2 * (values[4] - values[5]) / size
        aside_row = (2 * (unit[4] - unit[5]) - aside * apart) / size
    away = np.hypot(rise, aside)
    if rise <= 0 or away <= 1:
        raise checks.wrong(
            "height",
            "no vee holds these pins: per mm of radius the centre must rise by more than 1 mm",
            f"{rise:.4g} mm",
            "check which height belongs to which pin",
        )
    away_row = (rise * rise_row + aside * aside_row) / away
    values_of = [
        np.arcsin(1 / away) / _DEGREE,
        values[2] - values[0] / 2 * (1 + rise),
    ]
    rows = [
        -away_row / (away * np.sqrt(away**2 - 1)) / _DEGREE,
        unit[2] - (1 + rise) / 2 * unit[0] - values[0] / 2 * rise_row,
    ]
    if placed:
        values_of += [np.arctan2(aside, rise) / _DEGREE, values[4] - values[0] / 2 * aside]
        rows += [
            (rise * aside_row - aside * rise_row) / away**2 / _DEGREE,
            unit[4] - aside / 2 * unit[0] - values[0] / 2 * aside_row,
        ]
    return values_of, np.array(rows)


def _check_vee(half_angle, lean):
    """Refuse a half angle that no vee has, and a vee that leans until the pin falls out."""
    if not SHARPEST <= half_angle <= FLATTEST:
        raise checks.wrong(
            "half_angle",
            f"a vee has one between {SHARPEST:g} and {FLATTEST:g} deg",
            f"{half_angle:.4g} deg",
            "check the sizes of the pins and their heights",
        )
    if abs(lean) >= half_angle:
        raise checks.wrong(
            "lean",
            f"it must be less than the half angle, {half_angle:.4g} deg, or the pin falls out",
            f"{lean:.4g} deg",
            "correct it",
        )


def angle_in_words(angle):
    """Say an angle [deg], with its expanded uncertainty where it is not exact."""
    u = wording.uncertainty(angle)
    sure = "" if not u else f", U = {2 * u:.3f} deg (k = 2)"
    return f"{wording.nominal(angle):.3f} deg{sure}"


def millimetres(number):
    """Say a size in mm, with its expanded uncertainty where it has one."""
    u = wording.uncertainty(number)
    sure = "" if u is None else f", U = {2 * u:.3f} mm (k = 2)"
    return f"{round(wording.nominal(number), 3) + 0.0:.3f} mm{sure}"

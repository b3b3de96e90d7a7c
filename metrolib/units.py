"""Units: the only conversion factors of the library, and numbers as a bench sheet shows them.

Inside the library every length is in mm, every slope in mm/m, every temperature in degC.
"""

from scipy.constants import arcminute, arcsecond, foot, inch

from metrolib import checks

#: What one unit of length is in mm.
LENGTHS = {"mm": 1.0, "um": 1e-3, "in": inch * 1e3, "thou": inch}

#: What one unit of slope is in mm/m (which is the tangent times 1000).
SLOPES = {
    "mm/m": 1.0,
    "um/m": 1e-3,
    "arcsec": arcsecond * 1e3,
    "arcmin": arcminute * 1e3,
    "in/ft": inch / foot * 1e3,
    "thou/ft": inch / foot,
}

#: Units in which results are shown, with the digits that a bench sheet gives them.
DISPLAYS = {"um": 1, "thou": 2}

_SIGNS = {"um": "µm", "thou": "thou"}


def to_millimetres(value, unit):
    """Convert a length to mm.

    Parameters
    ----------
    value : float or ndarray
        Length in `unit`.
    unit : str
        One of ``"mm"``, ``"um"``, ``"in"``, ``"thou"``.

    Raises
    ------
    InputError
        If the unit is none of these.

    Examples
    --------
    >>> round(to_millimetres(30, "thou"), 3)
    0.762
    """
    checks.choice("unit", unit, LENGTHS)
    return value * LENGTHS[unit]


def from_millimetres(value, unit):
    """Convert a length in mm to `unit`; the reverse of `to_millimetres`.

    Examples
    --------
    >>> round(from_millimetres(0.05, "thou"), 2)
    1.97
    """
    checks.choice("unit", unit, LENGTHS)
    return value / LENGTHS[unit]


def show_length(value, unit, *, digits=None, sign=False):
    """Write a length in mm as a bench sheet shows it.

    Parameters
    ----------
    value : float
        Length [mm].
    unit : str
        ``"um"`` or ``"thou"``.
    digits : int, optional
        Digits after the decimal point; the unit's usual ones when not given.
    sign : bool
        Write a plus sign too.

    Examples
    --------
    >>> show_length(0.15, "um"), show_length(0.15, "thou")
    ('150.0 µm', '5.91 thou')
    """
    checks.choice("unit", unit, DISPLAYS)
    digits = DISPLAYS[unit] if digits is None else digits
    shown = from_millimetres(value, unit)
    shown = 0.0 if round(shown, digits) == 0 else shown  # no "-0.0" on a bench sheet
    return f"{shown:{'+' if sign else ''}.{digits}f} {_SIGNS[unit]}"


def unit_sign(unit):
    """Return how a display unit is written, e.g. ``"µm"``."""
    checks.choice("unit", unit, DISPLAYS)
    return _SIGNS[unit]

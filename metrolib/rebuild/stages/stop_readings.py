"""Stop readings: what a gauge reads when a stage is done, rounded so that nothing ends too low."""

from dataclasses import dataclass

import numpy as np

from metrolib.rebuild.stages.gauges import Gauge
from metrolib.units import LENGTHS, unit_sign

_SLACK = 1e-7  # of a division: rounding errors of the machine must not cost a whole one
_LARGE = {"um": "mm", "thou": "in"}  # the unit that a size across is read in
#: What an instrument in such a unit is read in, however lengths are displayed elsewhere.
_OWN = {"um": "um", "mm": "um", "thou": "thou", "in": "thou"}


@dataclass(frozen=True, eq=False)
class StopReadings:
    """What a gauge reads on one face when a stage is done.

    Attributes
    ----------
    gauge : Gauge
    stations : ndarray of int, shape (m,)
        Where it can read, as places in the arrays of the plan.
    x : ndarray, shape (m,)
        [mm]
    exact : ndarray, shape (m,)
        What it reads at the stop [mm].
    reading : ndarray, shape (m,)
        The same, rounded to its division on the side of more metal [mm].
    u : ndarray, shape (m,)
        Standard uncertainty of the height at which the face then lies, against the target in the
        plan's frame: of what is measured from, of the scale, and of one reading [mm].
    """

    gauge: Gauge
    stations: np.ndarray
    x: np.ndarray
    exact: np.ndarray
    reading: np.ndarray
    u: np.ndarray

    def sign(self, unit="um"):
        """Return the unit that the instrument is read in: of a size across ``"mm"`` or ``"in"``.

        Parameters
        ----------
        unit : str
            Display unit, ``"um"`` or ``"thou"``, for an instrument that has neither of its own: a
            metric micrometer is set in mm, whatever the plan is shown in.
        """
        own = self._system(unit)
        return _LARGE[own] if self.gauge.absolute else unit_sign(own)

    def numbers(self, unit="um"):
        """Return the readings as texts, as the instrument shows them; shape (m,).

        Parameters
        ----------
        unit : str
            Display unit, ``"um"`` or ``"thou"``.
        """
        own = self._system(unit)
        read_in = _LARGE[own] if self.gauge.absolute else own
        step, digits = _digits(self.gauge.division, read_in)
        # a unit that the division does not fit is rounded once more, and on the same side
        shown = safe_side(self.reading, step, self.gauge.traverse.sign) / LENGTHS[read_in]
        return [_plain(value, digits) for value in shown]

    def _system(self, unit):
        """Return ``"um"`` or ``"thou"``, as the instrument is divided."""
        return _OWN.get(self.gauge.instrument.unit, unit)

    def written(self, unit="um"):
        """Return the readings as texts with their unit; shape (m,)."""
        return [f"{number} {self.sign(unit)}" for number in self.numbers(unit)]


def stop_readings(plan, seen, left):
    """Return what a gauge reads when so much is left to come off.

    Parameters
    ----------
    plan : RemovalPlan
    seen : Watch
    left : ndarray, shape (n,)
        At all stations of the plan [mm].

    Returns
    -------
    StopReadings
    """
    taken = (plan.depth - left)[seen.stations]
    exact = seen.reading(taken)
    reading = safe_side(exact, seen.gauge.division, seen.gauge.traverse.sign)
    return StopReadings(
        seen.gauge, seen.stations, plan.x[seen.stations], exact, reading, seen.u(exact)
    )


def safe_side(reading, division, sign):
    """Round readings to a division so that the face is never cut lower than meant.

    Parameters
    ----------
    reading : float or ndarray
        [mm]
    division : float
        [mm]
    sign : int
        +1 where the reading rises with the metal, such as a size across, whichever of its two faces
        is cut: rounded up; -1 where it falls: rounded down.

    Returns
    -------
    float or ndarray
        As `reading` [mm].

    Examples
    --------
    >>> round(float(safe_side(26.1234, 0.01, 1)), 3), round(float(safe_side(-0.0234, 0.002, -1)), 3)
    (26.13, -0.024)
    """
    steps = np.asarray(reading) / division
    return (np.ceil(steps - _SLACK) if sign > 0 else np.floor(steps + _SLACK)) * division


def _digits(division, unit):
    """Return the step of what is written [mm] and the digits that it takes."""
    step = division / LENGTHS[unit]
    for digits in range(5):
        if abs(step - round(step, digits)) < 1e-9 * step and round(step, digits) > 0:
            return division, digits
    digits = max(0, int(np.ceil(-np.log10(step))))
    return LENGTHS[unit] * 10.0**-digits, digits


def _plain(value, digits):
    """Write a number, and no "-0"."""
    return f"{round(value, digits) + 0.0:.{digits}f}"

"""Centres: the tailstock's centre against the headstock's."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form.wording import nominal
from metrolib.rebuild.lowering.lowering import Lowering
from metrolib.rebuild.lowering.lowering_words import (
    NOTHING,
    length,
    numbers,
    table_with_factor,
    tilt_span,
    with_factor,
)
from metrolib.units import from_millimetres, show_length, unit_sign

#: How high the tailstock's centre may stand over the headstock's, and never below it: common
#: practice for lathes up to 800 mm swing, as test charts print it [mm].
LIMITS = (0.0, 0.04)


@dataclass(frozen=True, eq=False)
class CentreOffset:
    """Where the tailstock's centre stands against the headstock's.

    Attributes
    ----------
    x : ndarray, shape (P,)
        Places of the tailstock's middle [mm].
    height : ndarray, shape (P,)
        Tailstock's centre above the headstock's: floats or `uncertainties` numbers [mm].
    side : ndarray, shape (P,)
        Tailstock's centre towards +y of the headstock's [mm].
    spindle_up, spindle_side : float or `uncertainties` number
        How the spindle's direction turned: rising, and towards +y, away from the headstock [mm/m].
    limits : tuple of float
        Lowest and highest `height` that is accepted [mm].
    """

    x: np.ndarray
    height: np.ndarray
    side: np.ndarray
    spindle_up: object
    spindle_side: object
    limits: tuple[float, float]

    @property
    def value(self):
        """The height [mm], shape (P,)."""
        return self.height

    @property
    def raise_by(self):
        """What brings the lowest height to the middle of the limits [mm]; below zero: lower it."""
        height = self.height[int(numbers(self.height).argmin())]
        return sum(self.limits) / 2 - height

    def in_words(self, unit="um"):
        """Say where the centre stands, and what to do."""
        ways = ("high by", "low by", "at the headstock's height")
        said = [f"tailstock centre {length(self.x, self.height, unit, ways)}"]
        ways = ("towards +y by", "towards -y by", "not aside")
        said.append(length(self.x, self.side, unit, ways))
        low, high = self.limits
        plain = numbers(self.height)
        band = f"{show_length(low, unit)} to {show_length(high, unit)} high"
        if plain.min() < low - NOTHING or plain.max() > high + NOTHING:
            by = nominal(self.raise_by)
            verb = "raise" if by > 0 else "lower"
            said.append(f"outside {band}: {verb} it by {show_length(abs(by), unit)}")
        else:
            said.append(f"inside {band}")
        turned = [f"{said} {way}" for way, said in self._turned().items() if said]
        said.append(f"spindle turned {', '.join(turned)}" if turned else "spindle not turned")
        return with_factor("; ".join(said))

    def _turned(self):
        """Say how the spindle's direction turned, each way; nothing where it surely did not."""
        turns = {"upward": self.spindle_up, "towards +y": self.spindle_side}
        return {way: tilt_span(np.zeros(1), np.array([turn])) for way, turn in turns.items()}

    def to_dataframe(self, unit="um"):
        """Return the offsets as a pandas table, a place of the tailstock a row."""
        from pandas import DataFrame

        sign = unit_sign(unit)
        return DataFrame(
            {
                "x [mm]": self.x,
                f"height [{sign}]": from_millimetres(numbers(self.height), unit),
                f"side [{sign}]": from_millimetres(numbers(self.side), unit),
            }
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        ways = ("+", "-", "0")
        return table_with_factor(
            "Tailstock centre against headstock centre",
            [
                ("height", length(self.x, self.height, "um", ways)),
                ("towards +y", length(self.x, self.side, "um", ways)),
                *((f"spindle {way}", said or "not turned") for way, said in self._turned().items()),
            ],
        )


def centre_offset(headstock, tailstock, drive, *, before=(0.0, 0.0), limits=LIMITS):
    """Find where the tailstock's centre stands against the headstock's.

    Parameters
    ----------
    headstock : Lowering
        At its one place.
    tailstock : Lowering
        At the places of its travel.
    drive : Drive
        With `spindle`, the line of centres, and `spindle_nose` where that is not at the
        headstock's furthest foot.
    before : tuple of (float or `uncertainties` number)
        Height and side offset that were measured before [mm].
    limits : tuple of float
        Lowest and highest height that is accepted [mm].

    Returns
    -------
    CentreOffset

    Raises
    ------
    InputError
        If the drive has no spindle line, the headstock stands at more than one place, or the limits
        are not ascending.
    NotDeterminedError
        If no face holds one of them sideways or in height.

    Notes
    -----
    The tailstock's sleeve is as long as its base: its centre is taken at its middle. A headstock
    warms up and rises (an iron one of 250 mm by 39 µm for 15 K), so a cold tailstock should stand
    high: common practice.

    Examples
    --------
    The tailstock's flats lost 0.05 mm, the headstock stands on others:

    >>> from metrolib import Carried, Drive, Face, centre_offset, lowering
    >>> shape = {"width": 20, "x_from": 0, "x_to": 900}
    >>> faces = [Face("front", 0, **shape), Face("rear", 200, **shape)]
    >>> faces += [Face("guide", -10, normal=-90, **shape)]
    >>> faces = {face.name: face for face in faces}
    >>> head = Carried("headstock", tuple(faces), feet=(-80, 80), travel=(90, 90))
    >>> tail = Carried("tailstock", tuple(faces), feet=(-80, 80), travel=(700, 700))
    >>> moved = [lowering(head, faces, {}), lowering(tail, faces, {"front": 0.05, "rear": 0.05})]
    >>> print(centre_offset(*moved, Drive(spindle=(100, 150))))
    tailstock centre low by 50.0 µm; not aside; outside 0.0 µm to 40.0 µm high: raise it by
    70.0 µm; spindle not turned
    """
    y, z = spindle_of(drive)
    for name, body in (("headstock", headstock), ("tailstock", tailstock)):
        checks.kind(name, body, Lowering, "give what lowering returns")
    if headstock.x.size != 1:
        raise checks.wrong("headstock", "it stands at one place", headstock.x.size, "give at=place")
    low, high = checks.pair("limits", limits)
    if not isinstance(before, tuple | list) or len(before) != 2:
        raise checks.wrong("before", "two numbers are needed", repr(before), "give (height, side)")
    for number in before:
        checks.quantity("before", number)
    if low >= high:
        raise checks.wrong("limits", "they are not ascending", limits, "write the lower one first")
    head_side, head_up = head_at(headstock, drive, nose_of(headstock, drive))
    tail_side, tail_up = tailstock.at(y, z)
    far_side, far_up = head_at(headstock, drive, nose_of(headstock, drive) + 1000)
    return CentreOffset(
        tailstock.x,
        tail_up - head_up + before[0],
        tail_side - head_side + before[1],
        far_up - head_up,
        far_side - head_side,
        (low, high),
    )


def spindle_of(drive):
    """Return where the line of centres lies, (y, z) [mm].

    Raises
    ------
    InputError
        If the drive has none.
    """
    if drive is None or drive.spindle is None:
        raise checks.wrong("drive", "it has no spindle line", drive, "add spindle = [y, z]")
    return checks.pair("spindle", drive.spindle)


def nose_of(headstock: Lowering, drive):
    """Return where along the ways the headstock's centre stands [mm]."""
    if drive.spindle_nose is not None:
        return drive.spindle_nose
    return float(headstock.x[0] + max(headstock.body.feet_of(n)[1] for n in headstock.faces))


def head_at(headstock, drive, x):
    """Return how the spindle's axis moves at a place along the ways, towards +y and upward [mm]."""
    side, up = headstock.at(*drive.spindle, x=x - float(headstock.x[0]))
    return side[0], up[0]

"""Drive: lead screw, feed rod, rack and half-nut after the saddle has dropped."""

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
    with_factor,
)
from metrolib.survey.carried import HALF_NUTS, PINIONS, Drive
from metrolib.units import from_millimetres, show_length, unit_sign

#: How far the line of the half-nut may lie off the screw; common practice, as one printed
#: inspection record of a lathe has it [mm].
LIMIT = 0.1


@dataclass(frozen=True, eq=False)
class DriveOffsets:
    """Where what hangs on the saddle stands against what stayed on the bed.

    Each offset is an ndarray of floats or `uncertainties` numbers, shape (P,) [mm]; None where the
    drive does not have that part.

    Attributes
    ----------
    x : ndarray, shape (P,)
        Places of the saddle's middle [mm].
    screw_height, screw_side : ndarray or None
        Half-nut against the lead screw's axis: above it, and towards +y of it.
    rod_height, rod_side : ndarray or None
        The same of the worm or bevel on the feed rod.
    rack_opening : ndarray or None
        How much less deep the pinion runs in the rack; below zero where it runs deeper.
    backlash : ndarray or None
        Change of the backlash along the pitch line.
    nut_opening : ndarray or None
        Depth of thread that one half of the nut loses.
    nut_play : ndarray or None
        Axial play that this opens at that half.
    limit : float
        How far the half-nut may lie off the screw [mm].
    drive : Drive
    """

    x: np.ndarray
    screw_height: np.ndarray | None
    screw_side: np.ndarray | None
    rod_height: np.ndarray | None
    rod_side: np.ndarray | None
    rack_opening: np.ndarray | None
    backlash: np.ndarray | None
    nut_opening: np.ndarray | None
    nut_play: np.ndarray | None
    limit: float
    drive: Drive

    @property
    def value(self):
        """The largest offset of half-nut against screw, in height or sideways [mm], with its sign.

        None without a lead screw.
        """
        if self.screw_height is None:
            return None
        offsets = np.concatenate([self.screw_height, self.screw_side])
        return offsets[int(np.abs(numbers(offsets)).argmax())]

    @property
    def too_far(self):
        """Places where the half-nut lies further off the screw than the limit, shape (m,) [mm]."""
        if self.screw_height is None:
            return np.zeros(0)
        off = np.abs([numbers(self.screw_height), numbers(self.screw_side)]).max(axis=0)
        return self.x[off > self.limit + NOTHING]

    @property
    def engagement(self):
        """Share of its thread depth that the nut's worse half keeps, shape (P,); or None."""
        if self.nut_opening is None or self.drive.thread_depth is None:
            return None
        return np.maximum(1 - numbers(self.nut_opening) / self.drive.thread_depth, 0.0)

    def in_words(self, unit="um"):
        """Say where the parts stand, and what to do.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        said = [f"{name}: {told}" for name, told in self._rows(unit)]
        if self.screw_height is not None:
            said.append(self._verdict(unit))
        return with_factor("; ".join(said)) + "."

    def _rows(self, unit):
        rows = []
        if self.screw_height is not None:
            rows.append(("half-nut", self._off(self.screw_height, self.screw_side, unit)))
        if self.rod_height is not None:
            told = self._off(self.rod_height, self.rod_side, unit)
            rows.append(("feed-rod drive", told.replace("the screw", "the rod")))
        if self.rack_opening is not None:
            ways = ("runs less deep by", "runs deeper by", "runs as deep as before")
            told = f"pinion {length(self.x, self.rack_opening, unit, ways)}"
            ways = ("grows by", "shrinks by", "stays")
            rows.append(("rack", f"{told}, backlash {length(self.x, self.backlash, unit, ways)}"))
        if self.engagement is not None:
            kept, play = 100 * self.engagement.min(), numbers(self.nut_play).max()
            told = f"one half of the nut keeps {kept:.0f} % of its depth"
            rows.append(("thread", f"{told}, its axial play grows by {show_length(play, unit)}"))
        return rows

    def _off(self, height, side, unit):
        ways = ("above the screw by", "below the screw by", "at the screw's height")
        told = length(self.x, height, unit, ways)
        ways = ("towards +y of it by", "towards -y of it by", "not aside")
        return f"{told}, {length(self.x, side, unit, ways)}"

    def _verdict(self, unit):
        limit = show_length(self.limit, unit, digits=0 if unit == "um" else None)
        if not self.too_far.size:
            return f"nowhere further off than {limit}"
        moves = [
            f"{way} by {self._at_the_ends(offsets, unit)}"
            for way, offsets in (("in height", self.screw_height), ("sideways", self.screw_side))
            if (np.abs(numbers(offsets)) > self.limit + NOTHING).any()
        ]
        return (
            f"further off than {limit} from {self.too_far.min():g} to {self.too_far.max():g} mm: "
            f"move the screw's brackets {', '.join(moves)}, or restore the saddle"
        )

    def _at_the_ends(self, offsets, unit):
        """Say offsets at both ends of the travel."""
        ends = dict.fromkeys([int(self.x.argmin()), int(self.x.argmax())])
        said = [(show_length(nominal(offsets[k]), unit, sign=True), self.x[k]) for k in ends]
        if len({offset for offset, _ in said}) == 1:
            return said[0][0]
        return " and ".join(f"{offset} at x {x:g} mm" for offset, x in said)

    def to_dataframe(self, unit="um"):
        """Return the offsets as a pandas table, a place along the ways a row."""
        from pandas import DataFrame

        names = (
            "screw_height",
            "screw_side",
            "rod_height",
            "rod_side",
            "rack_opening",
            "backlash",
            "nut_opening",
            "nut_play",
        )
        columns = {"x [mm]": self.x}
        for name in names:
            if (values := getattr(self, name)) is not None:
                head = f"{name.replace('_', ' ')} [{unit_sign(unit)}]"
                columns[head] = from_millimetres(numbers(values), unit)
        return DataFrame(columns)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return table_with_factor("Drive", self._rows("um"))


def drive_offsets(saddle, drive, *, limit=LIMIT):
    """Find how lead screw, feed rod, rack and half-nut stand after the saddle has moved.

    Parameters
    ----------
    saddle : Lowering
        Of the saddle, with its apron.
    drive : Drive
        What stayed on the bed.
    limit : float
        How far the half-nut may lie off the screw, in height or sideways [mm]; 0.1 is common
        practice.

    Returns
    -------
    DriveOffsets

    Raises
    ------
    InputError
        If the drive has neither screw, rod nor rack, or the limit is not above zero.
    NotDeterminedError
        If no face holds the saddle sideways or in height.

    Notes
    -----
    A pinion that runs under the rack moves out of mesh as the saddle drops, one that runs over it
    into mesh. The flanks of a rack are straight, so d out of mesh opens the backlash by
    2 d tan(pressure angle), measured along the pitch line.

    The two halves of a nut close onto the screw from two sides. An offset along that direction
    takes as much depth of thread from one half, and opens its axial play by 2 d tan(flank angle);
    the other half meets the screw first and bends it: it binds near the brackets, where the screw
    cannot give.

    Examples
    --------
    A saddle on two flats and a guide drops by 0.2 mm:

    >>> from metrolib import Carried, Drive, Face, drive_offsets, lowering
    >>> shape = {"width": 20, "x_from": 0, "x_to": 900}
    >>> faces = [Face("front", 0, **shape), Face("rear", 200, **shape)]
    >>> faces += [Face("guide", -10, normal=-90, **shape)]
    >>> faces = {face.name: face for face in faces}
    >>> saddle = Carried("saddle", tuple(faces), feet=(-100, 100), travel=(100, 800))
    >>> lower = lowering(saddle, faces, {"front": 0.2, "rear": 0.2}, at=300)
    >>> print(drive_offsets(lower, Drive(rack=(-10, -40), pinion="under the rack")))
    rack: pinion runs less deep by 200.0 µm, backlash grows by 145.6 µm.
    """
    checks.kind("saddle", saddle, Lowering, "give what lowering returns")
    limit = checks.number("limit", limit, above=0)
    if drive is None or (drive.lead_screw, drive.feed_rod, drive.rack) == (None, None, None):
        raise checks.wrong(
            "drive", "it has neither screw, rod nor rack", drive, "add their places to [drive]"
        )
    checks.kind("drive", drive, Drive, "describe it as Drive(...)")
    checks.choice("pinion", drive.pinion, PINIONS)
    checks.choice("half_nut", drive.half_nut, HALF_NUTS)
    for key in ("pressure_angle", "thread_flank"):
        angle = checks.number(key, getattr(drive, key), at_least=0)
        if angle >= 45:
            raise checks.wrong(key, "it must be below 45 degrees", angle, "correct it")
    screw_side, screw_height = _moved(saddle, drive, "lead_screw")
    rod_side, rod_height = _moved(saddle, drive, "feed_rod")
    _, rack_height = _moved(saddle, drive, "rack")
    opening = backlash = nut_opening = nut_play = None
    if rack_height is not None:
        opening = -rack_height if drive.pinion == PINIONS[0] else rack_height
        backlash = opening * (2 * _tan(drive.pressure_angle))
    if screw_height is not None:
        along = screw_height if drive.half_nut == HALF_NUTS[0] else screw_side
        nut_opening = along * np.where(numbers(along) < 0, -1.0, 1.0)
        nut_play = nut_opening * (2 * _tan(drive.thread_flank))
    return DriveOffsets(
        saddle.x,
        screw_height,
        screw_side,
        rod_height,
        rod_side,
        opening,
        backlash,
        nut_opening,
        nut_play,
        limit,
        drive,
    )


def _moved(saddle, drive, part):
    """Return how the apron moves at a part of the drive, towards +y and upward; None without it."""
    place = getattr(drive, part)
    return (None, None) if place is None else saddle.at(*checks.pair(part, place))


def _tan(degrees):
    return float(np.tan(np.deg2rad(degrees)))

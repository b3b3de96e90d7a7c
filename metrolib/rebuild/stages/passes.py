"""Pass numbers: how many passes each zone needs, in which order, and when to measure again."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.rebuild.stages.rates import RemovalRate
from metrolib.survey.methods import Method
from metrolib.units import from_millimetres, show_length, unit_sign


@dataclass(frozen=True, eq=False)
class PassNumbers:
    """Numbers to write on the iron, for one round.

    Attributes
    ----------
    value : int
        Passes in the deepest zone.
    face : ndarray of str, shape (n,)
    x : ndarray, shape (n,)
        Middle of each zone [mm].
    depth : ndarray, shape (n,)
        What is to come off [mm].
    passes : ndarray of int, shape (n,)
        Whole passes that stay within it; 0 also where the first would be one too many to be sure.
    per_pass, per_pass_u : float
        What a pass takes at one place, and its standard uncertainty, common to all passes there
        [mm].
    stop_after : int
        After so many of the `value` passes the round ends and is measured.
    """

    value: int
    face: np.ndarray
    x: np.ndarray
    depth: np.ndarray
    passes: np.ndarray
    per_pass: float
    per_pass_u: float
    stop_after: int

    def zones(self, number):
        """Tell which zones the pass of this number, from 1, goes over; shape (n,) of bool.

        The first goes over the deepest zones alone; each takes in the zones that are next.
        """
        if not 1 <= checks.number("number", number) <= self.value:
            raise checks.wrong(
                "number", f"the passes are numbered 1 to {self.value}", number, "give one of them"
            )
        return self.passes > self.value - number

    def made(self, count):
        """Return how many passes each zone has had after `count` of them; shape (n,)."""
        return np.clip(self.passes - self.value + count, 0, None)

    @property
    def taken(self):
        """What comes off until the stop, shape (n,) [mm]."""
        return self.made(self.stop_after) * self.per_pass

    @property
    def taken_u(self):
        """Standard uncertainty of that, shape (n,) [mm]."""
        return self.made(self.stop_after) * self.per_pass_u

    @property
    def left(self):
        """What is left at the stop, shape (n,) [mm]."""
        return self.depth - self.taken

    def in_words(self, unit="um"):
        """Say what to write, where to begin and when to stop.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        if self.value == 0:
            return "In no zone is a pass sure to stay clear: spot, and scrape what prints."
        deepest = int(self.passes.argmax())
        said = f"Up to {self.value} passes (at {self._place(deepest)}). "
        first = np.count_nonzero(self.passes == self.value)
        said += f"Begin in the {first} zone{'s' if first > 1 else ''} with {self.value}, and widen."
        taken = show_length(self.taken[deepest], unit)
        u, left = (show_length(float(of[deepest]), unit) for of in (self.taken_u, self.left))
        if self.stop_after < self.value:
            said += f" Stop after {self.stop_after} and measure: then"
        else:
            said += " Then measure:"
        return f"{said} {taken} (u = {u}) are off there and {left} are left."

    def _place(self, zone):
        """Write where a zone is."""
        on = f" on {str(self.face[zone])!r}" if self.face[zone] else ""
        return f"{self.x[zone]:g} mm{on}"

    def to_dataframe(self, unit="um"):
        """Return the zones as a pandas table.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign = unit_sign(unit)
        return DataFrame(
            {
                "face": self.face,
                "x [mm]": self.x,
                f"take off [{sign}]": from_millimetres(self.depth, unit),
                "passes": self.passes,
                "passes until measured": self.made(self.stop_after),
                f"off by then [{sign}]": from_millimetres(self.taken, unit),
                f"u(off) [{sign}]": from_millimetres(self.taken_u, unit),
                f"left then [{sign}]": from_millimetres(self.left, unit),
            }
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [("this round", self.in_words())]
        rows += [(self._place(i), f"{n} passes") for i, n in enumerate(self.passes)]
        return wording.table("Pass numbers", rows)


def pass_numbers(x, depth, *, per_pass, face=""):
    """Find the whole number of passes for each zone, and when to stop and measure again.

    Parameters
    ----------
    x : array_like, shape (n,)
        Middle of each zone [mm].
    depth : array_like, shape (n,)
        What is to come off [mm]; 0 or less where nothing is.
    per_pass : RemovalRate, Method, float or `uncertainties` number
        What one pass takes [mm].
    face : str or array_like of str, shape (n,)
        The face that each zone is on; each line of a wide face has a name of its own.

    Returns
    -------
    PassNumbers

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, two zones of a face lie at one place, or what a
        pass takes is not above 0.

    Notes
    -----
    Step scraping (common practice, no published source): the zone with the largest number is
    scraped first, and each pass takes in the zones that come next, so that all end together on a
    stair of treads no higher than one pass.

    Numbers are rounded down. A pass takes r with the standard uncertainty u in a zone, the same in
    every pass there, so after m passes the depth taken is uncertain by m u. The round stops while
    m u is still below half of what is left in every zone: m (r + 2 u) < depth. A zone in which not
    even one pass keeps that rule gets none. Then measure, join the measured depths to the log with
    `removal_rate`, and ask again. How well the depth itself is known is another matter: the plan's
    guard answers for that.

    Examples
    --------
    Three zones at 5 µm a pass, give or take 1 µm:

    >>> from uncertainties import ufloat
    >>> hand = ufloat(0.005, 0.001)
    >>> round_1 = pass_numbers([100, 200, 300], [0.010, 0.042, 0.021], per_pass=hand)
    >>> round_1.passes.tolist(), round_1.stop_after
    ([2, 8, 4], 5)
    >>> [round_1.zones(number).tolist() for number in (1, 5)]
    [[False, True, False], [False, True, True]]
    """
    x, depth = checks.vector("x", x), checks.vector("depth", depth)
    checks.same_length(x=x, depth=depth)
    face = _faces(face, x)
    per_pass, u = _per_pass(per_pass)
    depth_left = np.clip(depth, 0, None)
    passes = np.floor(depth_left / per_pass + 1e-9).astype(int)
    # strictly below: a zone that would reach its half on this very pass is measured before it
    sure = passes
    if u > 0:
        sure = np.minimum(passes, np.ceil(depth_left / (per_pass + 2 * u) - 1e-9).astype(int) - 1)
        passes = np.where(sure < 1, 0, passes)
    most = int(passes.max())
    stop = int(np.where((passes > 0) & (sure < passes), most - passes + sure, most).min())
    return PassNumbers(most, face, x, depth, passes, per_pass, u, stop)


def _faces(face, x):
    """Return the face of each zone; one place on one face is one zone."""
    names = np.asarray(face, dtype=object)
    if names.shape not in ((), x.shape):
        raise checks.wrong(
            "face", f"one name, or {x.size} are needed", f"shape {names.shape}", "name each zone's"
        )
    names = np.array(np.broadcast_to(names, x.shape))
    seen = set()
    for zone in zip(names.tolist(), x.tolist(), strict=True):
        if zone in seen:
            raise checks.wrong(
                "face",
                f"two zones of {zone[0]!r} lie at one place",
                f"x {zone[1]:g}",
                "give each line of a wide face a name of its own",
            )
        seen.add(zone)
    return names


def _per_pass(given):
    """Return what one pass takes at one place, and its standard uncertainty."""
    if isinstance(given, RemovalRate):
        size, u = wording.nominal(given.value), given.u
    elif isinstance(given, Method):
        size, u = given.per_pass, given.per_pass_uncertainty
    else:
        size, u = getattr(given, "nominal_value", given), wording.uncertainty(given) or 0.0
    return checks.number("per_pass", size, above=0), checks.number("u of per_pass", u, at_least=0)

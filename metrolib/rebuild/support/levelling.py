"""Levelling: which foot to raise by how much, so that no tilt or twist is cut into the ways."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.lines import least_squares
from metrolib.form.twist import SIGN_RULE
from metrolib.rebuild.support.feet import Base, Foot, make_base
from metrolib.uncertain.linear import measured_together
from metrolib.units import from_millimetres, unit_sign

#: How the feet may be moved.
WAYS = ("raising", "lowering", "either")

#: What is to go.
TAKE_OUT = ("twist and tilt", "twist")

EVEN = 5e-5  # a move below half of the last digit that is shown is none [mm]
_FLAT = 1e6  # feet that stay define a tilt only if they stand off one line by more than one in this


@dataclass(frozen=True, eq=False)
class AdjustFeet:
    """What to do to each foot of a bed.

    Attributes
    ----------
    changes : dict of str to float or `uncertainties` number
        By foot that carries, how much to raise it; below zero, to lower it [mm].
    feet : tuple of Foot
        All of them.
    base : Base
        How the bed follows those that carry.
    by : str
        ``"raising"``, ``"lowering"`` or ``"either"``.
    x : ndarray, shape (m,)
        Places of the cross-level readings [mm].
    roll, roll_left : ndarray, shape (m,)
        Roll there now, and what is expected to be left [mm/m].
    roll_u : ndarray, shape (m,), or None
        Standard uncertainty of either: the move is made as said, so what is left is as sure as
        what was read [mm/m].
    twist, twist_left : float or `uncertainties` number, or None
        Total twist of the least-squares line through the rolls, now and left [mm/m]; None with
        cross-level readings at one place.
    x_slope : ndarray, shape (k,)
        Places of the lengthwise readings [mm].
    slope, slope_left : ndarray, shape (k,)
        [mm/m]
    """

    changes: dict
    feet: tuple[Foot, ...]
    base: Base
    by: str
    x: np.ndarray
    roll: np.ndarray
    roll_left: np.ndarray
    roll_u: np.ndarray | None
    twist: object
    twist_left: object
    x_slope: np.ndarray
    slope: np.ndarray
    slope_left: np.ndarray

    @property
    def turns(self):
        """Turns of the screw, up positive, by foot whose pitch is known."""
        return {
            foot.name: self.changes[foot.name] / foot.screw_pitch
            for foot in self.base.feet
            if foot.screw_pitch is not None
        }

    @property
    def idle(self):
        """Names of the feet that carry nothing."""
        return tuple(foot.name for foot in self.feet if not foot.carries)

    def in_words(self, unit="um"):
        """Return what a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        orders = [self._order(name, change, unit) for name, change in self.changes.items()]
        said = [f"{'; '.join(orders)}."]
        if self.twist is not None:
            said.append(
                f"Twist now {wording.slope(self.twist)}, expected to be left "
                f"{wording.slope(self.twist_left)} ({SIGN_RULE})."
            )
        said.append(f"Largest roll left {np.abs(self.roll_left).max():.4f} mm/m.")
        if self.base.rows.size == 1:
            said.append(
                "These feet hold the bed's roll in one row: turning them takes out no twist, and "
                "its own weight puts some in where the lone foot is off the middle of its end."
            )
        if self.by != "raising":
            said.append("Try each foot with a feeler after lowering: one that hangs holds nothing.")
        if self.idle:
            said.append(
                f"Carrying nothing: {wording.listing(self.idle)}; bring up last, until it just "
                "touches and no reading moves."
            )
        return " ".join(said)

    def _order(self, name, change, unit):
        """Say what to do to one foot."""
        size = wording.nominal(change)
        if abs(size) < EVEN:
            return f"{name}: leave it"
        verb = "raise" if size > 0 else "lower"
        by = wording.measured_length(wording.magnitude(change), unit)
        turns = self.turns.get(name)
        screw = "" if turns is None else f", {wording.turn(turns)} of its screw"
        return f"{name}: {verb} by {by}{screw}"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return self.to_dataframe().to_html(index=False, border=0, float_format="%.3g", na_rep="")

    def to_dataframe(self, unit="um"):
        """Return the changes as a pandas table, one foot a row.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign, turns = unit_sign(unit), self.turns
        rows = []
        for foot in self.feet:
            change = self.changes.get(foot.name)
            turned = turns.get(foot.name)
            u = None if change is None else wording.uncertainty(change)
            rows.append(
                {
                    "foot": foot.name,
                    "x [mm]": foot.x,
                    "y [mm]": foot.y,
                    f"raise [{sign}]": _shown(change, unit),
                    f"u [{sign}]": None if u is None else from_millimetres(u, unit),
                    "turns": None if turned is None else wording.nominal(turned),
                    "note": "" if foot.carries else "carries nothing",
                }
            )
        return DataFrame(rows)


def _shown(number, unit):
    """Return a length in the display unit; None where there is none."""
    return None if number is None else from_millimetres(wording.nominal(number), unit)


def adjust_feet(feet, x, roll, u=None, *, x_slope=(), slope=(), by="raising", take_out=TAKE_OUT[0]):
    """Find which foot to raise by how much, to take twist and tilt out of a bed.

    Parameters
    ----------
    feet : sequence of Foot
        At least three that carry.
    x : array_like, shape (m,)
        Where the cross level was read [mm].
    roll : array_like, shape (m,)
        What it read [mm/m], positive where the +y side is higher: floats or `uncertainties`
        numbers.
    u : float or array_like, shape (m + k,) or (m + k, m + k), optional
        Standard uncertainty of the readings [mm/m], or their covariance, `roll` first.
    x_slope : array_like, shape (k,)
        Where the level was read lengthwise [mm]; without any, the slope is left as it is.
    slope : array_like, shape (k,)
        What it read [mm/m], positive where the +x side is higher.
    by : {"raising", "lowering", "either"}
        How feet may be moved. Of all ways to do it the one with the least sum of moves is chosen.
    take_out : {"twist and tilt", "twist"}
        A level machine, or one that may lean as it likes so long as it is free of twist: then as
        few feet as can be are moved, often one.

    Returns
    -------
    AdjustFeet

    Raises
    ------
    InputError
        If fewer than three feet carry or they stand on one line, lengths differ, a number is not
        finite, or the readings stand at too few places for the rows of feet.

    Notes
    -----
    The bed is taken to follow its feet as `metrolib.rebuild.support.feet.Base` tells: rigid but for
    an even twist between rows, and no bow is put in. The slope and the roll of each row that bring
    the sum of squares of the readings least come from unweighted least squares, so they and the
    changes are linear in the readings. All of it holds for feet that stay loaded; re-read after
    every round, since floors give, and raise in small steps. Wear counts as roll like any other:
    give the readings of unworn places alone where there are such, or part them first
    (`elastic_twist`).

    Examples
    --------
    A bed on four feet, twisted by 0.08 mm/m; at the far end the +y side is high:

    >>> corners = [Foot("front left", 0, 0, 1.5), Foot("rear left", 0, 400, 1.5),
    ...            Foot("front right", 1500, 0, 1.5), Foot("rear right", 1500, 400, 1.5)]
    >>> found = adjust_feet(corners, [0, 500, 1000, 1500], [0, 0.08 / 3, 0.16 / 3, 0.08])
    >>> {name: round(change, 4) for name, change in found.changes.items()}
    {'front left': 0.016, 'rear left': 0.016, 'front right': 0.032, 'rear right': 0.0}
    >>> found = adjust_feet(corners, found.x, found.roll, take_out="twist")
    >>> {name: round(change, 4) for name, change in found.changes.items()}
    {'front left': 0.0, 'rear left': 0.0, 'front right': 0.032, 'rear right': 0.0}
    """
    base = make_base(feet)
    checks.choice("by", by, WAYS)
    checks.choice("take_out", take_out, TAKE_OUT)
    x, x_slope = checks.vector("x", x), checks.vector("x_slope", x_slope, least=0)
    parts = {"roll": roll, "slope": slope} if x_slope.size else {"roll": roll}
    checks.same_length(x=x, roll=roll)
    checks.same_length(x_slope=x_slope, slope=slope)
    readings = measured_together(parts, u)
    shares = base.told_shares(x)
    m, k, p = x.size, x_slope.size, base.rows.size
    # what the bed must do, slope and rolls of the rows, as a law on the readings
    motion = np.zeros((1 + p, m + k))
    motion[1:, :m] = -np.linalg.pinv(shares)
    if k:
        motion[0, m:] = -1 / k
    motion, law = _with_staying(base, motion, readings.values, by, take_out)
    numbers = readings.several(law, law @ readings.values)
    # the move is made as computed, so what is left is as sure as what was read
    after = readings.values.copy()
    after[:m] += shares @ motion[1:] @ readings.values
    after[m:] += motion[0] @ readings.values
    now, left = _twists(x, readings, after)
    return AdjustFeet(
        changes={foot.name: n for foot, n in zip(base.feet, numbers, strict=True)},
        feet=tuple(feet),
        base=base,
        by=by,
        x=x,
        roll=readings.values[:m],
        roll_left=after[:m],
        roll_u=None if readings.u is None else readings.u[:m],
        twist=now,
        twist_left=left,
        x_slope=x_slope,
        slope=readings.values[m:],
        slope_left=after[m:],
    )


def _with_staying(base, motion, values, by, take_out):
    """Return the motion, and the law of the changes, with some feet that stay as they are."""
    law, free = base.lift @ motion, base.rigid
    if take_out == "twist and tilt":
        free = free[:, :1]
    best = None
    for staying in combinations(range(len(law)), free.shape[1]):
        held = free[list(staying)]
        if np.linalg.cond(held) > _FLAT:
            continue
        rigid = -np.linalg.solve(held, law[list(staying)])
        moves = (law + free @ rigid) @ values
        slack = 1e-12 * np.abs(moves).max()
        if (by == "raising" and moves.min() < -slack) or (by == "lowering" and moves.max() > slack):
            continue
        if best is None or np.abs(moves).sum() < best[0] - slack:
            best = np.abs(moves).sum(), rigid, staying
    _, rigid, staying = best
    law = law + free @ rigid
    law[list(staying)] = 0.0
    if len(rigid) == 3:
        motion = motion + rigid[[1] + [2] * base.rows.size]
    return motion, law


def total_twist(x):
    """Return the weights of rolls in the total twist of their least-squares line."""
    return least_squares(x - x[0]).weights[1] * np.ptp(x)


def _twists(x, readings, after):
    """Return the total twist now and what is left; (None, None) with readings at one place."""
    if np.ptp(x) == 0:
        return None, None
    law = np.zeros((2, after.size))
    law[:, : x.size] = total_twist(x)
    return readings.several(law, [law[0] @ readings.values, law[1] @ after])

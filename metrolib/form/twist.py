"""Twist of two ways, or of one wide face from its two edges."""

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.lines import least_squares
from metrolib.uncertain.linear import Measured, measured_together

#: The sign rule, said beside every twist.
SIGN_RULE = (
    "positive: seen from x = 0 along +x, the far end is turned so that the +y side is higher"
)


@dataclass(frozen=True, eq=False)
class Twist:
    """Twist along a pair of ways.

    Roll is positive where the +y side is higher; twist is its change toward +x.

    Attributes
    ----------
    value : float or `uncertainties` number
        Total twist: roll at the far end less roll at the near end, of the least-squares line
        through the rolls [mm/m].
    rate : float or `uncertainties` number
        Twist in each metre of length, of the same line [mm/m per m].
    x : ndarray, shape (n,)
        Stations, as given [mm].
    roll : ndarray, shape (n,)
        Roll at each station [mm/m].
    roll_u : ndarray, shape (n,), or None
        Its standard uncertainty [mm/m].
    largest_change : float or `uncertainties` number, or None
        Change of roll toward +x, the largest in magnitude between two stations not more than
        `span` apart [mm/m]; None where no two stations are that near.
    largest_change_from, largest_change_to : float or None
        The places between which it happens [mm].
    span : float
        [mm]
    distance : ndarray, shape (n,)
        From A to B at each station [mm].
    drawn_from : Measured
        The heights that it came from, A first [mm].
    """

    value: object
    rate: object
    x: np.ndarray
    roll: np.ndarray
    roll_u: np.ndarray | None
    largest_change: object
    largest_change_from: float | None
    largest_change_to: float | None
    span: float
    distance: np.ndarray
    drawn_from: Measured
    quantity: ClassVar[str] = "slope"

    @property
    def roll_cov(self):
        """Covariance of the rolls, shape (n, n), or None where nothing is known of it.

        With it the rolls go on, to `adjust_feet` say, without losing what they share [(mm/m)²].
        """
        per_height = np.diag(1000 / self.distance)
        return self.drawn_from.covariance(np.hstack([-per_height, per_height]))

    @property
    def redo(self):
        """What finds the value again: a function of heights, shape (T, 2 n) [mm], to T values."""
        return partial(_totals, self.x, self.distance)

    def in_words(self):
        """Return the sentence that a rebuilder would write down; twist is said in mm/m."""
        return (
            f"twist {wording.slope(self.value)} over {np.ptp(self.x):.10g} mm, "
            f"{wording.slope(self.rate, 'mm/m per m')}; {self._change()} ({SIGN_RULE})"
        )

    def _change(self):
        if self.largest_change is None:
            return f"no two stations are within {self.span:.10g} mm"
        return (
            f"largest change within {self.span:.10g} mm: {wording.slope(self.largest_change)} "
            f"between {wording.places([self.largest_change_from, self.largest_change_to])}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Twist",
            [
                ("total twist", wording.slope(self.value)),
                ("rate", wording.slope(self.rate, "mm/m per m")),
                ("largest change", self._change()),
                ("sign", SIGN_RULE),
            ],
        )


def twist(x, z_a, z_b, distance, u=None, *, span=1000.0):
    """Find the twist of two ways.

    Parameters
    ----------
    x : array_like, shape (n,)
        Stations common to both ways [mm]; n >= 2, in any order.
    z_a, z_b : array_like, shape (n,)
        Heights of way A, and of way B which lies on the +y side of it [mm]: floats or
        `uncertainties` numbers. For one wide face, its two edges.
    distance : float or array_like, shape (n,)
        How far B lies from A along y [mm], above zero.
    u : float or array_like, shape (2 n,) or (2 n, 2 n), optional
        Standard uncertainty of the heights [mm], or their joint covariance [mm²], A first.
    span : float
        Length within which the largest change of roll is sought [mm].

    Returns
    -------
    Twist

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than two stations or all are at
        one place, a distance or the span is not above zero, or the uncertainty does not fit.

    Notes
    -----
    roll = 1000 (z_b - z_a) / distance [mm/m]. The line through the rolls is unweighted. Of the
    largest change the uncertainty is that of the two stations found; where many changes are alike
    it tends to be too large a change.

    Examples
    --------
    Way B climbs 8 µm over a metre against way A, 200 mm away:

    >>> from metrolib.form.twist import twist
    >>> x = [0, 500, 1000]
    >>> print(twist(x, [0, 0, 0], [0.001, 0.005, 0.009], 200, span=500))
    twist +0.0400 mm/m over 1000 mm, +0.0400 mm/m per m; largest change within 500 mm:
    +0.0200 mm/m between 0 and 500 mm (positive: seen from x = 0 along +x, the far end is turned
    so that the +y side is higher)
    """
    x = checks.vector("x", x, least=2)
    distance = _distances(distance, x.size)
    span = checks.number("span", span, above=0)
    heights = measured_together({"z_a": z_a, "z_b": z_b}, u)
    checks.same_length(x=x, z_a=z_a, z_b=z_b)
    if np.ptp(x) == 0:
        raise checks.wrong(
            "x", "all stations at one place", x.size, "measure at two places or more"
        )
    n, per_height = x.size, 1000 / distance
    roll = (heights.values[n:] - heights.values[:n]) * per_height

    weights = least_squares(x - x[0]).weights[1]
    changes = [weights * np.ptp(x), 1000 * weights]
    found = _largest_change(x, roll, span)
    if found is not None:
        change = np.zeros(n)
        change[list(found)] = -1.0, 1.0
        changes.append(change)
    values = [float(change @ (roll - roll[0])) for change in changes]
    rows = np.array(
        [np.concatenate([-change * per_height, change * per_height]) for change in changes]
    )
    total, rate, *largest = heights.several(rows, values)
    return Twist(
        value=total,
        rate=rate,
        x=x,
        roll=roll,
        roll_u=_roll_u(heights, per_height),
        largest_change=largest[0] if largest else None,
        largest_change_from=None if found is None else float(x[found[0]]),
        largest_change_to=None if found is None else float(x[found[1]]),
        span=span,
        distance=distance,
        drawn_from=heights,
    )


def _totals(x, distance, z):
    """Return the total twist for each set of heights, shape (T,) [mm/m]."""
    n = x.size
    z = checks.table("z", z, 2 * n)
    roll = (z[:, n:] - z[:, :n]) * (1000 / distance)
    return (roll - roll[:, :1]) @ least_squares(x - x[0]).weights[1] * np.ptp(x)


def _distances(distance, n):
    if np.ndim(distance) == 0:
        return np.full(n, checks.number("distance", distance, above=0))
    distances = checks.vector("distance", distance)
    if distances.size != n or distances.min() <= 0:
        raise checks.wrong(
            "distance",
            f"one number, or {n} above zero, are needed",
            distance,
            "B lies at greater y",
        )
    return distances


def _largest_change(x, roll, span):
    """Return the two stations, in ascending x, between which roll changes most; or None."""
    order = np.argsort(x, kind="stable")
    x, roll = x[order], roll[order]
    slack = 1e-9 * np.ptp(x)
    best, found = 0.0, None
    for step in range(1, x.size):
        apart = x[step:] - x[:-step]
        near = (apart > 0) & (apart <= span + slack)
        if not (apart <= span + slack).any():
            break  # stations further along the list are further apart still
        change = np.where(near, np.abs(roll[step:] - roll[:-step]), -1.0)
        at = int(change.argmax())
        if change[at] > best or (found is None and near.any()):
            best, found = change[at], (int(order[at]), int(order[at + step]))
    return found


def _roll_u(heights, per_height):
    """Return the standard uncertainty of each roll, or None."""
    cov, n = heights.cov, per_height.size
    if cov is None:
        return None
    if cov.ndim == 1:
        variance = cov[:n] + cov[n:]
    else:
        own = np.diag(cov)
        variance = own[:n] + own[n:] - 2 * np.diag(cov[:n, n:])
    return np.sqrt(np.maximum(variance, 0.0)) * per_height

"""How a straight reference rests on a profile: on which points, and with what gap elsewhere.

A rigid straightedge lies on two points of the profile, one on each side of its centre of gravity,
so that this sinks as low as it can: along the edge of the upper convex hull that lies there.
"""

from dataclasses import dataclass

import numpy as np

from metrolib import checks


@dataclass(frozen=True, eq=False)
class Resting:
    """How a straight reference rests on one profile, or on many at the same stations.

    Attributes
    ----------
    left, right : ndarray of int, shape (...)
        The points that carry it; the same where it balances on one.
    gap : ndarray, shape (..., n)
        From each point up to the reference: 0 where it rests [mm].
    """

    left: np.ndarray
    right: np.ndarray
    gap: np.ndarray


def resting(x, z, at):
    """Find how a straight reference rests on a profile.

    Parameters
    ----------
    x : array_like, shape (n,)
        Places along the reference [mm], ascending; n >= 2. Only these points can carry it, which
        is right for a profile that is straight between them.
    z : array_like, shape (n,) or (T, n)
        Heights, or T sets of heights [mm].
    at : float
        Place of the centre of gravity, or of the hand that presses [mm]; not beyond the ends of x.

    Returns
    -------
    Resting

    Raises
    ------
    InputError
        If x is not ascending, shapes differ, a number is not finite, or `at` lies beyond the ends
        of x, where the reference would tip over.

    Notes
    -----
    The line that is lowest at `at`, of all that no point exceeds, lies along the edge of the upper
    convex hull above `at`: it is found by going from point to point in the steepest direction.
    Where one point lies exactly at `at` and carries all, the reference balances; it is then drawn
    with the middle one of the slopes that it can rock between.

    Examples
    --------
    On a hollow it rests on the ends, on a hump it balances:

    >>> from metrolib.form.resting import resting
    >>> resting([0, 100, 200], [0.0, -0.01, 0.0], 100).gap.tolist()
    [0.0, 0.01, 0.0]
    >>> hump = resting([0, 100, 200], [0.0, 0.01, 0.0], 100)
    >>> int(hump.left), int(hump.right), hump.gap.tolist()
    (1, 1, [0.01, 0.0, 0.01])
    """
    x = checks.vector("x", x, least=2)
    if (np.diff(x) <= 0).any():
        raise checks.wrong("x", "places must ascend", x.tolist(), "sort them and leave doubles out")
    at = checks.number("at", at)
    if not x[0] <= at <= x[-1]:
        raise checks.wrong(
            "at",
            f"the reference would tip over: nothing carries it beyond {x[0]:g} to {x[-1]:g} mm",
            at,
            "move it inward",
        )
    heights = checks.table("z", np.atleast_2d(np.asarray(z)), x.size)
    left, right, slope = _carried(x, heights, at)
    rows = np.arange(len(heights))
    line = heights[rows, left][:, None] + slope[:, None] * (x - x[left][:, None])
    gap = np.maximum(line - heights, 0.0)
    gap[rows, left] = gap[rows, right] = 0.0  # free of rounding
    if np.ndim(z) == 1:
        left, right, gap = left[0], right[0], gap[0]
    return Resting(left, right, gap)


def rocked(x, z):
    """Return the gap at each point when the reference is rocked so as to come nearest to it.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Ascending [mm].
    z : ndarray, shape (T, n)
        [mm]

    Returns
    -------
    ndarray, shape (T, n)
        From each point up to the highest chord above it, which is the least gap that any way of
        resting leaves there [mm].

    Examples
    --------
    >>> import numpy as np
    >>> rocked(np.array([0.0, 100.0, 200.0]), np.array([[0.0, 0.01, 0.0]])).tolist()
    [[0.0, 0.0, 0.0]]
    """
    top, left = z.copy(), np.zeros(len(z), dtype=int)
    while (left < x.size - 1).any():
        right, slope = _next_on_hull(x, z, left)
        away = x - x[left][:, None]
        between = (away > 0) & (x < x[right][:, None])
        chord = z[np.arange(len(z)), left][:, None] + slope[:, None] * away
        top = np.where(between, chord, top)
        left = right
    return np.maximum(top - z, 0.0)


def _carried(x, z, at):
    """Return the points that carry the reference and its slope [mm/mm], each (T,)."""
    left = np.zeros(len(z), dtype=int)
    while True:
        right, slope = _next_on_hull(x, z, left)
        short = x[right] < at
        if not short.any():
            break
        left = np.where(short, right, left)
    alone = (x[right] == at) & (right < x.size - 1)
    beyond = _next_on_hull(x, z, right)[1]
    slope = np.where(alone, (slope + beyond) / 2, slope)
    return np.where(alone, right, left), right, slope


def _next_on_hull(x, z, start):
    """Return the next point of the upper hull to the right of `start`, and the slope up to it.

    It is the one in the steepest direction; the last point is its own next one.
    """
    rows = np.arange(len(z))
    away = x - x[start][:, None]
    rise = z - z[rows, start][:, None]
    slopes = np.divide(rise, away, out=np.full(z.shape, -np.inf), where=away > 0)
    steepest = slopes.argmax(axis=1)
    last = start == x.size - 1
    return np.where(last, start, steepest), np.where(last, 0.0, slopes[rows, steepest])

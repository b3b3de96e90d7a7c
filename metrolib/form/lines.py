"""Reference lines: end points, least squares, and the exact minimum zone by exchange."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from metrolib import checks
from metrolib.errors import InputError, MetrolibError
from metrolib.form import sampled
from metrolib.form.deviations import Reference, results

#: The reference lines that the form functions offer.
REFERENCES = ("minimum zone", "least squares", "end points")

# 1 to 7 exchanges were seen; no bound is proven, so a cap guards, and a linear programme follows.
_MOST_EXCHANGES = 100
_ROUNDING = 16 * np.finfo(float).eps
#: What rounding does to the smallest numbers there are, which have no digits to spare.
LEAST = 64 * np.finfo(float).smallest_subnormal
# Stations on each side of a solver's zone among which the proof is looked for.
_NEAR = 10


@dataclass(frozen=True, eq=False)
class Line:
    """A straight line.

    Attributes
    ----------
    height : float or `uncertainties` number
        Height at x = 0 [mm].
    slope : float or `uncertainties` number
        [mm/m]
    """

    height: object
    slope: object

    def at(self, x):
        """Return the heights of the line at `x` [mm], as plain numbers."""
        height = getattr(self.height, "nominal_value", self.height)
        slope = getattr(self.slope, "nominal_value", self.slope)
        return height + slope * np.asarray(x, dtype=float) / 1000


def reference_line(reference, x, z):
    """Find a reference line.

    Parameters
    ----------
    reference : str
        ``"minimum zone"``, ``"least squares"`` or ``"end points"``.
    x, z : ndarray, shape (n,)
        Stations, from some place near them, and heights, from any [mm]: a height common to all
        is taken off before all else, so that it costs no digits.

    Returns
    -------
    Reference

    Raises
    ------
    InputError
        If the word is unknown, or the stations do not define such a line.
    """
    checks.choice("reference", reference, REFERENCES)
    low, high = sampled.ends_of(x)
    if x[low] == x[high]:
        raise checks.wrong(
            "x", "all stations at one place", f"{x.size} of them", "measure at two places or more"
        )
    if reference == "least squares":
        return least_squares(x)
    if reference == "end points":
        return _end_points(x)
    return minimum_zone(x, z)


def line_of(deviations, origin, decided):
    """Return the `Line` under some deviations and their range, correlated as they are.

    Parameters
    ----------
    deviations : Deviations
    origin : float
        The x that the reference counts from [mm].
    decided : (float, (int, int))
        The range [mm], and the highest and lowest station, as `decided_by` gives them.

    Returns
    -------
    Line, float or `uncertainties` number
    """
    to_zero = np.array([[1.0, -origin], [0.0, 1000.0]])
    height, slope, value = results(deviations, to_zero, decided)
    return Line(height, slope), value


def least_squares(x):
    """Return the unweighted least-squares line: a reference by definition, not an estimate."""
    centred = x - x.mean()
    slope = centred / (centred @ centred)
    return Reference(np.arange(x.size), np.array([1 / x.size - x.mean() * slope, slope]))


def _end_points(x):
    ends = []
    for at, end in ((x.min(), "low"), (x.max(), "high")):
        there = np.flatnonzero(x == at)
        if there.size > 1:
            raise InputError(
                f"x: {there.size} stations share the {end} end, items {there.tolist()}, so no line "
                "of the end points is defined; average them, or use another reference"
            )
        ends.append(int(there[0]))
    return Reference(np.array(ends), _chord_weights(x, *ends))


def _chord_weights(x, p, q):
    """Return the weights of the heights at p and q in the line through both."""
    slope = np.array([-1.0, 1.0]) / (x[q] - x[p])
    return np.array([np.array([1.0, 0.0]) - x[p] * slope, slope])


def minimum_zone(x, z):
    """Return the middle line of the narrowest zone that holds all points: exact, and proven.

    Notes
    -----
    The width W of the zone along slope b is convex and piecewise linear in b. Each slope tried
    gives one highest and one lowest station; the zone of the stations met so far is nowhere wider
    than W, and its best slope is the chord of two of them. That slope is tried next, until
    nothing new is met.

    The proof is separate from the search: three stations, two on one side and one on the other
    between them in x, lie in no zone narrower than their own. Where that equals the width found
    for all stations, nothing narrower exists. Where the search fails, a linear programme takes
    its place, and is held to the same proof.

    Many stations are proven by `metrolib.form.sampled.proven_zone`.
    """
    if x.size > sampled.MANY:
        ends = sampled.ends_of(x)
        return sampled.proven_zone((x,), z, ends, lambda chosen: _zone(x[chosen], z[chosen]))
    return _zone(x, z)


def _zone(x, z):
    """Find the narrowest zone from all stations at once."""
    z = z - z[0]
    found = _exchange(x, z) or _by_linear_programme(x, z)
    if found is None:
        raise MetrolibError(
            "minimum zone: no line could be proven to be the best; check the heights for values of "
            "very different size"
        )
    return found


def _exchange(x, z):
    """Search by exchange; return the proven `Reference`, or None."""
    low, high = _point(x, z, x.argmin()), _point(x, z, x.argmax())
    # (upper, lower): whatever is met left of the best slope, and right of it
    left, right = (high, low), (low, high)
    for _ in range(_MOST_EXCHANGES):
        chord, slope, least = _best_chord(left, right)
        over = z - slope * x
        top, bottom = over.argmax(), over.argmin()
        width = over.item(top) - over.item(bottom)
        rounding = _rounding(width, slope, high[0] - low[0])
        if width <= rounding:
            return _all_on_one_line(x, z, chord, width)
        upper, lower = _point(x, z, top), _point(x, z, bottom)
        if upper[0] == lower[0]:  # no slope brings two stations at one place nearer
            return _reference(chord, (upper, lower), (upper, lower), width)
        known = upper in (left[0], right[0]) and lower in (left[1], right[1])
        if known or width - least <= rounding:
            uppers, lowers = {left[0], right[0], upper}, {left[1], right[1], lower}
            return _proven(x, z, uppers, lowers, high[0] - low[0])
        if upper[0] < lower[0]:
            right = upper, lower
        else:
            left = upper, lower
    return None


def _point(x, z, station):
    """Return a station as (x, z, number): plain numbers are faster one by one than arrays."""
    return x.item(station), z.item(station), int(station)


def _best_chord(left, right):
    """Return the chord along which the zone of the four known stations is narrowest.

    Returns
    -------
    chord : (point, point)
    slope : float
    width : float
        Of that zone; no zone of all stations is narrower.
    """
    best = None
    for p, q in zip(left, right, strict=True):
        if p[0] == q[0]:
            continue
        slope = (q[1] - p[1]) / (q[0] - p[0])
        over = [[z - slope * x for x, z, _ in side] for side in (left, right)]
        width = max(over[0][0], over[1][0]) - min(over[0][1], over[1][1])
        if best is None or width < best[2]:
            best = (p, q), slope, width
    return best


def _all_on_one_line(x, z, chord, width):
    """Return the zone of stations that lie on one line, with the chord's middle as a contact.

    Any station may leave the line first when the heights change a little; the middle one does so
    with a sensitivity as large as any, so the uncertainty is that of a small straightness.
    """
    p, q = chord
    between = (x - p[0]) * (q[0] - x)
    middle = int(between.argmax())
    if between[middle] <= 0:
        return _reference(chord, chord, chord, 0.0)
    third = _point(x, z, middle)
    return _reference(chord, (p, third), (p, q, third), width)


def _proven(x, z, uppers, lowers, long):
    """Return the zone of the three stations that need most room, if it holds all; else None.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
    uppers, lowers : set of points
    long : float
        Range of x.
    """
    bounds = []
    for near, far, sign in ((uppers, lowers, 1), (lowers, uppers, -1)):
        for p, q in combinations(sorted(near), 2):
            if p[0] == q[0]:
                continue
            slope = (q[1] - p[1]) / (q[0] - p[0])
            for k in far:
                if k not in (p, q) and p[0] <= k[0] <= q[0]:
                    bound = sign * (p[1] - k[1] - slope * (p[0] - k[0]))
                    sides = (p, k) if sign > 0 else (k, p)
                    bounds.append((bound, slope, (p, q), sides, (p, k, q)))
    bounds.sort(key=lambda found: -found[0])
    for bound, slope, chord, sides, contacts in bounds:
        over = z - slope * x
        width = over.item(over.argmax()) - over.item(over.argmin())
        rounding = _rounding(width, slope, long)
        if bound < bounds[0][0] - rounding:
            return None
        if width - bound <= rounding:
            return _reference(chord, sides, contacts, width)
        # two stations at one place bound every slope alike: another chord may still reach it
    return None


def _by_linear_programme(x, z):
    """Find the zone with a general solver, then prove it from the stations that it rests on."""
    from scipy.optimize import linprog

    long = np.ptp(x)
    line, half = np.column_stack([np.ones(x.size), x / long]), np.ones((x.size, 1))
    fitted = z - line @ np.linalg.lstsq(line, z, rcond=None)[0]  # its tolerance counts a tilt too
    high = np.ptp(fitted) or 1.0
    solved = linprog(
        [0, 0, 1],
        A_ub=np.block([[line, -half], [-line, -half]]),
        b_ub=np.concatenate([fitted, -fitted]) / high,
        bounds=[(None, None)] * 3,
        method="highs",
    )
    if solved.x is None:
        return None
    over = fitted - line @ solved.x[:2] * high
    below, above = solved.ineqlin.marginals.reshape(2, -1)  # at most 0: what a side costs
    uppers, lowers = np.lexsort((-over, above))[:_NEAR], np.lexsort((over, below))[:_NEAR]
    points = ({_point(x, z, station) for station in side} for side in (uppers, lowers))
    return _proven(x, z, *points, float(long))


def _reference(chord, sides, contacts, width):
    """Return the middle line of the zone along a chord, with an upper and a lower station."""
    (x_p, _, p), (x_q, _, q) = chord
    (x_upper, _, upper), (x_lower, _, lower) = sides
    slope, middle = 1 / (x_q - x_p), (x_upper + x_lower) / 2
    weights = {station: [0.0, 0.0] for station in sorted({p, q, upper, lower})}
    weights[p] = [middle * slope, -slope]
    weights[q] = [-middle * slope, slope]
    weights[upper][0] += 0.5
    weights[lower][0] += 0.5
    in_order = tuple(station for _, station in sorted((x, i) for x, _, i in contacts))
    stations, shares = np.array(list(weights)), np.array(list(weights.values()))
    return Reference(stations, shares.T, in_order, upper, lower, width)


def _rounding(width, slope, long):
    """Return what rounding alone may do to a width: no height is off zero by more than this sum."""
    return _ROUNDING * (width + 2 * abs(slope) * long) + LEAST

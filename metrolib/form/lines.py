"""Reference lines: end points, least squares, and the exact minimum zone by exchange."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from metrolib import checks
from metrolib.errors import InputError, MetrolibError
from metrolib.form.deviations import Reference, results

#: The reference lines that the form functions offer.
REFERENCES = ("minimum zone", "least squares", "end points")

# 1 to 7 exchanges were seen; no bound is proven, so a cap guards, and a linear programme follows.
_MOST_EXCHANGES = 100
_ROUNDING = 16 * np.finfo(float).eps


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
    if x.max() == x.min():
        raise checks.wrong(
            "x", "all stations at one place", f"{x.size} of them", "measure at two places or more"
        )
    if reference == "least squares":
        return least_squares(x)
    if reference == "end points":
        return _end_points(x)
    return minimum_zone(x, z - z[0])


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
    """
    found = _exchange(x, z) or _by_linear_programme(x, z)
    if found is None:
        raise MetrolibError(
            "minimum zone: no line could be proven to be the best; check the heights for values of "
            "very different size"
        )
    return found


def _exchange(x, z):
    """Search by exchange; return the proven `Reference`, or None."""
    low_x, high_x = np.flatnonzero(x == x.min()), np.flatnonzero(x == x.max())
    # the supports of an infinitely steep zone: (upper, lower), left and right of the best slope
    left = int(high_x[z[high_x].argmax()]), int(low_x[z[low_x].argmin()])
    right = int(low_x[z[low_x].argmax()]), int(high_x[z[high_x].argmin()])
    over = np.empty_like(z)
    for _ in range(_MOST_EXCHANGES):
        chord, slope, least = _best_chord(x, z, left, right)
        np.multiply(x, -slope, out=over)
        over += z
        upper, lower = int(over.argmax()), int(over.argmin())
        width = float(over[upper] - over[lower])
        uppers, lowers = {left[0], right[0], upper}, {left[1], right[1], lower}
        known = upper in (left[0], right[0]) and lower in (left[1], right[1])
        rounding = _rounding(x, z, slope)
        if width <= rounding:
            return _all_on_one_line(x, chord, width)
        if x[upper] == x[lower]:  # no slope brings two stations at one place nearer
            return _reference(x, chord, (upper, lower), {upper, lower}, width)
        if known or width - least <= rounding:
            return _proven(x, z, uppers, lowers)
        if x[upper] < x[lower]:
            right = upper, lower
        else:
            left = upper, lower
    return None


def _all_on_one_line(x, chord, width):
    """Return the zone of stations that lie on one line, with the chord's middle as a contact.

    Any station may leave the line first when the heights change a little; the middle one does so
    with a sensitivity as large as any, so the uncertainty is that of a small straightness.
    """
    p, q = chord
    between = (x - x[p]) * (x[q] - x)
    middle = int(between.argmax())
    if between[middle] <= 0:
        return _reference(x, chord, chord, {p, q}, 0.0)
    return _reference(x, chord, (p, middle), {p, q, middle}, width)


def _best_chord(x, z, left, right):
    """Return the chord along which the zone of the four known stations is narrowest.

    Returns
    -------
    chord : (int, int)
    slope : float
    width : float
        Of that zone; no zone of all stations is narrower.
    """
    best = None
    for p, q in zip(left, right, strict=True):
        if x[p] == x[q]:
            continue
        slope = float((z[q] - z[p]) / (x[q] - x[p]))
        upper = max(float(z[i] - slope * x[i]) for i in (left[0], right[0]))
        lower = min(float(z[i] - slope * x[i]) for i in (left[1], right[1]))
        if best is None or upper - lower < best[2]:
            best = (p, q), slope, upper - lower
    return best


def _proven(x, z, uppers, lowers):
    """Return the zone of the three stations that need most room, if it holds all; else None."""
    bounds = []
    for near, far, sign in ((uppers, lowers, 1), (lowers, uppers, -1)):
        for p, q in combinations(sorted(near), 2):
            x_p, x_q, z_p = float(x[p]), float(x[q]), float(z[p])
            if x_p == x_q:
                continue
            slope = (float(z[q]) - z_p) / (x_q - x_p)
            for k in far:
                x_k = float(x[k])
                if k not in (p, q) and min(x_p, x_q) <= x_k <= max(x_p, x_q):
                    bound = sign * (z_p - float(z[k]) - slope * (x_p - x_k))
                    bounds.append((bound, slope, (p, q), (p, k) if sign > 0 else (k, p), {p, q, k}))
    bounds.sort(key=lambda found: -found[0])
    for bound, slope, chord, sides, contacts in bounds:
        rounding = _rounding(x, z, slope)
        if bound < bounds[0][0] - rounding:
            return None
        over = z - slope * x
        width = float(over.max() - over.min())
        if width - bound <= rounding:
            return _reference(x, chord, sides, contacts, width)
        # two stations at one place bound every slope alike: another chord may still reach it
    return None


def _by_linear_programme(x, z):
    """Find the zone with a general solver, then prove it from the stations near its border."""
    from scipy.optimize import linprog

    long, high = np.ptp(x), np.ptp(z) or 1.0
    t, v = x / long, z / high
    line, half = np.column_stack([np.ones(x.size), t]), np.ones((x.size, 1))
    solved = linprog(
        [0, 0, 1],
        A_ub=np.block([[line, -half], [-line, -half]]),
        b_ub=np.concatenate([v, -v]),
        bounds=[(None, None)] * 3,
        method="highs",
    )
    if solved.x is None:
        return None
    over = v - solved.x[0] - solved.x[1] * t
    uppers = np.argsort(-over)[:30]
    lowers = np.argsort(over)[:30]
    near = 1e-6 * max(1.0, abs(solved.x[1]))
    return _proven(
        x,
        z,
        {int(i) for i in uppers if over[i] >= over.max() - near},
        {int(i) for i in lowers if over[i] <= over.min() + near},
    )


def _reference(x, chord, sides, contacts, width):
    """Return the middle line of the zone along a chord, with an upper and a lower station."""
    stations = np.array(sorted({*chord, *sides}))
    weights = np.zeros((2, stations.size))
    p, q, upper, lower = np.searchsorted(stations, (*chord, *sides))
    weights[1, [p, q]] = np.array([-1.0, 1.0]) / (x[chord[1]] - x[chord[0]])
    weights[0] = -weights[1] * (x[sides[0]] + x[sides[1]]) / 2
    weights[0, upper] += 0.5
    weights[0, lower] += 0.5
    in_order = sorted(contacts, key=lambda i: (x[i], i))
    return Reference(stations, weights, tuple(in_order), *sides, width)


def _rounding(x, z, slope):
    """Return what rounding alone may do to a width."""
    return _ROUNDING * (abs(slope) * float(x.max() - x.min()) + float(z.max() - z.min()))

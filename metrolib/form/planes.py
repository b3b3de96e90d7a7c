"""Reference planes: least squares, and the exact minimum zone by exchange."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from metrolib import checks
from metrolib.errors import MetrolibError
from metrolib.form import lines
from metrolib.form.deviations import Reference, results

#: The reference planes that the form functions offer.
REFERENCES = ("minimum zone", "least squares")

# Up to 10 exchanges were seen; ties may cycle in theory, so a cap guards, and a linear programme
# follows.
_MOST_EXCHANGES = 200
_ROUNDING = 32 * np.finfo(float).eps
# Stations nearer to one line than this share of their extent define no plane.
_COLLINEAR = 1e-9
# More stations than this are solved on a sample, to which every station outside the zone is added.
_MANY = 20_000
_SAMPLE = 2_000


@dataclass(frozen=True, eq=False)
class Plane:
    """A plane.

    Attributes
    ----------
    height : float or `uncertainties` number
        Height at x = 0, y = 0 [mm].
    along, across : float or `uncertainties` number
        Slope along x and along y [mm/m].
    """

    height: object
    along: object
    across: object

    def at(self, x, y):
        """Return the heights of the plane at `x`, `y` [mm], as plain numbers."""
        height, along, across = (
            getattr(number, "nominal_value", number)
            for number in (self.height, self.along, self.across)
        )
        return height + (along * np.asarray(x, float) + across * np.asarray(y, float)) / 1000


def reference_plane(reference, x, y, z):
    """Find a reference plane.

    Parameters
    ----------
    reference : str
        ``"minimum zone"`` or ``"least squares"``.
    x, y, z : ndarray, shape (n,)
        Stations and heights, each less that of the first station [mm].

    Returns
    -------
    Reference

    Raises
    ------
    InputError
        If the word is unknown, or all stations are at one place.

    Notes
    -----
    Stations on one line in x and y define no plane: the reference then is the line of the same
    kind along them, level square to it.
    """
    checks.choice("reference", reference, REFERENCES)
    corners = corners_of(x, y)
    if len(corners) == 1:
        raise checks.wrong(
            "x, y", "all stations at one place", f"{x.size} of them", "measure at several places"
        )
    if len(corners) == 2:
        return _along_a_line(reference, x, y, z, corners)
    if reference == "least squares":
        return _least_squares(x, y)
    return minimum_zone(x, y, z, corners)


def plane_of(deviations, origin, decided):
    """Return the `Plane` under some deviations and their range, correlated as they are.

    Parameters
    ----------
    deviations : Deviations
    origin : (float, float)
        The x and y that the reference counts from [mm].
    decided : (float, (int, int))
        The range [mm], and the highest and lowest station, as `decided_by` gives them.

    Returns
    -------
    Plane, float or `uncertainties` number
    """
    to_zero = np.array([[1.0, -origin[0], -origin[1]], [0.0, 1000.0, 0.0], [0.0, 0.0, 1000.0]])
    height, along, across, value = results(deviations, to_zero, decided)
    return Plane(height, along, across), value


def corners_of(x, y):
    """Return three stations that span a plane, two where all lie on a line, or one."""
    first = int(np.argmin(x + y))
    second = int(np.argmax(np.hypot(x - x[first], y - y[first])))
    dx, dy = x[second] - x[first], y[second] - y[first]
    long = float(np.hypot(dx, dy))
    if long == 0:
        return [first]
    aside = ((x - x[first]) * dy - (y - y[first]) * dx) / long
    third = int(np.argmax(np.abs(aside)))
    return [first, second] if abs(aside[third]) <= _COLLINEAR * long else [first, second, third]


def direction_of(x, y, ends):
    """Return the unit vector (x, y) of the line through two stations."""
    p, q = ends
    direction = np.array([x[q] - x[p], y[q] - y[p]])
    return direction / np.hypot(*direction)


def _along_a_line(reference, x, y, z, ends):
    """Return the reference line along stations that lie on one line, as a plane."""
    direction = direction_of(x, y, ends)
    line = lines.reference_line(reference, x * direction[0] + y * direction[1], z)
    weights = np.array([line.weights[0], *(line.weights[1] * share for share in direction)])
    return Reference(line.stations, weights, line.contacts, line.highest, line.lowest, line.width)


def _least_squares(x, y):
    """Return the unweighted least-squares plane: a reference by definition, not an estimate."""
    centre = np.array([x.mean(), y.mean()])
    slopes = np.linalg.pinv(np.column_stack([x - centre[0], y - centre[1]]), rcond=_COLLINEAR)
    return Reference(np.arange(x.size), np.array([1 / x.size - centre @ slopes, *slopes]))


def minimum_zone(x, y, z, corners):
    """Return the middle plane of the narrowest zone that holds all points: exact, and proven.

    Parameters
    ----------
    x, y, z : ndarray, shape (n,)
        Stations and heights, each less that of the first station [mm].
    corners : sequence of int, length 3
        Stations that span a plane.

    Notes
    -----
    Four stations with signs (upper or lower) fix a plane and a half zone T: z = a + b x + c y
    + s T at each. Multipliers m that take every plane out of the heights, with the signs of s and
    sum of |m| = 1, give T = m'z; no plane holds these four in less than T, whatever the other
    stations do. Each step lets the station farthest outside in and one of the four out, so that
    the signs still fit and T grows. When no station is outside, T is proven. This is the dual
    simplex method with the stations as rows that need no matrix.

    With many stations the zone of a sample is found first, and every station outside it joins
    the sample until none is outside: the last look at all stations is the same proof.
    """
    if x.size == 3:
        weights = np.linalg.inv(rows_of(x, y, np.arange(3))[:, :3])
        return Reference(np.arange(3), weights, (0, 1, 2), 0, 0, 0.0)
    scale = [2.0 ** np.ceil(np.log2(np.abs(place).max())) for place in (x, y)]
    x, y = x / scale[0], y / scale[1]  # by powers of two, so exactly
    basis, signs = start(x, y, corners)
    chosen = np.arange(x.size)
    if x.size > _MANY:
        random = np.random.default_rng(0).integers(0, x.size, _SAMPLE)
        chosen = np.unique(np.concatenate([basis, random]))
    while True:
        inside = np.searchsorted(chosen, basis)
        part = x[chosen], y[chosen], z[chosen]
        solved = _exchange(*part, inside, signs) or _by_linear_programme(*part)
        if solved is None:
            raise MetrolibError(
                "minimum zone: no plane could be proven to be the best; check the heights for "
                "values of very different size"
            )
        inside, signs, inverse, half = solved
        basis = chosen[inside]
        over, rounding = _over(x, y, z, inverse @ z[basis])
        outside = np.flatnonzero(np.abs(over) > half + rounding)
        if outside.size == 0 or chosen.size == x.size:
            break
        chosen = np.union1d(chosen, outside)
    weights = inverse[:3] / np.array([1.0, *scale])[:, None]
    deciding = np.abs(inverse[3]) > 1e-12
    contacts = tuple(sorted(int(i) for i in basis[deciding]))
    highest = int(basis[deciding & (signs > 0)][0])
    lowest = int(basis[deciding & (signs < 0)][0])
    return Reference(basis, weights, contacts, highest, lowest, float(np.ptp(over)))


def rows_of(x, y, stations, signs=0.0):
    """Return a row (1, x, y, sign) for each of some stations."""
    one = np.ones(len(stations))
    return np.column_stack([one, x[stations], y[stations], signs * one])


def start(x, y, corners):
    """Return four stations that span a plane and the signs of their multipliers."""
    first, second, third = corners
    aside = (x - x[first]) * (y[second] - y[first]) - (y - y[first]) * (x[second] - x[first])
    opposite = int(np.argmin(aside * np.sign(aside[third])))
    others = np.delete(np.arange(x.size), corners)
    basis = np.array([*corners, others[0] if opposite in corners else opposite])
    return basis, radon_signs(x, y, basis)


def radon_signs(x, y, basis):
    """Return the signs of the multipliers that take every plane out of four heights, shape (4,)."""
    rows = rows_of(x, y, basis)[:, :3]
    volumes = [(-1) ** i * np.linalg.det(np.delete(rows, i, axis=0)) for i in range(4)]
    return np.where(np.array(volumes) >= 0, 1.0, -1.0)


def _over(x, y, z, terms):
    """Return the heights over a plane, and what rounding may do to them."""
    over = z - terms[0] - terms[1] * x - terms[2] * y
    size = np.abs(terms[:3]).sum() + np.abs(z).max()  # |x| and |y| are at most 1
    return over, _ROUNDING * size


def _exchange(x, y, z, basis, signs):
    """Exchange until no station is outside; return (basis, signs, inverse, T), or None."""
    basis, signs = np.array(basis), np.array(signs)
    if np.linalg.inv(rows_of(x, y, basis, signs))[3] @ z[basis] < 0:
        signs = -signs
    for _ in range(_MOST_EXCHANGES):
        inverse = np.linalg.inv(rows_of(x, y, basis, signs))
        terms = inverse @ z[basis]
        over, rounding = _over(x, y, z, terms)
        top, bottom = int(over.argmax()), int(over.argmin())
        enters, sign = (top, 1.0) if over[top] >= -over[bottom] else (bottom, -1.0)
        if sign * over[enters] - terms[3] <= rounding:
            return basis, signs, inverse, terms[3]
        rate = sign * signs * (np.array([1.0, x[enters], y[enters], sign]) @ inverse)
        room = np.maximum(signs * inverse[3], 0.0)
        usable = rate > 1e-12
        if not usable.any():
            return None
        ratio = np.where(usable, room / np.where(usable, rate, 1.0), np.inf)
        leaves = int(np.lexsort((-rate, ratio))[0])  # of equal ratios the larger rate: steadier
        basis[leaves], signs[leaves] = enters, sign
    return None


def _by_linear_programme(x, y, z):
    """Find the zone with a general solver, then prove it from the stations near its border."""
    from scipy.optimize import linprog

    high = np.ptp(z) or 1.0
    rows = rows_of(x, y, np.arange(x.size))[:, :3]
    one = np.ones((x.size, 1))
    solved = linprog(
        [0, 0, 0, 1],
        A_ub=np.block([[rows, -one], [-rows, -one]]),
        b_ub=np.concatenate([z, -z]) / high,
        bounds=[(None, None)] * 4,
        method="highs",
    )
    if solved.x is None:
        return None
    over = z - rows @ solved.x[:3] * high
    near = np.argsort(-np.abs(over))[:14]
    bounds = []
    for basis in map(np.array, combinations(near.tolist(), 4)):
        if np.linalg.matrix_rank(rows_of(x, y, basis)[:, :3]) < 3:
            continue
        signs = radon_signs(x, y, basis)
        multipliers = np.linalg.inv(rows_of(x, y, basis, signs))[3]
        half = multipliers @ z[basis]
        signs = np.where(half < 0, -signs, signs)
        bounds.append((abs(half), basis, signs))
        for free in np.flatnonzero(np.abs(multipliers) < 1e-12):  # it may lie on either side
            bounds.append((abs(half), basis, np.where(np.arange(4) == free, -signs, signs)))
    bounds.sort(key=lambda found: -found[0])
    for half, basis, signs in bounds:
        inverse = np.linalg.inv(rows_of(x, y, basis, signs))
        over, rounding = _over(x, y, z, inverse @ z[basis])
        if half < bounds[0][0] - rounding:
            return None
        if np.abs(over).max() <= half + rounding:
            return basis, signs, inverse, half
        # three of the four on a line leave the plane free to turn: another four may hold it
    return None

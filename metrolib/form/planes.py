"""Reference planes: least squares, and the exact minimum zone by exchange."""

from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import MetrolibError
from metrolib.form import lines, sampled
from metrolib.form.deviations import Reference, results

#: The reference planes that the form functions offer.
REFERENCES = ("minimum zone", "least squares")

# Up to 10 exchanges were seen; ties may cycle in theory, so a cap guards, and a linear programme
# follows.
_MOST_EXCHANGES = 200
_ROUNDING = 32 * np.finfo(float).eps
# Stations nearer to one line than this share of their extent define no plane.
_COLLINEAR = 1e-9
# The four that a solver rests on may stand so near to each other that rounding counts for more.
_ILL_PLACED = 30
# A multiplier below this is none.
_NOTHING = 1e-12
# What turns the last row of an inverse when all signs turn.
_FLIPPED = np.array([[1.0], [1.0], [1.0], [-1.0]])


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
        Stations, each less the first one, and heights, from any [mm].

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
    if x.size > sampled.MANY:
        chosen = sampled.sample_of(x.size)
        corners = [int(chosen[corner]) for corner in corners_of(x[chosen], y[chosen])]
        if len(corners) == 3:
            return corners
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
        Stations, each less the first one, and heights, from any [mm].
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

    Many stations are proven by `metrolib.form.sampled.proven_zone`.
    """
    if x.size > sampled.MANY:

        def solve(chosen):
            return _zone(x[chosen], y[chosen], z[chosen], np.searchsorted(chosen, corners))

        return sampled.proven_zone((x, y), z, corners, solve)
    return _zone(x, y, z, corners)


def _zone(x, y, z, corners):
    """Find the narrowest zone from all stations at once."""
    z = z - z[0]
    columns, scale = columns_of(x, y)
    if x.size == 3:
        weights = np.linalg.inv(columns.T) / scale
        return Reference(np.arange(3), weights, (0, 1, 2), 0, 0, 0.0)
    basis, signs = start(x, y, corners)
    solved = None
    with suppress(np.linalg.LinAlgError):  # stations all but one upon the other
        solved = _exchange(columns, z, basis, signs)
    with suppress(np.linalg.LinAlgError):
        solved = solved or _by_linear_programme(columns, z)
    if solved is None:
        raise MetrolibError(
            "minimum zone: no plane could be proven to be the best; check the heights for "
            "values of very different size"
        )
    basis, signs, inverse, width = solved
    deciding = np.abs(inverse[3]) > _NOTHING
    contacts = tuple(sorted(basis[deciding].tolist()))
    highest, lowest = (int(basis[deciding & (signs == side)][0]) for side in (1.0, -1.0))
    return Reference(basis, inverse[:3] / scale, contacts, highest, lowest, width)


def columns_of(x, y):
    """Return the columns 1, x and y, shape (3, n), the last two scaled to at most 1, and the scale.

    Scaling is by powers of two, so exact.
    """
    columns = np.stack([np.ones_like(x), x, y])
    scale = 2.0 ** np.ceil(np.log2(np.abs(columns).max(axis=1, keepdims=True)))
    return columns / scale, scale


def start(x, y, corners):
    """Return four stations that span a plane and the signs of their multipliers."""
    first, second, third = corners
    aside = (x - x[first]) * (y[second] - y[first]) - (y - y[first]) * (x[second] - x[first])
    opposite = int((aside if aside[third] > 0 else -aside).argmin())
    if opposite in corners:
        opposite = next(station for station in range(x.size) if station not in corners)
    basis = np.array([*corners, opposite])
    return basis, radon_signs(x, y, basis)


def radon_signs(x, y, basis):
    """Return the signs of the multipliers that take every plane out of four heights, shape (4,)."""
    p, q, r, s = zip(x[basis].tolist(), y[basis].tolist(), strict=True)
    multipliers = _area(q, r, s), -_area(p, r, s), _area(p, q, s), -_area(p, q, r)
    return np.array([1.0 if multiplier >= 0 else -1.0 for multiplier in multipliers])


def _area(p, q, r):
    """Return twice the area of a triangle, negative where it runs clockwise."""
    return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])


def _exchange(columns, z, basis, signs):
    """Exchange until no station is outside; return (basis, signs, inverse, width), or None."""
    basis, signs, size = basis.copy(), signs.copy(), np.abs(z).max()
    matrix = np.column_stack([columns[:, basis].T, signs])
    for _ in range(_MOST_EXCHANGES):
        inverse = np.linalg.inv(matrix)
        terms = inverse @ z[basis]
        if terms[3] < 0:  # only the first four may stand on the wrong sides
            signs, inverse, terms[3] = -signs, inverse * _FLIPPED, -terms[3]
            matrix[:, 3] = signs
        over = z - terms[:3] @ columns
        top, bottom = over.argmax(), over.argmin()
        high, low = over.item(top), -over.item(bottom)
        enters, sign = (top, 1.0) if high >= low else (bottom, -1.0)
        if max(high, low) - terms[3] <= _rounding(terms, size):
            return basis, signs, inverse, high + low
        row = np.array([*columns[:, enters], sign])
        leaves = _leaving(sign * signs * (row @ inverse), signs * inverse[3])
        if leaves is None:
            return None
        basis[leaves], signs[leaves], matrix[leaves] = enters, sign, row
    return None


def _leaving(rates, room):
    """Return which of four stations leaves: whose multiplier is the first to come down to 0."""
    pairs = zip(rates.tolist(), room.tolist(), strict=True)
    first = [
        (max(multiplier, 0.0) / rate, -rate, station)  # of equal ones the larger rate: steadier
        for station, (rate, multiplier) in enumerate(pairs)
        if rate > _NOTHING
    ]
    return min(first)[2] if first else None


def _rounding(terms, size):
    """Return what rounding may do to heights of at most `size` over a plane."""
    # |x| and |y| are at most 1
    return _ROUNDING * (np.abs(terms[:3]).sum() + size) + lines.LEAST


def _by_linear_programme(columns, z):
    """Find the zone with a general solver, then prove it from the stations that it rests on."""
    from scipy.optimize import linprog

    rows, one = columns.T, np.ones((z.size, 1))
    fitted = z - rows @ np.linalg.lstsq(rows, z, rcond=None)[0]  # its tolerance counts a tilt too
    high = np.ptp(fitted) or 1.0
    solved = linprog(
        [0, 0, 0, 1],
        A_ub=np.block([[rows, -one], [-rows, -one]]),
        b_ub=np.concatenate([fitted, -fitted]) / high,
        bounds=[(None, None)] * 4,
        method="highs",
    )
    if solved.x is None:
        return None
    over = fitted - rows @ solved.x[:3] * high
    prices = solved.ineqlin.marginals.reshape(2, -1).sum(axis=0)
    side = np.where(over >= 0, 1.0, -1.0)
    basis = _independent(np.column_stack([rows, side]), np.lexsort((-np.abs(over), prices)))
    signs = radon_signs(columns[1], columns[2], basis)
    multipliers = np.linalg.inv(np.column_stack([rows[basis], signs]))[3]
    signs = signs if multipliers @ z[basis] >= 0 else -signs
    signs = np.where(np.abs(multipliers) < _NOTHING, side[basis], signs)  # those stand anywhere
    inverse = np.linalg.inv(np.column_stack([rows[basis], signs]))
    terms = inverse @ z[basis]
    over = z - rows @ terms[:3]
    if np.abs(over).max() > terms[3] + _ILL_PLACED * _rounding(terms, np.abs(z).max()):
        return None
    return basis, signs, inverse, float(np.ptp(over))


def _independent(rows, order):
    """Return the first four stations, in some order, that fix a plane and its zone."""
    basis = []
    for station in order:
        if np.linalg.matrix_rank(rows[[*basis, station]], tol=_COLLINEAR) > len(basis):
            basis.append(station)
            if len(basis) == 4:
                break
    else:  # all in one plane: any other station will do
        basis.append(next(station for station in order if station not in basis))
    return np.array(basis)

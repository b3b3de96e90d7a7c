"""Reference planes of many sets of heights over the same stations, without a loop over the sets."""

import numpy as np

from metrolib import checks
from metrolib.form import planes
from metrolib.form.lines_batched import line_ranges
from metrolib.form.tiles import ranges_over, tiles

# Up to 10 exchanges were seen; what is left after this many goes to the kernel for one set.
_MOST_EXCHANGES = 60
_ROUNDING = 32 * np.finfo(float).eps
# Multipliers are proven to this; those of a set that are not go to the kernel for one set.
_PROOF = 1e-13


def plane_ranges(reference, x, y, basis, z):
    """Return the range of the deviations from a reference plane, for each set of heights.

    Parameters
    ----------
    reference : str
        ``"minimum zone"`` or ``"least squares"``.
    x, y : ndarray, shape (n,)
        Stations common to all sets [mm].
    basis : sequence of int, or None
        The four stations that carry the minimum zone of heights like these, where it is known:
        the search starts there.
    z : ndarray, shape (T, n)
        A set of heights in each row [mm].

    Returns
    -------
    ndarray, shape (T,)
        [mm]

    Raises
    ------
    InputError
        If the word is unknown, all stations are at one place, or the heights do not fit.

    Examples
    --------
    >>> x, y = np.array([0.0, 400.0, 0.0, 400.0]), np.array([0.0, 0.0, 100.0, 100.0])
    >>> z = [[0.0, 0.0, 0.0, 0.02], [0.0, 0.0, 0.03, 0.03]]
    >>> plane_ranges("minimum zone", x, y, None, z).round(6).tolist()
    [0.01, 0.0]
    """
    z, x, y = checks.table("z", z, x.size), x - x[0], y - y[0]
    corners = planes.corners_of(x, y)
    if len(corners) == 2:
        direction = planes.direction_of(x, y, corners)
        return line_ranges(reference, x * direction[0] + y * direction[1], z)
    if len(corners) == 3 and reference == "minimum zone":
        return minimum_zones(x, y, z, corners, basis)
    return ranges_over(planes.reference_plane(reference, x, y, np.zeros_like(x)), (x, y), z)


def minimum_zones(x, y, z, corners, basis=None):
    """Find the widths of the minimum zones of many sets of heights: exact.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Stations, each less the first one [mm].
    z : ndarray, shape (T, n)
        [mm]
    corners : sequence of int, length 3
        Stations that span a plane.
    basis : sequence of int, optional
        As in `plane_ranges`.

    Returns
    -------
    ndarray, shape (T,)
        [mm]

    Notes
    -----
    The exchange of `metrolib.form.planes.minimum_zone` with a vector in place of each number.
    Whether four stations with their signs bound the zone from below depends on x and y only, so
    all sets may start from the same four.
    """
    if x.size == 3:
        return np.zeros(len(z))
    if basis is None:
        basis, signs = planes.start(x, y, corners)
    else:
        signs = planes.radon_signs(x, y, np.asarray(basis))
    columns, _ = planes.columns_of(x, y)
    widths = np.empty(len(z))
    for part in tiles(z):
        above = z[part] - z[part, :1]
        widths[part] = _Exchange(columns, above, np.asarray(basis), signs).widths()
    for row in np.flatnonzero(np.isnan(widths)):
        widths[row] = planes.minimum_zone(x, y, z[row], corners).width
    return widths


class _Exchange:
    """The search in one tile: for each pending set its four stations, their signs, the inverse.

    Attributes
    ----------
    columns : ndarray, shape (3, n)
        1, x and y of each station, scaled to at most 1.
    z : ndarray, shape (pending, n)
    sets : ndarray of int, shape (pending,)
        Which rows of the tile they are.
    basis, signs : ndarray, shape (pending, 4)
    inverse : ndarray, shape (pending, 4, 4)
        Of the rows (1, x, y, sign) of the basis; times their heights it gives the plane and T.
    """

    def __init__(self, columns, z, basis, signs):
        count = len(z)
        self.columns, self.z, self.sets = columns, z, np.arange(count)
        self.basis, self.signs = np.tile(basis, (count, 1)), np.tile(signs, (count, 1))
        inverse = np.linalg.inv(np.column_stack([columns[:, basis].T, signs]))
        flip = np.where(z[:, basis] @ inverse[3] < 0, -1.0, 1.0)  # so that T is not negative
        self.signs *= flip[:, None]
        self.inverse = np.tile(inverse, (count, 1, 1))
        self.inverse[:, 3] *= flip[:, None]

    def widths(self):
        """Return the width for each set, NaN where it could not be proven."""
        widths = np.full(len(self.z), np.nan)
        pending, over = np.ones(len(self.z), dtype=bool), np.empty_like(self.z)
        for _ in range(_MOST_EXCHANGES):
            each = np.arange(len(self.z))
            heights = self.z[each[:, None], self.basis]
            terms = np.einsum("tij,tj->ti", self.inverse, heights)
            np.matmul(terms[:, :3], self.columns, out=over)
            np.subtract(self.z, over, out=over)
            top, bottom = over.argmax(axis=1), over.argmin(axis=1)
            high, low = over[each, top], -over[each, bottom]
            farthest = np.maximum(high, low)
            # |x| and |y| are at most 1, so no height exceeds `farthest` and the terms
            size = farthest + 2 * np.abs(terms[:, :3]).sum(axis=1)
            done = pending & (farthest - terms[:, 3] <= _ROUNDING * size)
            proven = np.flatnonzero(done)[self._proven(done)]
            widths[self.sets[proven]] = (high + low)[proven]
            pending &= ~done

            above = high >= low
            enters, sign = np.where(above, top, bottom), np.where(above, 1.0, -1.0)
            pending &= self._exchange(pending, enters, sign)
            left = np.count_nonzero(pending)
            if left == 0:
                break
            if 2 * left < pending.size:  # copying the rest pays only then
                for name in ("z", "sets", "basis", "signs", "inverse"):
                    setattr(self, name, getattr(self, name)[pending])
                pending, over = np.ones(left, dtype=bool), over[:left]
        return widths

    def _proven(self, done):
        """Tell which of the sets done have multipliers that take out every plane, sum of |m| 1.

        The inverse is updated and never made anew, so this is looked at and not believed.
        """
        rows = np.dstack([*self.columns[:, self.basis[done]], self.signs[done]])
        product = np.einsum("tj,tjk->tk", self.inverse[done, 3], rows)
        return np.abs(product - [0.0, 0.0, 0.0, 1.0]).max(axis=1) <= _PROOF

    def _exchange(self, pending, enters, sign):
        """Let one station into each pending basis and one out; return False where none can go."""
        row = np.column_stack([*self.columns[:, enters], sign])
        rates = np.einsum("ti,tij->tj", row, self.inverse)
        rate = sign[:, None] * self.signs * rates
        room = np.maximum(self.signs * self.inverse[:, 3], 0.0)
        usable = rate > 1e-12
        ratio = np.divide(room, rate, out=np.full_like(room, np.inf), where=usable)
        tied = usable & (ratio == ratio.min(axis=1, keepdims=True))
        leaves = np.where(tied, rate, -np.inf).argmax(axis=1)  # the larger rate: steadier
        goes = usable.any(axis=1)

        each, moved = np.arange(len(row)), np.flatnonzero(pending & goes)
        pivot = np.full(len(row), np.inf)  # which leaves the inverse of the others as it is
        pivot[moved] = rates[moved, leaves[moved]]
        rates[each, leaves] -= 1.0
        column = self.inverse[each, :, leaves] / pivot[:, None]
        self.inverse -= column[:, :, None] * rates[:, None, :]
        self.basis[moved, leaves[moved]] = enters[moved]
        self.signs[moved, leaves[moved]] = sign[moved]
        return goes

"""The rows of a removal without a band, as both simplex methods for it take them."""

from dataclasses import replace

import numpy as np

MOST_PIVOTS = 100  # up to 20 were seen; what is left goes to the general solver
_FAR = 1e6  # how much farther than the heights reach stands for no limit of an unknown
_ROUNDING = 1e-12  # a row is kept if it is broken by less, of the largest number in the rows
_NO_PRICE = 1e-9  # a multiplier below this is none; prices are 1 at most
NO_SHARE = 1e-9  # a row does not answer to another if it does so by less
_NEAR = 30.0  # stations within so many of their own lengths are not far off
_CANCELLED = 1e-12  # a sum of volumes below this share of its parts is rounding
_TIED = 1e-10  # ratios that differ by less leave the choice to the next wish

# What decides, one after the other, where volume and deepest cut leave a choice.
_AFTER = ("pitch", "roll", "yaw", "shift", "lift")


def wishes(programme):
    """Return what decides, most important first: the value asked for alone, and all there is."""
    first = ["deepest", "volume"] if programme.minimise == "deepest cut" else ["volume"]
    every = first if "deepest" in first else [*first, "deepest"]
    return first, [*every, *(name for name in _AFTER if name in programme.motions)]


def near_zero(programme):
    """Return the programme with far-off stations counted from one of them, and the way back.

    Far from x = 0 a pitch looks like a lift, and rounding confuses them. So of each lift or offset
    the other motions turn about its first station.

    Returns
    -------
    Programme
    ndarray, shape (p, p), or None
        Makes the motions of the programme that was given out of those of the one returned; None
        where it is the same.
    """
    columns, back = programme.columns, np.eye(len(programme.motions))
    lifts = [i for i, name in enumerate(programme.motions) if name.startswith(("lift", "offset"))]
    others = [i for i in range(len(back)) if i not in lifts]
    for lift in lifts:
        first = int((columns[:, lift] != 0).argmax())
        back[lift, others] = -columns[first, others] / columns[first, lift]
    some = columns[:: len(columns) // 1000 + 1, others]
    extent = some.max(axis=0) - some.min(axis=0)
    if not lifts or (np.abs(back[lifts][:, others]) <= _NEAR * extent).all():
        return programme, None
    # what is left of the lift says nothing of the lift itself, so it is no wish
    motions = tuple(name if name != "lift" else "" for name in programme.motions)
    return replace(programme, motions=motions, columns=columns @ back), back


def _worth(price, programme, scale):
    """Return what each motion is worth to the volume, the dearest as one.

    Faces that look against each other lose to a lift what they gain: what is left of such a sum is
    rounding, and worth nothing.
    """
    parts = programme.area @ np.abs(programme.columns) / scale
    price = np.where(np.abs(price) < _CANCELLED * parts, 0.0, price)
    most = np.abs(price).max()
    return price / most if most > 0 else price


class Rows:
    """Rows A v <= b of the programme, b for each set of heights, and the wishes for the unknowns v.

    The unknowns are the motions, and one for each wish but the volume: the deepest cut, or how far
    a motion goes either way. Each is counted by the height that it makes.

    Attributes
    ----------
    matrix : ndarray, shape (R, V)
        A.
    right : ndarray, shape (T, R)
        b [mm].
    prices : ndarray, shape (W, V)
        What one unit of each unknown is worth to each wish, the most important first.
    tolerance : ndarray, shape (T,)
        A row that is broken by less is kept [mm].
    start : ndarray of int, shape (V,)
        Rows that are a basis to start from, whatever the heights are.
    """

    def __init__(self, programme, heights, wanted, volume):
        """Make the rows for heights (T, n), wishes, and what the volume gains by each motion."""
        columns = programme.columns
        self.p = columns.shape[1]
        self.scale = np.abs(columns).max(axis=0)
        self.scale[self.scale == 0] = 1.0  # a motion that no station shows
        more = [wish for wish in wanted if wish != "volume"]
        size = self.p + len(more)
        self._matrix, self._right, self.parts, self.bound = [], [], [], 0
        low = programme.at_places(columns)
        below = heights if programme.low is None else heights @ programme.low.T
        capped = np.flatnonzero(np.isfinite(programme.greatest))
        self._add("low spot", np.arange(len(low)), low / self.scale, below - programme.least, size)
        most = programme.greatest[capped] - heights[:, capped]
        self._add("greatest cut", capped, -columns[capped] / self.scale, most, size)
        self.prices = np.zeros((len(wanted) + 1, size))
        for level, wish in enumerate(wanted):
            if wish == "volume":
                self.prices[level, : self.p] = _worth(volume / self.scale, programme, self.scale)
                continue
            place = self.p + more.index(wish)
            self.prices[level, place] = -1.0
            if wish == "deepest":
                stations = np.arange(len(columns))
                self._add("high spot", stations, -columns / self.scale, -heights, size, place)
                continue
            unit = np.eye(self.p)[[programme.motions.index(wish)]]
            self._add("", [], np.vstack([unit, -unit]), np.zeros((len(heights), 2)), size, place)
        # A last wish, of no meaning, leaves no two pivots equally good.
        self.prices[-1] = 1 + np.arange(size) / size
        self._add_bounds(programme.limit, size, len(heights))

    def _add(self, role, places, rows, right, size, unknown=None):
        """Add rows on the motions, less an unknown; `role` and `places` say what they mean."""
        wide = np.zeros((len(rows), size))
        wide[:, : self.p] = rows
        if unknown is not None:
            wide[:, unknown] = -1.0
        self._matrix.append(wide)
        self._right.append(right)
        self.parts.append((self.bound, role, places))
        self.bound += len(rows)

    def _add_bounds(self, limit, size, sets):
        """Add the bounds of the unknowns; what comes off and how far motions go is not negative."""
        right = np.hstack(self._right)
        largest = np.maximum(np.abs(right).max(axis=1), 1e-9)
        self.tolerance = _ROUNDING * largest
        high = np.full(size, _FAR * largest.max())
        free = np.isinf(limit)
        high[: self.p][~free] = (limit * self.scale)[~free]
        low = np.where(np.arange(size) < self.p, high, 0.0)
        self.matrix = np.vstack([*self._matrix, np.eye(size), -np.eye(size)])
        self.right = np.hstack([right, np.tile(np.append(high, low), (sets, 1))])
        # bounds that stand for none must not decide; one of nothing leaves nothing to decide
        self.made_up = np.append(high, low) == _FAR * largest.max()
        self.held = np.append(high, low) == 0
        self.held[self.p : size] = self.held[size + self.p :] = False
        # the bounds on the side that the first price pushes to are a basis
        first = (self.prices != 0).argmax(axis=0)
        up = self.prices[first, np.arange(size)] > 0
        self.start = self.bound + np.where(up, 0, size) + np.arange(size)

    def settled(self, basis, inverse):
        """Tell of bases (..., V) whether they leave no choice; and which rows the value rests on.

        Several targets are equally good where a row that fixes one has no price.
        """
        priced = np.abs(self.prices[:-1] @ inverse) > _NO_PRICE
        at = np.maximum(basis - self.bound, 0)
        bound = basis >= self.bound
        fixed = priced.any(axis=-2) & ~(bound & self.made_up[at])
        return (fixed | (bound & self.held[at])).all(axis=-1), priced[..., 0, :]

    def place(self, row):
        """Return the place that a row speaks of, and its role there; None and "" if of none."""
        start, role, places = max(part for part in self.parts if part[0] <= row)
        return (int(places[row - start]), role) if row - start < len(places) else (None, "")


def leaving(multiplier, share):
    """Return the row that leaves each basis: the first whose multiplier a pivot brings to zero.

    Where the first wish leaves a choice, the second decides, and so on.
    """
    can = share > NO_SHARE
    for level in range(multiplier.shape[-2]):
        ratio = np.where(can, multiplier[..., level, :] / np.where(can, share, 1.0), np.inf)
        can = ratio <= ratio.min(axis=-1, keepdims=True) + _TIED
    return can.argmax(axis=-1)

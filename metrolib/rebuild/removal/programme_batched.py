"""The linear programme of a removal for many sets of heights at once."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.rebuild.removal.programme import find_target

_FAR = 1e6  # stands for no limit of a motion, as the height that it makes [mm]
_ROUNDING = 1e-12  # a row is kept if it is broken by less, of the largest number in the rows
_NO_PRICE = 1e-9  # a multiplier below this is none; prices are 1 at most
_NO_SHARE = 1e-9  # a row does not answer to another if it does so by less
_TIED = 1e-10  # ratios that differ by less leave the choice to the next wish
_MOST_PIVOTS = 100  # up to 20 were seen; what is left goes to the solver for one set
_TILE = 2048

# What decides, one after the other, where volume and deepest cut leave a choice.
_AFTER = ("pitch", "roll", "yaw", "shift", "lift")


@dataclass(frozen=True, eq=False)
class Targets:
    """Where the target lies for each set of heights.

    Attributes
    ----------
    motion : ndarray, shape (T, p)
        [mm, mm/m]; NaN where no target meets the conditions.
    governs : ndarray of bool, shape (T, q)
        The places that the target rests on, as low spots.
    """

    motion: np.ndarray
    governs: np.ndarray


def find_targets(programme, heights):
    """Return the targets that need the least removal, one for each set of heights.

    Parameters
    ----------
    programme : Programme
        Its own heights do not count.
    heights : ndarray, shape (T, n)
        A set of heights in each row [mm].

    Returns
    -------
    Targets

    Notes
    -----
    Gives the same as `find_target` for each set. A dual simplex for all sets together: heights
    stand on the right of the programme only, so the basis that is best for one set is a start for
    every other that needs no first phase. Each set keeps its own inverse, changed by a term of rank
    one at each pivot; the rows broken most are found by one matrix product. Where more targets
    than one have the least volume, a second run asks for all that `find_target` does, the wishes
    one after the other in the choice of each pivot; what is left undecided then, if anything, goes
    to `find_target`, one set after the other.

    With a band the depths are unknowns of their own and all sets go there: some hundred sets a
    second, so ask for hundreds of draws, not for a hundred thousand.

    Examples
    --------
    >>> from metrolib import Face, given_heights, plan_removal
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [0.0, -0.05, 0.0])})
    >>> programme = plan_removal(heights, faces=["flat"]).programme
    >>> targets = find_targets(programme, np.array([[0.0, -0.05, 0.0], [0.0, 0.01, 0.02]]))
    >>> (targets.motion @ programme.columns.T).round(6).tolist()
    [[-0.05, -0.05, -0.05], [0.0, 0.01, 0.02]]
    """
    count, p = len(heights), programme.columns.shape[1]
    found = Targets(
        np.full((count, p), np.nan), np.zeros((count, len(programme.least)), dtype=bool)
    )
    open_ = np.ones(count, dtype=bool)
    if programme.band == 0:
        for start in range(0, count, _TILE):
            part = slice(start, start + _TILE)
            open_[part] = _solve_tile(programme, heights[part], found, part)
    for i in np.flatnonzero(open_):
        target = find_target(replace(programme, height=heights[i]))
        if target is not None:
            found.motion[i] = target.motion
            low = [place for place, role in target.role.items() if role == "low spot"]
            found.governs[i, low] = True
    return found


def _solve_tile(programme, heights, found, part):
    """Solve for some sets, note what is found, and return which sets are left open."""
    first = ["deepest", "volume"] if programme.minimise == "deepest cut" else ["volume"]
    every = [*first, *(["deepest"] if "deepest" not in first else []), *_AFTER]
    sets = np.arange(len(heights))
    for wishes in (first, [w for w in every if w in (*first, "deepest", *programme.motions)]):
        rows = _Rows(programme, heights[sets], wishes)
        solution = rows.solve()
        motion, governs = found.motion[part], found.governs[part]
        motion[sets] = solution.values[:, : rows.p] / rows.scale
        at, row = np.nonzero(solution.priced)
        low = solution.basis[at, row] < governs.shape[1]
        governs[sets] = False
        governs[sets[at[low]], solution.basis[at, row][low]] = True
        # Several targets are equally good where a row that fixes one has no price.
        sets = sets[solution.open]
        if not sets.size:
            break
    left = np.zeros(len(heights), dtype=bool)
    left[sets] = True
    return left


@dataclass(eq=False)
class _Solution:
    """Unknowns, the rows that fix them, which of these the first wish prices, and what is open."""

    values: np.ndarray
    basis: np.ndarray
    priced: np.ndarray
    open: np.ndarray


class _Rows:
    """Rows A v <= b of the programme, b for each set, and the wishes for the unknowns v.

    The unknowns are the motions, and one for each wish but the volume: the deepest cut, or how far
    a motion goes either way.
    """

    def __init__(self, programme, heights, wishes):
        count, self.p = programme.columns.shape
        self.scale = np.abs(programme.columns).max(axis=0)
        more = [wish for wish in wishes if wish != "volume"]
        size = self.p + len(more)
        self.limit = np.full(size, _FAR)
        free = np.isinf(programme.limit)
        self.limit[: self.p] = np.where(free, _FAR, programme.limit * self.scale)
        self.matrix, self.right = [], []
        columns, low = programme.columns, programme.at_places(programme.columns)
        below = heights if programme.low is None else heights @ programme.low.T
        capped = np.isfinite(programme.greatest)
        self._add(low / self.scale, below - programme.least)
        self._add(-columns[capped] / self.scale, (programme.greatest - heights)[:, capped])
        self.prices = np.zeros((len(wishes) + 1, size))
        for level, wish in enumerate(wishes):
            if wish == "volume":
                price = programme.area @ columns / self.scale
                self.prices[level, : self.p] = price / np.abs(price).max()
                continue
            place = self.p + more.index(wish)
            self.prices[level, place] = -1.0
            if wish == "deepest":
                self._add(-columns / self.scale, -heights, place)
                continue
            unit = np.eye(self.p)[[programme.motions.index(wish)]]
            self._add(np.vstack([unit, -unit]), np.zeros((len(heights), 2)), place)
        # A last wish, of no meaning, leaves no two pivots equally good.
        self.prices[-1] = 1 + np.arange(size) / size
        self._add_bounds(size, len(heights))

    def _add(self, rows, right, place=None):
        """Add rows on the motions, less the unknown at a place."""
        wide = np.zeros((len(rows), len(self.limit)))
        wide[:, : self.p] = rows
        if place is not None:
            wide[:, place] = -1.0
        self.matrix.append(wide)
        self.right.append(right)

    def _add_bounds(self, size, sets):
        """Add the bounds of the unknowns; what comes off and how far motions go is not negative."""
        self.bound = sum(map(len, self.matrix))
        floor = np.where(np.arange(size) < self.p, self.limit, 0.0)
        self.matrix = np.vstack([*self.matrix, np.eye(size), -np.eye(size)])
        self.right = np.hstack([*self.right, np.tile(np.append(self.limit, floor), (sets, 1))])

    def solve(self):
        """Solve for all sets, from the basis that is best for the first of them."""
        size = len(self.limit)
        # the bounds on the side that the first price pushes to are a basis
        first = (self.prices != 0).argmax(axis=0)
        up = self.prices[first, np.arange(size)] > 0
        start = self.bound + np.where(up, 0, size) + np.arange(size)
        # a first set without a solution ends on a basis that is a start all the same
        best = _pivot(self.matrix, self.right[:1], self.prices, start)[0][0]
        basis, found, unfinished = _pivot(self.matrix, self.right, self.prices, best)
        inverse = np.linalg.inv(self.matrix[basis])
        values = (inverse @ np.take_along_axis(self.right, basis, axis=1)[:, :, None])[..., 0]
        values[~found] = np.nan
        priced = np.abs(self.prices[:-1] @ inverse) > _NO_PRICE
        at = basis - self.bound
        held = (at >= 0) & (self.limit[at % size] == 0)
        settled = (priced.any(axis=1) | held).all(axis=1)
        return _Solution(
            values, basis, priced[:, 0] & found[:, None], unfinished | (found & ~settled)
        )


def _pivot(matrix, right, prices, start):
    """Run the dual simplex on all sets; return basis, whether solved, whether left unfinished."""
    count = len(right)
    basis = np.tile(start, (count, 1))
    inverse = np.tile(np.linalg.inv(matrix[start]), (count, 1, 1))
    found, unfinished = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    busy = np.arange(count)
    # the bounds that stand for none say nothing of how exact the rows are
    size = np.where(np.abs(right) < _FAR, np.abs(right), 0.0).max(axis=1)
    tolerance = _ROUNDING * np.maximum(size, 1e-9)
    for _ in range(_MOST_PIVOTS):
        corner = np.take_along_axis(right[busy], basis[busy], axis=1)[:, :, None]
        lack = (inverse @ corner)[..., 0] @ matrix.T
        lack -= right[busy]
        entering = lack.argmax(axis=1)
        broken = lack[np.arange(busy.size), entering] > tolerance[busy]
        found[busy[~broken]] = True
        busy, inverse, entering = busy[broken], inverse[broken], entering[broken]
        share = (matrix[entering][:, None, :] @ inverse)[:, 0, :]
        solvable = (share > _NO_SHARE).any(axis=1)
        busy, inverse, entering, share = (
            array[solvable] for array in (busy, inverse, entering, share)
        )
        if not busy.size:
            break
        at, leaving = np.arange(busy.size), _leaving(prices @ inverse, share)
        basis[busy, leaving] = entering
        column = inverse[at, :, leaving] / share[at, leaving][:, None]
        share[at, leaving] -= 1.0
        inverse -= column[:, :, None] * share[:, None, :]
    unfinished[busy] = True
    return basis, found, unfinished


def _leaving(multiplier, share):
    """Return the row that leaves each basis: the first whose multiplier a pivot brings to zero.

    Where the first wish leaves a choice, the second decides, and so on.
    """
    can = share > _NO_SHARE
    for level in range(multiplier.shape[1]):
        ratio = np.where(can, multiplier[:, level] / np.where(can, share, 1.0), np.inf)
        can = ratio <= (ratio.min(axis=1) + _TIED)[:, None]
    return can.argmax(axis=1)

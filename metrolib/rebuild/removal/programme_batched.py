"""The linear programme of a removal for many sets of heights at once."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.rebuild.removal.programme_rows import (
    MOST_PIVOTS,
    NO_SHARE,
    Rows,
    leaving,
    near_zero,
    wishes,
)
from metrolib.rebuild.removal.programme_single import find_target

_TILE = 2048


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
        near, back = near_zero(programme)
        for start in range(0, count, _TILE):
            part = slice(start, start + _TILE)
            open_[part] = _solve_tile(near, heights[part], found, part)
        if back is not None:
            found.motion[:] = found.motion @ back.T
    for i in np.flatnonzero(open_):
        target = find_target(replace(programme, height=heights[i]))
        if target is not None:
            found.motion[i] = target.motion
            low = [place for place, role in target.role.items() if role == "low spot"]
            found.governs[i, low] = True
    return found


def _solve_tile(programme, heights, found, part):
    """Solve for some sets, note what is found, and return which sets are left open."""
    volume = programme.area @ programme.columns
    motion, governs = found.motion[part], found.governs[part]
    sets = np.arange(len(heights))
    for wanted in wishes(programme):
        rows = Rows(programme, heights[sets], wanted, volume)
        # a first set without a solution ends on a basis that is a start all the same
        best = _pivot(rows, rows.right[:1], rows.tolerance[:1], rows.start)[0][0]
        basis, solved, unfinished = _pivot(rows, rows.right, rows.tolerance, best)
        inverse = np.linalg.inv(rows.matrix[basis])
        values = (inverse @ np.take_along_axis(rows.right, basis, axis=1)[:, :, None])[..., 0]
        values[~solved] = np.nan
        motion[sets] = values[:, : rows.p] / rows.scale
        settled, priced = rows.settled(basis, inverse)
        at, row = np.nonzero(priced & solved[:, None])
        low = basis[at, row] < governs.shape[1]
        governs[sets] = False
        governs[sets[at[low]], basis[at, row][low]] = True
        sets = sets[unfinished | (solved & ~settled)]
        if not sets.size:
            break
    left = np.zeros(len(heights), dtype=bool)
    left[sets] = True
    return left


def _pivot(rows, right, tolerance, start):
    """Run the dual simplex on all sets; return basis, whether solved, whether left unfinished."""
    matrix, count = rows.matrix, len(right)
    basis = np.tile(start, (count, 1))
    inverse = np.tile(np.linalg.inv(matrix[start]), (count, 1, 1))
    found, unfinished = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    busy = np.arange(count)
    for _ in range(MOST_PIVOTS):
        corner = np.take_along_axis(right[busy], basis[busy], axis=1)[:, :, None]
        lack = (inverse @ corner)[..., 0] @ matrix.T
        lack -= right[busy]
        entering = lack.argmax(axis=1)
        broken = lack[np.arange(busy.size), entering] > tolerance[busy]
        found[busy[~broken]] = True
        busy, inverse, entering = busy[broken], inverse[broken], entering[broken]
        share = (matrix[entering][:, None, :] @ inverse)[:, 0, :]
        solvable = (share > NO_SHARE).any(axis=1)
        busy, inverse, entering, share = (
            array[solvable] for array in (busy, inverse, entering, share)
        )
        if not busy.size:
            break
        at, leaves = np.arange(busy.size), leaving(rows.prices @ inverse, share)
        basis[busy, leaves] = entering
        column = inverse[at, :, leaves] / share[at, leaves][:, None]
        share[at, leaves] -= 1.0
        inverse -= column[:, :, None] * share[:, None, :]
    unfinished[busy] = True
    return basis, found, unfinished

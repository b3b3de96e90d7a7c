"""The linear programme of a removal for one set of heights, of any number of stations."""

from dataclasses import replace

import numpy as np

from metrolib.rebuild.removal.programme import Target
from metrolib.rebuild.removal.programme_general import search_target
from metrolib.rebuild.removal.programme_rows import (
    MOST_PIVOTS,
    NO_SHARE,
    Rows,
    leaving,
    near_zero,
    wishes,
)

# More stations than this are solved on a sample, which every station that breaks a row joins.
_MANY = 20_000
_SAMPLE = 2_000
_OF_STATIONS = ("columns", "height", "area", "least", "u", "greatest")
_NOTHING = 1e-12  # a share of the largest number in a law below this is rounding


def find_target(programme, k=0.0):
    """Return the target that needs the least removal, or None if no target meets the conditions.

    Parameters
    ----------
    programme : Programme
    k : float
        The guard: every place that must clean up counts as k u lower than measured.

    Returns
    -------
    Target or None

    Notes
    -----
    The value asked for comes first, volume or deepest cut. Where several targets reach it (a low
    spot in the very middle of a face), the other of the two decides; then the least pitch against
    the frame, the least roll, the least yaw, the highest target, the least shift, the least lift.

    Without a band a dual simplex finds it: as many rows as there are unknowns fix a target that
    none can better which keeps these rows; while another row is broken, the one broken most joins
    them and one leaves, so that the target only gets dearer. When no row is broken it is proven.
    With many stations the target of a sample is found first, and every station that breaks a row
    joins the sample until none does: the last look at all stations is the same proof. With a
    band, or where this finds no target, a general solver has the last word
    (`metrolib.rebuild.removal.programme_general.search_target`).

    Examples
    --------
    A million heights along one way, some 20 um of noise on a slope:

    >>> from metrolib.rebuild.removal.programme import Programme
    >>> x = np.linspace(0, 1, 1_000_001)
    >>> z = 0.02 * np.random.default_rng(1).random(x.size) + 0.1 * x
    >>> none, area = np.zeros(x.size), np.ones(x.size)
    >>> way = Programme(("lift", "pitch"), np.column_stack([area, x]), z, area, none, none,
    ...                 none + np.inf, 0.0, np.full(2, np.inf), "volume")
    >>> find_target(way).motion.round(3).tolist()
    [0.0, 0.1]
    """
    if k:
        programme = replace(programme, least=programme.least + k * programme.u)
    if not programme.band:
        near, back = near_zero(programme)
        found = _simplex(near)
        if found is not None and back is not None:
            return Target(back @ found.motion, back @ found.law, found.role)
        if found is not None:
            return found
    return search_target(programme)


def _simplex(programme):
    """Return the target, or None where none is proven."""
    volume = programme.area @ programme.columns
    chosen = np.arange(len(programme.height))
    if programme.low is None and chosen.size > _MANY:
        chosen = np.unique(np.random.default_rng(0).integers(0, chosen.size, _SAMPLE))
    for wanted in wishes(programme):
        rows, solved, chosen = _grown(programme, chosen, wanted, volume)
        if solved is None:
            return None
        settled, priced = rows.settled(*solved)
        if settled:
            return _target(programme, rows, chosen, *solved, priced)
    return None


def _grown(programme, chosen, wanted, volume):
    """Solve for some of the stations, which those that break a row join until none does."""
    while True:
        part = programme if chosen.size == programme.height.size else _of(programme, chosen)
        rows = Rows(part, part.height[None], wanted, volume)
        solved = _pivot(rows)
        if solved is None or part is programme:
            return rows, solved, chosen
        broken = np.setdiff1d(_broken(programme, rows, *solved, "deepest" in wanted), chosen)
        if not broken.size:
            return rows, solved, chosen
        chosen = np.union1d(chosen, broken)


def _of(programme, chosen):
    """Return the programme of some of its stations."""
    given = {name: getattr(programme, name)[chosen] for name in _OF_STATIONS}
    return replace(programme, **given)


def _broken(programme, rows, basis, inverse, with_deepest):
    """Return the stations where the target lies too high, or more comes off than may."""
    values = inverse @ rows.right[0, basis]
    most = values[rows.p] if with_deepest else np.inf
    over = programme.height - programme.columns @ (values[: rows.p] / rows.scale)
    broken = over < programme.least - rows.tolerance[0]
    broken |= over > np.minimum(programme.greatest, most) + rows.tolerance[0]
    return np.flatnonzero(broken)


def _pivot(rows):
    """Run the dual simplex; return the basis and its inverse, or None where it ends on none."""
    matrix, right, basis = rows.matrix, rows.right[0], rows.start.copy()
    for _ in range(MOST_PIVOTS):
        inverse = np.linalg.inv(matrix[basis])
        lack = matrix @ (inverse @ right[basis]) - right
        enters = lack.argmax()
        if lack[enters] <= rows.tolerance[0]:
            return basis, inverse
        share = matrix[enters] @ inverse
        if share.max() <= NO_SHARE:
            return None
        basis[leaving(rows.prices @ inverse, share)] = enters
    return None


def _target(programme, rows, chosen, basis, inverse, priced):
    """Return the target that some rows fix, and how it answers to their places."""
    answer = inverse[: rows.p] / rows.scale[:, None]
    answer[np.abs(answer) < _NOTHING * np.abs(answer).max()] = 0.0
    law, role = np.zeros((rows.p, len(programme.least))), {}
    for column, row, decides in zip(answer.T, basis, priced, strict=True):
        place, what = rows.place(row)
        if place is None:
            continue
        place = place if programme.low is not None else int(chosen[place])
        law[:, place] += column if what == "low spot" else -column
        if decides and law[:, place].any():
            role[place] = what
    return Target(answer @ rows.right[0, basis], law, role)

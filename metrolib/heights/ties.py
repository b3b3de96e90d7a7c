"""Ties: whether the readings tie quantities down, judged from the heights' covariance alone."""

from dataclasses import dataclass

import numpy as np

from metrolib.heights.result import DETERMINED, PRIOR_U


@dataclass(frozen=True, eq=False)
class Candidate:
    """Readings that might be taken, as they would change the covariance.

    Attributes
    ----------
    words : str
        What to do, as a rebuilder would be told.
    rows : ndarray, shape (k, n)
        What the readings are of the heights.
    noise : ndarray, shape (k, k)
        Their covariance, with what their set-up adds (an offset, a plane) as a common part.
    """

    words: str
    rows: np.ndarray
    noise: np.ndarray


def tied(functionals, cov, prior=None):
    """Tell which linear functions of the heights, or of other quantities, are determined.

    Parameters
    ----------
    functionals : ndarray, shape (k, n)
    cov : ndarray, shape (n, n)
        Covariance of the heights [mm²].
    prior : ndarray, shape (n, n), optional
        The same before any reading; that of heights when not given.

    Returns
    -------
    ndarray of bool, shape (k,)
        Where the standard deviation is below DETERMINED times that of the prior.
    """
    variance = np.einsum("ij,ij->i", functionals @ cov, functionals)
    if prior is None:
        before = PRIOR_U**2 * (functionals**2).sum(axis=1)
    else:
        before = np.einsum("ij,ij->i", functionals @ prior, functionals)
    return variance < DETERMINED**2 * before


def would_tie(candidate, functionals, cov, prior=None):
    """Tell whether taking the candidate's readings determines all the functionals.

    The readings update the covariance: C - C R' (R C R' + S)^-1 R C.
    """
    reach = candidate.rows @ cov
    gain = np.linalg.solve(reach @ candidate.rows.T + candidate.noise, reach)
    return bool(tied(functionals, cov - reach.T @ gain, prior).all())


def first_that_ties(candidates, functionals, cov, otherwise, prior=None):
    """Return the words of the first candidate that determines all the functionals."""
    for candidate in candidates:
        if would_tie(candidate, functionals, cov, prior):
            return candidate.words
    return otherwise


def pieces_of(x, cov):
    """Split the stations of a line into pieces, each of known shape in itself.

    Parameters
    ----------
    x : ndarray, shape (n,)
    cov : Given or Adjusted
        Of their heights.

    Returns
    -------
    list of ndarray of int
        Stations of each piece, the largest first; within a piece the height of every station
        above the line through any two is determined. Where nothing is, each piece is one station.
    """
    left = np.arange(len(x))
    pieces = []
    while left.size:
        best = _largest_piece(x, cov, left)
        if best.size < 3 <= len(x):
            pieces += [left[i : i + 1] for i in range(left.size)]
            break
        pieces.append(best)
        left = np.setdiff1d(left, best)
    return sorted(pieces, key=len, reverse=True)


def _largest_piece(x, cov, left):
    """Return the most stations that lie at determined heights above one pair of neighbours."""
    best = left[:1]
    for a, b in zip(left[:-1], left[1:], strict=True):
        member = _tied_to_pair(x, cov, a, b)[left] | (left == a) | (left == b)
        if member.sum() > best.size:
            best = left[member]
        if best.size == left.size:
            break
    return best


def _tied_to_pair(x, cov, a, b):
    """Tell which stations lie at determined heights above the line through two, as `tied` does."""
    t = (x - x[a]) / (x[b] - x[a])
    shares = np.column_stack([1 - t, t])
    ends = np.zeros((len(x), 2))
    ends[[a, b], [0, 1]] = 1.0
    shared = cov.times(ends)
    variance = cov.variances - 2 * (shares * shared).sum(axis=1)
    variance += ((shares @ shared[[a, b]]) * shares).sum(axis=1)
    return variance < (DETERMINED * PRIOR_U) ** 2 * (1 + (shares**2).sum(axis=1))


@dataclass(frozen=True, eq=False)
class Run:
    """How the line of best fit through a face follows from the heights.

    Attributes
    ----------
    mean : ndarray, shape (n,)
        Its height at `middle`, as a function of all heights.
    slope : ndarray, shape (n,), or None
        Its slope [mm/m]; None where only one station was measured.
    middle, low, high : float
        Middle, first and last station [mm].
    """

    mean: np.ndarray
    slope: np.ndarray | None
    middle: float
    low: float
    high: float

    def at(self, x):
        """Return the height of the line at x, as a function of all heights."""
        return self.mean if self.slope is None else self.mean + (x - self.middle) / 1e3 * self.slope


def run_of(x, y, members, count):
    """Return the `Run` of some stations; `count` is how many heights there are in all."""
    here_x, here_y = x[members], y[members]
    middle = float(here_x.mean())
    columns = [np.ones(len(members)), (here_x - middle) / 1e3]
    if np.ptp(here_y) > 0:
        columns.append((here_y - here_y.mean()) / 1e3)
    law = np.zeros((len(columns), count))
    law[:, members] = np.linalg.pinv(np.column_stack(columns))
    slope = law[1] if np.ptp(here_x) > 0 else None
    return Run(law[0], slope, middle, float(here_x.min()), float(here_x.max()))

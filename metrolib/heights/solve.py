"""Solve: weighted least squares with a prior for every unknown, so that no system is singular."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse
from scipy.linalg import LinAlgError

from metrolib.errors import InputError
from metrolib.heights.band import Band
from metrolib.heights.dense import Dense

#: Refinement steps; each takes the rounding error, and the pull of weak priors, down by far more
#: than a thousandfold.
_STEPS = 4

#: Up to so many unknowns QR of all rows is as fast; it keeps its digits whatever the weights.
_FEW = 250

#: Beyond so many it takes too much memory.
_MANY = 5000


@dataclass(frozen=True, eq=False)
class Solution:
    """A least-squares solution.

    Attributes
    ----------
    values : ndarray, shape (n,)
        Of the unknowns, against their priors.
    residual : ndarray, shape (m,)
        Whitened target less the fit.
    factor : Dense or Band
        What the covariance of the unknowns follows from; of readings that are alike it knows one.
    alike : ndarray of int, shape (m,)
        Which reading of the factor each one is.
    often : ndarray, shape (m,)
        How many readings are like each one, itself included.
    """

    values: np.ndarray
    residual: np.ndarray
    factor: Dense | Band
    alike: np.ndarray
    often: np.ndarray

    @property
    def cov(self):
        """Covariance of the unknowns, shape (n, n)."""
        return self.covariance(np.arange(len(self.values)))

    def covariance(self, unknowns):
        """Return the covariance of some unknowns, shape (k, k)."""
        reach = self.reach(unknowns)
        return reach @ reach.T

    def reach(self, unknowns):
        """Return G with G G' the covariance of some unknowns."""
        return self.factor.reach(np.eye(len(self.values))[unknowns])

    @cached_property
    def redundancy(self):
        """How far the others check each reading: 0 not at all, 1 wholly; shape (m,)."""
        return np.clip(1 - self.factor.leverage[self.alike] / self.often, 0.0, 1.0)

    def shared(self, reading):
        """Return the covariance of the whitened fits of all readings with that of one; (m,)."""
        column = self.factor.shared([self.alike[reading]])[self.alike, 0]
        return column / np.sqrt(self.often * self.often[reading])

    @property
    def prior_redundancy(self):
        """How far the readings check each prior: 0 not at all, 1 wholly; shape (n,)."""
        return np.clip(1 - self.factor.prior_leverage, 0.0, 1.0)


def least_squares(matrix, target, prior_u, weak, along=None, alike=None):
    """Solve ``target = matrix @ unknowns + noise`` where each unknown has a prior of mean 0.

    Parameters
    ----------
    matrix : ndarray or csr_array, shape (m, n)
        Whitened: each row divided by the standard uncertainty of its reading.
    target : ndarray, shape (m,)
        Whitened likewise.
    prior_u : ndarray, shape (n,)
        Standard uncertainties of the priors.
    weak : ndarray of bool, shape (n,)
        Priors that carry no knowledge. They keep what is not determined at its prior, but their
        pull on what is determined is taken out.
    along : ndarray, shape (n,), optional
        Where each unknown stands along the ways [mm], NaN for one that belongs to no place. It
        lets many unknowns be solved in time and memory that grow as their number.
    alike : ndarray of int, shape (m,), optional
        Numbers from 0 on, equal ones for readings whose rows are equal: these are solved as one.

    Returns
    -------
    Solution

    Raises
    ------
    InputError
        If many unknowns are read with uncertainties that differ too widely.

    Notes
    -----
    Each refinement step solves for the residuals of the step before. For weak priors that residual
    is taken as zero, which centres them on the solution found so far: a pull of (u / prior_u)²
    shrinks to its square, its cube and so on, and is gone in double precision.

    Examples
    --------
    Two readings of one unknown, 1.0 and 1.2, each with standard uncertainty 0.1:

    >>> matrix, target = np.array([[10.0], [10.0]]), np.array([10.0, 12.0])
    >>> both = least_squares(matrix, target, np.array([10.0]), np.array([True]))
    >>> both.values.round(12).tolist(), float(np.sqrt(both.cov[0, 0]).round(4))
    ([1.1], 0.0707)
    """
    alike = np.arange(len(target)) if alike is None else alike
    often = np.bincount(alike)
    first = np.empty(len(often), dtype=int)
    first[alike[::-1]] = np.arange(len(alike))[::-1]
    # n equal rows say as much as one that is √n times as long, with the mean of their targets
    root = np.sqrt(often)
    rows = sparse.diags_array(root) @ sparse.csr_array(matrix)[first]
    mean = np.bincount(alike, target) / root
    factor = _factor(rows, prior_u, along)
    values = np.zeros(len(prior_u))
    for _ in range(_STEPS):
        rest = mean - rows @ values
        values = values + factor.answer(rest, np.where(weak, 0.0, -values / prior_u))
    return Solution(values, target - matrix @ values, factor, alike, often[alike])


def _factor(matrix, prior_u, along):
    """Return the factor: the whole of it for few unknowns, else that of the band."""
    if len(prior_u) > _FEW and along is not None:
        try:
            return Band(matrix, prior_u, along)
        except LinAlgError:
            if len(prior_u) > _MANY:
                raise InputError(
                    f"readings: their uncertainties differ too widely for {len(prior_u)} unknowns "
                    "at once; adjust the survey in parts"
                ) from None
    return Dense(matrix.toarray(), prior_u)


def robust_least_squares(matrix, target, prior_u, weak, along=None, *, bend=1.345):
    """Solve as `least_squares`, but let readings that stand out pull less.

    Parameters
    ----------
    matrix, target, prior_u, weak, along
        As in `least_squares`.
    bend : float
        Residual, in standard deviations of its own, from which a reading is weighted down in
        proportion; 1.345 costs 5 % of efficiency where all is well (P. J. Huber, Robust
        Statistics, 1981; from memory).

    Returns
    -------
    Solution
        Of the last step, with its weights.
    """
    weight = np.ones(len(target))
    scale = None
    for _ in range(50):
        root = np.sqrt(weight)
        weighted = sparse.diags_array(root) @ matrix
        solution = least_squares(weighted, target * root, prior_u, weak, along)
        if scale is None:  # what hardly anything checks keeps its weight
            scale = np.sqrt(np.maximum(solution.redundancy, 0.05))
        standing = np.abs(target - matrix @ solution.values) / scale
        new = np.minimum(1.0, bend / np.maximum(standing, 1e-300))
        if np.abs(new - weight).max() < 1e-6:
            break
        weight = new
    return solution

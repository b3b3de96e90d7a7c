"""Solve: weighted least squares with a prior for every unknown, so that no system is singular."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular

#: Refinement steps; each takes the rounding error, and the pull of weak priors, down by far more
#: than a thousandfold.
_STEPS = 4


@dataclass(frozen=True, eq=False)
class Solution:
    """A least-squares solution.

    Attributes
    ----------
    values : ndarray, shape (n,)
        Of the unknowns, against their priors.
    factor : ndarray, shape (n, n)
        F, with the covariance of the unknowns C = F F'.
    residual : ndarray, shape (m,)
        Whitened target less the fit.
    rows : ndarray, shape (m, n)
        Q, with Q Q' the covariance of the whitened fit: I - Q Q' is that of the residuals.
    prior_redundancy : ndarray, shape (n,)
        How far the readings check each prior: 0 not at all, 1 wholly.
    """

    values: np.ndarray
    factor: np.ndarray
    residual: np.ndarray
    rows: np.ndarray
    prior_redundancy: np.ndarray

    @property
    def cov(self):
        """Covariance of the unknowns, shape (n, n)."""
        return self.factor @ self.factor.T

    @property
    def redundancy(self):
        """How far the others check each reading: 0 not at all, 1 wholly; shape (m,)."""
        return np.clip(1 - (self.rows**2).sum(axis=1), 0.0, 1.0)


def least_squares(matrix, target, prior_u, weak):
    """Solve ``target = matrix @ unknowns + noise`` where each unknown has a prior of mean 0.

    Parameters
    ----------
    matrix : ndarray, shape (m, n)
        Whitened: each row divided by the standard uncertainty of its reading.
    target : ndarray, shape (m,)
        Whitened likewise.
    prior_u : ndarray, shape (n,)
        Standard uncertainties of the priors.
    weak : ndarray of bool, shape (n,)
        Priors that carry no knowledge. They keep what is not determined at its prior, but their
        pull on what is determined is taken out.

    Returns
    -------
    Solution

    Notes
    -----
    The columns are scaled to length 1 and the rows, priors below the readings, sorted by size, so
    that QR keeps its digits where weights differ widely (A. J. Cox and N. J. Higham, Stability of
    Householder QR factorization for weighted least squares problems, 1998; from memory).

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
    count = len(target)
    stacked = np.vstack([matrix, np.diag(1 / prior_u)])
    scale = np.sqrt((stacked**2).sum(axis=0))
    stacked /= scale
    order = np.argsort(-np.abs(stacked).max(axis=1), kind="stable")
    rows = np.empty_like(stacked)
    rows[order], upper = np.linalg.qr(stacked[order])
    inverse = solve_triangular(upper, np.eye(len(upper)), check_finite=False)
    values = np.zeros(len(prior_u))
    for _ in range(_STEPS):
        rest = np.concatenate([target - matrix @ values, np.where(weak, 0.0, -values / prior_u)])
        values = values + inverse @ (rows.T @ rest) / scale
    return Solution(
        values,
        inverse / scale[:, None],
        target - matrix @ values,
        rows[:count],
        np.clip(1 - (rows[count:] ** 2).sum(axis=1), 0.0, 1.0),
    )


def robust_least_squares(matrix, target, prior_u, weak, *, bend=1.345):
    """Solve as `least_squares`, but let readings that stand out pull less.

    Parameters
    ----------
    matrix, target, prior_u, weak
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
        solution = least_squares(matrix * root[:, None], target * root, prior_u, weak)
        if scale is None:  # what hardly anything checks keeps its weight
            scale = np.sqrt(np.maximum(solution.redundancy, 0.05))
        standing = np.abs(target - matrix @ solution.values) / scale
        new = np.minimum(1.0, bend / np.maximum(standing, 1e-300))
        if np.abs(new - weight).max() < 1e-6:
            break
        weight = new
    return solution

"""Dense: the least-squares factor of a small survey, by QR of all its rows."""

import numpy as np
from scipy.linalg import solve_triangular


class Dense:
    """The covariance C = F F' of unknowns with readings and priors, F held whole.

    Parameters
    ----------
    matrix : ndarray, shape (m, n)
        Whitened: each row divided by the standard uncertainty of its reading.
    prior_u : ndarray, shape (n,)
        Standard uncertainties of the priors.

    Notes
    -----
    The columns are scaled to length 1 and the rows, priors below the readings, sorted by size, so
    that QR keeps its digits where weights differ widely (A. J. Cox and N. J. Higham, Stability of
    Householder QR factorization for weighted least squares problems, 1998; from memory).
    """

    def __init__(self, matrix, prior_u):
        self._count = len(matrix)
        stacked = np.vstack([matrix, np.diag(1 / prior_u)])
        self._scale = np.sqrt((stacked**2).sum(axis=0))
        stacked /= self._scale
        order = np.argsort(-np.abs(stacked).max(axis=1), kind="stable")
        self._rows = np.empty_like(stacked)
        self._rows[order], upper = np.linalg.qr(stacked[order])
        self._inverse = solve_triangular(upper, np.eye(len(upper)), check_finite=False)
        self._factor = self._inverse / self._scale[:, None]

    def answer(self, rest, prior_rest):
        """Return the unknowns that fit what is left of readings and priors, both whitened."""
        both = np.concatenate([rest, prior_rest])
        return self._inverse @ (self._rows.T @ both) / self._scale

    def reach(self, laws):
        """Return G with G G' the covariance of some linear functions of the unknowns."""
        return laws @ self._factor

    def times(self, columns):
        """Return C times some columns."""
        return self._factor @ (self._factor.T @ columns)

    def shared(self, readings):
        """Return the covariance of the whitened fits of all readings with those of some."""
        fits = self._rows[: self._count]
        return fits @ fits[readings].T

    @property
    def variances(self):
        """Of the unknowns, shape (n,)."""
        return (self._factor**2).sum(axis=1)

    @property
    def leverage(self):
        """Share of each reading in its own fit, shape (m,)."""
        return (self._rows[: self._count] ** 2).sum(axis=1)

    @property
    def prior_leverage(self):
        """The same of each prior, shape (n,)."""
        return (self._rows[self._count :] ** 2).sum(axis=1)

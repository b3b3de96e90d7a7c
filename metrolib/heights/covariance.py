"""Covariance: of many heights without the whole matrix, which grows as the square of their number.

What is asked of heights are variances, and functions of a few or of all of them. Those follow from
the factor of the adjustment; the matrix is made only when it is looked at.
"""

import numpy as np

from metrolib.errors import InputError

#: So many heights have a covariance matrix of 200 MB; of more it is refused.
MOST = 5000


class Given:
    """A covariance matrix, shape (n, n) [mm²]."""

    def __init__(self, cov):
        self._cov = cov

    @property
    def variances(self):
        """Of the heights, shape (n,)."""
        return np.diag(self._cov)

    def of(self, laws):
        """Return the covariance of linear functions of the heights, shape (k, k)."""
        return laws @ self._cov @ laws.T

    def times(self, columns):
        """Return C times some columns, shape (n, k)."""
        return self._cov @ columns

    def part(self, index):
        """Return the covariance of some heights, as one of these."""
        return Given(self._cov[np.ix_(index, index)])

    def whole(self):
        """Return the matrix."""
        return self._cov


class Adjusted:
    """The covariance of heights that are some of the unknowns of an adjustment [mm²]."""

    def __init__(self, solution, index):
        self._solution, self._index = solution, index

    @property
    def variances(self):
        """Of the heights, shape (n,)."""
        return self._solution.factor.variances[self._index]

    def of(self, laws):
        """Return the covariance of linear functions of the heights, shape (k, k)."""
        reach = self._solution.factor.reach(self._among_all(laws.T).T)
        return reach @ reach.T

    def times(self, columns):
        """Return C times some columns, shape (n, k)."""
        return self._solution.factor.times(self._among_all(columns))[self._index]

    def part(self, index):
        """Return the covariance of some heights, as one of these."""
        return Adjusted(self._solution, self._index[index])

    def whole(self):
        """Return the matrix.

        Raises
        ------
        InputError
            If there are more than MOST heights.
        """
        count = len(self._index)
        if count > MOST:
            raise InputError(
                f"cov: the covariance matrix of {count} heights would take "
                f"{8e-9 * count**2:.1f} GB; ask for what is needed of it, heights.variances or "
                "heights.covariance(laws), or for one face, heights.on(face).cov"
            )
        return self._solution.covariance(self._index)

    def _among_all(self, columns):
        full = np.zeros((len(self._solution.values), columns.shape[1]))
        full[self._index] = columns
        return full


class WhenLookedAt:
    """A field that holds a covariance: the matrix, or one of the above until it is looked at."""

    def __set_name__(self, owner, name):
        self._name = name

    def __get__(self, instance, owner):
        if instance is None:  # so that a dataclass finds no default
            raise AttributeError(self._name)
        held = vars(instance)[self._name]
        if not isinstance(held, np.ndarray):
            vars(instance)[self._name] = held = held.whole()
        return held

    def __set__(self, instance, value):
        vars(instance)[self._name] = value


def held(instance):
    """Return the covariance that an instance holds as `cov`, as one of the above."""
    cov = vars(instance)["cov"]
    return Given(cov) if isinstance(cov, np.ndarray) else cov

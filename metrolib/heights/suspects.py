"""Suspects: which readings are wrong, and which stand out only because a neighbour is."""

import numpy as np

#: A reading whose redundancy is below this is not tested: nothing checks it.
UNCHECKED = 0.05

#: Two readings whose residuals are correlated this closely cannot be told apart.
_INSEPARABLE = 0.99


def find_suspects(solution, tested, critical):
    """Find the readings that stand out.

    Parameters
    ----------
    solution : Solution
    tested : ndarray of bool, shape (m,)
        Readings that the others check.
    critical : float
        A normalised residual beyond this stands out.

    Returns
    -------
    suspects : ndarray of int
        Largest first, each followed by those that may be wrong in its place.
    inseparable : dict of int to tuple of int
        Those, for each suspect that has any.
    """
    rest = _Rest(solution, tested)
    while len(rest.aside) < tested.sum() / 2:
        standing = np.abs(rest.normalised())
        if not np.nanmax(standing, initial=0.0) > critical:
            break
        rest.set_aside(int(np.nanargmax(standing)))
    size = rest.alone(critical)
    aside = sorted(size, key=lambda reading: -size[reading])
    twins = {reading: _twins(solution, tested, reading) for reading in aside}
    named = list(dict.fromkeys(i for reading in aside for i in (reading, *twins[reading])))
    return np.array(named, dtype=int), {reading: also for reading, also in twins.items() if also}


class _Rest:
    """The residuals of all readings while some are set aside, one after the other.

    With R = I - A C A' the covariance of the whitened residuals e and S the set aside, those of a
    fit without S are ``e - R_.S R_SS^-1 e_S``, their covariance ``R - R_.S R_SS^-1 R_S.``. Each one
    more set aside takes off one more column of the Cholesky factor of R.
    """

    def __init__(self, solution, tested):
        self._solution, self._usable = solution, tested.copy()
        self._residual, self._variance = solution.residual.copy(), solution.redundancy.copy()
        self._columns, self.aside = [], []

    def normalised(self):
        """Return the normalised residuals; NaN for those that are aside or not tested."""
        usable = self._usable & (self._variance >= UNCHECKED)
        return np.where(usable, self._residual, np.nan) / np.sqrt(
            np.where(usable, self._variance, 1.0)
        )

    def set_aside(self, reading):
        column = -self._solution.shared(reading)
        column[reading] += 1.0
        for other in self._columns:
            column -= other[reading] * other
        column /= np.sqrt(column[reading])
        self._residual -= column * (self._residual[reading] / column[reading])
        self._variance -= column**2
        self._columns.append(column)
        self._usable[reading] = False
        self.aside.append(reading)

    def alone(self, critical):
        """Test again each one set aside against all that are not; return the sizes by reading.

        One that now agrees is taken back, and the next are tested against it too.
        """
        if not self.aside:
            return {}
        root = np.linalg.inv([column[self.aside] for column in self._columns])
        inverse = root @ root.T  # of R_SS; its diagonal holds 1 / the variances
        told = inverse @ self._solution.residual[self.aside]
        size = {}
        for i, reading in enumerate(self.aside):
            own = inverse[i, i]
            found = abs(told[i]) / np.sqrt(own)
            if 1 / own >= UNCHECKED and found > critical:
                size[reading] = found
                continue
            across = inverse[i] / own
            told = told - across * told[i]
            inverse = inverse - np.outer(across, inverse[i])
        return size


def _twins(solution, tested, reading):
    """Return the readings whose residuals move only together with this one's."""
    shared = -solution.shared(reading)
    shared[reading] = 0.0
    size = np.sqrt(solution.redundancy * solution.redundancy[reading])
    close = tested & (np.abs(shared) > _INSEPARABLE * np.where(tested, size, 1.0))
    return tuple(np.flatnonzero(close).tolist())

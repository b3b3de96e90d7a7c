"""Verdicts: what to do at each station, and how much may come off before measuring again."""

import numpy as np
from scipy.special import ndtr, ndtri

from metrolib.uncertain.draws import draw_tiles
from metrolib.uncertain.linear import factor_of

GO_ON, SLOW_DOWN, STOP, OVERCUT = "go on", "slow down", "stop", "overcut"
NOT_KNOWN, LEFT_OUT = "not known", "left out"

#: All of them, in the order of the work.
VERDICTS = (GO_ON, SLOW_DOWN, STOP, OVERCUT)

#: Relative scatter of a cut that nobody has measured: half of what is left is then aimed at.
UNKNOWN_SCATTER = 0.5


def below(room, u):
    """Return the probability that a place lies lower than it may.

    Parameters
    ----------
    room : ndarray, shape (n,)
        Height above the lowest that it may have [mm].
    u : ndarray, shape (n,)
        Standard uncertainty of it [mm]; 0 where it is exact.

    Returns
    -------
    ndarray, shape (n,)
    """
    sure = np.where(room < 0, 1.0, 0.0)
    return np.where(u > 0, ndtr(-room / np.where(u > 0, u, 1.0)), sure)


def below_anywhere(room, cov, *, draws, seed):
    """Return the probability that any of several places lies lower than it may, by joint draws.

    Parameters
    ----------
    room : ndarray, shape (n,)
        [mm]
    cov : ndarray, shape (n, n)
        Its covariance [mm²].
    draws, seed : int

    Returns
    -------
    float

    Examples
    --------
    Two places that err together fall short together; two that do not, more often one of them:

    >>> import numpy as np
    >>> room = np.zeros(2)
    >>> round(below_anywhere(room, np.ones((2, 2)), draws=40_000, seed=1), 2)
    0.5
    >>> round(below_anywhere(room, np.eye(2), draws=40_000, seed=1), 2)
    0.75
    """
    if not room.size or not factor_of(cov).size:
        return float(bool((room < 0).any()))
    tiles = draw_tiles(room, cov, draws, seed=seed)
    return sum(int((tile.min(axis=1) < 0).sum()) for tile in tiles) / draws


def most_to_aim_at(left, room, u, scatter, coverage):
    """Return how much may be aimed at before measuring again.

    Parameters
    ----------
    left : ndarray, shape (n,)
        What is still to come off [mm].
    room : ndarray, shape (n,)
        Height above the lowest that the place may have [mm].
    u : ndarray, shape (n,)
        Standard uncertainty of both [mm].
    scatter : float
        Standard deviation of a cut against what was aimed at, relative to it.
    coverage : float
        Probability with which the place must not end too low.

    Returns
    -------
    ndarray, shape (n,)

    Notes
    -----
    A cut c errs by ``scatter * c``. It is small enough when the uncertainty of what was taken does
    not reach half of what is then left, ``scatter * c <= (left - c) / 2`` (common practice, no
    published source), and when ``room - c - k (u + scatter * c) >= 0``, k the one-sided quantile;
    the two errors are added, not squared, which is on the safe side.

    Examples
    --------
    >>> import numpy as np
    >>> far, near = 0.100, 0.006
    >>> left, u = np.array([far, near]), np.full(2, 0.003)
    >>> most_to_aim_at(left, left, u, 0.2, 0.95).round(4).tolist()
    [0.0714, 0.0008]
    """
    k = ndtri(coverage)
    half = left / (1 + 2 * scatter)
    safe = (room - k * u) / (1 + k * scatter)
    return np.clip(np.minimum(half, safe), 0.0, None)


def judge(left, room, u, tolerance, coverage):
    """Return the verdict at each station that was measured, shape (n,).

    Parameters
    ----------
    left : ndarray, shape (n,)
        What is still to come off [mm].
    room : ndarray, shape (n,)
        Height above the target [mm].
    u : ndarray, shape (n,)
        Standard uncertainty of both [mm].
    tolerance : float
        How far a place may end off [mm].
    coverage : float
        Probability at which an overcut counts as proven.
    """
    verdict = np.full(len(left), GO_ON, dtype=object)
    verdict[2 * u >= left] = SLOW_DOWN
    verdict[left <= tolerance] = STOP
    verdict[below(room + tolerance, u) >= coverage] = OVERCUT
    return verdict

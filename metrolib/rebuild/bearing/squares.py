"""What several counted squares say of a whole face: mean, scatter, and whether it is chance."""

from dataclasses import dataclass

import numpy as np

#: Side of the square that spots are told for [mm].
USUAL = 25.0

#: How often chance alone may look patchy, or even, before it is called so.
_RARE = 0.05

#: What rounding to whole spots leaves: the variance of an even spread over one (JCGM 100, 4.3.7).
_ROUNDING = 1 / 12


@dataclass(frozen=True)
class Scatter:
    """How the counts of several squares scatter, beside what chance alone would do.

    Spots strewn by chance, each where it likes, give counts with a variance equal to their mean
    (Poisson).

    Attributes
    ----------
    variance : float
        Of the counts.
    to_chance : float
        That variance over the mean count: 1 by chance, below it where spots keep their distance,
        above it where the face is patchy.
    kind : str
        ``"even"``, ``"chance"`` or ``"patchy"``; the first and the last only where chance would
        go so far in less than 1 case of 40.
    """

    variance: float
    to_chance: float
    kind: str

    def __str__(self):
        if self.kind == "chance":
            return "the squares scatter as chance alone would"
        if self.kind == "even":
            return "the squares scatter less than chance alone would: the spots are evenly spread"
        return "the squares scatter more than chance alone would: the face is patchy"


def scatter_of(counts):
    """Return how counts scatter, or None where that cannot be told.

    Parameters
    ----------
    counts : ndarray, shape (n,)
        Spots in squares of equal size.

    Returns
    -------
    Scatter or None
        None for one square, and where no square has a spot.

    Notes
    -----
    The index of dispersion, (n - 1) s² / mean, follows a chi-square law with n - 1 degrees of
    freedom where chance strews the spots (R. A. Fisher, Statistical Methods for Research Workers,
    section 16; from memory).

    Examples
    --------
    >>> import numpy as np
    >>> print(scatter_of(np.array([2.0, 25.0, 3.0, 22.0])))
    the squares scatter more than chance alone would: the face is patchy
    """
    from scipy.special import chdtr, chdtrc

    mean = counts.mean()
    if counts.size < 2 or mean == 0:
        return None
    variance = float(counts.var(ddof=1))
    free = counts.size - 1
    index = free * variance / mean
    kind = "chance"
    if chdtrc(free, index) < _RARE / 2:
        kind = "patchy"
    elif chdtr(free, index) < _RARE / 2:
        kind = "even"
    return Scatter(variance, float(variance / mean), kind)


def covariance_of_means(counts, shares):
    """Return the covariance of the mean count and mean share, as the squares' scatter tells it.

    Parameters
    ----------
    counts : ndarray, shape (n,)
    shares : ndarray, shape (n,), or None
        Shares of the area that bear.

    Returns
    -------
    ndarray, shape (1, 1) or (2, 2)
        From one square only: what chance alone would do.

    Notes
    -----
    s²/n (JCGM 100:2008, 4.2.3), the variance of the counts never below what their rounding leaves.
    One square: the variance of a Poisson count is its mean, here the count, and 1 at least; the
    share goes with the count, for spots of one size.

    Examples
    --------
    >>> import numpy as np
    >>> covariance_of_means(np.array([12.0, 16.0]), None)  # s² = 8, n = 2
    array([[4.]])
    """
    n = counts.size
    told = [counts] if shares is None else [counts, shares]
    if n == 1:
        count = max(float(counts[0]), 1.0)
        each = np.array([count, *(one[0] for one in told[1:])]) / count  # what one spot adds
        return count * np.outer(each, each)
    cov = np.atleast_2d(np.cov(np.array(told), ddof=1)) / n
    cov[0, 0] = max(cov[0, 0], _ROUNDING / n)
    return cov

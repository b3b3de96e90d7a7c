"""Rates: how fast the metal comes off, from what was measured, and what that means for the rest."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit


@dataclass(frozen=True)
class ToFinish:
    """How much work is left, at the rate seen so far.

    Attributes
    ----------
    per : str
        ``"round"`` or ``"hour"``.
    rate : float
        What comes off in one of them [cm³].
    rate_u : float
        Standard uncertainty of it, as far as measuring goes [cm³].
    scatter : float or None
        Standard deviation of the rate from round to round, relative; None where one round, or a
        rate from elsewhere, cannot tell.
    value, low, high : float
        Rounds or hours that are left, and their interval; `high` is infinite, and all three may
        be, where the rate is not determined.
    coverage : float
        Probability of the interval.
    rounds : tuple of str
        Whose work it is told from; empty for a rate from elsewhere.
    """

    per: str
    rate: float
    rate_u: float
    scatter: float | None
    value: float
    low: float
    high: float
    coverage: float
    rounds: tuple[str, ...]

    @property
    def determined(self):
        """True where the rate differs surely from nothing, so that the interval has two ends."""
        return bool(np.isfinite(self.high))

    def __str__(self):
        if not self.determined:
            return (
                f"how many {self.per}s that takes is not determined, the rate differs too much "
                "from round to round, or cannot be told from nothing"
            )
        often = "" if self.scatter is not None or not self.rounds else ", if all go as this one"
        return (
            f"{self.value:.1f} {self.per}s to finish, {self.low:.1f} to {self.high:.1f} "
            f"({100 * self.coverage:.0f} %{often}), at {self.rate:.2f} cm³ "
            f"{'an hour' if self.per == 'hour' else 'a round'}"
        )

    __repr__ = __str__


def ratio_interval(a, b, cov, coverage):
    r"""Return the interval of the ratio a / b of two normal quantities.

    Parameters
    ----------
    a, b : float
    cov : array_like, shape (2, 2)
        Their covariance.
    coverage : float
        Probability of the interval.

    Returns
    -------
    low, high : float
        Both infinite where b cannot be told from nothing, or has the other sign.

    Notes
    -----
    E. C. Fieller, Some problems in interval estimation, J. R. Stat. Soc. B 16 (1954) 175: all
    ratios r for which a - r b does not differ from 0 by more than k of its standard uncertainties,
    the roots of :math:`(b^2 - k^2 v_b) r^2 - 2 (a b - k^2 c) r + a^2 - k^2 v_a = 0` (from memory).

    Examples
    --------
    A depth of 20 +- 2 left at 5 +- 1 an hour, and at 1 +- 1:

    >>> [round(float(end), 2) for end in ratio_interval(20, 5, [[4, 0], [0, 1]], 0.95)]
    [2.69, 6.77]
    >>> [float(end) for end in ratio_interval(20, 1, [[4, 0], [0, 1]], 0.95)]
    [inf, inf]
    """
    cov = np.asarray(cov, dtype=float)
    k2 = ndtri(0.5 + coverage / 2) ** 2
    square = b**2 - k2 * cov[1, 1]
    if b <= 0 or square <= 0:
        return np.inf, np.inf
    middle = (a * b - k2 * cov[0, 1]) / square
    half = np.sqrt(max(middle**2 - (a**2 - k2 * cov[0, 0]) / square, 0.0))
    return max(middle - half, 0.0), max(middle + half, 0.0)


def to_finish(per, left, taken, work, cov, names, coverage):
    """Return how much work is left at the rate of some rounds.

    Parameters
    ----------
    per : str
        ``"round"`` or ``"hour"``.
    left : float
        Metal still to come off [mm³].
    taken : ndarray, shape (m,)
        Metal that came off in each of these rounds [mm³].
    work : ndarray, shape (m,)
        Rounds or hours that each took.
    cov : ndarray, shape (1 + m, 1 + m)
        Covariance of `left` and `taken`, from the measurements.
    names : tuple of str
        Of these rounds.
    coverage : float

    Returns
    -------
    ToFinish

    Notes
    -----
    The rate is all that came off over all the work. Its uncertainty has two parts: of measuring,
    from the covariance; and that of the next rounds, which may go otherwise, from the scatter of
    the rates of the rounds, by Student's t with one degree of freedom less than there are rounds
    (JCGM 100:2008, 4.2 and G.3). Scatter that measuring alone explains is counted twice, which is
    on the safe side.
    """
    count, whole = len(taken), float(work.sum())
    law = np.zeros((2, 1 + count))
    law[0, 0], law[1, 1:] = 1.0, 1 / whole
    both = law @ cov @ law.T
    rate, rate_u = float(taken.sum() / whole), float(np.sqrt(max(both[1, 1], 0.0)))
    scatter = None
    if count > 1:
        spread = float(np.std(taken / work, ddof=1))
        scatter = spread / rate if rate > 0 else np.inf
        wider = stdtrit(count - 1, 0.5 + coverage / 2) / ndtri(0.5 + coverage / 2)
        both[1, 1] += (wider * spread) ** 2 / count
    low, high = ratio_interval(left, rate, both, coverage)
    value = left / rate if rate > 0 else np.inf
    return ToFinish(per, rate / 1e3, rate_u / 1e3, scatter, value, low, high, coverage, names)


def at_given_rate(left, u_left, rate, rate_u, coverage):
    """Return the hours that are left, of metal [mm³], at a rate from elsewhere [cm³/h]."""
    left, u_left = left / 1e3, u_left / 1e3
    low, high = ratio_interval(left, rate, np.diag([u_left**2, rate_u**2]), coverage)
    return ToFinish("hour", rate, rate_u, None, left / rate, low, high, coverage, ())

"""The guard: how much lower the target must lie so that all places clean up as surely as asked."""

from dataclasses import dataclass

import numpy as np

from metrolib.rebuild.programme import Target, find_target

_STEP = 1e-3  # the guard is sought to this share of the one that is certainly enough


@dataclass(frozen=True, eq=False)
class Guard:
    """A guard and what it reaches.

    Attributes
    ----------
    k : float
        Every station that must clean up counts as k standard uncertainties lower.
    confidence : float
        Probability that all of them clean up.
    target : Target or None
        The target with this guard; None where no target meets the conditions with it.
    without : Target or None
        The target without any guard.
    confidence_without : float
        Probability that all clean up without any guard.
    """

    k: float
    confidence: float
    target: Target | None
    without: Target | None
    confidence_without: float


def draw_errors(cov, draws, seed):
    """Draw joint errors of heights with this covariance, which may be singular.

    Parameters
    ----------
    cov : ndarray, shape (n, n)
        [mm²]
    draws : int
    seed : int

    Returns
    -------
    ndarray, shape (draws, n)
        [mm]
    """
    size, vectors = np.linalg.eigh(cov)
    size = np.where(size > 1e-14 * size.max(initial=0.0), size, 0.0)
    # The symmetric root: unlike one made of eigenvectors alone it does not turn about where
    # eigenvalues are equal, so a last digit of the covariance changes no draw.
    root = vectors * np.sqrt(size) @ vectors.T
    return np.random.default_rng(seed).standard_normal((draws, len(cov))) @ root


def share_cleaned(programme, target, errors):
    """Return the share of the drawn surfaces on which every place that must clean up does.

    Parameters
    ----------
    programme : Programme
        Stations where nothing has to clean up have no uncertainty in it.
    target : Target
    errors : ndarray, shape (draws, n)
        Drawn errors of the heights [mm].
    """
    margin = programme.height - programme.least - programme.columns @ target.motion
    return float((errors >= -margin - 1e-9).all(axis=1).mean())


def find_guard(programme, cov, must_clean, confidence, *, draws, seed):
    """Find the smallest guard that reaches the confidence.

    Parameters
    ----------
    programme : Programme
    cov : ndarray, shape (n, n)
        Covariance of the heights of its stations [mm²].
    must_clean : ndarray of bool, shape (n,)
        Stations that must clean up.
    confidence : float or None
        Probability asked for; None asks for no guard.
    draws, seed : int
        The same drawn errors serve every guard that is tried, so the search is repeatable.

    Returns
    -------
    Guard

    Notes
    -----
    If all errors stay above -k u, all places clean up, whatever the target. So the quantile of the
    largest of -error / u over the stations is a guard that is certainly enough; the search halves
    the range from nothing up to it.
    """
    bare = find_target(programme)
    if bare is None:
        return Guard(0.0, 0.0, None, None, 0.0)
    errors = draw_errors(np.where(np.outer(must_clean, must_clean), cov, 0.0), draws, seed)
    bare_share = share_cleaned(programme, bare, errors)
    if confidence is None or bare_share >= confidence:
        return Guard(0.0, bare_share, bare, bare, bare_share)
    spread = programme.u > 0
    worst = (-errors[:, spread] / programme.u[spread]).max(axis=1)
    low, high = 0.0, float(np.quantile(worst, confidence, method="higher"))
    step, best = _STEP * high, _try(programme, high, errors)
    while high - low > step:
        middle = (low + high) / 2
        target, share = _try(programme, middle, errors)
        if target is None or share >= confidence:
            high, best = middle, (target, share)
        else:
            low = middle
    return Guard(high, best[1], best[0], bare, bare_share)


def _try(programme, k, errors):
    """Return the target with a guard, and the share of surfaces that clean up."""
    target = find_target(programme, k)
    return target, 0.0 if target is None else share_cleaned(programme, target, errors)

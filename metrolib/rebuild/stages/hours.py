"""How long stages take, and how sure that is, from volumes and from rates of a log."""

import numpy as np
from scipy.special import ndtr

from metrolib.uncertain.linear import Measured


def stage_volumes(plan, limits):
    """Return the metal of each stage and its covariance.

    Parameters
    ----------
    plan : RemovalPlan
    limits : sequence of (float, float)
        For each stage the allowance above the target that it finds, and that which it leaves [mm].

    Returns
    -------
    volumes : ndarray, shape (s,)
        [mm³]
    cov : ndarray, shape (s, s)
        [mm⁶]

    Notes
    -----
    The metal is that of the plan, so the stages together take what the plan takes.

    The target stands fixed at the bench, so the metal above it is as uncertain as the heights in
    its frame. A higher station adds metal to the stage in which its surface lies: the sensitivity
    is its area, times the probability that the surface lies there (for jointly normal heights the
    mean sensitivity is exact where stages meet, by Stein's lemma; the spread is of first order).
    """
    above = plan.relative_height - plan.target - plan.decision.band
    u = np.maximum(plan.depth_u, 1e-12)
    volumes, rows = [], []
    for found, left in limits:
        taken = np.minimum(plan.depth, found) - np.minimum(plan.depth, left)
        volumes.append(plan.area @ taken)
        rows.append(plan.area * (ndtr((found - above) / u) - ndtr((left - above) / u)))
    rows = np.array(rows)
    return np.array(volumes), rows @ plan.group.cov @ rows.T


def stage_hours(volumes, cov, methods):
    """Return the hours of each stage, correlated with each other.

    Parameters
    ----------
    volumes : ndarray, shape (s,)
        [mm³]
    cov : ndarray, shape (s, s)
        [mm⁶]
    methods : sequence of Method

    Returns
    -------
    list of float, or of `uncertainties` numbers where anything is uncertain

    Notes
    -----
    hours = volume / rate. A rate cannot be below 0, so it is taken as log-normal: with c its
    relative standard uncertainty, 1 / rate has the mean (1 + c²) / rate and the relative
    uncertainty c, both exact, and the hours of a doubtful rate are more than those of its mean. Two
    methods with the same log share their error: the relative covariance of 1 / rate is
    exp(s t) - 1, with s² = ln(1 + c²) of either. Volumes and rates are independent, so

        cov(h, k) = E[q r] cov(V, W) + V W cov(q, r),  q and r being 1 / rate.

    Examples
    --------
    >>> from metrolib.survey.methods import Method
    >>> file = Method("file", 0.0, 0.01, rate=2.0, rate_uncertainty=0.4)
    >>> print(stage_hours(np.array([10_000.0]), np.zeros((1, 1)), [file])[0])
    5.2+/-1.0
    """
    share = np.array([method.rate_uncertainty / method.rate for method in methods])
    slowness = (1 + share**2) / np.array([1e3 * method.rate for method in methods])
    width = np.sqrt(np.log1p(share**2))
    logs = [method.log or (number,) for number, method in enumerate(methods)]
    common = np.array([[one == other for other in logs] for one in logs])
    relative = np.where(common, np.expm1(np.outer(width, width)), 0.0)
    hours = volumes * slowness
    spread = np.outer(slowness, slowness) * (1 + relative) * cov + np.outer(hours, hours) * relative
    return Measured(hours, spread if spread.any() else None, None).several(
        np.eye(len(hours)), hours
    )

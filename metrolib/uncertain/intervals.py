"""Coverage intervals of sorted samples, and the tolerance to which an uncertainty is meant."""

import math

import numpy as np


def places_covered(count, coverage):
    """Return how many steps from one sample to the next an interval covers (JCGM 101, 7.7.1)."""
    return math.floor(coverage * count + 0.5)


def symmetric_interval(samples, coverage):
    """Return the interval with as many samples below as above it (JCGM 101:2008, 7.7.2).

    Parameters
    ----------
    samples : ndarray, shape (M,)
        In ascending order.
    coverage : float
        Share of the samples, between 0 and 1.

    Returns
    -------
    (float, float)

    Examples
    --------
    >>> symmetric_interval(np.arange(1.0, 101.0), 0.95)  # q = 95 steps, from sample r = 3
    (3.0, 98.0)
    """
    steps = places_covered(samples.size, coverage)
    first = (samples.size - steps + 1) // 2 - 1  # r of the clause counts from 1
    return float(samples[first]), float(samples[first + steps])


def shortest_interval(samples, coverage):
    """Return the shortest interval that covers a share of the samples (JCGM 101:2008, 7.7.3).

    Parameters and result are those of `symmetric_interval`.

    Examples
    --------
    >>> shortest_interval(np.arange(1.0, 101.0) ** 2, 0.95)  # squares lie closest at the start
    (1.0, 9216.0)
    """
    steps = places_covered(samples.size, coverage)
    first = int(np.argmin(samples[steps:] - samples[: samples.size - steps]))
    return float(samples[first]), float(samples[first + steps])


def standard_error(samples, share):
    """Return the standard uncertainty of a quantile of samples, from the samples near it.

    How many of M samples lie below the true quantile has a standard deviation of
    sqrt(M share (1 - share)); half the distance between the samples so many places below and
    above is the answer.

    Parameters
    ----------
    samples : ndarray, shape (M,)
        In ascending order.
    share : float
        Which quantile, between 0 and 1.

    Examples
    --------
    >>> standard_error(np.arange(10_000.0), 0.5)  # sqrt(10 000 / 4) places of 1 each
    50.0
    """
    places = math.sqrt(samples.size * share * (1 - share))
    near = np.round(samples.size * share + np.array([-places, places])).astype(int)
    low, high = near.clip(0, samples.size - 1)
    return float(samples[high] - samples[low]) / 2


def normal_interval(value, u, coverage):
    """Return the interval of a normal law about `value`, as the linear law gives it.

    Examples
    --------
    >>> low, high = normal_interval(0.0, 2.0, 0.95)
    >>> round(low, 2), round(high, 2)
    (-3.92, 3.92)
    """
    from scipy.special import ndtri

    reach = float(ndtri((1 + coverage) / 2)) * u
    return value - reach, value + reach


def numerical_tolerance(u, digits):
    """Return half a unit of the last digit that is meant of an uncertainty (JCGM 101:2008, 7.9.2).

    Parameters
    ----------
    u : float
    digits : int
        Significant digits that are meant: u = c 10^l with c a whole number of so many digits.

    Examples
    --------
    0.00035 is 35 times 1e-5, and 0.0997 to two digits is 10 times 1e-2:

    >>> numerical_tolerance(0.00035, 2), numerical_tolerance(0.0997, 2)
    (5e-06, 0.005)
    """
    if u == 0:
        return 0.0
    exponent = int(f"{u:.{digits - 1}e}".split("e")[1]) - (digits - 1)
    return float(f"0.5e{exponent}")

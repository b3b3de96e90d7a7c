"""Coverage intervals of samples counted by hand, and the tolerance of an uncertainty."""

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.uncertain.intervals import (
    normal_interval,
    numerical_tolerance,
    places_covered,
    shortest_interval,
    standard_error,
    symmetric_interval,
)


def test_places_covered():
    assert places_covered(100, 0.95) == 95
    assert places_covered(50, 0.95) == 48  # 47.5 and a half
    assert places_covered(10_240, 0.95) == 9728
    assert places_covered(10, 0.5) == 5


def test_symmetric_by_counting():
    # 10 samples, half of them: q = 5, r = (10 - 5 + 1) / 2 = 3: from the 3rd to the 8th
    assert symmetric_interval(np.arange(1.0, 11), 0.5) == (3.0, 8.0)
    # 10 samples, 0.6 of them: q = 6, r = (10 - 6) / 2 = 2: from the 2nd to the 8th
    assert symmetric_interval(np.arange(1.0, 11), 0.6) == (2.0, 8.0)
    # one less than all: from the first to the last
    assert symmetric_interval(np.arange(1.0, 11), 0.9) == (1.0, 10.0)


def test_shortest_by_counting():
    samples = np.array([0.0, 10, 11, 12, 13, 20, 30, 40, 50, 60])
    # 0.4 of 10: 4 steps; 10 to 20 is shorter than 0 to 13
    assert shortest_interval(samples, 0.4) == (10.0, 20.0)
    assert shortest_interval(-samples[::-1], 0.4) == (-20.0, -10.0)
    # of equally short ones the first
    assert shortest_interval(np.arange(10.0), 0.5) == (0.0, 5.0)


def test_shortest_is_never_longer_and_follows_the_samples():
    rng = np.random.default_rng(1)
    for samples in (rng.exponential(size=999), rng.normal(size=1000), rng.uniform(size=77)):
        samples = np.sort(samples)
        for coverage in (0.5, 0.9, 0.95):
            short, even = (f(samples, coverage) for f in (shortest_interval, symmetric_interval))
            assert short[1] - short[0] <= even[1] - even[0]
            inside = np.count_nonzero((samples >= short[0]) & (samples <= short[1]))
            assert inside == places_covered(samples.size, coverage) + 1
            moved = shortest_interval(2 * samples + 1, coverage)
            assert moved == pytest.approx((2 * short[0] + 1, 2 * short[1] + 1), rel=1e-14)


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [
        (0.00035, 2, 0.5e-5),  # 35e-5: the mass of 7.9.2, example 1 (from memory)
        (2.0, 1, 0.5),  # 2e0
        (2.0, 2, 0.05),
        (10.1489, 2, 0.5),
        (9.94, 2, 0.05),  # 99e-1
        (9.96, 2, 0.5),  # 10e0
        (0.997, 2, 0.05),  # 1.0, 10e-1
        (1234.0, 3, 5.0),  # 123e1
        (0.0, 2, 0.0),
    ],
)
def test_numerical_tolerance(u, digits, tolerance):
    assert numerical_tolerance(u, digits) == pytest.approx(tolerance, rel=1e-15)


def test_normal_interval():
    low, high = normal_interval(5.0, 2.0, 0.95)
    assert (low, high) == pytest.approx((5 - 2 * 1.959964, 5 + 2 * 1.959964), abs=1e-6)
    assert normal_interval(5.0, 0.0, 0.95) == (5.0, 5.0)


def test_standard_error_of_a_quantile():
    # sqrt(p (1 - p) / M) / density; here the samples are evenly spaced quantiles of a normal law
    m = 100_000
    samples = norm.ppf((np.arange(m) + 0.5) / m)
    for share in (0.025, 0.5, 0.975):
        expected = np.sqrt(share * (1 - share) / m) / norm.pdf(norm.ppf(share))
        places = np.sqrt(m * share * (1 - share))  # rounded to whole ones
        assert standard_error(samples, share) == pytest.approx(expected, rel=1 / places)


def test_standard_error_stays_within_the_samples():
    assert standard_error(np.arange(100.0), 0.9) == 3.0  # sqrt(100 x 0.9 x 0.1), from 87 to 93
    assert standard_error(np.arange(100.0), 0.99) == 0.5  # from 98 to 100, but 99 is the last
    assert standard_error(np.arange(100.0), 0.01) == 1.0  # from 0 to 2

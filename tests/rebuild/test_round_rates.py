"""Rates: the interval of a ratio against draws, the scatter of rounds against the textbook."""

import numpy as np
import pytest
from scipy.stats import norm, t

from metrolib.rebuild.rounds.round_rates import at_given_rate, ratio_interval, to_finish


@pytest.mark.parametrize(
    "a, b, cov",
    [
        (20.0, 5.0, [[4.0, 0.0], [0.0, 1.0]]),
        (20.0, 5.0, [[4.0, -1.2], [-1.2, 1.0]]),  # what came off is not left: both err together
        (0.5, 3.0, [[0.04, 0.0], [0.0, 0.25]]),
    ],
)
def test_ratio_interval_holds_the_true_ratio_as_often_as_it_says(a, b, cov):
    """Fieller's interval is exact: 95 % of 4000 pairs, within four standard deviations."""
    rng = np.random.default_rng(3)
    pairs = rng.multivariate_normal([a, b], cov, 4000)
    k2 = norm.ppf(0.975) ** 2
    held, unbounded = 0, 0
    for mine in pairs:
        low, high = ratio_interval(*mine, cov, 0.95)
        if np.isinf(high):
            unbounded += 1
            # not told from nothing: Fieller's set is then unbounded and holds nearly all ratios
            difference = mine[0] - a / b * mine[1]
            r = np.array([1, -a / b])
            held += difference**2 <= k2 * (r @ np.array(cov) @ r)
        else:
            held += low <= a / b <= high
    assert unbounded < 200
    assert abs(held / 4000 - 0.95) < 4 * np.sqrt(0.95 * 0.05 / 4000)


def test_ratio_of_exact_numbers_is_that_number():
    assert ratio_interval(6.0, 2.0, np.zeros((2, 2)), 0.95) == pytest.approx((3.0, 3.0))


@pytest.mark.parametrize("b", [0.0, -1.0, 0.5])
def test_a_rate_that_may_be_nothing_has_no_interval(b):
    assert ratio_interval(6.0, b, np.diag([0.0, 0.1]), 0.95) == (np.inf, np.inf)


def test_scatter_of_rounds_is_the_interval_of_a_mean():
    """Exact measuring: the interval of the rate is mean ± t s / sqrt(n) (JCGM 100, 4.2 and G.3)."""
    taken, work = np.array([10.0, 12.0, 11.0]) * 1e3, np.ones(3)
    found = to_finish("hour", 22e3, taken, work, np.zeros((4, 4)), ("1", "2", "3"), 0.95)
    reach = t.ppf(0.975, 2) * 1.0 / np.sqrt(3)
    assert found.value == pytest.approx(2.0)
    assert (found.low, found.high) == pytest.approx((22 / (11 + reach), 22 / (11 - reach)))
    assert found.scatter == pytest.approx(1 / 11)
    assert found.rate == pytest.approx(11.0)
    assert str(found).startswith("2.0 hours to finish, 1.6 to 2.6 (95 %), at 11.00 cm³ an hour")


def test_rounds_that_differ_too_much_tell_no_end():
    taken = np.array([10.0, 2.0]) * 1e3
    found = to_finish("round", 6e3, taken, np.ones(2), np.zeros((3, 3)), ("1", "2"), 0.95)
    assert not found.determined
    assert "rounds that takes is not determined" in str(found)


def test_nothing_left_takes_no_time():
    found = to_finish("hour", 0.0, np.array([5e3]), np.ones(1), np.zeros((2, 2)), ("1",), 0.95)
    assert (found.value, found.low, found.high) == (0, 0, 0)


def test_given_rate_by_hand():
    found = at_given_rate(3e3, 0.0, 1.5, 0.0, 0.95)
    assert (found.value, found.low, found.high, found.rounds) == (2.0, 2.0, 2.0, ())
    assert str(found) == "2.0 hours to finish, 2.0 to 2.0 (95 %), at 1.50 cm³ an hour"

"""Verdicts: what may be aimed at never leads too low more often than asked."""

import numpy as np
import pytest

from metrolib.rebuild.rounds.standing_verdicts import below, below_anywhere, most_to_aim_at


def test_exact_heights_are_below_or_not():
    assert below(np.array([-1.0, 0.0, 1.0]), np.zeros(3)).tolist() == [1, 0, 0]
    assert below_anywhere(np.array([0.1, -0.1]), np.zeros((2, 2)), draws=10, seed=1) == 1
    assert below_anywhere(np.array([0.1, 0.1]), np.zeros((2, 2)), draws=10, seed=1) == 0
    assert below_anywhere(np.zeros(0), np.zeros((0, 0)), draws=10, seed=1) == 0


def test_half_the_standard_normal_lies_below_zero():
    assert below(np.array([0.0, 1.6449]), np.ones(2)) == pytest.approx([0.5, 0.05], abs=1e-5)


@pytest.mark.parametrize(
    "left, u, scatter", [(0.030, 0.002, 0.2), (0.006, 0.002, 0.5), (0.1, 0.01, 0.1)]
)
def test_aiming_so_deep_goes_too_deep_no_more_often_than_allowed(left, u, scatter):
    """Played 100 000 times: measure, aim, cut with scatter; 5 % within four standard deviations."""
    rng = np.random.default_rng(8)
    jobs = 100_000
    measured = left + rng.normal(0, u, jobs)
    aimed = most_to_aim_at(measured, measured, np.full(jobs, u), scatter, 0.95)
    ends = left - aimed * (1 + rng.normal(0, scatter, jobs))
    assert np.mean(ends < 0) < 0.05 + 4 * np.sqrt(0.05 * 0.95 / jobs)
    # and the uncertainty of what was taken does not reach half of what was then left
    assert (scatter * aimed <= (measured - aimed) / 2 + 1e-12)[measured > 0].all()


def test_nothing_may_be_aimed_at_where_nothing_is_left():
    at_most = most_to_aim_at(np.array([-0.001, 0.0]), np.zeros(2), np.zeros(2), 0.5, 0.95)
    assert at_most.tolist() == [0, 0]

"""Hours of stages against draws of rates and of heights, and against the log-normal law."""

import numpy as np
import pytest
from scipy.stats import lognorm, multivariate_normal

from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.hours import stage_hours, stage_volumes
from metrolib.rebuild.stages.stages import stages
from metrolib.survey.methods import Method
from metrolib.uncertain.linear import covariance_of
from tests.rebuild.beds import HELD, lathe_bed

METHODS = (
    Method("roughing", 0.05, 0.012, 2.0, 0.003, 0.5, log="files"),
    Method("fine file", 0.025, 0.006, 1.0, 0.002, 0.2, log="files"),
    Method("scraper", 0.0, 0.005, 0.4, 0.001, 0.1),
)
LIMITS = [(np.inf, 0.05), (0.05, 0.025), (0.025, 0.0)]


def _plan():
    heights = lathe_bed(
        [0.0, -0.05, -0.1, -0.06, 0.0], [0.01, -0.02, -0.03, -0.03, 0.0], u=0.003, ledge_u=0.001
    )
    return plan_removal(heights, faces=["front", "rear"], clean_up=0.03, **HELD)


def test_exact_rates_give_exact_hours():
    hours = stage_hours(np.array([4000.0]), np.zeros((1, 1)), [Method("file", 0, 0.01, 2.0)])
    assert hours == [2.0]


def test_mean_and_spread_of_one_rate_are_those_of_the_lognormal_law():
    rate = lognorm(s=np.sqrt(np.log1p(0.25**2)), scale=2.0 / np.sqrt(1 + 0.25**2))
    assert (rate.mean(), rate.std()) == pytest.approx((2.0, 0.5))
    (found,) = stage_hours(np.array([3000.0]), np.zeros((1, 1)), METHODS[:1])
    mean = rate.expect(lambda r: 3 / r)
    assert found.nominal_value == pytest.approx(mean, rel=1e-6)
    spread = np.sqrt(rate.expect(lambda r: (3 / r) ** 2) - mean**2)
    assert found.std_dev == pytest.approx(spread, rel=1e-6)


def test_volumes_by_hand():
    heights = lathe_bed([0, -0.05, 0.1], [0, 0, 0])
    plan = plan_removal(heights, faces=["front", "rear"], confidence=None, clean_up=0.03, **HELD)
    # depths 80, 30, 180 and 80, 80, 80; areas 14000, 28000, 14000 mm2 each
    volumes, cov = stage_volumes(plan, LIMITS)
    rough = 14000 * (0.03 + 0.13) + 56000 * 0.03
    fine = 14000 * 0.025 * 2 + 28000 * 0.005 + 56000 * 0.025
    assert volumes == pytest.approx([rough, fine, 0.025 * 2 * 56000])
    assert not cov.any()


def test_hours_against_draws():
    """Everything drawn: heights jointly, one log-normal factor for each log, depths cut off at the
    stages' limits as the tool would."""
    plan, random, count = _plan(), np.random.default_rng(11), 100_000
    result = stages(plan, METHODS)
    above = plan.relative_height - plan.target
    height = multivariate_normal(above, plan.group.cov, allow_singular=True, seed=random)
    depth = np.maximum(height.rvs(count), 0.0)
    hand = {"files": random.normal(size=count), "scraper": random.normal(size=count)}
    drawn = []
    for method, (found, left) in zip(METHODS, LIMITS, strict=True):
        volume = (np.minimum(depth, found) - np.minimum(depth, left)) @ plan.area / 1e3
        width = np.sqrt(np.log1p((method.rate_uncertainty / method.rate) ** 2))
        factor = np.exp(width * hand[method.log or method.name] - width**2 / 2)
        drawn.append(volume / (method.rate * factor))
    drawn = np.array(drawn)
    found = [stage.hours for stage in result]
    se = drawn.std(axis=1) / np.sqrt(count)
    # where the surface lies within its uncertainty of a stage's limit the mean is shifted by less
    # than u / sqrt(2 pi) over that area: here one station in ten, at most 0.0012 mm
    shift = [0.0012 * plan.area.max() / 1e3 / method.rate for method in METHODS]
    means = np.array([hours.nominal_value for hours in found])
    assert (np.abs(drawn.mean(axis=1) - means) < 5 * se + shift).all()
    assert [hours.std_dev for hours in found] == pytest.approx(drawn.std(axis=1), rel=0.02)
    correlation = covariance_of(found)
    size = np.sqrt(np.diag(correlation))
    assert (correlation / np.outer(size, size)) == pytest.approx(np.corrcoef(drawn), abs=0.02)
    total = drawn.sum(axis=0)
    assert result.value.std_dev == pytest.approx(total.std(), rel=0.02)


def test_a_common_log_makes_the_sum_less_sure():
    apart = [Method(m.name, m.leaves, m.per_pass, m.rate, 0, m.rate_uncertainty) for m in METHODS]
    plan = _plan()
    more = stages(plan, METHODS).value.std_dev ** 2 - stages(plan, apart).value.std_dev ** 2
    rough, fine = (stage.hours.nominal_value for stage in stages(plan, METHODS).stages[:2])
    # shares of 0.25 and 0.2: the covariance of two log-normal factors of one normal number
    shared = np.exp(np.sqrt(np.log(1 + 0.25**2) * np.log(1 + 0.2**2))) - 1
    assert more == pytest.approx(2 * rough * fine * shared, rel=0.01)
    # one by one they are as sure as before
    for one, other in zip(stages(plan, METHODS), stages(plan, apart), strict=True):
        assert one.hours.std_dev == pytest.approx(other.hours.std_dev)


def test_heights_alone_make_hours_uncertain_too():
    exact = [Method(m.name, m.leaves, m.per_pass, m.rate) for m in METHODS]
    result = stages(_plan(), exact)
    # every depth is over 50 um + 3 u but the lowest; so nearly all doubt is in the first stage
    assert result["roughing"].hours.std_dev > 3 * result["scraper"].hours.std_dev > 0

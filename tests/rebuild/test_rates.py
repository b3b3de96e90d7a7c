"""Removal rates: by hand, by an independent minimiser, and from simulated logs."""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from metrolib.errors import InputError
from metrolib.rebuild.stages.rates import removal_rate
from metrolib.survey.methods import Method

NAN = np.nan


def test_by_hand():
    # 4, 6 and 8 um a pass: mean 6, variance (4 + 0 + 4) / 2 = 4; the mean is known to 2 / sqrt 3
    rate = removal_rate([5, 2, 10], [0.020, 0.012, 0.080])
    assert rate.value.nominal_value == pytest.approx(0.006)
    assert rate.scatter == pytest.approx(0.002)
    assert rate.value.std_dev == pytest.approx(0.002 / np.sqrt(3))
    assert rate.u == pytest.approx(0.002 * np.sqrt(4 / 3))
    assert rate.weights == pytest.approx([1 / 3] * 3)
    assert rate.rate is None and rate.rate_u is None


def test_measuring_is_taken_out_of_the_scatter():
    # each patch of 5 passes is measured to 5 um, so to 1 um a pass: 4 - 1 = 3 is left for the hand
    rate = removal_rate([5, 5, 5], [0.020, 0.030, 0.040], 0.005)
    assert rate.scatter == pytest.approx(0.001 * np.sqrt(3))
    assert rate.value.std_dev == pytest.approx(0.002 / np.sqrt(3))


def test_scatter_that_measuring_explains_is_none():
    rate = removal_rate([5, 5], [0.024, 0.026], 0.005)
    assert rate.scatter == 0
    assert rate.u == pytest.approx(0.001 / np.sqrt(2))


def test_patches_that_agree_leave_nothing_uncertain():
    rate = removal_rate([4, 8], [0.020, 0.040])
    assert (rate.value, rate.scatter, rate.u) == (pytest.approx(0.005), 0, 0)


def test_a_patch_measured_poorly_weighs_less():
    rate = removal_rate([2, 20, 20], [0.010, 0.110, 0.090], [0.004, 0.004, 0.004])
    # 1 / (scatter^2 + u^2), u = 2, 0.2 and 0.2 um a pass
    expected = 1 / (rate.scatter**2 + (0.004 / np.array([2, 20, 20])) ** 2)
    assert rate.weights == pytest.approx(expected / expected.sum())
    assert rate.weights[0] < 0.2


def test_scatter_against_an_independent_search():
    passes, depth = np.array([3, 5, 8, 12, 20]), np.array([0.012, 0.031, 0.036, 0.071, 0.088])
    u = np.array([0.002, 0.003, 0.002, 0.004, 0.003])
    rate = removal_rate(passes, depth, u)
    y, own = depth / passes, u / passes

    def squares(scatter, mean):
        return np.sum((y - mean) ** 2 / (scatter**2 + own**2))

    def miss(scatter):
        best = minimize_scalar(lambda mean: squares(scatter, mean), bracket=(0.001, 0.01))
        return abs(best.fun - (len(y) - 1))

    found = minimize_scalar(miss, bounds=(1e-5, 0.01), method="bounded", options={"xatol": 1e-12})
    assert rate.scatter == pytest.approx(found.x, rel=1e-5)


def test_a_long_log_recovers_the_hand_behind_it():
    random = np.random.default_rng(3)
    k, mean, scatter, u = 4000, 0.005, 0.001, 0.003
    passes = random.integers(3, 12, k)
    depth = passes * random.normal(mean, scatter, k) + random.normal(0, u, k)
    rate = removal_rate(passes, depth, u)
    assert abs(rate.value.nominal_value - mean) < 4 * rate.value.std_dev
    assert rate.scatter == pytest.approx(scatter, rel=0.06)  # about 4 of its standard errors


def test_what_a_new_zone_gives_is_as_uncertain_as_said():
    random = np.random.default_rng(4)
    scores = []
    for _ in range(3000):
        hand = random.normal(0.005, 0.001, 11)
        depth = 6 * hand[:10] + random.normal(0, 0.002, 10)
        rate = removal_rate([6] * 10, depth, 0.002)
        scores.append((hand[10] - rate.value.nominal_value) / rate.u)
    # ten patches: Student's t with 9 degrees of freedom has the variance 9 / 7, and where the
    # scatter is found as little a score is larger still
    assert 1.0 < np.var(scores) < 1.6
    assert abs(np.mean(scores)) < 4 * np.std(scores) / np.sqrt(3000)


def test_rounds_join_the_log():
    first = removal_rate([5, 5], [0.020, 0.030], volume=[0.2, 0.3], hours=[0.5, 0.5])
    both = removal_rate([10], [0.060], volume=[0.6], hours=[1.0], earlier=first)
    whole = removal_rate(
        [5, 5, 10], [0.02, 0.03, 0.06], volume=[0.2, 0.3, 0.6], hours=[0.5, 0.5, 1]
    )
    assert both.value.nominal_value == pytest.approx(whole.value.nominal_value)
    assert both.u == pytest.approx(whole.u)
    assert both.rate == pytest.approx(whole.rate)
    assert both.passes.tolist() == [5, 5, 10]


def test_metal_per_hour_by_hand():
    # 0.4, 0.6 and 0.8 cm3/h: mean 0.6, scatter 0.2, so sqrt(0.04 + 0.04 / 3) over one job
    rate = removal_rate(
        [5, 5, 5, 5], [0.02] * 4, volume=[0.2, 0.3, 0.4, NAN], hours=[0.5, 0.5, 0.5, 1]
    )
    assert rate.rate == pytest.approx(0.6)
    assert rate.rate_u == pytest.approx(0.2 * np.sqrt(4 / 3))
    method = rate.as_method("scraper", leaves=0.0, log="hand")
    assert method == Method("scraper", 0.0, 0.02 / 5, rate.rate, 0.0, rate.rate_u, "hand")
    assert "cm³/h, give or take 0.23 cm³/h" in str(rate)


def test_scaling():
    one = removal_rate([5, 8, 6], [0.020, 0.050, 0.030], 0.002)
    two = removal_rate([5, 8, 6], [0.040, 0.100, 0.060], 0.004)
    assert two.value.nominal_value == pytest.approx(2 * one.value.nominal_value)
    assert two.u == pytest.approx(2 * one.u)
    assert two.weights == pytest.approx(one.weights)


def test_words_and_tables():
    rate = removal_rate([5, 5], [0.0254, 0.0508])
    assert rate.in_words("thou").startswith("one pass takes 0.300 thou, at one place give or take")
    table = rate.to_dataframe("thou")
    assert table["per pass [thou]"].tolist() == pytest.approx([0.2, 0.4])
    assert table["weight"].sum() == pytest.approx(1)
    assert "<caption>Removal rate" in rate._repr_html_()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([5], [0.02]), "one entry tells no scatter, got 1; measure two patches or more"),
        (([5, 0], [0.02, 0.01]), "passes: they must be above 0"),
        (([5, 5], [0.02]), "passes and depth: lengths differ"),
        (([5, 5], [0.02, NAN]), "depth: item 1 is not a finite number"),
        (([5, 5], [-0.02, 0.01]), "depth: no metal came off on the mean"),
        (([5, 5], [0.02, 0.01], [0.001] * 3), "depth and u: lengths differ"),
        (([5, 5], [0.02, 0.01], -1.0), "u: an uncertainty is negative"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(InputError, match=words):
        removal_rate(*arguments)


def test_refusals_of_volume_and_hours():
    with pytest.raises(InputError, match="hours: it must be above 0, got 0.0; write NaN"):
        removal_rate([5, 5], [0.02, 0.01], hours=[0, 1])
    with pytest.raises(InputError, match="volume: numbers are needed, got .'two'"):
        removal_rate([5, 5], [0.02, 0.01], volume=["two", 2])
    with pytest.raises(InputError, match="passes and volume: lengths differ"):
        removal_rate([5, 5], [0.02, 0.01], volume=[1])
    with pytest.raises(InputError, match="the log tells no volume per hour"):
        removal_rate([5, 5], [0.02, 0.01]).as_method("file", leaves=0)

"""The decision rule: by hand, against scipy, its monotony, and how often it errs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from metrolib.errors import InputError
from metrolib.form.confidence import confidence_interval
from metrolib.form.straightness import straightness
from metrolib.form.windows import worst_window
from metrolib.rebuild.acceptance.conformity import (
    beyond,
    checked_coverage,
    conformance,
    guard,
    judge_places,
    judge_zone,
)

FIGURES = st.floats(-0.1, 0.1)
SPREADS = st.floats(1e-5, 0.05)


def one(value, u, low, high, coverage=0.95):
    return judge_places(np.array([value]), np.array([u]), low, high, coverage)


@given(FIGURES, SPREADS, st.floats(-0.05, 0.0), st.floats(0.001, 0.05))
@settings(max_examples=60, deadline=None)
def test_probability_is_that_of_a_normal_law(value, u, low, high):
    expected = norm.cdf(high, value, u) - norm.cdf(low, value, u)
    assert conformance(value, u, low, high) == pytest.approx(expected, abs=1e-12)
    outside = max(norm.sf(high, value, u), norm.cdf(low, value, u))
    assert beyond(value, u, low, high) == pytest.approx(outside, abs=1e-12)


@given(FIGURES, SPREADS, st.floats(0.001, 0.05), st.floats(0.0, 0.05))
@settings(max_examples=60, deadline=None)
def test_a_wider_tolerance_never_lowers_the_probability(value, u, limit, wider):
    near, far = one(value, u, 0.0, limit), one(value, u, -wider, limit + wider)
    assert far.probability >= near.probability - 1e-12
    assert not (near.decision == "accepted" and far.decision != "accepted")
    assert not (near.decision == "not decided" and far.decision == "not accepted")


@given(FIGURES, st.floats(0.001, 0.05), SPREADS, SPREADS)
@settings(max_examples=60, deadline=None)
def test_a_better_measurement_never_turns_the_answer_round(value, limit, u, v):
    first, second = (one(value, spread, -limit, limit).decision for spread in (u, v))
    assert {first, second} != {"accepted", "not accepted"}


@given(SPREADS)
def test_accepted_inside_the_guard_and_not_accepted_outside(u):
    g = guard(u)
    assert one(1 - 1.001 * g, u, -np.inf, 1).decision == "accepted"
    assert one(1 - 0.999 * g, u, -np.inf, 1).decision == "not decided"
    assert one(1 + 0.999 * g, u, -np.inf, 1).decision == "not decided"
    assert one(1 + 1.001 * g, u, -np.inf, 1).decision == "not accepted"


def test_a_zone_much_narrower_than_u_is_never_decided_from_within():
    # the true figure lies outside with 97 %, yet beyond neither limit for sure
    found = one(0.0, 0.03, -0.001, 0.001)
    assert found.probability < 0.03 and found.decision == "not decided"


def test_exact_figures_decide_themselves():
    assert one(0.02, 0.0, 0.0, 0.02).decision == "accepted"
    assert one(0.0200001, 0.0, 0.0, 0.02).decision == "not accepted"
    assert one(-1e-6, 0.0, 0.0, 0.02).decision == "not accepted"


def test_without_uncertainty_nothing_is_decided():
    found = judge_places(np.array([0.01, 0.5]), None, 0.0, 0.02, 0.95)
    assert (found.decision, found.probability, found.worst) == ("not decided", None, 1)
    assert found.note == "nothing is known of its uncertainty"


def test_the_least_sure_place_decides():
    values, u = np.array([0.0015, 0.010, 0.0192]), np.array([0.0001, 0.0001, 0.0001])
    found = judge_places(values, u, 0.0, 0.02, 0.95)
    assert found.decision == "accepted" and found.worst == 2
    found = judge_places(values, 10 * u, 0.0, 0.02, 0.95)
    assert found.decision == "not decided"
    assert found.probability == pytest.approx(norm.cdf(0.8), abs=1e-12)


def test_over_many_places_a_refusal_needs_more():
    # beyond by 2 u: enough for one figure (1.645), not for one of ten with two limits (2.81)
    values, u = np.full(10, 0.01), np.full(10, 0.001)
    values[3] = 0.022
    assert one(0.022, 0.001, 0.0, 0.02).decision == "not accepted"
    assert judge_places(values, u, 0.0, 0.02, 0.95).decision == "not decided"
    values[3] = 0.0229
    assert judge_places(values, u, 0.0, 0.02, 0.95).decision == "not accepted"


def test_how_often_places_are_judged_wrongly():
    # 6000 surveys of 12 places with correlated noise; a bad one is accepted in at most 5 %, a good
    # one refused in at most 5 %, here with 4 standard deviations of the count to spare
    random = np.random.default_rng(5)
    root = 0.001 * (np.eye(12) + 0.3 * np.tri(12))
    u = np.sqrt((root**2).sum(axis=1))
    bad, good = np.full(12, 0.010), np.full(12, 0.0)
    bad[4], good[::2] = 0.02, 0.02  # one place at its limit; and all of them at one
    noise = random.standard_normal((6000, 12)) @ root.T
    accepted = sum(judge_places(bad + e, u, 0, 0.02, 0.95).decision == "accepted" for e in noise)
    refused = sum(
        judge_places(good + e, u, 0, 0.02, 0.95).decision == "not accepted" for e in noise
    )
    most = 300 + 4 * np.sqrt(6000 * 0.05 * 0.95)
    assert 300 - 4 * 17 < accepted < most  # a single place at the limit: 5 % indeed
    assert refused < most


def crowned(seed, n=15, u=0.002, true=0.012):
    x = np.linspace(0, 1400, n)
    noise = np.random.default_rng(seed).normal(0, u, n)
    return x, true * np.sin(np.pi * x / 1400) + noise


def judged(result, limit, **choice):
    places = getattr(result, "x", None)[:, None]
    return judge_zone(result, places, limit, 0.95, **choice)


def test_a_zone_is_accepted_just_when_at_most_is_within():
    for seed in range(3):
        result = straightness(*crowned(seed), 0.002)
        at_most = confidence_interval(result, progress=False).at_most
        found = [judged(result, at_most + change).decision for change in (-0.0004, 0.0004)]
        assert found == ["not decided", "accepted"]


def test_a_zone_with_clear_contacts_follows_the_normal_law():
    x = [0, 250, 500, 750, 1000]
    result = straightness(x, [0, -0.012, -0.020, -0.015, 0], 0.0005)
    assert not result.tied
    found = judged(result, 0.021)
    assert found.probability == pytest.approx(norm.cdf(0.001 / result.value.s)) and not found.note


def test_probability_of_a_zone_rises_with_the_limit():
    result = straightness(*crowned(4), 0.002)
    shares = [judged(result, limit).probability for limit in np.linspace(0.004, 0.03, 12)]
    assert (np.diff(shares) >= -1e-9).all() and shares[0] < 0.05 and shares[-1] > 0.95


def test_far_beyond_the_limit_needs_no_draws():
    result = straightness(*crowned(5, true=0.1), 0.002)
    found = judged(result, 0.02)
    assert found.decision == "not accepted" and found.probability < 1e-12 and not found.note


def test_zones_without_uncertainty_or_exact():
    x, z = crowned(6)
    assert judged(straightness(x, z), 1.0).decision == "not decided"
    exact = straightness(x, z, 0.0)
    assert judged(exact, float(exact.value.n)).decision == "accepted"
    assert judged(exact, float(exact.value.n) - 1e-6).decision == "not accepted"


@pytest.mark.parametrize(("length", "surveys"), [(None, 100), (400, 25)])
def test_how_often_zones_at_their_limit_are_judged_wrongly(length, surveys):
    # truth exactly at the limit; promised 5 % on average over shapes, 2 to 8 % for one of them
    x = np.linspace(0, 1400, 11)
    true = 0.012 * np.sin(np.pi * x / 1400)
    make = straightness if length is None else worst_window
    choice = {} if length is None else {"length": length}
    limit = make(x, true, **choice).value
    random, decisions = np.random.default_rng(7), []
    for seed in range(surveys):
        result = make(x, true + random.normal(0, 0.002, 11), 0.002, **choice)
        decisions.append(judged(result, limit, draws=150, seed=seed).decision)
    most = 0.08 * surveys + 3 * np.sqrt(0.08 * surveys)
    assert decisions.count("accepted") <= most
    assert decisions.count("not accepted") <= most


def test_an_even_bow_at_a_local_limit_is_seldom_refused():
    # all its stretches are alike, so noise inflates the worst of them most
    x = np.linspace(0, 1500, 31)
    bow = (x / 750 - 1) ** 2
    bow *= 0.008 / worst_window(x, bow, length=300).value

    def judged_once(seed, size=1.0):
        z = size * bow + np.random.default_rng(seed).normal(0, 0.001, 31)
        return judged(worst_window(x, z, 0.001, length=300), 0.008, draws=300)

    refused = [judged_once(seed).decision for seed in range(30)].count("not accepted")
    assert refused <= 0.05 * 30 + 3 * np.sqrt(30 * 0.05 * 0.95)
    assert judged_once(30, 1.5).decision == "not accepted"


def test_coverage_has_limits():
    assert checked_coverage(0.5) == 0.5
    for value, words in ((0.4, "at least 0.5"), (1.0, "it must be below 1")):
        with pytest.raises(InputError, match=words):
            checked_coverage(value)

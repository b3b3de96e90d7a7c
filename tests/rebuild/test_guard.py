import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import ImpossiblePlanError
from metrolib.heights.result import given_heights
from metrolib.rebuild.guard import draw_errors
from metrolib.rebuild.removal import plan_removal
from tests.rebuild.beds import HELD, flat, lathe_bed

DRAWS = 20_000


def _k_scatter(k, n, probability):
    """Four standard deviations of a k found from DRAWS draws of n independent errors."""
    density = n * norm.cdf(k) ** (n - 1) * norm.pdf(k)
    return 4 * np.sqrt(probability * (1 - probability) / DRAWS) / density


@pytest.mark.parametrize("confidence", [0.8, 0.95])
@pytest.mark.parametrize("count", [2, 6])
def test_guard_of_independent_heights_by_formula(confidence, count):
    # level tops, target held level: all n clean up with probability Phi(k) ** n
    n = 2 * count
    heights = lathe_bed([0.0] * count, [0.0] * count, u=0.002)
    plan = plan_removal(heights, faces=["front", "rear"], confidence=confidence, **HELD)
    expected = norm.ppf(confidence ** (1 / n))
    assert plan.guard == pytest.approx(expected, abs=_k_scatter(expected, n, confidence))
    assert plan.confidence >= confidence
    # held level, the guard lowers everything by k u
    np.testing.assert_allclose(plan.depth, plan.guard * 0.002, rtol=1e-9)
    assert plan.guard_depth == pytest.approx(plan.guard * 0.002, rel=1e-9)
    assert plan.guard_volume == pytest.approx(plan.volume, rel=1e-9)


def test_an_error_common_to_all_heights_needs_the_guard_of_one():
    # a micrometer wrong by one amount everywhere: P = Phi(k), however many stations
    heights = lathe_bed([0.0] * 5, [0.0] * 5)
    cov = np.zeros_like(heights.cov)
    cov[:10, :10] = 0.003**2
    heights = type(heights)(**{**vars(heights), "cov": cov})
    plan = plan_removal(heights, faces=["front", "rear"], confidence=0.9, **HELD)
    expected = norm.ppf(0.9)
    assert plan.guard == pytest.approx(expected, abs=_k_scatter(expected, 1, 0.9))


@pytest.mark.parametrize(
    "conditions",
    [
        {"clean_up": 0.01, **HELD},
        {"clean_up": 0.0},
        {"band": 0.02},
        {"clean_up": 0.0, "together": "parallel"},
        {"clean_up": 0.0, "minimise": "deepest cut"},
    ],
)
def test_drawn_surfaces_clean_up_as_often_as_promised(conditions):
    rng = np.random.default_rng(6)
    heights = lathe_bed(*rng.normal(0, 0.02, (2, 8)), u=0.003)
    plan = plan_removal(heights, faces=["front", "rear"], confidence=0.9, draws=DRAWS, **conditions)
    # draw afresh, in a way of its own: errors of all heights, seen in the frame of the plan
    n, count = 16, 40_000
    errors = np.random.default_rng(777).normal(0, 0.003, (count, n))
    if "datum" not in conditions:
        x, y = plan.x / 1e3, plan.y / 1e3
        own = [(plan.face == name) * 1.0 for name in ("front", "rear")]
        parallel = conditions.get("together") == "parallel"
        columns = np.column_stack([x, y, np.ones(n), *(own if parallel else [])])
        fit = np.linalg.lstsq(columns, errors.T, rcond=None)[0]
        errors = errors - (columns @ fit).T
    room = plan.relative_height + errors - plan.target - conditions.get("clean_up", 0.0)
    share = (room >= 0).all(axis=1).mean()
    # both shares scatter; the guard is found to a thousandth of its range
    spread = np.sqrt(0.9 * 0.1 * (1 / count + 1 / DRAWS))
    assert share == pytest.approx(0.9, abs=4 * spread + 1e-3)


def test_surveys_of_a_known_truth_clean_up_at_least_as_often_as_promised():
    # Here the truth stays and the readings scatter. The lowest reading is then more often too low
    # than too high, so the cut errs on the sure side.
    x = np.linspace(0, 1400, 6)
    true = -0.05 * np.exp(-(((x - 400) / 300) ** 2))
    rng, cleaned, surveys = np.random.default_rng(9), 0, 100
    for seed in range(surveys):
        measured = np.vstack([true, 0.5 * true]) + rng.normal(0, 0.003, (2, 6))
        heights = lathe_bed(*measured, u=0.003)
        plan = plan_removal(
            heights, faces=["front", "rear"], confidence=0.9, seed=seed, draws=2000, **HELD
        )
        cleaned += (np.concatenate([true, 0.5 * true]) >= plan.target).all()
    assert cleaned / surveys >= 0.9 - 3 * np.sqrt(0.9 * 0.1 / surveys)


def test_no_confidence_asks_for_no_guard_and_still_says_how_sure_it_is():
    heights = lathe_bed([0, 0.03, 0.03], [0.03, 0.03, 0.03], u=0.001)
    plan = plan_removal(heights, faces=["front", "rear"], confidence=None, **HELD)
    assert (plan.guard, plan.guard_depth, plan.guard_volume) == (0, 0, 0)
    # only the one low spot can fail, and does so half the time
    assert plan.confidence == pytest.approx(0.5, abs=4 * 0.5 / np.sqrt(DRAWS))


def test_more_confidence_never_costs_less():
    rng = np.random.default_rng(3)
    heights = lathe_bed(*rng.normal(0, 0.02, (2, 6)), u=0.004)
    plans = [
        plan_removal(heights, faces=["front", "rear"], confidence=c) for c in (None, 0.5, 0.9, 0.99)
    ]
    assert (np.diff([plan.guard for plan in plans]) > 0).all()
    assert (np.diff([plan.volume for plan in plans]) > 0).all()
    assert all(plan.confidence >= c for plan, c in zip(plans[1:], (0.5, 0.9, 0.99), strict=True))
    assert plans[2].volume - plans[2].guard_volume == pytest.approx(plans[0].volume, rel=1e-9)


def test_untouchable_faces_need_no_guard():
    heights = lathe_bed([0.05] * 4, [0.0] * 4, u=0.002)
    plan = plan_removal(heights, faces=["front", "rear"], untouchable=["rear"], **HELD)
    assert (plan.depth[plan.face == "rear"] == 0).all()
    np.testing.assert_allclose(plan.depth[plan.face == "front"], 0.05, atol=1e-12)
    assert plan.guard == 0


def test_a_guard_that_no_removal_can_give_says_so():
    heights = lathe_bed([0.05] * 4, [0.0] * 4, u=0.002)
    with pytest.raises(
        ImpossiblePlanError, match="guard of .* that a confidence of 0.95 needs"
    ) as error:
        plan_removal(heights, faces=["front", "rear"], greatest_cut={"front": 0.052}, **HELD)
    assert "with confidence=None it can be done" in str(error.value)
    without = plan_removal(
        heights,
        faces=["front", "rear"],
        greatest_cut={"front": 0.052},
        confidence=None,
        **HELD,
    )
    assert f"probability of {without.confidence:.2f}" in str(error.value)


def test_seed_and_draws_decide_alone():
    heights = lathe_bed([0, 0.01, 0, 0.02], [0, 0, 0.01, 0], u=0.002)
    one, again, other = (
        plan_removal(heights, faces=["front", "rear"], seed=seed, draws=300).guard
        for seed in (1, 1, 2)
    )
    assert one == again != other


def test_drawn_errors_have_the_covariance_asked_for_even_if_singular():
    # what is left of independent errors once their mean is taken off: rank 3 of 4
    cov = (np.eye(4) - 0.25) * 0.002**2
    errors = draw_errors(cov, 40_000, seed=5)
    np.testing.assert_allclose(errors.sum(axis=1), 0, atol=1e-15)
    found = np.cov(errors.T)
    # a covariance from N draws scatters by sqrt((c_ii c_jj + c_ij^2) / N)
    size = np.diag(cov)
    scatter = np.sqrt((np.outer(size, size) + cov**2) / 40_000)
    assert (np.abs(found - cov) <= 4.5 * scatter).all()


def test_uncertainty_of_the_depths_holds_against_the_frame():
    # a face with its own exact datum: the depth is as uncertain as the height
    heights = lathe_bed([0, 0.01, 0.02], [0, 0, 0], u=0.003)
    plan = plan_removal(heights, faces=["front"], clean_up=0.01, **HELD)
    np.testing.assert_allclose(plan.depth_u, 0.003, rtol=1e-9)
    # without a datum the line that fits the face takes its share: 2 of 3 degrees of freedom
    alone = given_heights([flat("front")], {"front": ([0, 250, 500], [0, 0.01, 0.02])}, 0.003)
    plan = plan_removal(alone, faces=["front"], clean_up=0.01)
    np.testing.assert_allclose(plan.depth_u, 0.003 * np.sqrt([1 / 6, 4 / 6, 1 / 6]), rtol=1e-9)

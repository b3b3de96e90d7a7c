import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import norm

from metrolib.errors import ImpossiblePlanError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.guard import draw_errors, find_guard
from metrolib.rebuild.removal.programme_single import find_target
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.machine import Face
from tests.rebuild.beds import HELD, flat, lathe_bed, lifted
from tests.studies.guard_study import sample_plans, study, surveys_of_a_known_truth

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
            heights, faces=["front", "rear"], confidence=0.9, seed=seed, draws=4000, **HELD
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


def _least_by_formula(plan, u, confidence):
    """Return the least mean depth on which independent heights all clean up, by calculus.

    P = product of Phi(room / u) over the stations, log-concave in the motions.
    """
    scale = np.abs(plan.group.columns).max(axis=0)
    columns, area = plan.group.columns / scale, plan.area / plan.area.sum()
    start = plan.motion_values * scale
    start = start - 0.02 * np.linalg.lstsq(columns, np.ones(len(area)), rcond=None)[0]

    def room(motion):
        return plan.relative_height - columns @ (start + motion / 1e3)

    found = minimize(
        lambda motion: 1e3 * area @ room(motion),
        np.zeros(len(start)),
        jac=lambda motion: -area @ columns,
        constraints=[
            {"type": "ineq", "fun": lambda m: norm.logcdf(room(m) / u).sum() - np.log(confidence)},
            {"type": "ineq", "fun": lambda m: 1e3 * room(m)},
        ],
        method="SLSQP",
        options={"maxiter": 500, "ftol": 1e-10},
    )
    assert found.success
    return float(area @ room(found.x))


@pytest.mark.parametrize("scale", [1.0, np.linspace(0.3, 2.5, 16)])
@pytest.mark.parametrize("wear", [0.0, 0.03])
def test_no_other_target_that_is_as_sure_is_shallower(wear, scale):
    rng, x = np.random.default_rng(41), np.linspace(0, 1400, 8)
    hollow = [-wear * np.exp(-(((x - at) / 300) ** 2)) for at in (400, 900)]
    heights = lathe_bed(*(hollow + rng.normal(0, 0.003, (2, 8))), u=0.003)
    u = 0.003 * np.broadcast_to(scale, 16)
    cov = heights.cov.copy()
    cov[:16, :16] = np.diag(u**2)
    heights = type(heights)(**{**vars(heights), "cov": cov})
    plan = plan_removal(heights, faces=["front", "rear"], datum=HELD["datum"])
    bare = plan_removal(heights, plan.decision, confidence=None)
    mean = plan.area @ plan.depth / plan.area.sum()
    least = _least_by_formula(plan, u, 0.95)
    floor = bare.area @ bare.depth / bare.area.sum()
    # The quantile of 40 000 draws scatters by 0.001 / density: below 1 % of the guard's depth.
    assert mean - floor == pytest.approx(least - floor, rel=0.03)
    room = plan.relative_height - plan.target
    assert np.prod(norm.cdf(room / u)) == pytest.approx(0.95, abs=4 * 0.0011)


def test_samples_clean_up_as_often_as_asked_at_the_least_depth():
    # the short version of tests/studies/guard_study.py
    plans = [(name, plan) for name, plan in sample_plans() if "decision" in name]
    rows = {name: study(plan, draws=10_000) for name, plan in plans}
    assert len(rows) == 4
    for name, row in rows.items():
        scatter = np.hypot(row.reached_u, np.sqrt(0.95 * 0.05 / 40_000))
        assert row.reached == pytest.approx(row.asked, abs=4 * scatter), name
        # the guard alone within 5 %; the whole depth is then far nearer
        assert row.guard <= 1.05 * row.least, name
        assert row.guard <= 1.05 * min(row.parallel, row.even), name


def test_known_faces_clean_up_at_least_as_often_as_asked():
    x = np.linspace(0, 1400, 8)
    hollow = -0.05 * np.exp(-(((x - 600) / 300) ** 2))
    share = surveys_of_a_known_truth([hollow, 0.4 * hollow], 0.002, surveys=60)
    assert share >= 0.95 - 3 * np.sqrt(0.95 * 0.05 / 60)
    assert surveys_of_a_known_truth([0 * x, 0 * x], 0.002, surveys=20) == 1


def test_an_impossible_guard_says_how_much_more_must_come_off():
    # 8 heights of u 2 um held level need k = 2.49 for the front's four and the rear's; 50 um step
    heights = lathe_bed([0.05] * 4, [0.0] * 4, u=0.002)
    with pytest.raises(ImpossiblePlanError) as error:
        plan_removal(heights, faces=["front", "rear"], greatest_cut={"front": 0.052}, **HELD)
    k = norm.ppf(0.95 ** (1 / 4))  # only the rear's four low stations can fail
    assert f"guard of {k:.1f}" in str(error.value)
    assert f"but {0.05 + 0.002 * k:.3f} mm must come off" in str(error.value)
    enough = plan_removal(heights, faces=["front", "rear"], greatest_cut={"front": 0.0555}, **HELD)
    assert enough.depth.max() == pytest.approx(0.05 + 0.002 * k, abs=2e-4)


def test_a_guard_that_only_a_tilt_or_a_greatest_cut_hems_in_is_found():
    # the greatest cut forbids the level guard's depth at one end: the target leans within its limit
    heights = lathe_bed([0.05, 0.03, 0.01, 0.0], [0.05, 0.03, 0.01, 0.0], u=0.002)
    conditions = {**HELD, "tilt_along": 0.05, "greatest_cut": {"front": 0.052}}
    plan = plan_removal(heights, faces=["front", "rear"], **conditions)
    assert plan.depth[plan.face == "front"].max() <= 0.052 + 1e-9
    assert plan.confidence == pytest.approx(0.95, abs=1e-3)


def test_the_places_that_share_the_risk_govern():
    heights = lathe_bed([0, -0.05, 0, 0], [0, 0, -0.05, 0], u=0.003)
    plan = plan_removal(heights, faces=["front", "rear"], **HELD)
    assert {(item.face, round(item.x)) for item in plan.governing} == {
        ("front", 467),
        ("rear", 933),
    }
    # held level, 0.01 mm less at both costs 0.01 mm of everything that is not under them
    whole = 0.01 * plan.area.sum()
    under = 0.01 * plan.area[[1, 6]].sum()
    assert sum(item.cost for item in plan.governing) == pytest.approx(whole - under, rel=1e-6)
    # two independent heights share the answer: u of the target is less than that of either
    assert plan.target_u.max() == pytest.approx(0.003 / np.sqrt(2), rel=0.01)


def test_the_guard_in_full_where_only_the_lift_is_free():
    programme = lifted(3)
    cov = np.eye(3) * 0.002**2
    found = find_guard(programme, cov, 0.9, draws=DRAWS, seed=1)
    expected = norm.ppf(0.9 ** (1 / 3))
    assert found.k == pytest.approx(expected, abs=_k_scatter(expected, 3, 0.9))
    assert found.target.motion[0] == pytest.approx(-0.002 * found.k, rel=1e-9)
    assert found.without.motion[0] == 0
    assert found.confidence == pytest.approx(0.9, abs=1e-3)
    # without a guard all three clean up in an eighth of all cases
    assert found.confidence_without == pytest.approx(1 / 8, abs=4 * np.sqrt(7 / 64 / DRAWS))
    # the three share the risk alike, and the programme that comes back has this target
    assert found.target.role == dict.fromkeys(range(3), "low spot")
    np.testing.assert_allclose(found.target.law.sum(), 1, rtol=1e-9)
    np.testing.assert_allclose(found.target.law, 1 / 3, atol=0.06)  # of 5000 draws, some 400 count
    np.testing.assert_allclose(
        find_target(found.programme).motion, found.target.motion, rtol=0, atol=1e-12
    )
    assert not found.programme.u.any()  # no guard is left to ask for


def test_places_that_need_not_clean_up_count_for_nothing():
    # the second has no u in the programme, whatever its covariance
    programme = lifted(2, u=np.array([0.002, 0.0]))
    cov = np.array([[4e-6, 3e-6], [3e-6, 9.0]])
    found = find_guard(programme, cov, 0.9, draws=DRAWS, seed=2)
    assert found.k == pytest.approx(norm.ppf(0.9), abs=_k_scatter(norm.ppf(0.9), 1, 0.9))
    assert found.target.role == {0: "low spot"}


def test_the_guard_of_one_face_is_told_beside_another_that_is_left_as_it_is():
    # the rear has no part in it: the front's four heights alone need Phi(k) ** 4 = 0.95
    heights = lathe_bed([0.0] * 4, [0.0] * 4, u=0.002)
    conditions = {"datum": HELD["datum"], "tilt_along": 0.0, "together": "parallel"}
    plan = plan_removal(heights, faces=["front", "rear"], untouchable=["rear"], **conditions)
    expected = norm.ppf(0.95 ** (1 / 4))
    assert plan.guard == pytest.approx(expected, abs=_k_scatter(expected, 4, 0.95))
    assert "the guard for this costs" in str(plan)


@pytest.mark.parametrize("together", ["coplanar", "parallel"])
def test_where_many_targets_cost_the_same_one_that_is_sure_enough_is_found(together):
    # nine faces worn alike: the target may lean about their hollows at no cost
    names = [f"face {i}" for i in range(9)]
    faces = [Face(name, 40.0 * i, 30.0, 0.0, 500.0) for i, name in enumerate(names)]
    worn = {name: ([0, 250, 500], [0.0, -0.05, 0.0]) for name in names}
    plan = plan_removal(given_heights(faces, worn, 0.001), faces=names, together=together)
    assert plan.confidence == pytest.approx(0.95, abs=1e-3)
    # lowering every place by the same k u is sure enough, so the least guard is no deeper
    even = 0.001 * norm.ppf(0.95 ** (1 / 9))
    assert plan.guard_depth <= even + 0.001 * _k_scatter(even / 0.001, 9, 0.95)


@pytest.mark.parametrize("held", [{}, HELD])
def test_within_a_wide_band_the_guard_costs_nothing_and_is_found(held):
    # the tops lie within 4 um: a target under all of them leaves none above a band of 40
    heights = lathe_bed([0.0, 0.004, 0.001], [0.002, 0.0, 0.003], u=0.002)
    plan = plan_removal(heights, faces=["front", "rear"], confidence=0.95, band=0.040, **held)
    assert plan.volume == 0 and not plan.depth.any()
    assert plan.confidence >= 0.945
    assert plan.guard_volume == pytest.approx(0, abs=1e-9)

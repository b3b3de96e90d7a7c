import multiprocessing
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import InputError
from metrolib.rebuild.removal.programme_single import find_target
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.removal.study import study_plan
from metrolib.uncertain.montecarlo import monte_carlo
from tests.rebuild.beds import HELD, lathe_bed, one_flat

FACES = ["front", "rear"]
DRAWS = 20_000


def _worn(**conditions):
    heights = lathe_bed([0.01, -0.05, 0, 0.02], [0, 0.01, 0.03, 0.01], u=0.003)
    return plan_removal(heights, faces=FACES, **{"clean_up": 0.01, **HELD, **conditions})


def test_one_low_spot_follows_the_normal_law():
    # held level, the target follows the one low spot: all as uncertain as that height
    plan = _worn()
    study = study_plan(plan, draws=DRAWS)
    low, high = norm.ppf([0.025, 0.975]) * 0.003
    # a 2.5 % quantile from N draws scatters by sqrt(0.025 * 0.975 / N) / density
    spread = 4 * 0.003 * np.sqrt(0.025 * 0.975 / DRAWS) / norm.pdf(1.96)
    np.testing.assert_allclose(study.target[:, 0] - plan.target, low, atol=spread)
    np.testing.assert_allclose(study.target[:, 1] - plan.target, high, atol=spread)
    # the planned target stands: a depth is as uncertain as its own height
    np.testing.assert_allclose(study.depth[:, 0] - plan.depth, low, atol=spread)
    np.testing.assert_allclose(study.depth[:, 1] - plan.depth, high, atol=spread)
    assert study.governs.tolist() == [0, 1, 0, 0, 0, 0, 0, 0]
    assert study.cleaned[1] == pytest.approx(0.95, abs=4 * study.cleaned_all_u + 4e-3)
    assert (np.delete(study.cleaned, 1) == 1).all()


@pytest.mark.parametrize(
    "conditions",
    [{}, {"tilt_along": None, "tilt_across": None}, {"together": "parallel"}, {"confidence": 0.8}],
)
def test_all_clean_up_as_often_as_the_plan_says(conditions):
    rng = np.random.default_rng(3)
    heights = lathe_bed(*rng.normal(0, 0.01, (2, 7)), u=0.004, ledge_u=0.002)
    plan = plan_removal(heights, faces=FACES, **{**HELD, **conditions})
    study = study_plan(plan, draws=DRAWS)
    # the guard's own draws scatter as much as the study's
    assert study.cleaned_all == pytest.approx(
        plan.confidence, abs=4 * np.sqrt(2) * study.cleaned_all_u
    )
    assert study.cleaned_all <= study.cleaned.min()


def test_redo_gives_the_plan_back_and_what_planning_again_gives():
    plan = _worn(tilt_along=None, tilt_across=None, confidence=None)
    rng = np.random.default_rng(4)
    z = np.vstack([plan.heights.values, plan.heights.values + rng.normal(0, 0.01, (5, 12))])
    again = []
    for values in z:
        heights = type(plan.heights)(**{**vars(plan.heights), "values": values})
        heights.__dict__.pop("z", None)
        planned = plan_removal(heights, plan.decision)
        again.append(planned.area @ planned.target / planned.area.sum())
    np.testing.assert_allclose(plan.redo(z), again, rtol=0, atol=1e-12)
    assert plan.value.nominal_value == pytest.approx(again[0], abs=1e-12)


def test_redo_keeps_the_room_of_the_guard():
    plan = _worn()
    assert plan.redo(plan.heights.values[None])[0] == pytest.approx(plan.value.nominal_value)
    target = find_target(plan.programme)
    np.testing.assert_allclose(target.motion, plan.motion_values, atol=1e-12)


def test_monte_carlo_of_the_target_height():
    plan = _worn()
    found = monte_carlo(plan, draws=DRAWS, progress=False)
    assert found.value == pytest.approx(plan.value.nominal_value)
    assert found.linear_u == pytest.approx(0.003, rel=1e-6)
    assert found.u == pytest.approx(0.003, rel=4 / np.sqrt(2 * DRAWS))
    # the motions are correlated with the heights, and so is their mean
    assert (plan.value - plan.motion["lift"]).std_dev == pytest.approx(0, abs=1e-9)


def test_several_low_spots_share_the_governing():
    heights = lathe_bed([0, -0.05, 0, 0], [0, 0, -0.05, 0], u=0.003)
    study = study_plan(plan_removal(heights, faces=FACES, **HELD), draws=DRAWS)
    shares = study.governs[[1, 6]]
    np.testing.assert_allclose(shares, 0.5, atol=4 * 0.5 / np.sqrt(DRAWS))
    assert study.governs.sum() == pytest.approx(1)
    # half of the time the other one: U of the target is no longer that of one height
    assert "holds only while the same places govern" in str(study)
    assert "holds only" not in str(study_plan(_worn(), draws=1000))


def test_the_executor_changes_nothing():
    plan = _worn()
    alone = study_plan(plan, draws=5000)
    # started afresh: a fork of a process with threads may lock up
    afresh = multiprocessing.get_context("spawn")
    with ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(2, afresh) as processes:
        for executor in (threads, processes):
            other = study_plan(plan, draws=5000, executor=executor)
            assert other.depth.tobytes() == alone.depth.tobytes()
            assert other.target.tobytes() == alone.target.tobytes()
            assert other.cleaned_all == alone.cleaned_all
    assert study_plan(plan, draws=5000, seed=2).cleaned_all != alone.cleaned_all


def test_with_a_band_only_some_are_planned_again():
    plan = _worn(clean_up=0.0, band=0.02)
    study = study_plan(plan, draws=600)
    assert (study.draws, study.replanned) == (600, 512)
    assert "no place ends too low" in str(study)


def test_some_draws_leave_no_target():
    # 5 um more metal on the front than may come off, u 3 um: some draws ask for more
    heights = lathe_bed([0.05] * 3, [0.0] * 3, u=0.003)
    plan = plan_removal(heights, faces=FACES, greatest_cut={"front": 0.06}, confidence=None, **HELD)
    study = study_plan(plan, draws=2000)
    assert 0.05 < study.possible < 1
    assert np.isnan(plan.redo(plan.heights.values[None] + 0.02 * (plan.heights.face == "front")))


def test_what_hides_between_stations_is_drawn_too():
    x = np.linspace(0, 1400, 9)
    heights = lathe_bed(0.01 * np.cos(x / 60), 0.01 * np.sin(x / 55), u=0.001)
    plan = plan_removal(heights, faces=FACES, between_stations=True, **HELD)
    study = study_plan(plan, draws=DRAWS)
    assert len(study.cleaned) == len(plan.places.face) == 18 + 16
    assert study.cleaned_all == pytest.approx(
        plan.confidence, abs=4 * np.sqrt(2) * study.cleaned_all_u
    )
    table = study.to_dataframe()
    assert len(table) == 34 and table["take off from [µm]"].isna().sum() == 16


def test_untouchable_faces_clean_up_by_definition():
    heights = lathe_bed([0.05] * 4, [0.0] * 4, u=0.002)
    plan = plan_removal(heights, faces=FACES, untouchable=["rear"], **HELD)
    study = study_plan(plan, draws=1000)
    assert (study.cleaned == 1).all()


def test_scaling():
    one = study_plan(_worn(), draws=2000)
    heights = one.plan.heights
    double = type(heights)(
        **{**vars(heights), "values": 2 * heights.values, "cov": 4 * heights.cov}
    )
    double.__dict__.pop("z", None)
    plan = plan_removal(double, replace(one.plan.decision, clean_up=0.02))
    two = study_plan(plan, draws=2000)
    np.testing.assert_allclose(two.depth, 2 * one.depth, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(two.target, 2 * one.target, rtol=1e-6, atol=1e-9)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"draws": 10}, "draws: it must be at least 100, got 10"),
        ({"coverage": 1.0}, "coverage: it must be below 1"),
        ({"seed": -1}, "seed: it must be at least 0"),
    ],
)
def test_refusals(given, words):
    with pytest.raises(InputError, match=words):
        study_plan(_worn(), **given)


def test_exact_heights_are_refused():
    with pytest.raises(InputError, match="plan: its heights are exact"):
        study_plan(plan_removal(one_flat([0, -0.02, 0]), faces=["flat"]))

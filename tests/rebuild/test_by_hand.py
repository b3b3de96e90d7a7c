"""Targets at a height set by hand: by arithmetic, against the least removal, and by draws."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import ImpossiblePlanError, InputError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.options import compare
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.removal.savings import savings
from metrolib.rebuild.removal.study import study_plan
from metrolib.survey.decision import Decision
from metrolib.survey.folder import read_survey
from metrolib.uncertain.montecarlo import monte_carlo
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat

SAMPLES = Path(__file__).resolve().parents[2] / "sample_surveys"
HOLLOW = lathe_bed([0, -0.05, 0], [0, -0.02, 0])


def planned(heights=HOLLOW, **conditions):
    return plan_removal(heights, faces=["front", "rear"], **HELD, **conditions)


def test_at_the_height_of_the_least_removal_it_is_the_least_removal():
    least = planned(clean_up=0.01)
    again = planned(clean_up=0.01, target_height=least.value)
    np.testing.assert_allclose(again.depth, least.depth, atol=1e-12)
    assert again.volume == pytest.approx(least.volume)
    assert not again.lacking.any() and again.governing == ()


def test_raised_by_hand_the_low_spots_lack_what_they_lie_too_low():
    # the least target lies at -60: 10 below the hollow of 50. 35 higher the hollow lacks 35, and
    # the rear one, 20 deep, lacks 5 of its 10: -25 + 10 is 5 above it
    plan = planned(clean_up=0.01, target_height=-0.025)
    np.testing.assert_allclose(plan.target, -0.025)
    np.testing.assert_allclose(plan.depth, [0.025, 0, 0.025, 0.025, 0.005, 0.025], atol=1e-12)
    np.testing.assert_allclose(plan.lacking, [0, 0.035, 0, 0, 0.005, 0], atol=1e-12)
    assert plan.value == pytest.approx(-0.025) and plan.confidence == 0


def test_it_keeps_the_tilt_of_the_least_removal():
    heights = one_flat([0.10, 0.02, 0.0])
    least = plan_removal(heights, faces=["flat"])
    higher = plan_removal(heights, faces=["flat"], target_height=least.value + 0.01)
    np.testing.assert_allclose(higher.target - least.target, 0.01, atol=1e-12)


def test_each_face_is_moved_alike_where_they_are_only_parallel():
    least = planned(together="parallel")
    lower = planned(together="parallel", target_height=least.value - 0.02)
    np.testing.assert_allclose(lower.depth - least.depth, 0.02, atol=1e-12)


def test_the_chance_to_clean_up_is_that_of_the_normal_law():
    # of two low spots, with 2 and 1 standard uncertainties of room and independent errors
    heights = lathe_bed([0.004, 0.002], [0, 0], u=0.002, ledge_u=1e-9)
    plan = plan_removal(heights, faces=["front"], **HELD, target_height=0.0)
    chance = norm.cdf(2) * norm.cdf(1)
    scatter = np.sqrt(chance * (1 - chance) / 40_000)
    assert plan.confidence == pytest.approx(chance, abs=4 * scatter)
    assert plan.guard == pytest.approx(1.0)
    assert plan.depth_u == pytest.approx([0.002, 0.002], rel=1e-3) and not plan.target_u.any()


def test_the_higher_the_target_the_less_comes_off_and_the_less_surely_all_cleans_up():
    heights = lathe_bed([0, -0.05, 0], [0, -0.02, 0], u=0.002, ledge_u=0.001)
    plans = [planned(heights, target_height=h) for h in (-0.06, -0.055, -0.05, -0.045)]
    assert all(np.diff([plan.volume for plan in plans]) < 0)
    assert all(np.diff([plan.confidence for plan in plans]) < 0)
    assert plans[-1].guard < 0 < plans[0].guard


def test_words_say_that_it_was_set_by_hand_and_what_lacks():
    plan = planned(clean_up=0.01, target_height=-0.025)
    assert "The target was set by hand: -25.0 µm from nominal, mean over the faces." in str(plan)
    assert "2 stations would not clean up: most lacks at 700 mm on 'front', 35.0 µm." in str(plan)
    one = planned(band=0.01, target_height=-0.045)
    assert "One station would end too low" in str(one)


def test_draws_leave_it_where_it_is():
    heights = lathe_bed([0, -0.05, 0], [0, -0.02, 0], u=0.002, ledge_u=0.001)
    plan = planned(heights, target_height=-0.05)
    study = study_plan(plan, draws=2000)
    np.testing.assert_allclose(study.target, -0.05)
    assert not study.governs.any()
    assert study.cleaned_all == pytest.approx(plan.confidence, abs=5 * study.cleaned_all_u)
    assert monte_carlo(plan, draws=2000).u == pytest.approx(0, abs=1e-15)


def test_beside_it_the_faces_left_alone_are_judged_as_ever():
    found = compare(
        HOLLOW,
        {
            "least": Decision(("front", "rear"), **HELD),
            "by hand": Decision(("front", "rear"), **HELD, target_height=-0.02),
        },
    )
    assert found["leave it alone"].deviation == pytest.approx(0.05)
    assert found["by hand"].volume < found["least"].volume


def test_refusals():
    with pytest.raises(ImpossiblePlanError, match="at -0.1 mm takes too much: 'rear' may lose"):
        planned(greatest_cut={"rear": 0.09}, target_height=-0.1)
    with pytest.raises(ImpossiblePlanError, match="'rear' must stay untouched, but 0.1"):
        planned(untouchable=["rear"], band=0.06, target_height=-0.2)
    with pytest.raises(InputError, match="target_height: a number is needed, got 'high'"):
        planned(target_height="high")
    side = given_heights(
        [flat("side", normal=90), flat("ledge", y=60)],
        {"side": ([0, 500], [0, 0.1]), "ledge": ([0, 500], [0, 0])},
    )
    with pytest.raises(InputError, match="target_height: these faces look sideways"):
        plan_removal(side, faces=["side"], target_height=0.0)
    exact = planned(lathe_bed([0, -0.05, 0], [0, 0, 0], u=0.002), target_height=-0.05)
    with pytest.raises(InputError, match="target was set by hand, so no reading moves it"):
        savings(exact)


def test_a_survey_keeps_it_and_an_option_takes_it_off(tmp_path):
    survey = read_survey(SAMPLES / "published_forward_backward")
    text = (
        survey.with_decision(target_height=-0.012, tilt_along=None).toml_text
        + '\n[options."as high as it cleans up"]\ntarget_height = "least removal"\n'
    )
    replace(survey, toml_text=text).write(tmp_path)
    found = read_survey(tmp_path)
    assert found.decision.target_height == -0.012
    assert found.options["as high as it cleans up"].target_height is None
    assert found.with_decision(target_height=None).decision.target_height is None

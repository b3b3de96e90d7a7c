"""The guard at its own level: programmes made by hand, and the corners of its search."""

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.rebuild.removal.guard import draw_errors, find_guard, share_cleaned
from metrolib.rebuild.removal.programme import Target
from metrolib.rebuild.removal.removal import plan_removal
from tests.rebuild.beds import HELD, lathe_bed, lifted

DRAWS = 20_000


def test_share_of_surfaces_that_clean_up_by_hand():
    # the target stands 10 um under both: of six surfaces the third and the last two lack metal
    target = Target(np.array([-0.01]), np.zeros((1, 2)), {})
    errors = [[0, 0], [-0.01, 0], [-0.0101, 0], [0.05, -0.0099], [0, -0.02], [-0.02, -0.02]]
    assert share_cleaned(lifted(2), target, np.array(errors)) == 0.5


def test_no_errors_make_draws_of_nothing():
    assert (draw_errors(np.zeros((3, 3)), 5, seed=0) == np.zeros((5, 3))).all()


def test_only_rounding_is_taken_for_no_error():
    # u of 1 and of 1/1000 beside it: a variance of a millionth counts, one of 1e-8 does not
    spread = draw_errors(np.diag([1.0, 1e-6, 1e-8]), 4000, seed=3).std(axis=0)
    assert spread[:2] == pytest.approx([1, 1e-3], rel=4 / np.sqrt(2 * 4000))
    assert spread[2] == 0


@pytest.mark.parametrize("confidence", [None, 0.1, 0.125])
def test_what_is_sure_enough_as_it_is_gets_no_guard(confidence):
    programme = lifted(2)
    found = find_guard(programme, np.eye(2) * 0.002**2, confidence, draws=4000, seed=1)
    assert found.k == 0
    assert found.target is found.without
    assert found.programme is programme
    assert found.confidence == found.confidence_without
    assert found.confidence == pytest.approx(0.25, abs=4 * np.sqrt(3 / 16 / 4000))


def test_no_target_at_all_and_none_that_is_sure_enough():
    # 10 um must come off, and 5 may
    none = lifted(1, least=np.array([0.01]), greatest=np.array([0.005]))
    found = find_guard(none, np.eye(1) * 4e-6, 0.9, draws=400, seed=0)
    assert (found.k, found.confidence, found.confidence_without) == (0, 0, 0)
    assert found.target is found.without is None
    assert found.programme is none
    # one u may come off, and 95 % asks for 1.64
    tight = lifted(1, greatest=np.array([0.002]))
    found = find_guard(tight, np.eye(1) * 4e-6, 0.95, draws=DRAWS, seed=0)
    assert found.target is None
    assert found.programme is tight
    assert found.without.motion[0] == 0
    assert found.confidence == 0
    assert found.confidence_without == pytest.approx(0.5, abs=4 * 0.5 / np.sqrt(DRAWS))
    # k is sought in steps of a fortieth of what is certainly enough: here that is all of it
    expected = norm.ppf(0.95)
    scatter = np.sqrt(0.95 * 0.05 / (DRAWS / 4)) / norm.pdf(expected)
    assert found.k == pytest.approx(expected, abs=4 * scatter)


def test_a_cut_that_only_the_draws_of_the_search_allow_is_not_promised():
    # one place: nine in ten draws must not lack metal. The first 400 judge, the other 100 search.
    def needed(errors):
        return -np.quantile(errors, 0.1, method="lower")

    cov = np.eye(1) * 4e-6
    for seed in range(20):
        errors = draw_errors(cov, 500, seed)[:, 0]
        judged, sought = needed(errors[:400]), needed(errors[400:])
        if judged > 1.1 * sought:
            break
    between = lifted(1, greatest=np.array([(judged + sought) / 2]))
    found = find_guard(between, cov, 0.9, draws=400, seed=seed)
    assert found.target is None
    assert found.without is not None
    enough = lifted(1, greatest=np.array([1.5 * judged]))
    found = find_guard(enough, cov, 0.9, draws=400, seed=seed)
    assert found.confidence >= 0.9
    assert -found.target.motion[0] == pytest.approx(judged, rel=0.01)


@pytest.mark.parametrize("draws", [400, 4000, 40_000])
def test_a_greatest_cut_a_hair_above_the_need_is_enough(draws):
    heights = lathe_bed([0.0, -0.03, 0.01], [0.0, -0.01, 0.01], u=0.003)
    chosen = {"faces": ["front", "rear"], "draws": draws, **HELD}
    free = plan_removal(heights, **chosen)
    most = float(free.depth.max()) * 1.0005
    held = plan_removal(heights, greatest_cut={"front": most, "rear": most}, **chosen)
    assert held.confidence >= 0.95
    assert held.depth.max() <= most

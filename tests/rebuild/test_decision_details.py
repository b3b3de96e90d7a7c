"""Removals where one station, one motion or one limit decides, by hand."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import InputError, NotDeterminedError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.machine import Face
from tests.rebuild.beds import HELD, flat, lathe_bed

FACES = ["front", "rear"]


def roles(plan):
    return {governing.x: governing.role for governing in plan.governing}


class TestThreeStations:
    """Heights 50, 0, 20 um at 0, 200, 500 mm; the middle of the area is at 250.

    The target turns about the low spot at 200, and is best as steep as it may be: each 1 um up at
    500 is 2/3 um down at 0, and the areas are 3000 and 4500 mm2.
    """

    heights = given_heights([flat("flat")], {"flat": ([0, 200, 500], [0.05, 0, 0.02])})

    def plan(self, **conditions):
        return plan_removal(self.heights, faces=["flat"], **conditions)

    def test_up_to_the_far_end(self):
        # rises by 20 um over 300: -13.3 um at 0
        plan = self.plan()
        np.testing.assert_allclose(plan.depth, [0.05 + 0.04 / 3, 0, 0], atol=1e-12)
        assert roles(plan) == {200: "low spot", 500: "low spot"}

    def test_up_to_the_greatest_cut(self):
        # 60 um at 0 puts the target 10 um down there, so 15 up at 500
        plan = self.plan(greatest_cut={"flat": 0.06})
        np.testing.assert_allclose(plan.depth, [0.06, 0, 0.005], atol=1e-12)
        assert roles(plan) == {0: "greatest cut", 200: "low spot"}

    def test_with_a_band_up_to_where_the_far_end_needs_no_cut(self):
        # 5 um may stay: the target is at 15 um at 500, at -10 at 0; 50 + 10 - 5 come off there
        plan = self.plan(band=0.005)
        np.testing.assert_allclose(plan.depth, [0.055, 0, 0], atol=1e-12)
        assert roles(plan) == {200: "low spot", 500: "high spot"}

    def test_with_a_band_up_to_the_greatest_cut(self):
        # 54 um and the band at 0: the target is at -9 there, at 13.5 at 500
        plan = self.plan(band=0.005, greatest_cut={"flat": 0.054})
        np.testing.assert_allclose(plan.depth, [0.054, 0, 0.0015], atol=1e-12)
        assert roles(plan) == {0: "greatest cut", 200: "low spot"}


def test_of_equal_targets_the_one_without_pitch_is_taken():
    # one place at the near end of the front, one at the far end of the rear 90 um higher; with a
    # band of 30 nothing need come off where pitch x 1.4 + roll x 0.3 makes good the other 60
    bed = lathe_bed([0, 0], [0, 0])
    values, left_out = bed.values.copy(), bed.left_out.copy()
    values[3], left_out[[1, 2]] = 0.09, True
    plan = plan_removal(
        replace(bed, values=values, left_out=left_out),
        faces=FACES,
        datum=HELD["datum"],
        band=0.03,
    )
    assert plan.volume == 0
    assert plan.motion["pitch"] == pytest.approx(0, abs=1e-12)
    assert plan.motion["roll"] == pytest.approx(0.06 / 0.3)


def test_two_faces_close_together_and_far_from_the_origin_still_roll():
    faces = [flat("front", 1000, width=10), flat("rear", 1030, width=10)]
    points = {"front": ([0, 500], [0, 0]), "rear": ([0, 500], [0.03, 0.03])}
    plan = plan_removal(given_heights(faces, points), faces=FACES)
    assert "roll" in plan.motions
    assert plan.volume == pytest.approx(0, abs=1e-6)


def test_the_flanks_of_a_vee_move_by_shift_and_yaw_not_by_roll():
    flanks = [Face(name, y, 20, 0, 500, normal=n) for name, y, n in (("a", 0, -45), ("b", 20, 45))]
    x = [0, 250, 500]
    plan = plan_removal(
        given_heights(flanks, {"a": (x, [0, 0.02, 0]), "b": (x, [0, 0, 0])}), faces=["a", "b"]
    )
    assert set(plan.motions) == {"lift", "pitch", "shift", "yaw"}


def test_a_datum_of_one_place_on_each_ledge_shows_no_pitch():
    bed = lathe_bed([0, 0.01], [0, 0])
    ledges = np.isin(bed.face, HELD["datum"])
    near = replace(bed, left_out=bed.left_out | (ledges & (bed.x > 0)))
    with pytest.raises(InputError, match="tilt_along: the datum does not show the pitch"):
        plan_removal(near, faces=FACES, **HELD)
    assert plan_removal(near, faces=FACES, datum=HELD["datum"], tilt_across=0.0).volume > 0


def damaged(bed, station, value=-0.5):
    """Spoil one station and leave it out."""
    values, left_out = bed.values.copy(), bed.left_out.copy()
    values[station], left_out[station] = value, True
    return replace(bed, values=values, left_out=left_out)


def test_damage_on_the_faces_themselves_does_not_tilt_their_frame():
    bed = lathe_bed([0, 0.01, 0.03, 0], [0.02, 0, 0, 0.01])
    shallow, deep = (plan_removal(damaged(bed, 1, z), faces=FACES) for z in (-0.1, -0.5))
    counts = ~deep.left_out
    np.testing.assert_allclose(
        deep.relative_height[counts], shallow.relative_height[counts], rtol=0, atol=1e-12
    )
    np.testing.assert_allclose(deep.target, shallow.target, rtol=0, atol=1e-12)


def test_a_place_that_is_left_out_need_not_be_tied_to_the_frame():
    bed = damaged(lathe_bed([0, 0.01, 0.03, 0], [0.02, 0, 0, 0.01], u=0.002), 1)
    cov = bed.cov.copy()
    cov[1, 1] = 100.0
    loose = plan_removal(replace(bed, cov=cov), faces=FACES, **HELD)
    tied = plan_removal(bed, faces=FACES, **HELD)
    counts = ~tied.left_out
    np.testing.assert_allclose(loose.depth[counts], tied.depth[counts], rtol=0, atol=1e-9)


@pytest.mark.parametrize(("u", "tied"), [(0.05, True), (0.09, True), (0.12, False)])
def test_a_hundredth_of_the_prior_is_where_a_height_counts_as_not_tied(u, tied):
    # prior +-10 mm, so 0.1 mm, against exact ledges with the tilt held
    bed = lathe_bed([0, 0.01], [0, 0], u=u)
    if tied:
        assert plan_removal(bed, faces=FACES, confidence=None, **HELD).depth_u.max() > 0.04
    else:
        with pytest.raises(NotDeterminedError, match="not determined"):
            plan_removal(bed, faces=FACES, confidence=None, **HELD)


def test_faces_that_are_only_parallel_are_still_shown_over_their_datum():
    # the front stands 0.3, the rear 0.1 mm over nominal: shown so, though their depths do not care
    bed = lathe_bed([0.3, 0.31], [0.1, 0.1], u=0.002)
    plan = plan_removal(bed, faces=FACES, together="parallel", confidence=None, **HELD)
    np.testing.assert_allclose(plan.relative_height, [0.3, 0.31, 0.1, 0.1], rtol=0, atol=1e-12)
    np.testing.assert_allclose(plan.depth, [0, 0.01, 0, 0], rtol=0, atol=1e-12)

import numpy as np
import pytest

from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.machine import Face, LeftOut
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat


def test_hollow_in_the_middle_by_hand():
    # heights 0, -50, 0 um; the target stays 10 um below the hollow: -60
    # depths 60, 10, 60; areas 125, 250, 125 times 30
    # volume 0.060 * 7500 + 0.010 * 7500 = 525
    # 0.01 lower in the hollow: 0.01 more on the two ends, 0.01 * 7500 = 75
    plan = plan_removal(one_flat([0, -0.05, 0]), faces=["flat"], clean_up=0.01)
    np.testing.assert_allclose(plan.depth, [0.06, 0.01, 0.06], rtol=0, atol=1e-12)
    assert plan.volume == pytest.approx(525, abs=1e-6)
    [governing] = plan.governing
    assert (governing.x, governing.role, governing.station) == (250, "low spot", 1)
    assert governing.cost == pytest.approx(75, abs=1e-9)


def test_bulge_in_the_middle_tilts_the_target_by_hand():
    # heights 0, 30, 20 um: the line under all three runs through the ends, 10 in the middle
    # depth in the middle 20, area 7500: volume 150; lowering one end by 10 lowers the middle by 5:
    # 0.005 * 7500 = 37.5
    plan = plan_removal(one_flat([0, 0.03, 0.02]), faces=["flat"])
    np.testing.assert_allclose(plan.depth, [0, 0.02, 0], rtol=0, atol=1e-12)
    assert plan.volume == pytest.approx(150, abs=1e-9)
    assert sorted(g.x for g in plan.governing) == [0, 500]
    assert [g.cost for g in plan.governing] == pytest.approx([37.5, 37.5], abs=1e-9)
    assert plan.deepest == 1


def test_band_by_hand():
    # the same bulge with a band of 15 um: 5 um come off the middle, 0.005 * 7500 = 37.5
    plan = plan_removal(one_flat([0, 0.03, 0.02]), faces=["flat"], band=0.015)
    np.testing.assert_allclose(plan.depth, [0, 0.005, 0], rtol=0, atol=1e-12)
    assert plan.volume == pytest.approx(37.5, abs=1e-9)
    np.testing.assert_allclose(plan.deviation_left, [0, 0.015, 0], rtol=0, atol=1e-12)


def test_a_wide_band_leaves_everything_with_the_highest_level_target():
    # form 20 um inside a band of 50: nothing to cut; level against the frame, then highest
    plan = plan_removal(one_flat([0, 0.03, 0.02]), faces=["flat"], band=0.05)
    assert plan.volume == 0
    assert plan.depth.tolist() == [0, 0, 0]
    # least squares line 0.01 + 0.02 x' about the middle: deviations -1/150, 2/150, -1/150
    np.testing.assert_allclose(plan.motion["pitch"], 0, atol=1e-12)
    np.testing.assert_allclose(plan.motion["lift"], -0.02 / 3, rtol=0, atol=1e-12)


def test_tie_goes_to_the_least_deepest_cut_by_hand():
    # hollow of -50 at the middle between 10 and 30: every tilt about the middle has the same volume
    # deepest cut least where both ends lose the same: 10 + 50 + b = 30 + 50 - b, b = 10: 70 each
    plan = plan_removal(one_flat([0.01, -0.05, 0.03]), faces=["flat"])
    np.testing.assert_allclose(plan.depth, [0.07, 0, 0.07], rtol=0, atol=1e-12)


def test_twisted_pair_by_hand():
    # corners 0, 40 on the front and 40, 0 on the rear: diagonal sums of a plane are equal, so the
    # sum of the target is at most 0 + 0; 80 um of depth in all, 40 at each high corner
    faces = [flat("front", 0), flat("rear", 200)]
    points = {"front": ([0, 500], [0, 0.04]), "rear": ([0, 500], [0.04, 0])}
    plan = plan_removal(given_heights(faces, points), faces=["front", "rear"])
    np.testing.assert_allclose(plan.depth, [0, 0.04, 0.04, 0], rtol=0, atol=1e-12)


def test_parallel_faces_keep_their_own_heights():
    # the rear stands 80 um lower all along: coplanar takes 80 off the whole front, parallel nothing
    faces = [flat("front", 0), flat("rear", 200)]
    points = {"front": ([0, 500], [0, 0]), "rear": ([0, 500], [-0.08, -0.08])}
    heights = given_heights(faces, points)
    held = {"datum": ["front", "rear"], "tilt_along": 0.0, "tilt_across": 0.0}
    parallel = plan_removal(heights, faces=["front", "rear"], together="parallel")
    assert parallel.volume == pytest.approx(0, abs=1e-9)
    # held to its own mean roll, -0.4 mm/m, the pair is coplanar as it stands
    coplanar = plan_removal(heights, faces=["front", "rear"], **held)
    assert coplanar.volume == pytest.approx(0, abs=1e-9)


def test_parallel_faces_share_one_tilt():
    # front rises by 20, rear falls by 20: a common rise b takes 20 - b off the far end of the front
    # and 20 + b off the near end of the rear, 40 in all, on 250 * 30 each: 0.04 * 7500
    faces = [flat("front", 0), flat("rear", 200)]
    points = {"front": ([0, 500], [0, 0.02]), "rear": ([0, 500], [0.02, 0])}
    plan = plan_removal(given_heights(faces, points), faces=["front", "rear"], together="parallel")
    assert plan.volume == pytest.approx(0.04 * 7500, abs=1e-9)
    assert plan.motion["pitch"] == pytest.approx(0, abs=1e-12)


def _three_tops():
    x = np.arange(0, 1401, 200.0)
    front = 26.15 - np.array([0, 0.05, 0.10, 0.12, 0.06, 0.01, 0, 0])
    middle = 26.15 - np.array([0, 0.03, 0.06, 0.05, 0.02, 0, 0, 0])
    rear = 26.15 - np.array([0, 0.01, 0.02, 0.02, 0.01, 0, 0, 0])
    faces = [
        flat(name, y, length=1400, width=35, nominal_height=26.15)
        for name, y in (("front", 0), ("middle", 120), ("rear", 280))
    ]
    faces += [
        flat(f"{n} ledge", y, length=1400, normal=180) for n, y in (("near", 0), ("far", 280))
    ]
    points = {"front": (x, front), "middle": (x, middle), "rear": (x, rear)}
    points |= {"near ledge": (x, 0 * x), "far ledge": (x, 0 * x)}
    return given_heights(faces, points)


def test_three_tops_over_a_reference_underside_are_taken_to_one_height():
    # Common practice, no published source: three coplanar tops measure 26.15 mm over the reference
    # underside where unworn, 26.03 mm at the lowest worn place; all are taken to 26.00 mm, so
    # 0.15 mm comes off the unworn parts and 0.03 mm at the lowest.
    plan = plan_removal(
        _three_tops(),
        faces=["front", "middle", "rear"],
        datum=["near ledge", "far ledge"],
        tilt_along=0,
        tilt_across=0,
        clean_up=0.03,
    )
    np.testing.assert_allclose(plan.nominal + plan.target, 26.00, rtol=0, atol=1e-12)
    unworn = np.abs(plan.relative_height) < 1e-9
    np.testing.assert_allclose(plan.depth[unworn], 0.15, rtol=0, atol=1e-12)
    lowest = plan.relative_height.argmin()
    assert plan.depth[lowest] == pytest.approx(0.03, abs=1e-12)
    assert plan.depth.min() == plan.depth[lowest]
    assert [(g.face, g.x) for g in plan.governing] == [("front", 600.0)]


@pytest.mark.parametrize("normal", [-90, 90, 0])
def test_bulge_on_a_front_face_is_dressed_without_touching_the_rest(normal):
    # Common practice, no published source: a front face true but for a 0.05 mm bulge at its middle
    # is dressed without touching the parts already parallel to two recessed reference faces.
    x = np.arange(0, 801, 100.0)
    z = np.array([0, 0, 0, 0.02, 0.05, 0.02, 0, 0, 0])
    place = {"normal": normal, "length": 800}
    faces = [
        flat("front face", 0, **place),
        flat("upper reference", 0, nominal_height=-20, **place),
        flat("lower reference", 60, nominal_height=-20, **place),
    ]
    points = {"front face": (x, z + 0.03 * x / 1e3)}  # all three lean alike: no matter
    points |= {f"{n} reference": (x, -20 + 0.03 * x / 1e3) for n in ("upper", "lower")}
    plan = plan_removal(
        given_heights(faces, points),
        faces=["front face"],
        datum=["upper reference", "lower reference"],
        tilt_along=0,
    )
    np.testing.assert_allclose(plan.depth, z, rtol=0, atol=1e-12)
    [part] = plan.per_face
    assert part.untouched == ((0, 200), (600, 800))
    assert part.volume == pytest.approx((0.02 + 0.05 + 0.02) * 100 * 30, abs=1e-6)


def _vee_bed(motion=(0, 0, 0, 0, 0), flat_worn=0.0):
    """Return a flat and an inverted vee over a datum that shows all five motions."""
    x = np.linspace(0, 1000, 5)
    faces = [
        flat("flat", 0, length=1000),
        flat("inner flank", 290, length=1000, normal=-45),
        flat("outer flank", 310, length=1000, normal=45),
        flat("ledge", 0, length=1000, normal=180),
        flat("far ledge", 300, length=1000, normal=180),
        flat("side", 400, length=1000, normal=90),
    ]
    lift, pitch, roll, shift, yaw = motion
    points = {}
    for face in faces:
        moved = face.up * (lift + pitch * x / 1e3 + roll * face.y / 1e3)
        moved = moved + face.across * (shift + yaw * x / 1e3)
        on_datum = face.name in ("ledge", "far ledge", "side")
        points[face.name] = (x, np.zeros(5) if on_datum else moved)
    points["flat"] = (x, points["flat"][1] - flat_worn)
    return given_heights(faces, points)


VEE = {
    "faces": ["flat", "inner flank", "outer flank"],
    "datum": ["ledge", "far ledge", "side"],
}


def test_rigid_motion_of_a_flat_and_a_vee_is_recovered():
    motion = (-0.2, 0.05, 0.12, 0.03, -0.04)
    plan = plan_removal(_vee_bed(motion), **VEE)
    assert plan.volume == pytest.approx(0, abs=1e-6)
    found = [plan.motion[name] for name in ("lift", "pitch", "roll", "shift", "yaw")]
    np.testing.assert_allclose(found, motion, rtol=0, atol=1e-10)


def test_lowering_a_vee_with_a_worn_flat():
    # Worn flat 0.1 lower: the saddle's seat drops 0.1, so each 45 deg flank loses 0.1 cos 45
    # along its normal (half angle 45: lowering by t / sin 45).
    plan = plan_removal(_vee_bed(flat_worn=0.1), **VEE, tilt_along=0, tilt_across=0)
    flank = plan.face != "flat"
    np.testing.assert_allclose(plan.depth[flank], 0.1 * np.cos(np.pi / 4), rtol=0, atol=1e-12)
    np.testing.assert_allclose(plan.depth[~flank], 0, rtol=0, atol=1e-12)
    assert plan.motion["shift"] == pytest.approx(0, abs=1e-12)


def test_a_vee_is_held_sideways_only_by_a_datum_that_shows_it():
    x = np.linspace(0, 1000, 5)
    flanks = [flat("a", 290, length=1000, normal=-45), flat("b", 310, length=1000, normal=45)]
    faces = [
        *flanks,
        flat("ledge", 0, length=1000, normal=180),
        flat("side", 400, length=1000, normal=90),
    ]
    # the vee runs 0.1 mm/m sideways against the side face
    points = {"a": (x, -0.0707 * x / 1e3), "b": (x, 0.0707 * x / 1e3)}
    points |= {"ledge": (x, 0 * x), "side": (x, 0 * x)}
    heights = given_heights(faces, points)
    free = plan_removal(heights, faces=["a", "b"], datum=["ledge"], tilt_along=0)
    assert free.volume == pytest.approx(0, abs=1e-6)
    held = plan_removal(heights, faces=["a", "b"], datum=["ledge", "side"], tilt_along=0)
    assert held.depth.max() == pytest.approx(0.0707, abs=1e-9)


def test_untouchable_face_ends_inside_the_band_and_draws_the_others_to_it():
    # the rear is hollow by 10 and stays; the front stands 50 above it and comes down
    heights = lathe_bed([0.05] * 3, [0, -0.01, 0])
    plan = plan_removal(
        heights, faces=["front", "rear"], untouchable=["rear"], band=0.015, confidence=None, **HELD
    )
    assert plan.depth[plan.face == "rear"].tolist() == [0, 0, 0]
    # the target may lie as high as the hollow, -10; the band ends at 5; 45 come off the front
    np.testing.assert_allclose(plan.depth[plan.face == "front"], 0.045, rtol=0, atol=1e-12)
    np.testing.assert_allclose(plan.target, -0.01, rtol=0, atol=1e-12)


def test_greatest_cut_holds_the_target_up():
    # front 60 above rear: with a band of 20 only 40 must come off the front, 50 may
    heights = lathe_bed([0.06] * 3, [0] * 3)
    plan = plan_removal(
        heights,
        faces=["front", "rear"],
        greatest_cut={"front": 0.05},
        band=0.02,
        confidence=None,
        **HELD,
    )
    np.testing.assert_allclose(plan.depth[plan.face == "front"], 0.04, rtol=0, atol=1e-12)


def test_tilt_is_held_within_its_tolerance():
    # the tops rise by 140 over 1400 mm; 0.03 mm/m allows 42 of it; 98 come off at the end
    slope = [0, 0.07, 0.14]
    heights = lathe_bed(slope, slope)
    held = HELD | {"tilt_along": 0.03}
    plan = plan_removal(heights, faces=["front", "rear"], **held)
    assert plan.motion["pitch"] == pytest.approx(0.03, abs=1e-12)
    np.testing.assert_allclose(plan.depth[plan.face == "rear"], [0, 0.049, 0.098], atol=1e-12)


def test_left_out_stations_neither_govern_nor_count():
    # a hole 1 mm deep at 250 is left out: the rest is true
    hole = LeftOut(240, 260, "oil hole")
    heights = one_flat([0, 0.01, -1.0, 0, 0], left_out=(hole,))
    plan = plan_removal(heights, faces=["flat"])
    np.testing.assert_allclose(plan.depth, [0, 0.01, 0, 0, 0], rtol=0, atol=1e-12)
    assert plan.left_out.tolist() == [False, False, True, False, False]
    assert plan.area[2] == 0
    # neighbours reach to the middle between them, less the hole: 62.5 + 115 mm
    assert plan.volume == pytest.approx(0.01 * 30 * (62.5 + 115), abs=1e-9)


def test_deepest_cut_can_be_least_instead_of_the_volume():
    # heights 0, 0, 0, 60 um at 0, 100, 200, 1000 mm
    x, z = [0, 100, 200, 1000], [0, 0, 0, 0.06]
    face = flat("flat", length=1000)
    heights = given_heights([face], {"flat": (x, z)})
    least = plan_removal(heights, faces=["flat"], minimise="deepest cut")
    # areas 50, 100, 450 and 400 times 30
    # Least volume: the line through the last two rises by 75 um/m; 15 off the first, 7.5 off the
    # second: (0.015 * 50 + 0.0075 * 100) * 30 = 45.
    volume = plan_removal(heights, faces=["flat"])
    np.testing.assert_allclose(volume.depth, [0.015, 0.0075, 0, 0], rtol=0, atol=1e-12)
    assert volume.volume == pytest.approx(45, abs=1e-9)
    # Least deepest cut: turn about the station at 200 until both ends lose the same,
    # 0.2 b = 60 - 0.8 b, b = 60 um/m: (0.012 * 50 + 0.006 * 100 + 0.012 * 400) * 30 = 180.
    np.testing.assert_allclose(least.depth, [0.012, 0.006, 0, 0.012], rtol=0, atol=1e-12)
    assert least.volume == pytest.approx(180, abs=1e-9)


def test_uncertainty_of_the_target_by_hand():
    # target through the ends of the bulge, each known to 2 um: the middle to 2 / sqrt 2
    heights = lathe_bed([0, 0.03, 0.02], [0, 0.03, 0.02], u=0.002)
    loose = {"datum": ["front ledge", "rear ledge"], "tilt_across": 0.0}
    plan = plan_removal(heights, faces=["front"], confidence=None, **loose)
    np.testing.assert_allclose(plan.target_u, [0.002, 0.002 / np.sqrt(2), 0.002], rtol=1e-9)
    assert plan.motion["lift"].std_dev == pytest.approx(0.002, rel=1e-9)
    # pitch over 1400 mm: sqrt 2 * 2 um / 1.4 m
    assert plan.motion["pitch"].std_dev == pytest.approx(0.002 * np.sqrt(2) / 1.4, rel=1e-9)
    # volume: the middle's depth, z2 - (z1 + z3) / 2, times its area
    middle = 700 * 40
    assert plan.volume_u == pytest.approx(0.002 * np.sqrt(1.5) * middle, rel=1e-9)
    # correlated with the heights it came from: the target at x = 0 is the height there
    difference = plan.motion["lift"] - heights.on("front").z[0]
    assert difference.std_dev == pytest.approx(0, abs=1e-9)


def test_exact_heights_give_plain_numbers():
    plan = plan_removal(one_flat([0, -0.05, 0]), faces=["flat"])
    assert {type(value) for value in plan.motion.values()} == {float}
    assert (plan.guard, plan.guard_depth, plan.confidence) == (0, 0, 1)


def test_decision_and_keywords_work_together():
    from metrolib.survey.decision import Decision

    decision = Decision(faces=("flat",), clean_up=0.01, confidence=None)
    heights = one_flat([0, -0.05, 0])
    assert plan_removal(heights, decision).depth[1] == pytest.approx(0.01)
    changed = plan_removal(heights, decision, clean_up=0.0)
    assert changed.depth[1] == pytest.approx(0.0)
    assert changed.decision.confidence is None


def test_one_station_is_enough_for_a_face_that_is_held():
    heights = given_heights(
        [flat("pad", 0), Face("ledge", y=0, width=5, x_from=0, x_to=500, normal=180)],
        {"pad": ([250], [0.2]), "ledge": ([0, 500], [0, 0])},
    )
    plan = plan_removal(heights, faces=["pad"], datum=["ledge"], tilt_along=0, clean_up=0.05)
    assert plan.depth.tolist() == pytest.approx([0.05])

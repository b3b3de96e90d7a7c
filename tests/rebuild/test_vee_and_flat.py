"""A vee and a flat cut together: a saddle of its own geometry runs straight on what is left.

The saddle is a rigid body in the cross-section, with two planes for the vee and a pad for the
flat; scipy finds how it rests on the worn and on the cut faces, turning included.
"""

import numpy as np
import pytest
from scipy.optimize import fsolve

from metrolib.form.vee import vee
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.removal.vee_cut import vee_cut
from tests.rebuild.beds import flat
from tests.rebuild.reference import least_removal

X = np.linspace(0, 1200, 13)
BEDS = {
    "equal ridge": (-45.0, 45.0),
    "steep front flank": (-62.0, 28.0),
    "hollow vee": (45.0, -45.0),
    "shallow rear flank": (-50.0, 20.0),
}


def bed(normals, *, leaning=False, u=None):
    """Return a worn vee and flat, and a tailstock vee and flat that are true and show everything.

    With `leaning` the pair to follow lies askew to the worn one's frame in all five motions.
    """
    far = {"length": 1200}
    faces = [
        flat("front flank", 190, normal=normals[0], **far),
        flat("rear flank", 210, normal=normals[1], **far),
        flat("flat", 0, **far),
        flat("tail flank a", 95, normal=-45, **far),
        flat("tail flank b", 105, normal=45, **far),
        flat("tail flat", 30, **far),
    ]
    dip = np.exp(-(((X - 350) / 260) ** 2))
    worn = {
        "front flank": -0.080 * dip + 0.002 * np.sin(X / 170),
        "rear flank": -0.030 * dip - 0.003 * np.sin(X / 90),
        "flat": -0.055 * np.roll(dip, 1) + 0.001 * np.cos(X / 110),
    }
    lift, pitch, roll, shift, yaw = (0.01, 0.02, -0.03, 0.015, -0.01) if leaning else np.zeros(5)
    points = {}
    for face in faces:
        moved = face.up * (lift + pitch * X / 1e3 + roll * face.y / 1e3)
        moved = moved + face.across * (shift + yaw * X / 1e3)
        points[face.name] = (X, moved if "tail" in face.name else worn[face.name])
    return given_heights(faces, points, u)


WAYS = ["front flank", "rear flank", "flat"]
HELD = {
    "faces": WAYS,
    "datum": ["tail flank a", "tail flank b", "tail flat"],
    "tilt_along": 0.0,
    "tilt_across": 0.0,
}


def seat(faces, rise):
    """Return shift, lift and turn of a saddle whose three planes pass through the risen points."""
    normals = [np.array([face.across, face.up]) for face in faces]
    points = [np.array([face.y, 0.0]) for face in faces]
    touched = [p + z * n for p, n, z in zip(points, normals, rise, strict=True)]

    def gap(seated):
        shift, lift, turn = seated[0], seated[1], seated[2] / 1e3
        spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        origin = np.array([shift, lift])
        return [
            (spin @ n) @ (point - origin) - n @ made
            for n, point, made in zip(normals, touched, points, strict=True)
        ]

    seated = fsolve(gap, np.zeros(3), xtol=1e-11)
    assert np.abs(gap(seated)).max() < 1e-10
    return seated


def path(heights, rise):
    """Return the saddle's (shift, lift, roll) at every station, shape (13, 3) [mm, mm/m]."""
    faces = [heights.faces[name] for name in WAYS]
    return np.array([seat(faces, [rise[name][i] for name in WAYS]) for i in range(X.size)])


def left(heights, plan):
    """Return the heights of the ways after the cut, by face."""
    return {name: heights.on(name).values - plan.depth[plan.face == name] for name in WAYS}


@pytest.mark.parametrize("normals", BEDS.values(), ids=BEDS)
def test_the_saddle_runs_straight_without_roll_on_what_is_left(normals):
    heights = bed(normals)
    worn = path(heights, {name: heights.on(name).values for name in WAYS})
    assert np.ptp(worn[:, 1]) > 0.03 and np.ptp(worn[:, 2]) > 0.05 and np.ptp(worn[:, 0]) > 0.01
    plan = plan_removal(heights, **HELD, clean_up=0.01)
    true = path(heights, left(heights, plan))
    # straight and level in both planes, no roll: parallel to the tailstock's ways
    np.testing.assert_allclose(true, true[:1] + np.zeros_like(true), rtol=0, atol=1e-9)
    np.testing.assert_allclose(true[:, 2], 0, rtol=0, atol=1e-9)
    # it stands where the plan's motion says, as a rigid body
    np.testing.assert_allclose(true[:, 1], plan.motion["lift"], rtol=0, atol=1e-9)
    np.testing.assert_allclose(true[:, 0], plan.motion["shift"], rtol=0, atol=1e-9)
    # every place loses the clean-up at least, and one loses no more
    assert plan.depth.min() == pytest.approx(0.01, abs=1e-9)


def test_parallel_to_ways_that_lie_askew():
    heights = bed((-45, 45), leaning=True)
    plan = plan_removal(heights, **HELD, clean_up=0.01)
    true = path(heights, left(heights, plan))
    slope = 1000 * np.polyfit(X, true, 1)[0]
    # the tailstock's vee and flat: shift runs off by the yaw, lift by the pitch, roll is theirs
    assert slope[:2] == pytest.approx((-0.01, 0.02), abs=1e-6)
    np.testing.assert_allclose(true[:, 2], -0.03, rtol=0, atol=1e-6)
    straight = true[0] + (X - X[0])[:, None] * slope / 1000
    np.testing.assert_allclose(true, straight, rtol=0, atol=1e-8)


def test_flanks_cut_as_deep_as_the_flat_let_the_saddle_roll():
    heights = bed((-45, 45))
    plan = plan_removal(heights, **HELD, clean_up=0.01)
    rise = left(heights, plan)
    # the same further depth off all three, as if a vee were a flat
    deeper = {name: z - 0.1 for name, z in rise.items()}
    roll = path(heights, deeper)[:, 2]
    # the vee comes down by 0.1 sqrt 2, the flat by 0.1, 200 mm apart
    np.testing.assert_allclose(roll, -1000 * 0.1 * (np.sqrt(2) - 1) / 200, rtol=1e-3)
    cut = vee_cut((-45, 45), drop=0.1)
    apart = dict(zip(WAYS, (*cut.depths, cut.on()), strict=True))
    deeper = {name: z - apart[name] for name, z in rise.items()}
    np.testing.assert_allclose(path(heights, deeper)[:, 2], 0, rtol=0, atol=1e-9)


def test_at_a_wanted_height_and_place():
    # a further drop and shift on unequal flanks, set out by vee_cut, is where the saddle goes
    normals = BEDS["steep front flank"]
    heights = bed(normals)
    rise = left(heights, plan_removal(heights, **HELD, clean_up=0.01))
    before = path(heights, rise)
    cut = vee_cut(normals, drop=0.07, shift=0.02)
    deeper = {name: rise[name] - t for name, t in zip(WAYS, (*cut.depths, cut.on()), strict=True)}
    moved = path(heights, deeper) - before
    np.testing.assert_allclose(moved, np.tile([0.02, -0.07, 0.0], (13, 1)), rtol=0, atol=1e-9)


def test_depths_of_the_plan_give_the_saddles_drop_and_shift():
    heights = bed((-45, 45))
    plan = plan_removal(heights, **HELD, clean_up=0.01)
    depths = tuple(plan.depth[plan.face == name] for name in WAYS[:2])
    cut = vee_cut((-45, 45), depths=depths)
    worn = vee(X, *(heights.on(name).values for name in WAYS[:2]), (-45, 45))
    # where it stood on the worn vee, and down and aside by the cut: the target
    np.testing.assert_allclose(worn.lift - cut.drop, plan.motion["lift"], rtol=0, atol=1e-12)
    np.testing.assert_allclose(worn.shift + cut.shift, plan.motion["shift"], rtol=0, atol=1e-12)


def test_the_least_removal_lets_the_vee_go_sideways():
    """Against an independent programme, with the shift and without it."""
    heights = bed((-45, 45))
    plan = plan_removal(heights, **HELD)
    z = np.concatenate([heights.on(name).values for name in WAYS])
    up, across = np.repeat([[0.5**0.5, 0.5**0.5, 1], [-(0.5**0.5), 0.5**0.5, 0]], 13, axis=1)
    area = np.concatenate([plan.area[plan.face == name] for name in WAYS])
    volume, _ = least_removal(np.column_stack([up, across]), z, area)
    straight_down, _ = least_removal(up[:, None], z, area)
    assert plan.volume == pytest.approx(volume, rel=1e-6)
    assert volume < 0.95 * straight_down
    assert plan.motion["shift"] > 0.005  # away from the front flank, which wore most


def test_the_guard_covers_the_flanks_too():
    sure = plan_removal(bed((-45, 45)), **HELD, clean_up=0.01, confidence=None)
    unsure = plan_removal(bed((-45, 45), u=0.002), **HELD, clean_up=0.01, draws=5000)
    assert unsure.volume > sure.volume
    # the cut is deeper on every face of the group, the flanks by their own share
    deeper = unsure.depth - sure.depth
    assert deeper.min() > 0
    further = {name: unsure.motion[name].n - sure.motion[name] for name in ("lift", "shift")}
    cut = vee_cut((-45, 45), drop=-further["lift"], shift=further["shift"])
    for name, depth in zip(WAYS, (*cut.depths, cut.on()), strict=True):
        np.testing.assert_allclose(deeper[unsure.face == name], depth, rtol=0, atol=1e-9)

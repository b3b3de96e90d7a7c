"""Many sets of heights at once against the solver for one, and against plain dense rows."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.heights.result import given_heights
from metrolib.rebuild.removal import programme_batched
from metrolib.rebuild.removal.conditions import checked_decision
from metrolib.rebuild.removal.group import make_group
from metrolib.rebuild.removal.places import make_places
from metrolib.rebuild.removal.programme_batched import find_targets
from metrolib.rebuild.removal.programme_single import find_target
from metrolib.rebuild.removal.removal import make_programme
from tests.rebuild.beds import HELD, flat, lathe_bed
from tests.rebuild.reference import least_removal

CASES = [
    {"clean_up": 0.01},
    {"together": "parallel"},
    {"together": "parallel", "greatest_cut": {"front": 0.05}},
    {"clean_up": 0.01, "greatest_cut": {"rear": 0.07}},
    {**HELD},
    {**HELD, "tilt_along": 0.02, "tilt_across": 0.05},
    {**HELD, "greatest_cut": {"front": 0.045, "rear": 0.06}, "tilt_across": 0.2},
    {**HELD, "tilt_along": 0.02, "untouchable": ("rear",)},
]


def _programme(heights, **conditions):
    given = {"faces": [name for name in heights.faces if "ledge" not in name], **conditions}
    decision = checked_decision(heights, None, given)
    group = make_group(heights, decision)
    return make_programme(group, decision, make_places(group, decision, gaps=False))


def _each_alone(monkeypatch):
    """Let nothing be left to the solver for one set."""

    def refuse(programme):
        raise AssertionError("left to the solver for one set")

    monkeypatch.setattr(programme_batched, "find_target", refuse)


@pytest.mark.parametrize("minimise", ["volume", "deepest cut"])
@pytest.mark.parametrize("conditions", CASES)
@pytest.mark.parametrize("whole", [True, False])
def test_agrees_with_the_solver_for_one_set(monkeypatch, conditions, minimise, whole):
    # whole hundredths are full of ties; there the secondary rules must agree as well
    rng = np.random.default_rng(31)
    programme = _programme(lathe_bed([0.0] * 6, [0.0] * 6), **conditions, minimise=minimise)
    z = rng.integers(-3, 4, (40, 12)) / 100 if whole else rng.normal(0, 0.02, (40, 12))
    if "untouchable" in conditions:
        z[:, 6:] = 0.0
        z[:, :6] = np.abs(z[:, :6])
    expected = [find_target(replace(programme, height=row)) for row in z]
    _each_alone(monkeypatch)
    targets = find_targets(programme, z)
    for motion, governs, target in zip(targets.motion, targets.governs, expected, strict=True):
        if target is None:
            assert np.isnan(motion).all() and not governs.any()
            continue
        assert np.abs(programme.columns @ (motion - target.motion)).max() <= 1e-9
        if not whole:
            assert {*np.flatnonzero(governs)} == {
                place for place, role in target.role.items() if role == "low spot"
            }
    assert any(target is not None for target in expected)


@pytest.mark.parametrize("conditions", CASES[:-1])
def test_volume_agrees_with_plain_dense_rows(conditions):
    rng = np.random.default_rng(12)
    programme = _programme(lathe_bed([0.0] * 6, [0.0] * 6), **conditions)
    z = rng.normal(0, 0.02, (6, 12))
    for height, motion in zip(z, find_targets(programme, z).motion, strict=True):
        expected = least_removal(
            programme.columns,
            height,
            programme.area,
            low=programme.least,
            greatest=programme.greatest,
            limit=programme.limit,
        )
        assert (expected is None) == bool(np.isnan(motion).any())
        if expected is not None:
            # interior-point tolerance 1e-8 mm on 1.1e5 mm2 of face
            volume = programme.area @ replace(programme, height=height).depth(motion)
            assert volume == pytest.approx(expected[0], abs=2e-3, rel=1e-7)


def test_a_low_spot_in_the_very_middle_leaves_the_tilt_to_the_other_rules(monkeypatch):
    # The whole volume rests on the middle of a grid; opposite corners are the deepest cuts, so even
    # the deepest cut leaves a turn about the diagonal open: the least pitch decides.
    x, y = (grid.ravel() for grid in np.meshgrid([0.0, 400, 800], [-300.0, 0, 300]))
    z = 1e-8 * ((x - 400) ** 2 / 4 + (y + x / 4 - 100) ** 2)
    table = flat("table", width=600, length=800)
    programme = _programme(given_heights([table], {"table": (x, y, z)}))
    sets = z + np.random.default_rng(2).normal(0, 1e-5, (50, 9))
    expected = [find_target(replace(programme, height=row)).motion for row in sets]
    _each_alone(monkeypatch)
    found = find_targets(programme, sets)
    np.testing.assert_allclose(found.motion, expected, rtol=0, atol=1e-12)
    assert found.governs.sum(axis=1).tolist() == [1] * 50
    assert found.governs[:, 4].all()


def test_places_between_the_stations_count():
    # stations level; a place half-way 0.01 lower than its neighbours' mean governs alone
    programme = _programme(lathe_bed([0.0] * 3, [0.0] * 3), **HELD)
    middle = np.zeros(6)
    middle[:2] = 0.5
    programme = replace(
        programme,
        low=np.vstack([np.eye(6), middle]),
        least=np.append(programme.least, 0.01),
        u=np.append(programme.u, 0.0),
    )
    found = find_targets(programme, np.zeros((3, 6)))
    np.testing.assert_allclose(found.motion @ programme.columns.T, -0.01, atol=1e-15)
    assert np.flatnonzero(found.governs[0]).tolist() == [6]


def test_a_band_is_left_to_the_solver_for_one_set():
    rng = np.random.default_rng(3)
    programme = _programme(lathe_bed([0.0] * 5, [0.0] * 5), band=0.02)
    z = rng.normal(0, 0.03, (4, 10))
    for height, motion in zip(z, find_targets(programme, z).motion, strict=True):
        expected = find_target(replace(programme, height=height)).motion
        np.testing.assert_array_equal(motion, expected)


def test_more_sets_than_a_tile_and_their_order_change_nothing():
    rng = np.random.default_rng(4)
    programme = _programme(lathe_bed([0.0] * 4, [0.0] * 4))
    z = rng.normal(0, 0.03, (4500, 8))
    forward, backward = find_targets(programme, z), find_targets(programme, z[::-1])
    np.testing.assert_allclose(forward.motion, backward.motion[::-1], rtol=0, atol=1e-13)


def test_heights_times_two_give_motions_times_two():
    rng = np.random.default_rng(5)
    programme = _programme(lathe_bed([0.0] * 4, [0.0] * 4))
    z = rng.normal(0, 0.03, (50, 8))
    one, two = find_targets(programme, z).motion, find_targets(programme, 2 * z).motion
    np.testing.assert_allclose(two, 2 * one, rtol=0, atol=1e-13)

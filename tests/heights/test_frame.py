"""The frame that heights are seen in: by hand, against a general fit, and what must not matter."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.frame import fit_motion, relative_to, rigid_columns
from metrolib.heights.result import given_heights
from tests.heights.build import flat

X = np.array([0.0, 1000, 2000])


def bed(way_a, way_b, u=None):
    """Return two tops, at y = 0 and y = 500, nominally 10 and 30 mm high."""
    faces = [flat("a", 0, nominal=10), flat("b", 500, nominal=30)]
    return given_heights(faces, {"a": (X, np.array(way_a)), "b": (X, np.array(way_b))}, u)


def test_columns_by_hand():
    # normals of 0, 180 and 30 degrees towards +y: cosines 1, -1, sqrt(3)/2, sines 0, 0, 1/2
    faces = {name: flat(name, normal=n) for name, n in (("top", 0), ("under", 180), ("flank", 30))}
    found = rigid_columns(
        faces,
        np.array(["top", "under", "flank"]),
        np.array([2000.0, 2000, 2000]),
        np.array([500.0, 500, 500]),
    )
    half = np.sqrt(3) / 2
    expected = [
        [1, 2, 0.5, 0, 0],
        [-1, -2, -0.5, 0, 0],
        [half, 2 * half, 0.5 * half, 0.5, 1],
    ]
    np.testing.assert_allclose(found, expected, atol=1e-14)


def test_a_datum_line_sets_lift_and_pitch_by_hand():
    # through 0, 3, 0 least squares is level at 1; nothing else is asked to say the roll
    columns = np.column_stack([np.ones(3), X / 1e3])
    law = fit_motion(columns, np.ones(3, bool))
    np.testing.assert_allclose(law @ [0.0, 3, 0], [1, 0], atol=1e-14)
    # the law of a line: means, and x - mean over the sum of squares
    np.testing.assert_allclose(law, [[5 / 6, 1 / 3, -1 / 6], [-1 / 2, 0, 1 / 2]], atol=1e-14)


def test_only_the_stations_of_the_datum_count():
    columns = np.column_stack([np.ones(3), X / 1e3])
    law = fit_motion(columns, np.array([True, False, True]))
    np.testing.assert_allclose(law, [[1, 0, 0], [-1 / 2, 0, 1 / 2]], atol=1e-14)


def test_a_motion_that_no_station_shows_stays_nothing():
    columns = np.column_stack([np.ones(3), X / 1e3, np.zeros(3)])
    law = fit_motion(columns, np.ones(3, bool))
    assert law.shape == (3, 3)
    assert not law[2].any()
    np.testing.assert_allclose(law @ [5.0, 7, 9], [5, 2, 0], atol=1e-14)


def test_what_the_datum_leaves_open_the_others_settle_in_turn():
    # least squares of the datum first, then of the rest with that held: an equality-constrained
    # fit, written out here by elimination with a general solver
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, 2000, 12), np.repeat([0.0, 0, 500], 4)
    first, then = np.arange(12) < 6, np.arange(12) >= 8
    columns = np.column_stack([np.ones(12), x / 1e3, y / 1e3])
    law, z = fit_motion(columns, first, then), rng.normal(size=12)
    lift, pitch = np.linalg.lstsq(columns[first][:, :2], z[first], rcond=None)[0]
    rest = z[then] - lift - pitch * x[then] / 1e3
    roll = np.linalg.lstsq(columns[then][:, 2:], rest, rcond=None)[0][0]
    np.testing.assert_allclose(law @ z, [lift, pitch, roll], atol=1e-12)
    # any rigid motion is found as it is, and taken off wholly
    np.testing.assert_allclose(law @ columns, np.eye(3), atol=1e-12)


def test_without_others_an_open_motion_is_shared_least():
    # stations all at y = 500: the roll cannot be told from the lift, so the shortest answer, with
    # the columns counted by their greatest: lift 1 and roll 0.5 share a common 2 evenly
    columns = np.column_stack([np.ones(3), np.full(3, 0.5)])
    law = fit_motion(columns, np.ones(3, bool))
    np.testing.assert_allclose(law @ [2.0, 2, 2], [1, 2], atol=1e-14)


def test_heights_over_a_datum_by_hand():
    # a: nominal 10, off by 0, 3, 0: its line is level at 1; b: nominal 30, off by 5, 6, 7 under a
    # roll that a cannot show and b settles: what is left of it is its own pitch
    heights = bed([10, 13, 10], [35, 36, 37], 0.1)
    values, cov = relative_to(heights, ["a"], ["b"])
    np.testing.assert_allclose(values, [-1, 2, -1, -1, 0, 1], atol=1e-12)
    # law of a: I - H with H the hat matrix of three points on a line
    hat = np.array([[5, 2, -1], [2, 2, 2], [-1, 2, 5]]) / 6
    np.testing.assert_allclose(cov[:3, :3], 0.01 * (np.eye(3) - hat), atol=1e-12)
    # b less its mean less a's pitch: 0.01 (I - 1/3), and (x - 1)(x - 1)' times 0.01 / 2
    arm = np.array([-1.0, 0, 1])
    own = np.eye(3) - 1 / 3 + np.outer(arm, arm) / 2
    np.testing.assert_allclose(cov[3:, 3:], 0.01 * own, atol=1e-12)


def test_nominal_heights_are_taken_off():
    # over the line of a, level at 1, with the roll left open: 5, 6, 7 over the nominal 30 of b
    values, _ = relative_to(bed([10, 13, 10], [35, 36, 37]), ["a"])
    np.testing.assert_allclose(values, [-1, 2, -1, 4, 5, 6], atol=1e-12)


def test_a_rigid_motion_of_the_whole_machine_is_not_seen():
    rng = np.random.default_rng(2)
    factor = rng.normal(size=(6, 6))
    heights = bed([10, 13, 10], [35, 36, 37], factor @ factor.T)
    values, cov = relative_to(heights, ["a", "b"])
    tilt = 7 - 3 * heights.x / 1e3 + 2 * heights.y / 1e3
    parts = [(heights.values + tilt)[:3], (heights.values + tilt)[3:]]
    columns = rigid_columns(heights.faces, heights.face, heights.x, heights.y)
    common = heights.cov + 100 * columns @ columns.T
    moved_values, moved_cov = relative_to(bed(*parts, common), ["a", "b"])
    np.testing.assert_allclose(moved_values, values, atol=1e-12)
    np.testing.assert_allclose(moved_cov, cov, atol=1e-10)


@pytest.mark.parametrize(("datum", "then"), [(["c"], []), (["a"], ["c"])])
def test_an_unknown_face_is_refused(datum, then):
    with pytest.raises(InputError, match="datum: this is not one of the choices, got 'c'"):
        relative_to(bed([10, 10, 10], [30, 30, 30]), datum, then)

"""Contact of a rigid body: against exact geometry and general solvers, and its law."""

import numpy as np
import pytest
from scipy.optimize import least_squares, minimize
from scipy.spatial.transform import Rotation

from metrolib.errors import InputError
from metrolib.rebuild.lowering.contact import Contact, point_rows

#: Feet of a saddle on an inverted vee and a flat: x, y, z [mm] and the normal's angle [deg].
FEET = np.array(
    [
        [-160, 34, 8, -45],
        [160, 34, 8, -45],
        [-160, 46, 8, 45],
        [160, 46, 8, 45],
        [-120, 250, 0, 0],
        [120, 250, 0, 0],
    ],
    dtype=float,
)


def normals(feet):
    angle = np.deg2rad(feet[:, 3])
    return np.column_stack([np.zeros(len(feet)), np.sin(angle), np.cos(angle)])


def rows_of(feet):
    side, up = point_rows(feet[:, 0], feet[:, 1], feet[:, 2])
    n = normals(feet)
    return n[:, 1:2] * side + n[:, 2:] * up


def exact_room(feet, taken, place):
    """Return the room at each foot of a body that really turns: no small angles.

    `place` holds three shifts [mm] and a rotation vector [mrad].
    """
    moved = Rotation.from_rotvec(place[3:] / 1e3).apply(feet[:, :3]) + place[:3]
    plane = feet[:, :3] - taken[:, None] * normals(feet)
    return np.sum(normals(feet) * (moved - plane), axis=1)


def as_motion(place):
    """Return lift, shift, roll, pitch and yaw of an exact place.

    About +x the +y side rises; about +y the far end sinks; about +z it goes towards +y.
    """
    return np.array([place[2], place[1], place[3], -place[4], place[5]])


def second_order(taken):
    """Return what small angles leave out: of an angle t / 100 mm the cosine, at 300 mm, twice."""
    return 2 * 300 * (np.abs(taken).max() / 100) ** 2


def test_five_feet_agree_with_exact_geometry():
    # five feet, five motions: the place without room, found by a general solver in exact geometry
    random = np.random.default_rng(1)
    for _ in range(5):
        feet, taken = FEET[:5], random.uniform(0, 0.15, 5)
        found = least_squares(
            lambda p, f=feet, t=taken: exact_room(f, t, p), np.zeros(6), gtol=1e-14
        )
        assert np.abs(found.fun).max() < 1e-6
        rest = Contact(rows_of(feet)).rest(taken)
        slack = second_order(taken) * np.array([1, 1, 10, 10, 10])  # mm/m from mm at 100 mm
        assert np.all(np.abs(rest.motion - as_motion(found.x)) < slack)
        assert not rest.gap.any()


def test_six_feet_agree_with_exact_geometry_that_may_not_enter_the_metal():
    random = np.random.default_rng(2)
    for _ in range(5):
        taken = random.uniform(0, 0.05, 6)

        def room(place, taken=taken):
            return exact_room(FEET, taken, place)

        found = minimize(
            lambda p: 1e4 * np.sum(room(p) ** 2),
            np.array([0, 0, 0.1, 0, 0, 0]),
            constraints=[
                {"type": "ineq", "fun": lambda p: 100 * room(p)},
                {"type": "eq", "fun": lambda p: p[0]},  # nothing holds it along the ways
            ],
            method="SLSQP",
            options={"ftol": 1e-14, "maxiter": 500},
        )
        rest = Contact(rows_of(FEET)).rest(taken)
        assert rest.gap.min() >= 0
        # both have the same least room, to the second order of small angles and the solver's step
        assert np.sum(rest.gap**2) == pytest.approx(np.sum(room(found.x) ** 2), rel=0.02, abs=1e-9)
        np.testing.assert_allclose(rest.gap, room(found.x), atol=1e-3 + second_order(taken))


def test_the_least_room_against_a_general_solver():
    random = np.random.default_rng(3)
    for _ in range(30):
        count = int(random.integers(3, 9))
        rows = np.column_stack(
            [np.ones(count), random.normal(0, 1, count), random.uniform(-0.3, 0.3, (count, 3))]
        )
        taken = random.uniform(0, 0.2, count)
        found = minimize(
            lambda m, a=rows, t=taken: 1e3 * np.sum((a @ m + t) ** 2),
            np.array([0.5, 0, 0, 0, 0]),
            jac=lambda m, a=rows, t=taken: 2e3 * a.T @ (a @ m + t),
            constraints=[
                {
                    "type": "ineq",
                    "fun": lambda m, a=rows, t=taken: a @ m + t,
                    "jac": lambda m, a=rows: a,
                }
            ],
            method="SLSQP",
            options={"ftol": 1e-14, "maxiter": 300},
        )
        rest = Contact(rows).rest(taken)
        assert rest.gap.min() >= 0
        assert np.sum(rest.gap**2) == pytest.approx(found.fun / 1e3, rel=1e-5, abs=1e-10)


def test_the_law_is_the_slope_of_the_answer():
    taken = np.array([0.02, 0.05, 0.03, 0.01, 0.06, 0.02])
    contact = Contact(rows_of(FEET))
    rest = contact.rest(taken)
    assert rest.gap.max() > 0.001
    for foot, step in enumerate(1e-5 * np.eye(6)):
        slope = (contact.rest(taken + step).motion - contact.rest(taken - step).motion) / 2e-5
        np.testing.assert_allclose(rest.law[:, foot], slope, atol=1e-7)


def test_a_table_on_four_feet_rocks_about_its_middle():
    # one diagonal 0.04 lower: it stands on the other, and rocks by 0.04 either way of level
    feet = np.array([[-100, -100, 0, 0], [100, 100, 0, 0], [-100, 100, 0, 0], [100, -100, 0, 0]])
    rest = Contact(rows_of(feet.astype(float))).rest(np.array([0.04, 0.04, 0, 0]))
    np.testing.assert_allclose(rest.motion[[0, 2, 3]], 0, atol=1e-12)
    np.testing.assert_allclose(rest.gap, [0.04, 0.04, 0, 0], atol=1e-12)


def test_what_the_feet_do_not_hold():
    contact = Contact(rows_of(FEET[4:]))  # two feet in one line on a flat
    lift, shift, roll, pitch, yaw = np.eye(5)
    assert contact.holds(pitch)
    assert not any(contact.holds(row) for row in (lift, shift, roll, yaw))
    assert contact.holds(lift + 0.25 * roll)  # the height at y 250, where they stand


def test_no_room_between_two_faces():
    guides = np.array([[0, -10, 0, -90], [0, 10, 0, 90]], dtype=float)
    with pytest.raises(InputError, match="no room for the body between the faces that hold it"):
        Contact(rows_of(guides)).rest(np.array([-0.01, -0.01]))
    rest = Contact(rows_of(guides)).rest(np.array([0.01, 0.03]))  # play of 0.04, the middle of it
    np.testing.assert_allclose(rest.gap, 0.02, atol=1e-12)

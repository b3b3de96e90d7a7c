"""What each foot carries: by statics, by a constrained minimiser, by springs that only push."""

import numpy as np
import pytest
from scipy.optimize import minimize

from metrolib.errors import InputError
from metrolib.rebuild.support.feet import Foot
from metrolib.rebuild.support.foot_loads import foot_loads
from tests.rebuild.feet import CORNERS, SIX

GIVEN = {"weight": 8000, "centre": (600, 200), "stiffness": 3000}


def forces(found):
    return np.array([getattr(load, "n", load) for load in found.loads.values()])


def test_by_hand():
    # level: 8000 N at 600 of 1500 mm: 4800 at the x = 0 end, 3200 at the far end, halved across
    level = foot_loads(CORNERS, np.zeros(4), **GIVEN)
    assert forces(level).tolist() == pytest.approx([2400, 2400, 1600, 1600])
    # 0.05 mm over 400 mm is 0.125 mm/m over 1.5 m: 3000 / 1.5 * 0.125 = 250 N m, +-625 N at 0.4 m
    raised = foot_loads(CORNERS, [0, 0, 0, 0.05], **GIVEN)
    assert (forces(raised) - forces(level)).tolist() == pytest.approx([625, -625, -625, 625])
    assert np.diff(raised.roll)[0] == pytest.approx(0.125)
    assert not raised.idle and raised.lightest == "front right"


def test_a_foot_comes_off():
    # the front right loses 625 N for each 0.05 mm: its 1600 N are gone at 0.128 mm
    assert not foot_loads(CORNERS, [0, 0, 0, 0.127], **GIVEN).idle
    found = foot_loads(CORNERS, [0, 0, 0, 0.178], **GIVEN)
    assert found.idle == ("front right",)
    assert found.gaps["front right"] == pytest.approx(0.050)
    assert forces(found).tolist() == pytest.approx([4000, 800, 0, 3200])
    assert "front right carries nothing, 50.0 µm below the bed" in str(found)


@pytest.mark.parametrize("feet", [CORNERS, SIX], ids=["four feet", "six feet"])
def test_against_a_constrained_minimiser(feet):
    """Least energy of weight and twist, in the height of each foot's seat as the unknowns."""
    random = np.random.default_rng(1)
    rows = np.array(sorted({foot.x for foot in feet}))
    hung = 0
    for _ in range(8):
        lift = random.normal(0, 0.12, len(feet))
        found = foot_loads(feet, lift, **GIVEN)

        def seats(q):  # height and slope of the line between the sides, and a roll for each row
            return np.array(
                [
                    q[0]
                    + q[1] * foot.x / 1000
                    + np.interp(foot.x, rows, q[2:]) * (foot.y - 200) / 1000
                    for foot in feet
                ]
            )

        def energy(q):
            twist = np.diff(q[2:]) ** 2 / (np.diff(rows) / 1000)
            return (8000 * (q[0] + 0.6 * q[1]) + 1500 * twist.sum()) / 1000

        solved = minimize(
            energy,
            np.array([1.0, *np.zeros(1 + rows.size)]),
            constraints={"type": "ineq", "fun": lambda q, lift=lift: seats(q) - lift},
            method="SLSQP",
            options={"ftol": 1e-14, "maxiter": 500},
        )
        rolls = np.diff(solved.x[2:])
        np.testing.assert_allclose(np.diff(found.roll), rolls, atol=2e-4)
        below = seats(solved.x) - lift
        for i, foot in enumerate(feet):
            assert below[i] == pytest.approx(found.gaps.get(foot.name, 0.0), abs=2e-4)
        hung += len(found.gaps)
    assert hung > 3  # both kinds were tried


def test_against_stiff_springs_that_only_push():
    """Feet as springs of 1 MN/mm; those that pull are let go, one after the other."""
    lift, spring = np.array([0.02, -0.03, 0.0, 0.21]), 1e6
    x = np.array([foot.x for foot in CORNERS]) / 1000
    y = np.array([foot.y for foot in CORNERS]) / 1000
    # unknowns: height, slope, roll at 0 and at 1500
    seats = np.column_stack([np.ones(4), x, y * (1 - x / 1.5), y * x / 1.5])
    twist = np.zeros((4, 4))
    twist[2:, 2:] = 3000 / 1.5 * np.array([[1, -1], [-1, 1]])
    weight = 8000 * np.array([1, 0.6, 0.2 * (1 - 0.4), 0.2 * 0.4])
    active = np.ones(4, dtype=bool)
    while True:
        held = seats[active]
        q = np.linalg.solve(twist + spring * held.T @ held, spring * held.T @ lift[active] - weight)
        pulling = np.where(active, seats @ q - lift, -1.0)
        if pulling.max() <= 0:
            break
        active[pulling.argmax()] = False
    push = spring * np.clip(lift - seats @ q, 0, None)
    found = foot_loads(CORNERS, lift, **GIVEN)
    np.testing.assert_allclose(forces(found), push, atol=30)
    assert push.sum() == pytest.approx(8000)


def test_loads_balance_weight_and_moments():
    random = np.random.default_rng(2)
    for _ in range(20):
        found = forces(foot_loads(SIX, random.normal(0, 0.05, 6), **GIVEN))
        x, y = np.array([(foot.x, foot.y) for foot in SIX]).T
        assert found.min() >= 0
        assert (found.sum(), found @ x, found @ y) == pytest.approx((8000, 8000 * 600, 8000 * 200))


def test_a_tilt_of_all_feet_changes_nothing():
    plane = np.array([0.3 + 0.0002 * foot.x - 0.0005 * foot.y for foot in CORNERS])
    lift = np.array([0, 0, 0, 0.05])
    found = foot_loads(CORNERS, lift + plane, **GIVEN)
    np.testing.assert_allclose(forces(found), forces(foot_loads(CORNERS, lift, **GIVEN)))


def test_uncertainty_by_hand():
    # each foot's lift shifts the loads by 12.5 N/um: four of them, u 2 um, in quadrature
    found = foot_loads(CORNERS, [0, 0, 0, 0.05], 0.002, **GIVEN)
    assert found.loads["rear right"].s == pytest.approx(12.5e3 * 0.002 * 2)
    assert sum(found.loads.values()).s == pytest.approx(0, abs=1e-6)


def test_three_feet_are_statics_alone():
    tripod = [*CORNERS[:2], Foot("right", 1500, 200)]
    found = foot_loads(tripod, [0.3, 0, 0.1], **GIVEN)
    assert forces(found).tolist() == pytest.approx([2400, 2400, 3200])


def test_tables():
    found = foot_loads(CORNERS, [0, 0, 0, 0.178], **GIVEN)
    table = found.to_dataframe()
    assert table["gap [µm]"].tolist()[2] == pytest.approx(50)
    assert "front right" in found._repr_html_()


@pytest.mark.parametrize(
    ("feet", "lift", "change", "words"),
    [
        (CORNERS, np.zeros(3), {}, "feet and lift: lengths differ"),
        (CORNERS, np.zeros(4), {"weight": 0}, "weight: it must be above 0"),
        (CORNERS, np.zeros(4), {"stiffness": -1}, "stiffness: it must be above 0"),
        (CORNERS, np.zeros(4), {"centre": (2000, 200)}, "centre: the bed tips over"),
        (CORNERS, np.zeros(4), {"centre": (600, 200, 0)}, "centre: two numbers are needed, got 3"),
        ([("a", 0, 0), *CORNERS], np.zeros(5), {}, "feet: each must be a Foot, got"),
        ([Foot(str(i), i, i % 2) for i in range(11)], np.zeros(11), {}, "feet: at most 10"),
    ],
)
def test_refusals(feet, lift, change, words):
    with pytest.raises(InputError, match=words):
        foot_loads(feet, lift, **{**GIVEN, **change})

"""Which foot to raise: by hand, against a bounded least-squares solver, its uncertainty."""

import numpy as np
import pytest
from scipy.optimize import linprog, lsq_linear
from uncertainties import correlated_values

from metrolib.errors import InputError
from metrolib.rebuild.support.feet import Foot, make_base
from metrolib.rebuild.support.levelling import adjust_feet
from tests.rebuild.feet import CORNERS, SIX, rolls_of

X = np.array([0.0, 300, 600, 900, 1200, 1500])


def moves(found):
    return np.array([getattr(change, "n", change) for change in found.changes.values()])


def test_a_bar_under_torsion_rolls_evenly_between_its_rows():
    """GJ roll'' = 0 between the rows, free ends beyond, by finite differences."""
    rows, held = np.array([100.0, 800.0, 1300.0]), np.array([0.3, -0.1, 0.2])
    x = np.linspace(0, 1500, 151)
    left, right = np.eye(150, 151), np.eye(150, 151, 1)
    stiff = (right - left).T @ (right - left)
    fixed = (rows / 10).astype(int)
    free = np.setdiff1d(np.arange(151), fixed)
    roll = np.zeros(151)
    roll[fixed] = held
    load = stiff[np.ix_(free, fixed)] @ held
    roll[free] = np.linalg.solve(stiff[np.ix_(free, free)], -load)
    feet = [Foot(f"{x}{y}", x, y) for x in rows for y in (0, 300)]
    np.testing.assert_allclose(make_base(feet).roll_shares(x) @ held, roll, atol=1e-9)


def test_by_hand_twist():
    # at the far end the roll is 0.08 mm/m: over 400 mm the rear stands 0.032 mm high
    found = adjust_feet(CORNERS, [0, 1500], [0, 0.08], take_out="twist")
    assert moves(found).tolist() == pytest.approx([0, 0, 0.032, 0])
    assert found.turns["front right"] == pytest.approx(0.032 / 1.5)
    assert found.twist == pytest.approx(0.08)
    assert found.twist_left == pytest.approx(0, abs=1e-12)
    lowered = adjust_feet(CORNERS, [0, 1500], [0, 0.08], take_out="twist", by="lowering")
    # the same twist by lowering: the rear right, or the front left
    assert moves(lowered).max() == 0
    assert np.abs(moves(lowered)).sum() == pytest.approx(0.032)


def test_by_hand_tilt():
    # slope 0.1 mm/m over 1500 mm: the x = 0 end is 0.15 mm low; roll 0.05: the front is 0.02 low
    found = adjust_feet(CORNERS, [0, 1500], [0.05, 0.05], x_slope=[500], slope=[0.1])
    expected = {"front left": 0.17, "rear left": 0.15, "front right": 0.02, "rear right": 0.0}
    assert found.changes == pytest.approx(expected)
    assert found.slope_left.tolist() == pytest.approx([0.0], abs=1e-12)
    np.testing.assert_allclose(found.roll_left, 0, atol=1e-12)


@pytest.mark.parametrize("feet", [CORNERS, SIX], ids=["four feet", "six feet"])
def test_against_a_bounded_least_squares_solver(feet):
    """Feet raised only, in the space of all feet: no other set of lifts leaves less roll."""
    random = np.random.default_rng(3)
    pieces = len({foot.x for foot in feet}) - 1
    response = np.array([rolls_of(feet, X, unit) for unit in np.eye(len(feet))]).T
    for _ in range(10):
        roll, slope = random.normal(0, 0.05, X.size), 0.06
        found = adjust_feet(feet, X, roll, x_slope=[400], slope=[slope])
        readings = np.concatenate([roll, np.full(pieces, slope)])
        # straightness of the bed first: all pieces of it must come to the same slope, zero
        weights = np.concatenate([np.ones(X.size), np.full(pieces, 1e3)])
        solved = lsq_linear(
            weights[:, None] * response, -weights * readings, bounds=(0, np.inf), tol=1e-14
        )
        left = readings + response @ solved.x
        mine = readings + response @ moves(found)
        assert np.sum(mine[: X.size] ** 2) == pytest.approx(np.sum(left[: X.size] ** 2), rel=1e-5)
        np.testing.assert_allclose(mine[: X.size], found.roll_left, atol=1e-12)
        np.testing.assert_allclose(mine[X.size :], 0, atol=1e-12)
        assert moves(found).min() == 0


@pytest.mark.parametrize("by", ["raising", "lowering", "either"])
@pytest.mark.parametrize("feet", [CORNERS, SIX], ids=["four feet", "six feet"])
def test_the_least_sum_of_moves_against_linear_programming(feet, by):
    random = np.random.default_rng(4)
    rigid = np.array([[1, foot.x, foot.y] for foot in feet])
    bounds = {"raising": (0, None), "lowering": (None, 0), "either": (None, None)}[by]
    n = len(feet)
    for _ in range(10):
        found = adjust_feet(feet, X, random.normal(0, 0.05, X.size), take_out="twist", by=by)
        # moves = those found + a rigid motion, with the least sum of magnitudes (t >= |move|)
        same = np.hstack([np.eye(n), -rigid, np.zeros((n, n))])
        above = np.hstack([np.eye(n), np.zeros((n, 3)), -np.eye(n)])
        below = np.hstack([-np.eye(n), np.zeros((n, 3)), -np.eye(n)])
        solved = linprog(
            [0] * (n + 3) + [1] * n,
            A_ub=np.vstack([above, below]),
            b_ub=np.zeros(2 * n),
            A_eq=same,
            b_eq=moves(found),
            bounds=[bounds] * n + [(None, None)] * 3 + [(0, None)] * n,
            method="highs",
        )
        assert np.abs(moves(found)).sum() == pytest.approx(solved.fun, rel=1e-6)
        assert np.count_nonzero(moves(found)) <= n - 3


def test_three_feet_cannot_twist_a_bed():
    tripod = [*CORNERS[:2], Foot("right", 1500, 200)]
    found = adjust_feet(tripod, X, 0.08 * X / 1500)
    assert found.twist_left == pytest.approx(found.twist)
    assert "turning them takes out no twist" in str(found)
    assert moves(adjust_feet(tripod, X, 0.08 * X / 1500, take_out="twist")).tolist() == [0, 0, 0]


def test_a_foot_that_carries_nothing_is_left_out():
    feet = [*CORNERS[:3], Foot("rear right", 1500, 400, 1.5, carries=False)]
    found = adjust_feet(feet, X, 0.08 * X / 1500)
    assert found.idle == ("rear right",)
    assert "rear right" not in found.changes
    assert "Carrying nothing: rear right; bring up last" in str(found)
    assert found.to_dataframe()["note"].tolist() == ["", "", "", "carries nothing"]


def test_uncertainty_by_hand():
    # twist only, two readings: the one foot moves by 0.4 (roll2 - roll1), u = 0.4 u sqrt(2)
    found = adjust_feet(CORNERS, [0, 1500], [0, 0.08], 0.005, take_out="twist")
    assert found.changes["front right"].s == pytest.approx(0.4 * 0.005 * 2**0.5)
    assert found.changes["rear left"].s == 0
    assert found.twist_left.s == pytest.approx(0.005 * 2**0.5)  # as sure as what was read
    assert (found.twist - found.twist_left).s == pytest.approx(0, abs=1e-12)
    assert "U = 5.7 µm (k = 2), 0.021 turn (8°) of its screw" in str(found)


def test_uncertainty_by_draws():
    random = np.random.default_rng(9)
    roll, u, draws = 0.05 * (X / 1500) ** 2 - 0.02, 0.001, 300
    found = adjust_feet(SIX, X, roll, u)
    drawn = [moves(adjust_feet(SIX, X, roll + random.normal(0, u, X.size))) for _ in range(draws)]
    mine = np.array([change.s for change in found.changes.values()])
    spread = np.std(drawn, axis=0)
    np.testing.assert_allclose(spread, mine, rtol=4 / np.sqrt(2 * len(drawn)))


def test_a_common_error_of_the_level_tilts_but_does_not_twist():
    roll = correlated_values([0, 0.08], 1e-4 * np.ones((2, 2)) + 1e-12 * np.eye(2))
    found = adjust_feet(CORNERS, [0, 1500], roll, take_out="twist")
    assert found.changes["front right"].s < 1e-5


def test_what_must_not_matter():
    roll = 0.05 * (X / 1500) ** 2 - 0.02
    found = adjust_feet(CORNERS, X, roll)
    moved = [Foot(f.name, f.x + 300, f.y - 150, f.screw_pitch) for f in CORNERS]
    assert adjust_feet(moved, X + 300, roll).changes == pytest.approx(found.changes)
    mixed = adjust_feet(CORNERS[::-1], X[::-1], roll[::-1])
    assert mixed.changes == pytest.approx(found.changes)
    doubled = adjust_feet(CORNERS, X, 2 * roll)
    assert moves(doubled).tolist() == pytest.approx((2 * moves(found)).tolist())


def test_words():
    found = adjust_feet(CORNERS, X, 0.08 * X / 1500, by="lowering")
    assert "Try each foot with a feeler" in str(found)
    assert "thou" in found.in_words("thou")
    assert "front left" in found._repr_html_()
    alone = adjust_feet([*CORNERS[:2], Foot("right", 1500, 200)], [700], [0.05])
    assert alone.twist is None and "Twist" not in str(alone)


def test_a_move_below_what_is_shown_is_none():
    found = adjust_feet(CORNERS, X, 1e-4 * X / 1500)
    assert str(found).count("leave it") == 4 and "raise" not in str(found)


@pytest.mark.parametrize(
    ("feet", "x", "options", "words"),
    [
        (CORNERS[:2], X, {}, "feet: at least 3 that carry are needed, got 2"),
        ([*CORNERS, CORNERS[0]], X, {}, "feet: two have one name"),
        ([Foot("a", 0, 0), Foot("b", 1, 1), Foot("c", 2, 2)], X, {}, "stand on one line"),
        ([Foot("a", 0, 0, 0), *CORNERS[1:]], X, {}, "foot 'a': screw_pitch: it must be above 0"),
        (CORNERS, np.zeros(6), {}, "roll of 2 rows of feet does not follow from these places"),
        (CORNERS, X[:5], {}, "x and roll: lengths differ"),
        (CORNERS, X, {"by": "turning"}, "by: this is not one of the choices"),
        (CORNERS, X, {"take_out": "all"}, "take_out: this is not one of the choices"),
        (CORNERS, X, {"x_slope": [1, 2], "slope": [0]}, "x_slope and slope: lengths differ"),
        (CORNERS, X, {"slope": [0.02]}, "x_slope has 0, slope has 1"),
        ([("a", 0, 0), *CORNERS], X, {}, "feet: each must be a Foot"),
    ],
)
def test_refusals(feet, x, options, words):
    with pytest.raises(InputError, match=words):
        adjust_feet(feet, x, np.zeros(6), **options)

"""Feet learned from turns, and twist told from wear: recovered truths and refusals."""

import numpy as np
import pytest
from scipy.optimize import nnls
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.support.elastic import elastic_twist
from metrolib.rebuild.support.feet import Foot
from metrolib.rebuild.support.foot_turns import foot_response
from tests.rebuild.feet import CORNERS, SIX, rolls_of

X = np.arange(0.0, 1501, 150)
ROUNDS = np.vstack([np.zeros(4), 0.05 * np.eye(4), np.zeros(4)])
WEAR = 0.04 * np.exp(-(((X - 450) / 200) ** 2))
U = 0.004


def per_turn(feet, x, pitch=1.5):
    """Roll at each place for one turn of each foot, by the pairs of feet, shape (m, n)."""
    return np.array([rolls_of(feet, x, pitch * unit)[: x.size] for unit in np.eye(len(feet))]).T


def rounds_of_readings(truth, turns, u, seed=2, start=0.0):
    noise = np.random.default_rng(seed).normal(0, u, (len(turns), X.size)) if u else 0.0
    return start + turns @ truth.T + noise


def test_an_exact_response_comes_back():
    truth = per_turn(CORNERS, X)
    found = foot_response(CORNERS, X, ROUNDS, rounds_of_readings(truth, ROUNDS, 0, start=WEAR), U)
    np.testing.assert_allclose(found.base.roll_shares(X) @ found.response, truth, atol=1e-9)
    assert not found.idle and found.twists and found.span.shape == (2, 2)
    assert found.misfit == pytest.approx(1.0)


def test_against_one_large_least_squares_problem():
    """All unknowns at once: the bed as found at each place, and each response at each row."""
    roll = rounds_of_readings(per_turn(CORNERS, X), ROUNDS, U, start=WEAR)
    found = foot_response(CORNERS, X, ROUNDS, roll, U)
    shares = np.column_stack([1 - X / 1500, X / 1500])
    rows = []
    for turned in ROUNDS:
        for i in range(X.size):
            rows.append([*np.eye(X.size)[i], *np.outer(shares[i], turned).ravel()])
    rows = np.array(rows)
    solved = np.linalg.lstsq(rows, roll.ravel(), rcond=None)[0]
    np.testing.assert_allclose(found.response.ravel(), solved[X.size :], atol=1e-9)
    cov = U**2 * np.linalg.inv(rows.T @ rows)[X.size :, X.size :]
    np.testing.assert_allclose(found.response_u.ravel() ** 2, np.diag(cov), rtol=1e-9)
    np.testing.assert_allclose(np.kron(found.rows_cov, found.turns_cov), cov, atol=1e-12)


def test_an_idle_foot_is_found_and_three_feet_do_not_twist():
    # the rear right foot hangs: the bed stands on three, and rolls as one
    tripod = np.array([-1.0, 1.0, 0.0]) * 1.5 * 1000 / 400
    truth = np.zeros((X.size, 4))
    truth[:, :3] = tripod
    roll = rounds_of_readings(truth, ROUNDS, U)
    found = foot_response(CORNERS, X, ROUNDS, roll, U)
    assert {"rear right"} <= {*found.idle} <= {"front right", "rear right"}
    assert found.span.tolist() == [[1.0], [1.0]] and not found.twists
    assert "Together they tilt the bed but do not twist it" in str(found)
    assert "such a foot carries nothing, or stands alone in its row" in str(found)
    # so an even twist is none that these feet can take out
    parted = elastic_twist(found, X, 0.08 * X / 1500)
    assert parted.value == pytest.approx(0, abs=1e-12)
    assert parted.stays == pytest.approx(0.08)


def test_how_often_an_idle_foot_is_called_so():
    truth = per_turn(CORNERS, X)
    truth[:, 3] = 0.0
    named = [
        "rear right"
        in foot_response(CORNERS, X, ROUNDS, rounds_of_readings(truth, ROUNDS, U, seed), U).idle
        for seed in range(300)
    ]
    # the test is at 1 %: 3 of 300 are expected, sqrt(3) of scatter
    assert np.sum(~np.array(named)) <= 3 + 4 * 3**0.5


def test_a_floor_that_gives_shows_as_misfit():
    roll = rounds_of_readings(per_turn(CORNERS, X), ROUNDS, U)
    roll[2] += 0.1 * np.sin(X / 100)
    found = foot_response(CORNERS, X, ROUNDS, roll, U)
    assert not found.fits and "The readings do not fit" in str(found)
    steady = foot_response(
        CORNERS, X, ROUNDS, rounds_of_readings(per_turn(CORNERS, X), ROUNDS, U), U
    )
    assert steady.fits and "do not fit" not in str(steady)


def learned(feet=CORNERS, u=U, seed=2):
    turns = np.vstack([np.zeros(len(feet)), 0.05 * np.eye(len(feet)), np.zeros(len(feet))])
    return foot_response(feet, X, turns, rounds_of_readings(per_turn(feet, X), turns, u, seed), U)


def test_parting_by_hand():
    found = elastic_twist(learned(u=0), X, 0.02 + 0.06 * X / 1500)
    np.testing.assert_allclose(found.wear, 0, atol=1e-12)
    assert found.value == pytest.approx(0.06)
    assert found.stays == pytest.approx(0, abs=1e-12)


def test_wear_the_feet_cannot_give_stays_whole():
    shares = np.column_stack([1 - X / 1500, X / 1500])
    bump = WEAR - shares @ np.linalg.lstsq(shares, WEAR, rcond=None)[0]
    found = elastic_twist(learned(), X, bump + 0.06 * X / 1500)
    np.testing.assert_allclose(found.wear, bump, atol=1e-12)
    assert found.value == pytest.approx(0.06)
    assert found.stays == pytest.approx(np.ptp(bump))
    assert found.stays_between == (X[bump.argmin()], X[bump.argmax()])


def test_unworn_places_alone_tell_the_elastic_part():
    unworn = WEAR < 1e-3
    roll = WEAR + 0.06 * X / 1500
    found = elastic_twist(learned(), X, roll, unworn=unworn)
    np.testing.assert_allclose(found.wear, WEAR, atol=1e-3)
    assert found.value == pytest.approx(0.06, abs=1e-3)
    drawn_in = elastic_twist(learned(), X, roll)
    assert abs(drawn_in.value - 0.06) > 0.01  # all places: the bump draws the line to itself


@pytest.mark.parametrize("feet", [CORNERS, SIX], ids=["four feet", "six feet"])
def test_the_turns_do_take_it_out(feet):
    roll = WEAR + 0.06 * (X / 1500) ** 2 - 0.03
    for by in ("raising", "lowering", "either"):
        found = elastic_twist(learned(feet, u=0), X, roll, by=by)
        turns = np.array(list(found.turns.values()))
        np.testing.assert_allclose(roll + per_turn(feet, X) @ turns, found.wear, atol=1e-9)
        if by != "either":
            assert (turns >= 0).all() if by == "raising" else (turns <= 0).all()


def test_raising_against_non_negative_least_squares():
    """No turns upward leave a smaller sum of squares."""
    response = learned()
    roll = WEAR + 0.06 * X / 1500
    found = elastic_twist(response, X, roll)
    full = response.base.roll_shares(X) @ response.response
    best = nnls(full, -roll)[1]
    turns = np.array(list(found.turns.values()))
    assert np.linalg.norm(roll + full @ turns) == pytest.approx(best, rel=1e-9)


def test_the_parts_by_draws():
    random = np.random.default_rng(6)
    roll, response = WEAR + 0.06 * X / 1500, learned()
    found = elastic_twist(response, X, roll, U)
    drawn = [elastic_twist(response, X, roll + random.normal(0, U, X.size)) for _ in range(200)]
    allowed = 4 / np.sqrt(2 * 200)
    assert np.std([one.value for one in drawn]) == pytest.approx(found.value.s, rel=allowed)
    np.testing.assert_allclose(
        np.std([one.wear for one in drawn], axis=0), found.wear_u, rtol=allowed
    )
    np.testing.assert_allclose(
        np.std([one.elastic for one in drawn], axis=0), found.elastic_u, rtol=allowed
    )


def test_the_turns_hold_the_uncertainty_of_the_response():
    """Readings exact, response learned anew each time: the turns scatter as they say."""
    roll = 0.3 * X / 1500 + 0.1
    exact = np.array([ufloat(value, 1e-9) for value in roll])
    drawn = [
        list(elastic_twist(learned(seed=seed), X, roll, by="either").turns.values())
        for seed in range(150)
    ]
    said = elastic_twist(learned(u=0), X, exact, by="either").turns
    used = [i for i, turn in enumerate(said.values()) if abs(turn.n) > 1e-6]
    assert len(used) == 2
    mine = np.array([list(said.values())[i].s for i in used])
    sizes = np.abs(np.array(drawn))
    # which foot of a row is turned depends on which responds a little more: count by rows
    by_row = np.column_stack([sizes[:, :2].sum(axis=1), sizes[:, 2:].sum(axis=1)])
    spread = np.std(by_row, axis=0)
    # choosing the foot that does most takes some scatter away
    assert (spread < mine * (1 + 4 / np.sqrt(300))).all() and (spread > 0.6 * mine).all()


def test_tables():
    response = learned()
    assert "roll at 0 mm" in response._repr_html_()
    found = elastic_twist(response, X, WEAR + 0.06 * X / 1500, U)
    assert list(found.to_dataframe().columns)[0] == "x [mm]"
    assert "the feet can take out" in found._repr_html_()
    assert "compare with the bed on three feet" in str(found)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"turns": ROUNDS[:, :3]}, "turns: rows of 4 numbers are needed"),
        ({"turns": ROUNDS[:4], "roll": np.zeros((4, X.size))}, "4 rounds do not tell 4 feet apart"),
        ({"roll": np.zeros((5, X.size))}, "turns and roll: lengths differ"),
        ({"u": 0}, "u: it must be above 0"),
        ({"x": np.zeros(X.size)}, "the roll of 2 rows of feet does not follow"),
        ({"feet": [*CORNERS[:3], Foot("e", 1500, 400, carries=False)]}, "said to carry nothing"),
    ],
)
def test_refusals_of_the_response(change, words):
    given = {"feet": CORNERS, "x": X, "turns": ROUNDS, "roll": np.zeros((6, X.size)), "u": U}
    with pytest.raises(InputError, match=words):
        foot_response(**{**given, **change})


@pytest.mark.parametrize(
    ("x", "options", "words"),
    [
        ([0, 1500], {}, "2 rows of feet fit any roll at these places"),
        ([0, 700, 1500], {"by": "hand"}, "by: this is not one of the choices"),
        ([0, 700, 1500], {"unworn": [True, True]}, "unworn: 3 times True or False are needed"),
        ([0, 700, 1500], {"unworn": [True, False, False]}, "2 rows of feet fit any roll"),
    ],
)
def test_refusals_of_the_parting(x, options, words):
    with pytest.raises(InputError, match=words):
        elastic_twist(learned(), x, np.zeros(len(x)), **options)


def test_one_way_only_may_not_do():
    truth = per_turn(CORNERS, X)
    truth[:, [0, 2]] = 0.0  # the front feet stand on solid packing: their screws do nothing
    response = foot_response(CORNERS, X, ROUNDS, rounds_of_readings(truth, ROUNDS, U), U)
    assert set(response.idle) == {"front left", "front right"}
    with pytest.raises(InputError, match="by: the feet cannot take it out this one way only"):
        elastic_twist(response, X, 0.02 + 0.06 * X / 1500)
    found = elastic_twist(response, X, 0.02 + 0.06 * X / 1500, by="lowering")
    assert [turn < 0 for turn in found.turns.values()] == [True, True]


def test_no_foot_does_anything():
    response = foot_response(CORNERS, X, ROUNDS, np.zeros((6, X.size)), U)
    assert len(response.idle) == 4
    with pytest.raises(InputError, match="no foot changes anything"):
        elastic_twist(response, X, np.zeros(X.size))

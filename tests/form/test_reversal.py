"""Reversal of a square: by hand, with a cylinder in space, what remains when it is done wrongly."""

import numpy as np
import pytest
from uncertainties import covariance_matrix

from metrolib.errors import InputError
from metrolib.form.reversal import reversal
from metrolib.form.squareness import squareness

S = np.array([20.0, 100, 180, 260])
FACE, EDGE = np.array([0.0, 4, 6, 10]) / 1000, np.array([0.0, -3, -2, -5]) / 1000


def test_by_hand():
    found = reversal([0, 1], [0, 7], [0, 3])
    assert found.face.tolist() == [0, 5]  # (7 + 3) / 2
    assert found.square.tolist() == [0, -2]  # (3 - 7) / 2
    assert (found.face_slope, found.square_slope) == (5000, -2000)


def test_both_are_recovered_with_a_zero_for_each_set():
    found = reversal(S, FACE - EDGE + 0.3, FACE + EDGE - 0.7)
    np.testing.assert_allclose(found.face - found.face[0], FACE, atol=1e-15)
    np.testing.assert_allclose(found.square - found.square[0], EDGE, atol=1e-15)
    assert found.face_slope == pytest.approx(squareness(S, FACE).value)
    assert found.square_slope == pytest.approx(squareness(S, EDGE).value)


def _cylinder(axis, taper, radius=40.0):
    """Return the walls of a cylinder square in space: a function of the turn and the side."""

    def wall(turn, side):
        """Place along t of the wall's line on one side (-1, +1), the cylinder turned [deg]."""
        angle = np.deg2rad(turn)
        spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        middle = spin @ np.array([axis * S, 0 * S])  # the axis leans in its own +x
        return middle[0] + side * (radius - taper * S)

    return wall


def test_a_cylinder_square_turned_and_touched_on_the_same_line():
    wall = _cylinder(axis=2e-5, taper=1e-5)
    # the line that looks to - at first looks to + after half a turn
    found = reversal(S, FACE - wall(0, -1), FACE - wall(180, 1))
    assert found.face_slope == pytest.approx(squareness(S, FACE).value, abs=1e-12)
    assert found.square_slope == pytest.approx(1000 * (2e-5 + 1e-5), abs=1e-12)


def test_a_cylinder_touched_on_another_line_keeps_a_part_of_its_error():
    wall, true = _cylinder(axis=2e-5, taper=1e-5), squareness(S, FACE).value
    turned_on_the_spot = reversal(S, FACE - wall(0, -1), FACE - wall(180, -1))
    assert turned_on_the_spot.face_slope == pytest.approx(true - 1000 * 1e-5)  # the taper stays
    both_sides = reversal(S, FACE - wall(0, -1), FACE - wall(0, 1))
    assert both_sides.face_slope == pytest.approx(true - 1000 * 2e-5)  # the axis stays


def test_uncertainty_by_hand():
    found = reversal(S, FACE - EDGE, FACE + EDGE, 0.002)
    cov = np.array(covariance_matrix([*found.face, *found.square]))
    # the mean of two readings, and half their difference: u / sqrt 2 both, not correlated
    np.testing.assert_allclose(cov, 2e-6 * np.eye(8), atol=1e-18)
    uneven = reversal(S, FACE, FACE, np.repeat([0.001, 0.003], 4))
    cov = np.array(covariance_matrix([uneven.face[1], uneven.square[1]]))
    np.testing.assert_allclose(cov, [[2.5e-6, 2e-6], [2e-6, 2.5e-6]])
    slope = squareness(S, found.face).value
    assert (slope - found.face_slope).s == pytest.approx(0, abs=1e-10)
    assert slope.s == pytest.approx(squareness(S, FACE, 0.002 / np.sqrt(2)).value.s)


def test_uncertainty_by_draws():
    random, draws = np.random.default_rng(11), 4000
    noise = random.normal(0, 0.002, (draws, 8))
    slopes = [
        reversal(S, FACE - EDGE + one[:4], FACE + EDGE + one[4:]).square_slope for one in noise
    ]
    u = reversal(S, FACE - EDGE, FACE + EDGE, 0.002).square_slope.s
    assert np.std(slopes, ddof=1) == pytest.approx(u, rel=4 / np.sqrt(2 * draws))


def test_a_drift_between_the_sets_is_shared_out():
    # what only the second set saw goes half to each: said here so that nobody trusts it away
    drift = 1e-5 * S
    found = reversal(S, FACE - EDGE, FACE + EDGE + drift)
    assert found.face_slope == pytest.approx(squareness(S, FACE).value + 0.005)
    assert found.square_slope == pytest.approx(squareness(S, EDGE).value + 0.005)


def test_words():
    found = reversal(S, FACE - EDGE, FACE + EDGE, 0.001)
    assert str(found).startswith("the face is out of square by +0.0400 mm/m, U = ")
    assert "the square's own error is -0.0175 mm/m" in str(found)
    assert "<th>places</th><td>4</td>" in found._repr_html_()
    assert isinstance(reversal(S, FACE, FACE).face[0], float)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((S, FACE, FACE[:2]), "s and first and turned: lengths differ"),
        (([1, 1], [0, 1], [0, 1]), "s: all places are one"),
        (([1], [0], [0]), "s: at least 2"),
        ((S, FACE, FACE, -1), "u: an uncertainty is negative"),
        ((S, FACE, [0, 0, 0, np.inf]), "turned: item 3 is not a finite number"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(InputError, match=words):
        reversal(*arguments)

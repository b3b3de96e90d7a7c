"""Squareness: by hand, against angles between directions, what must not matter, refusals."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form.squareness import squareness
from metrolib.form.straightness import straightness
from metrolib.uncertain.montecarlo import monte_carlo

S = np.array([0.0, 100, 200, 300])
BENT = np.array([0.0, 3, 4, 9]) / 1000  # mm; leans toward +


def test_by_hand():
    # least-squares slope: sum (s - 150)(z - 4) / sum (s - 150)^2
    # = (150*4 + 50*1 + 0 + 150*5) / 50000 um/mm = 1400 / 50000 = 0.028 mm/m
    found = squareness(S, BENT)
    assert found.value == pytest.approx(0.028)
    assert found.over == pytest.approx(0.028 * 0.3)
    assert found.zone == pytest.approx(0.009)  # 0 to 9 um
    # over 0.028 s: 0, 0.2, -1.6, 0.6 um
    assert found.form == pytest.approx(0.0022)
    assert squareness(S, BENT, reference="end points").value == pytest.approx(0.030)
    zone = squareness(S, BENT, reference="minimum zone")
    assert zone.form == pytest.approx(straightness(S, BENT).value)


def test_uncertainty_by_hand():
    # slope of four places: u / sqrt(50000) per mm
    found = squareness(S, BENT, 0.001)
    assert found.value.s == pytest.approx(1000 * 0.001 / np.sqrt(50_000))
    assert found.over.s == pytest.approx(0.3 * found.value.s)
    with_square = squareness(S, BENT, 0.001, square=0.005, square_u=0.004)
    assert with_square.value.n == pytest.approx(0.033)
    assert with_square.value.s == pytest.approx(np.hypot(found.value.s, 0.004))
    only_square = squareness(S, BENT, square=ufloat(0.005, 0.004))
    assert only_square.value.s == pytest.approx(0.004)


@pytest.mark.parametrize("tilt", [0.0, 2.0, -1.0])
def test_against_the_angle_between_two_directions(tilt):
    """Independent: the corner of a machine that stands askew, by the arc cosine [mm/m small]."""
    face, datum = 0.06, -0.025  # mm/m, in the machine's own frame
    turn = np.arctan(tilt / 1000)  # the machine's + side up
    rotate = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    up, along = rotate @ [face / 1000, 1.0], rotate @ [1.0, datum / 1000]
    corner = np.arccos(up @ along / np.linalg.norm(up) / np.linalg.norm(along))
    # read by a level: slopes of both against the horizon
    found = squareness(S, S * up[0] / up[1], datum=([0, 400], [0, 400 * along[1] / along[0]]))
    assert found.value == pytest.approx(1000 * np.tan(np.pi / 2 - corner), abs=1e-6)
    assert found.value == pytest.approx(face + datum, abs=1e-6)


def test_the_sign():
    # the far end of the face lies toward +: the corner on that side is less than a right angle
    assert squareness(S, S / 1e5).value > 0
    assert squareness(S, -S / 1e5).value < 0
    # a datum that rises toward + closes the corner too
    assert squareness(S, 0 * S, datum=([0, 100], [0, 0.001])).value > 0
    # readings of 0 against a square that itself leans toward +
    assert squareness(S, 0 * S, square=0.01).value == pytest.approx(0.01)
    assert "corner on the + side is less than a right angle" in str(squareness(S, BENT))


def test_a_square_on_the_datum_brings_the_datum_along():
    # the datum rises by 20 um/m: a true square on it leans 20 um/m to -, the face is plumb
    against_square = squareness(S, 0 * S - (-0.02 * S / 1000))
    by_level = squareness(S, 0 * S, datum=(S, 0.02 * S / 1000))
    assert against_square.value == pytest.approx(by_level.value)


def test_what_must_not_matter():
    one = squareness(S, BENT, 0.001)
    for other in (
        squareness(S[::-1], BENT[::-1], 0.001),
        squareness(S, BENT + 7, 0.001),
        squareness(S + 500, BENT, 0.001),
        squareness(S, BENT - 0.1 * S, 0.001, square=100),
    ):
        assert (other.value.n, other.value.s) == pytest.approx((one.value.n, one.value.s))
        assert other.zone.n == pytest.approx(one.zone.n)


def test_scaling_and_length():
    one, two = squareness(S, BENT, 0.001), squareness(S, 2 * BENT, 0.002)
    assert (two.value.n, two.value.s) == pytest.approx((2 * one.value.n, 2 * one.value.s))
    assert squareness(2 * S, BENT).value == pytest.approx(one.value.n / 2)
    assert squareness(S, BENT, length=1000).over == pytest.approx(one.value.n)


def test_joint_covariance_of_face_and_datum():
    # errors common to face and datum, of opposite sign in the slope sum, drop out
    cov = np.zeros((4, 4))
    cov[1, 1] = cov[3, 3] = 1e-6
    cov[1, 3] = cov[3, 1] = -1e-6
    found = squareness([0, 200], [0, 0.006], cov, datum=([0, 200], [0, -0.002]))
    assert found.value.n == pytest.approx(0.02)
    assert found.value.s == pytest.approx(0, abs=1e-9)
    plain = squareness([0, 200], [0, 0.006], 0.001, datum=([0, 200], [0, -0.002]))
    assert plain.value.s == pytest.approx(2 * 0.001 / 200 * 1000)  # four heights of 1 um


def test_correlation_survives():
    tip = ufloat(0.009, 0.001)
    found = squareness([0, 300], [0, tip])
    difference = found.value - tip / 300 * 1000
    assert difference.n == pytest.approx(0) and difference.s == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("reference", ["least squares", "minimum zone"])
def test_uncertainty_by_draws(reference):
    # bent far above the noise, so that the same places decide in every draw
    bent = np.array([0.0, 0.2, 0.15, 0.45])
    found = squareness(S, bent, 0.001, square=0.01, square_u=0.003, reference=reference)
    drawn = monte_carlo(found, draws=20_000, progress=False)
    assert drawn.u == pytest.approx(found.value.s, rel=4 / np.sqrt(2 * 20_000))
    assert drawn.mean == pytest.approx(found.value.n, abs=4 * found.value.s / np.sqrt(20_000))
    assert drawn.quantity == "slope"


def test_words():
    found = squareness(S, BENT, 0.001, length=300)
    assert str(found).startswith("out of square by +0.0280 mm/m, U = 0.0089 mm/m (k = 2), that is")
    assert "8.4 µm, U = 2.7 µm (k = 2) over 300 mm (least squares line)" in str(found)
    assert "thou" in found.in_words("thou")
    assert "<th>over 300 mm</th>" in found._repr_html_()
    assert isinstance(squareness(S, BENT).value, float)


@pytest.mark.parametrize(
    ("arguments", "options", "words"),
    [
        ((S, BENT[:2]), {}, "s and offset: lengths differ"),
        ((S, 0.1), {}, "offset: one row of numbers is needed, got 0.1"),
        (([5, 5], [0, 1]), {}, "s: all places are one, got 5"),
        (([5], [0]), {}, "s: at least 2 values"),
        ((S, BENT), {"length": 0}, "length: it must be above 0"),
        ((S, BENT), {"reference": "mean"}, "reference: "),
        ((S, BENT), {"square_u": -1}, "u of square: one uncertainty"),
        ((S, BENT), {"datum": ([0, 1], [0, 1]), "square": 0.1}, "square: a datum is given as well"),
        ((S, BENT), {"datum": ([0, 1], [0, 1, 2])}, "places and heights: lengths differ"),
        ((S, [0, np.nan, 0, 0]), {}, "offset: item 1 is not a finite number"),
    ],
)
def test_refusals(arguments, options, words):
    with pytest.raises(InputError, match=words):
        squareness(*arguments, **options)

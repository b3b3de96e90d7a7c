"""A vee over pins: against circles that touch two lines, Monte Carlo for u, refusals."""

import numpy as np
import pytest
from uncertainties import ufloat, umath

from metrolib.errors import InputError
from metrolib.form.vee_pins import vee_over_pins
from tests.form.section import direction, touching_circle

CASES = [(45.0, 0.0), (30.0, 0.0), (60.0, 12.0), (47.5, -20.0), (20.0, 5.0)]


def resting(half_angle, lean, diameter, apex=(3.0, -7.0)):
    """Return the centre of a pin that lies in a vee, by the root finder."""
    middle = 90 - lean  # from +y, counted upward
    # each flank's side of the pin: square to the flank, toward the middle
    sides = [direction(middle + half_angle - 90), direction(middle - half_angle + 90)]
    lines = [(np.array(apex), side) for side in sides]
    return touching_circle(lines, diameter / 2, np.array(apex) + [0.0, diameter])


@pytest.mark.parametrize(("half_angle", "lean"), CASES)
def test_one_pin_finds_the_apex(half_angle, lean):
    centre = resting(half_angle, lean, 20.0)
    found = vee_over_pins(20.0, centre[1] + 10, half_angle=half_angle, lean=lean)
    assert found.apex == pytest.approx(-7.0, abs=1e-8)


@pytest.mark.parametrize(("half_angle", "lean"), CASES)
def test_two_pins_find_angle_and_apex_too(half_angle, lean):
    big, small = resting(half_angle, lean, 25.0), resting(half_angle, lean, 12.0)
    tops = (big[1] + 12.5, small[1] + 6)
    known = vee_over_pins((25.0, 12.0), tops, lean=lean)
    assert (known.half_angle, known.apex) == pytest.approx((half_angle, -7.0), abs=1e-8)
    placed = vee_over_pins((25.0, 12.0), tops, across=(big[0], small[0]))
    got = (placed.half_angle, placed.lean, placed.apex, placed.apex_across)
    assert got == pytest.approx((half_angle, lean, -7.0, 3.0), abs=1e-8)


def test_normals_and_touches_are_those_of_the_section():
    found = vee_over_pins((25.0, 12.0), (30.0, 15.0))
    r, s = 12.5, np.sin(np.deg2rad(found.half_angle))
    # the touched point lies sqrt(centre distance^2 - r^2) along the flank
    assert found.touches[0] == pytest.approx(np.sqrt((r / s) ** 2 - r**2))
    leaning = vee_over_pins(20.0, 30.0, half_angle=50, lean=10)
    assert leaning.normals == pytest.approx((50, -30))


@pytest.mark.parametrize(("half_angle", "lean"), CASES)
def test_a_third_pin_lies_where_the_two_say(half_angle, lean):
    big, small = resting(half_angle, lean, 25.0), resting(half_angle, lean, 12.0)
    found = vee_over_pins((25.0, 12.0), (big[1] + 12.5, small[1] + 6), across=(big[0], small[0]))
    assert found.top(18.0) == pytest.approx(resting(half_angle, lean, 18.0)[1] + 9, abs=1e-8)


def test_uncertainty_of_a_third_pin():
    # between the pins used it is theirs, shared by size, whatever the angle is
    d, h = (ufloat(25, 0.001), ufloat(15, 0.001)), (ufloat(31, 0.002), ufloat(18, 0.002))
    found = vee_over_pins(d, h)
    share = (ufloat(19, 0.003) - d[1]) / (d[0] - d[1])
    pin = share * (d[0] - d[1]) + d[1]
    difference = found.top(pin) - (h[1] + share * (h[0] - h[1]))
    assert abs(difference.n) + difference.s < 1e-9
    leaning = vee_over_pins(d, h, across=(ufloat(4, 0.01), ufloat(3, 0.01)))
    difference = leaning.top(pin) - (h[1] + share * (h[0] - h[1]))
    assert abs(difference.n) + difference.s < 1e-9
    one = vee_over_pins(d[0], h[0], half_angle=ufloat(44, 0.1), lean=5)
    assert (one.top(d[0]) - h[0]).s == pytest.approx(0, abs=1e-12)


def test_a_lean_left_out_makes_the_angle_too_large():
    big, small = resting(45, 15, 25.0), resting(45, 15, 12.0)
    found = vee_over_pins((25.0, 12.0), (big[1] + 12.5, small[1] + 6))
    # cos 15 / sin 45 is taken for 1 / sin: 47 deg
    assert found.half_angle == pytest.approx(
        np.rad2deg(np.arcsin(np.sin(np.pi / 4) / np.cos(np.pi / 12)))
    )
    assert found.apex == pytest.approx(-7.0, abs=1e-8)  # the apex needs no angle


def test_uncertainty_against_automatic_differentiation():
    d1, d2, h1, h2 = ufloat(25, 0.001), ufloat(15, 0.002), ufloat(31, 0.003), ufloat(18, 0.002)
    found = vee_over_pins((d1, d2), (h1, h2))
    sine = (d1 - d2) / (2 * (h1 - h2) - (d1 - d2))
    difference = found.half_angle - umath.asin(sine) * (180 / np.pi)
    assert abs(difference.n) + difference.s < 1e-9
    difference = found.apex - (h1 - d1 / 2 * (1 + 1 / sine))
    assert abs(difference.n) + difference.s < 1e-9
    angle = ufloat(44, 0.05)
    one = vee_over_pins(d1, h1, half_angle=angle, lean=8)
    cosine = np.cos(np.deg2rad(8))
    difference = one.apex - (h1 - d1 / 2 * (1 + cosine / umath.sin(angle * np.pi / 180)))
    assert abs(difference.n) + difference.s < 1e-9


def test_uncertainty_of_lean_and_place_against_automatic_differentiation():
    d, h = (ufloat(25, 0.001), ufloat(15, 0.001)), (ufloat(31, 0.002), ufloat(18, 0.002))
    y = ufloat(4, 0.01), ufloat(3, 0.01)
    found = vee_over_pins(d, h, across=y)
    rise = 2 * (h[0] - h[1]) / (d[0] - d[1]) - 1
    aside = 2 * (y[0] - y[1]) / (d[0] - d[1])
    exact = {
        "half_angle": umath.asin(1 / umath.sqrt(rise**2 + aside**2)) * (180 / np.pi),
        "lean": umath.atan2(aside, rise) * (180 / np.pi),
        "apex": h[0] - d[0] / 2 * (1 + rise),
        "apex_across": y[0] - d[0] / 2 * aside,
    }
    for name, number in exact.items():
        difference = getattr(found, name) - number
        assert abs(difference.n) + difference.s < 1e-9, name


def test_uncertainty_by_draws():
    random, draws = np.random.default_rng(5), 20_000
    h1, h2 = random.normal(31, 0.003, draws), random.normal(18, 0.003, draws)
    d1, d2 = random.normal(25, 0.001, draws), random.normal(15, 0.001, draws)
    angles = np.rad2deg(np.arcsin((d1 - d2) / (2 * (h1 - h2) - (d1 - d2))))
    found = vee_over_pins((25, 15), (31, 18), 0.003, diameter_u=0.001)
    assert np.std(angles, ddof=1) == pytest.approx(found.half_angle.s, rel=4 / np.sqrt(2 * draws))


def test_sensitivity_is_what_a_millimetre_more_does():
    def of(d1, d2, h1, h2):
        found = vee_over_pins((d1, d2), (h1, h2))
        return np.array([found.half_angle, found.apex])

    at, step = np.array([25.0, 15, 31, 18]), 1e-5
    found = vee_over_pins((25, 15), (31, 18))
    names = ["diameter 1", "diameter 2", "height 1", "height 2"]
    for i, name in enumerate(names):
        more, less = at.copy(), at.copy()
        more[i], less[i] = at[i] + step, at[i] - step
        angle, apex = (of(*more) - of(*less)) / (2 * step)
        assert found.sensitivity["half_angle"][name] == pytest.approx(angle, rel=1e-6)
        assert found.sensitivity["apex"][name] == pytest.approx(apex, rel=1e-6)


def test_twice_the_section_has_the_same_angle():
    one = vee_over_pins((25, 15), (31, 18), 0.002)
    two = vee_over_pins((50, 30), (62, 36), 0.004)
    assert (two.half_angle.n, two.half_angle.s) == pytest.approx(
        (one.half_angle.n, one.half_angle.s)
    )
    assert two.apex.n == pytest.approx(2 * one.apex.n)
    other = vee_over_pins((15, 25), (18, 31), 0.002)  # which pin is first does not matter
    assert (other.apex.n, other.apex.s) == pytest.approx((one.apex.n, one.apex.s))


def test_words():
    found = vee_over_pins(25, 30.18, 0.002, half_angle=45, lean=2.5)
    assert str(found).startswith("vee with a half angle of 45.000 deg, leaning +2.5 deg toward +y;")
    assert "<th>height of the apex</th>" in found._repr_html_()
    assert "apex for 1 more of half_angle" in found._repr_html_()
    assert isinstance(vee_over_pins(25, 30.18, half_angle=45).apex, float)


@pytest.mark.parametrize(
    ("arguments", "options", "words"),
    [
        (((25, 24), (31, 30)), {}, "diameter: the two sizes must differ by a tenth"),
        ((0, 31), {"half_angle": 45}, "diameter: one pin, or two of different size"),
        (((1, 2, 3), (1, 2, 3)), {}, "diameter: one pin, or two"),
        ((25, 31), {}, "half_angle: one pin needs the half angle, two pins find it"),
        (((25, 15), (31, 18)), {"half_angle": 45}, "half_angle: one pin needs"),
        (((25, 15), 31), {}, "height: one for each of 2 pins is needed"),
        ((25, 31), {"half_angle": 3}, "half_angle: a vee has one between 5 and 85 deg, got 3 deg"),
        ((25, 31), {"half_angle": 30, "lean": 31}, "lean: it must be less than the half angle, 30"),
        (((25, 15), (20, 18)), {}, "height: no vee holds these pins: .*got -0.6 mm"),
        (((25, 15), (31, 18)), {"lean": 3, "across": (1, 1)}, "lean: the places across tell it"),
        ((25, 31), {"half_angle": 45, "across": (1,)}, "across: one pin tells no lean"),
    ],
)
def test_refusals(arguments, options, words):
    with pytest.raises(InputError, match=words):
        vee_over_pins(*arguments, **options)

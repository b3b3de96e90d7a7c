"""A dovetail over pins: against circles that touch two lines, Monte Carlo for u, refusals."""

import numpy as np
import pytest
from uncertainties import covariance_matrix, ufloat, umath

from metrolib.errors import InputError
from metrolib.form.dovetail import dovetail
from metrolib.form.over_pins import over_pins
from tests.form.section import direction, touching_circle


def reach(angle, diameter):
    """Return how far the pin's far side lies from the root: root finder on base and flank."""
    flank = direction(angle)  # the flank rises from the root over the air, base along +y
    toward = np.array([flank[1], -flank[0]])
    lines = [(np.zeros(2), np.array([0.0, 1.0])), (np.zeros(2), toward)]
    return touching_circle(lines, diameter / 2, np.array([diameter, diameter]))[0] + diameter / 2


@pytest.mark.parametrize("angle", [45.0, 55.0, 60.0, 90.0, 135.0])
def test_external_and_internal_against_circles(angle):
    out = reach(angle, 8.0)
    assert over_pins(40, 8, angle=angle).value == pytest.approx(40 + 2 * out, abs=1e-8)
    inside = over_pins(60, 8, angle=angle, internal=True)
    assert inside.value == pytest.approx(60 - 2 * out, abs=1e-8)
    assert over_pins(40, 8, angle=angle, flanks=1).value == pytest.approx(40 + out, abs=1e-8)
    assert dovetail(8, 40 + 2 * out, angle=angle).width == pytest.approx(40, abs=1e-8)
    assert dovetail(8, 60 - 2 * out, angle=angle, internal=True).width == pytest.approx(
        60, abs=1e-8
    )


def test_unequal_flanks_against_circles():
    over = 40 + reach(55, 10) + reach(62, 10)
    assert over_pins(40, 10, angle=(55, 62)).value == pytest.approx(over, abs=1e-8)
    found = dovetail(10, over, angle=(62, 55))
    assert found.width == pytest.approx(40, abs=1e-8)
    assert found.angles == (62, 55)


@pytest.mark.parametrize("internal", [False, True])
def test_two_sizes_find_angle_and_width(internal):
    away = -2 if internal else 2
    over = [90 + away * reach(57, size) for size in (12.0, 7.0)]
    found = dovetail((12, 7), over, internal=internal)
    assert (found.angle, found.width) == pytest.approx((57, 90), abs=1e-8)


def test_one_flank_at_a_time_shows_each_flanks_own_angle():
    for angle in (52, 63):
        over = [40 + reach(angle, size) for size in (12.0, 7.0)]
        found = dovetail((12, 7), over, flanks=1)
        assert (found.angle, found.width) == pytest.approx((angle, 40), abs=1e-8)


def test_over_both_flanks_the_width_is_right_and_the_angle_a_mean():
    over = [40 + reach(52, size) + reach(63, size) for size in (12.0, 7.0)]
    found = dovetail((12, 7), over)
    assert found.width == pytest.approx(40, abs=1e-8)
    mean = np.mean([1 / np.tan(np.deg2rad(angle / 2)) for angle in (52, 63)])
    assert found.angle == pytest.approx(np.rad2deg(2 * np.arctan(1 / mean)))


def test_width_at_a_height():
    # 45 deg: each flank goes out by as much as it rises
    assert dovetail(10, over_pins(40, 10, angle=45).value, angle=45).width_at(6) == pytest.approx(
        52
    )
    inside = dovetail(10, over_pins(60, 10, angle=45, internal=True).value, angle=45, internal=True)
    assert inside.width_at(6) == pytest.approx(48)
    assert dovetail(10, 50, angle=(45, 90)).width_at(6) == pytest.approx(
        dovetail(10, 50, angle=(45, 90)).width + 6
    )


def test_where_the_pin_touches():
    # 60 deg, D = 10: the touched point of the flank lies r (1 + cos 60) = 7.5 over the base
    assert dovetail(10, 70, angle=60).touch_height.tolist() == pytest.approx([7.5])


def test_uncertainty_against_automatic_differentiation():
    d, m, a = ufloat(10, 0.002), ufloat(67.3, 0.004), ufloat(60, 0.05)
    exact = m - d * (1 + 1 / umath.tan(a * np.pi / 360))
    difference = dovetail(d, m, angle=a).width - exact
    assert abs(difference.n) + difference.s < 1e-9
    height = dovetail(d, m, angle=a).width_at(12) - (exact + 24 / umath.tan(a * np.pi / 180))
    assert abs(height.n) + height.s < 1e-9
    d2, m2 = ufloat(6, 0.001), ufloat(56.4, 0.003)
    found = dovetail((d, d2), (m, m2))
    slope = (m - m2) / (d - d2)
    difference = found.angle - 2 * umath.atan(1 / (slope - 1)) * 180 / np.pi
    assert abs(difference.n) + difference.s < 1e-9
    difference = found.width - (m - d * slope)
    assert abs(difference.n) + difference.s < 1e-9


def test_what_is_found_goes_back_to_what_was_measured():
    # width and angle are correlated: over the same pins nothing is left but the reading's own u
    found = dovetail((10, 6), (67.32, 56.39), 0.003)
    assert abs(np.array(covariance_matrix([found.width, found.angle]))[0, 1]) > 0
    again = over_pins(found.width, 10, angle=found.angle).value
    assert (again.n, again.s) == pytest.approx((67.32, 0.003), rel=1e-6)


def test_uncertainty_by_draws():
    random, draws = np.random.default_rng(7), 20_000
    over, pin = random.normal(67.32, 0.004, draws), random.normal(10, 0.002, draws)
    angle = random.normal(60, 0.08, draws)
    width = over - pin * (1 + 1 / np.tan(np.deg2rad(angle / 2)))
    found = dovetail(10, 67.32, 0.004, angle=60, diameter_u=0.002, angle_u=0.08)
    assert np.std(width, ddof=1) == pytest.approx(found.width.s, rel=4 / np.sqrt(2 * draws))


def test_sensitivity_is_what_one_more_does():
    def width(d, m, a1, a2):
        return dovetail(d, m, angle=(a1, a2), internal=True).width

    at, step = np.array([10.0, 30, 55, 61]), 1e-5
    found = dovetail(10, 30, angle=(55, 61), internal=True).sensitivity["width"]
    for i, name in enumerate(["diameter", "measurement", "angle 1", "angle 2"]):
        up, down = at.copy(), at.copy()
        up[i], down[i] = at[i] + step, at[i] - step
        assert found[name] == pytest.approx((width(*up) - width(*down)) / (2 * step), rel=1e-6)
    over = over_pins(40, 10, angle=60).sensitivity
    assert over["width"] == 1 and over["diameter"] == pytest.approx(1 + np.sqrt(3))


@pytest.mark.parametrize("internal", [False, True])
def test_uncertainty_over_pins_against_automatic_differentiation(internal):
    w, d, a = ufloat(60, 0.004), ufloat(10, 0.002), ufloat(55, 0.05)
    away = -1 if internal else 1
    exact = w + away * d * (1 + 1 / umath.tan(a * np.pi / 360))
    difference = over_pins(w, d, angle=a, internal=internal).value - exact
    assert abs(difference.n) + difference.s < 1e-9


def test_twice_the_section():
    one, two = dovetail((10, 6), (67, 56), 0.002), dovetail((20, 12), (134, 112), 0.004)
    assert two.width.n == pytest.approx(2 * one.width.n)
    assert two.width.s == pytest.approx(2 * one.width.s)
    assert (two.angle.n, two.angle.s) == pytest.approx((one.angle.n, one.angle.s))


def test_words():
    found = dovetail(10, 67.321, 0.003, angle=60)
    assert str(found).startswith("external dovetail: width at its base 40.000 mm, U = 0.006 mm (k")
    assert "flank at 60.000 deg; the pins touch" in str(found)  # an exact angle has no U
    assert "width for 1 more of diameter" in found._repr_html_()
    assert "internal" in str(dovetail(10, 30, angle=(55, 60), internal=True))
    assert "55.000 deg and 60.000 deg" in str(dovetail(10, 30, angle=(55, 60), internal=True))
    over = over_pins(40, 10, angle=60, internal=True)
    assert str(over) == "12.679 mm between pins of 10 mm"
    assert "between pins" in over._repr_html_()
    assert isinstance(over.value, float) and over_pins(40, 10, 0.01, angle=60).value.s == 0.01


@pytest.mark.parametrize(
    ("arguments", "options", "words"),
    [
        ((10, 67), {}, "angle: one size of pins needs the angle, two sizes find it"),
        (((10, 6), (67, 56)), {"angle": 60}, "angle: one size of pins needs the angle"),
        (((10, 9.5), (67, 66)), {}, "diameter: the two sizes must differ by a tenth"),
        (((10, 6), 67), {}, "measurement: one for each of 2 sizes"),
        ((10, 67), {"angle": 19}, "angle: between flank and base .*20 and 160 deg, got 19 deg"),
        ((10, 67), {"angle": (60, 60), "flanks": 1}, "angle: one angle, or 1, are needed, got 2"),
        ((10, 67), {"angle": 60, "flanks": 3}, "flanks: a measurement lies over one pin or two"),
        (((10, 6), (56, 67)), {}, "angle: between flank and base .*check the sizes of the pins"),
        ((-1, 67), {"angle": 60}, "diameter: one pin, or two of different size"),
        ((10, 20), {"angle": 60}, "measurement: it leaves the dovetail no width, got -7.321 mm"),
        ((10, np.inf), {"angle": 60}, "measurement: item 0 is not a finite number"),
        (
            (10, 67, -0.1),
            {"angle": 60},
            "u of measurement: one uncertainty, or one for each .*-0.1",
        ),
        (
            (10, 67, np.eye(2)),
            {"angle": 60},
            "(?s)u of measurement: .*give readings that are correl",
        ),
        (
            (10, ufloat(67, 0.1), 0.1),
            {"angle": 60},
            "u: the numbers in measurement bring their own",
        ),
    ],
)
def test_refusals(arguments, options, words):
    with pytest.raises(InputError, match=words):
        dovetail(*arguments, **options)


def test_over_pins_refuses():
    with pytest.raises(InputError, match="width: it must be above 0"):
        over_pins(0, 10, angle=60)
    # 10 / (1 + cot 30 deg) = 3.66
    with pytest.raises(InputError, match="nothing is left between pins of 3.66 mm or more"):
        over_pins(10, 10, angle=60, internal=True)
    with pytest.raises(InputError, match="diameter: one size of pins is needed"):
        over_pins(40, (10, 6), angle=60)
    with pytest.raises(InputError, match="angle: between flank and base"):
        over_pins(40, 10, angle=170)
    with pytest.raises(InputError, match="flanks: "):
        over_pins(40, 10, angle=60, flanks=0)

"""Dovetails and vees over pins, against a handbook's formula and printed exam answers."""

import numpy as np
import pytest
from scipy.optimize import brentq

from metrolib.form.dovetail import dovetail
from metrolib.form.over_pins import over_pins
from metrolib.form.vee_pins import vee_over_pins
from tests.published.printed import assert_printed


def test_external_dovetail_of_the_handbook():
    """Machinery's Handbook, checking dovetail slides: x = D (1 + cot(theta / 2)) + a.

    The formula as two web pages quote the handbook (2009 and later); inches. The worked number
    1.683, for 60 deg, pins of 1/4 in and a = 1 in at the acute root, was seen on a third page.
    """
    found = over_pins(1.0, 0.25, angle=60)
    assert_printed(found.value, "1.683")
    assert_printed(found.sensitivity["diameter"], "2.7320508")  # the factor 1 + cot 30
    assert_printed(dovetail(0.25, 1.683, angle=60).width, "1.000")


def test_internal_dovetail_of_the_handbook():
    """The same: y = b - D (1 + cot(theta / 2)), and the flank's offset c = h cot(theta)."""
    found = over_pins(2.0, 0.25, angle=60, internal=True)
    assert found.value == pytest.approx(2.0 - 0.25 * (1 + 1 / np.tan(np.deg2rad(30))))
    female = dovetail(0.25, found.value, angle=60, internal=True)
    assert (2.0 - female.width_at(0.5)) / 2 == pytest.approx(0.5 / np.tan(np.deg2rad(60)))


def test_some_pages_take_the_wide_flat_for_the_narrow_one_which_is_wrong():
    """a lies at the acute root, where the pins touch: the narrow width of an external dovetail."""
    male = dovetail(10, over_pins(40, 10, angle=60).value, angle=60)
    assert male.width < male.width_at(10)


def test_the_page_with_w_plus_d_over_sine_less_d_is_wrong_because_its_pin_cuts_the_flank():
    """One page prints M = W + D / sin(a / 2) - D, which gives 1.25 in for the handbook's case."""
    printed = 1.0 + 0.25 / np.sin(np.deg2rad(30)) - 0.25
    assert_printed(printed, "1.25")
    # a pin put there: its centre stands 1.25 / 2 - 0.125 from the middle, the root 0.5
    centre, flank = np.array([printed / 2 - 0.125 - 0.5, 0.125]), np.deg2rad(60)
    to_flank = centre @ [np.sin(flank), -np.cos(flank)]
    assert to_flank < 0.125  # nearer to the flank than its radius: inside the metal
    right = over_pins(1.0, 0.25, angle=60).value
    centre[0] = right / 2 - 0.125 - 0.5
    assert centre @ [np.sin(flank), -np.cos(flank)] == pytest.approx(0.125)


def _tops(half_angle, diameters):
    """Return the heights of pins over the apex of a vee, by the root finder."""
    alpha = np.deg2rad(half_angle)
    centres = [
        brentq(lambda h, d=d: h * np.sin(alpha) - d / 2, 0, 20 * d, xtol=1e-13) for d in diameters
    ]
    return [centre + d / 2 for centre, d in zip(centres, diameters, strict=True)]


def test_two_rollers_in_a_vee():
    """An exam question (GATE, India): rollers of 25 and 15 mm in a V groove.

    Its option A, sin(alpha) = (D1 - D2) / (2 (H1 - H2) - (D1 - D2)), is right; made heights.
    """
    found = vee_over_pins((25, 15), (30.177669529663685, 18.106601717798213))
    assert found.half_angle == pytest.approx(45)
    assert found.apex == pytest.approx(0, abs=1e-12)
    for half_angle in (30, 45, 55):
        tops = _tops(half_angle, (25, 15))
        formula = (25 - 15) / (2 * (tops[0] - tops[1]) - (25 - 15))
        assert formula == pytest.approx(np.sin(np.deg2rad(half_angle)))
        assert vee_over_pins((25, 15), tops).half_angle == pytest.approx(half_angle)


def test_the_printed_answer_with_a_cosine_is_wrong_because_it_gives_90_less_the_half_angle():
    """The page marks option B, the same fraction as a cosine; only at 45 deg no one notices."""
    tops = _tops(30, (25, 15))
    fraction = (25 - 15) / (2 * (tops[0] - tops[1]) - (25 - 15))
    printed = np.rad2deg(np.arccos(fraction))
    assert printed == pytest.approx(60)  # for a groove whose half angle is 30
    assert vee_over_pins((25, 15), tops).half_angle == pytest.approx(30)
    tops = _tops(45, (25, 15))
    fraction = (25 - 15) / (2 * (tops[0] - tops[1]) - (25 - 15))
    assert np.rad2deg(np.arccos(fraction)) == pytest.approx(45)

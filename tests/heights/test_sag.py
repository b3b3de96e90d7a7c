"""Sag of beams and wires, by hand and against an integration of our own."""

import numpy as np
import pytest
from scipy.integrate import cumulative_simpson

from metrolib.errors import InputError
from metrolib.heights.sag import beam_sag, beam_slope, straightedge_sag, wire_sag
from metrolib.survey.instruments import Straightedge


def integrated(u, length, a, b, load, stiffness):
    """Integrate the bending moment twice and take the line through the supports off."""
    place = np.linspace(0, length, 20_001)
    force_b = load * length * (length / 2 - a) / (b - a)
    force_a = load * length - force_b
    moment = -load * place**2 / 2 + force_a * np.clip(place - a, 0, None)
    moment += force_b * np.clip(place - b, 0, None)
    slope = cumulative_simpson(moment / stiffness, x=place, initial=0)
    bent = cumulative_simpson(slope, x=place, initial=0)
    at_a, at_b = np.interp([a, b], place, bent)
    bent -= at_a + (at_b - at_a) * (place - a) / (b - a)
    return -np.interp(u, place, bent)


@pytest.mark.parametrize("supports", [(0, 2), (0.3, 1.7), (0.9, 1.1), (0.2, 1.2), (1.0, 1.9)])
def test_any_overhang_agrees_with_integration(supports):
    u = np.linspace(0, 2, 41)
    expected = integrated(u, 2, *supports, load=3.0, stiffness=5.0)
    found = beam_sag(u, length=2, supports=supports, load=3.0, stiffness=5.0)
    np.testing.assert_allclose(found, expected, atol=1e-7)
    assert np.abs(beam_sag(supports, length=2, supports=supports)).max() < 1e-15


@pytest.mark.parametrize("supports", [(0, 2), (0.3, 1.7), (1.7, 0.3), (0.9, 1.1), (0.2, 1.2)])
def test_the_slope_is_that_of_the_integrated_sag(supports):
    u, step = np.linspace(0.01, 1.99, 34), 0.005
    a, b = sorted(supports)
    ends = [integrated(u + way * step, 2, a, b, load=1.0, stiffness=1.0) for way in (-1, 1)]
    found = beam_slope(u, length=2, supports=supports)
    # a difference of second order: off by a sixth of the third derivative, at most 2 here
    np.testing.assert_allclose(found, (ends[1] - ends[0]) / (2 * step), atol=step**2)


@pytest.mark.parametrize(
    ("u", "supports", "words"),
    [
        (0.5, (0.2, 0.2), r"supports: two different places from 0 to 1 are needed"),
        (0.5, (-0.1, 0.9), r"supports: two different places"),
        (0.5, (0.1, 1.1), r"supports: two different places"),
        (0.5, (0.1, 0.4), r"supports: the middle at 0.5 lies outside them"),
        (0.5, (0.6, 0.9), r"supports: the middle at 0.5 lies outside them"),
        (1.01, (0.1, 0.9), r"u: places from 0 to 1 are needed"),
        (-0.01, (0.1, 0.9), r"u: places from 0 to 1 are needed"),
    ],
)
@pytest.mark.parametrize("function", [beam_sag, beam_slope])
def test_a_beam_that_cannot_lie_so_is_refused(function, u, supports, words):
    with pytest.raises(InputError, match=words):
        function(u, length=1, supports=supports)


def test_the_order_of_the_supports_and_the_end_counted_from_do_not_matter():
    u = np.linspace(0, 1, 11)
    sag = beam_sag(u, length=1, supports=(0.2, 0.7))
    np.testing.assert_array_equal(beam_sag(u, length=1, supports=(0.7, 0.2)), sag)
    mirrored = beam_sag(1 - u, length=1, supports=(0.3, 0.8))
    np.testing.assert_allclose(mirrored, sag, atol=1e-15)


def test_scaling():
    sag = beam_sag(0.4, length=1, supports=(0, 1))
    assert beam_sag(0.4, length=1, supports=(0, 1), load=2) == pytest.approx(2 * sag)
    assert beam_sag(0.4, length=1, supports=(0, 1), stiffness=2) == pytest.approx(sag / 2)
    assert beam_sag(0.8, length=2, supports=(0, 2)) == pytest.approx(2**4 * sag)


def test_a_bar_on_its_ends_and_near_its_best_points():
    # a plain 1 m x 60 mm steel bar: 16 um held at its ends, 0.34 um peak to valley at 0.223 l
    # (computed for this test from the beam formula; common practice, no published source)
    bar = Straightedge("bar", 1000, 0.004, height=60, width=12)
    u = np.linspace(0, 1000, 2001)
    assert np.ptp(straightedge_sag(u, bar, (0, 1000))) == pytest.approx(0.0162, abs=5e-5)
    assert np.ptp(straightedge_sag(u, bar, (223, 777))) == pytest.approx(0.00034, abs=5e-6)
    wide = Straightedge("bar", 1000, 0.004, height=60, width=40)
    np.testing.assert_allclose(
        straightedge_sag(u, wide, (0, 1000)), straightedge_sag(u, bar, (0, 1000))
    )


def test_wire_is_the_catenary():
    from mpmath import cosh, mp, mpf

    mp.dps = 50
    a = mpf(133) / mpf("0.0102") * 1000
    exact = a * (cosh(mpf(500) / a) - cosh(mpf(200) / a))
    found = wire_sag(700.0, ends=(0, 1000), weight=0.0102, tension=133.0)
    assert float(abs(found - exact) / exact) < 1e-14
    assert wire_sag([0.0, 1000.0], ends=(1000, 0), weight=1, tension=1).tolist() == [0, 0]


@pytest.mark.parametrize(
    ("supports", "words"),
    [
        ((0.6, 0.9), "so it tips"),
        ((0.5, 0.5), "two different places"),
        ((-0.1, 0.9), "from 0 to 1"),
    ],
)
def test_beam_refusals(supports, words):
    with pytest.raises(InputError, match=words):
        beam_sag(0.5, length=1, supports=supports)
    with pytest.raises(InputError, match="u: places from 0 to 1"):
        beam_sag([0.5, 1.2], length=1, supports=(0, 1))


def test_a_wire_hangs_alike_wherever_it_starts():
    places = np.array([0.0, 100, 500, 900, 1000])
    sag = wire_sag(places, ends=(0, 1000), weight=0.01, tension=100)
    for start in (200.0, -300.0):
        moved = wire_sag(places + start, ends=(start, start + 1000), weight=0.01, tension=100)
        np.testing.assert_allclose(moved, sag, rtol=1e-12, atol=1e-18)
    np.testing.assert_allclose(sag, sag[::-1], rtol=1e-12, atol=1e-18)


@pytest.mark.parametrize("place", [-1e-6, 1 + 1e-6])
def test_a_place_beyond_either_end_is_refused(place):
    with pytest.raises(InputError, match="u: places from 0 to 1 are needed"):
        beam_sag([0.5, place], length=1, supports=(0, 1))
    with pytest.raises(InputError, match="x: the wire runs from 2.0 to 3.0 mm"):
        wire_sag([2.5, 2 + place], ends=(2, 3), weight=1, tension=1)


def test_the_ends_themselves_are_places():
    # the fixed ends of a beam whose supports stand under its ends, and of a wire, do not sag
    assert beam_sag([0, 1], length=1, supports=(0, 1)).tolist() == pytest.approx([0, 0], abs=1e-16)
    assert wire_sag([2, 3], ends=(2, 3), weight=1, tension=1).tolist() == [0, 0]


def test_a_beam_may_rest_on_its_very_middle():
    # b = l / 2 carries it all, so each half is a cantilever: its end hangs w (l / 2)^4 / 8 EI below
    # the tangent at the middle (handbook formula, from memory). The line through both supports
    # meets one end, so the other hangs two of these below it.
    free = beam_sag([0.0, 1.0], length=1, supports=(0.0, 0.5))
    assert free[0] == pytest.approx(0, abs=1e-16)
    assert free[1] == pytest.approx(2 * 0.5**4 / 8)
    same = beam_sag([1.0, 0.0], length=1, supports=(0.5, 1.0))
    assert same == pytest.approx(free)


@pytest.mark.parametrize(
    ("supports", "words"),
    [
        ((0.4, 0.4), "two different places from 0 to 1"),
        ((0.3, 1.1), "two different places from 0 to 1"),
        ((0.1, 0.4), "the middle at 0.5 lies outside them"),
        ((0.5,), "supports: two numbers are needed, got 1"),
        ((0.1, 0.5, 0.9), "supports: two numbers are needed, got 3"),
        ((0.2, np.nan), "supports: item 1 is not a finite number"),
    ],
)
def test_supports_that_cannot_hold_it_are_refused(supports, words):
    with pytest.raises(InputError, match=words):
        beam_sag(0.5, length=1, supports=supports)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ends": (5, 5)}, "wire_ends: two different places are needed"),
        ({"ends": (5,)}, "wire_ends: two numbers are needed, got 1"),
        ({"tension": 0}, "wire_tension: it must be above 0, got 0"),
        ({"weight": 0}, "wire_weight: it must be above 0, got 0"),
        ({"tension": None}, "wire_tension: a number is needed"),
        ({"weight": None}, "wire_weight: a number is needed"),
    ],
)
def test_wire_refusals(changes, words):
    wire = {"ends": (0, 10), "weight": 0.01, "tension": 100.0} | changes
    with pytest.raises(InputError, match=f"^{words}"):
        wire_sag(5, **wire)


def test_a_straightedge_by_the_handbook():
    # 5 w l^4 / 384 EI in the middle between supports at the ends, with all figures written out:
    # cast iron of 7200 kg/m3 and 110 GPa, 50 x 10 mm and 800 mm long
    bar = Straightedge("bar", 800, 0.004, height=50, width=10, density=7200, modulus=110e3)
    load = 7200 * 9.80665 * (0.05 * 0.01)  # N/m
    stiffness = 110e9 * 0.01 * 0.05**3 / 12  # N m2
    expected = 1000 * 5 * load * 0.8**4 / (384 * stiffness)
    assert straightedge_sag(400, bar, (0, 800)) == pytest.approx(expected, rel=1e-12)


def test_a_straightedge_of_no_section():
    with pytest.raises(InputError, match="straightedge 'bar': its section is needed, got none"):
        straightedge_sag(400, Straightedge("bar", 800, 0.004), (0, 800))


@pytest.mark.parametrize(("first", "share"), [(0.0, 2.5), ((1 - 0.5537) / 2, 37)])
def test_what_shear_would_add_is_as_told(first, share):
    """S. Timoshenko (1921): shear bends as M / (k G A), k = 5/6 of a rectangle, nu = 0.3."""
    at_support, middle = -(first**2) / 2, 0.25 - first / 2 - 0.125  # moments, of unit load
    shear = (middle - at_support) * 2 * (1 + 0.3) / (12 * 5 / 6)  # in (h / l)²
    bent = beam_sag(0.5, length=1, supports=(first, 1 - first))
    assert shear / bent == pytest.approx(share, rel=0.01)

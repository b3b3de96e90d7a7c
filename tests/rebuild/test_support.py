"""Straightedges on two supports, against two numerical models of the beam."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_bvp
from scipy.optimize import minimize_scalar
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.heights.beam_section import BeamSection
from metrolib.heights.sag import beam_sag
from metrolib.rebuild.support.best_supports import best_supports
from metrolib.rebuild.support.support import sag_on_supports

BAR = BeamSection(720.0, 216_000.0, 206_000.0, 7_850.0)  # 60 x 12 mm
HELD = [(0.0, 1000.0), (223.0, 777.0), (100.0, 800.0), (300.0, 1000.0)]


def by_boundary_values(supports, length, load, stiffness):
    """Solve EI y'''' = w on the three pieces beside and between the supports; y is downward."""
    a, b = supports
    bounds = np.array([[0, a], [a, b], [b, length]])
    span = np.diff(bounds).ravel()

    def beam(t, y):
        y = y.reshape(3, 4, -1)
        rate = np.empty_like(y)
        rate[:, :3] = y[:, 1:]
        rate[:, 3] = load / stiffness
        return (rate * span[:, None, None]).reshape(12, -1)

    def ends(left, right):
        left, right = left.reshape(3, 4), right.reshape(3, 4)
        free = [*left[0, 2:], *right[2, 2:]]
        held = [right[0, 0], left[1, 0], right[1, 0], left[2, 0]]
        smooth = [*(right[0, 1:3] - left[1, 1:3]), *(right[1, 1:3] - left[2, 1:3])]
        return np.array(free + held + smooth)

    t = np.linspace(0, 1, 21)
    found = solve_bvp(beam, ends, t, np.zeros((12, t.size)), tol=1e-10)
    assert found.success
    t = np.linspace(0, 1, 1001)
    x = (bounds[:, :1] + span[:, None] * t).ravel()
    return x, found.sol(t).reshape(3, 4, -1)[:, 0].ravel()


def by_finite_differences(supports, length, load, stiffness, n=2001):
    """Minimise bending energy less the work of the weight, the supports held."""
    x = np.linspace(0, length, n)
    step = x[1] - x[0]
    bend = np.zeros((n - 2, n))
    for i in range(3):
        bend[np.arange(n - 2), np.arange(n - 2) + i] = (1, -2, 1)[i] / step**2
    weight = np.full(n, load * step)
    weight[[0, -1]] /= 2
    held = np.array([np.argmin(np.abs(x - s)) for s in supports])
    free = np.setdiff1d(np.arange(n), held)
    stiff = stiffness * step * bend.T @ bend
    y = np.zeros(n)
    y[free] = np.linalg.solve(stiff[np.ix_(free, free)], weight[free])
    return x, y


@pytest.mark.parametrize("supports", [(100.0, 800.0), (223.0, 777.0), (300.0, 900.0)])
def test_sag_against_the_boundary_value_problem(supports):
    found = sag_on_supports(1000, supports, BAR)
    x, y = by_boundary_values(supports, 1000, BAR.load, BAR.stiffness)
    expected = beam_sag(x, length=1000, supports=supports, load=BAR.load, stiffness=BAR.stiffness)
    np.testing.assert_allclose(expected, y, atol=1e-9)
    np.testing.assert_allclose(found.sag, np.interp(found.x, x, y), atol=1e-8)
    assert found.value == pytest.approx(np.ptp(y), rel=5e-3)


def test_sag_against_finite_differences():
    supports = (100.0, 800.0)
    x, y = by_finite_differences(supports, 1000, BAR.load, BAR.stiffness, n=501)
    found = sag_on_supports(1000, supports, BAR)
    np.testing.assert_allclose(found.sag, np.interp(found.x, x, y), atol=0.003 * found.value)


@pytest.mark.parametrize("supports", HELD)
def test_the_places_hold_both_ends_and_both_supports(supports):
    found = sag_on_supports(1000, supports, BAR)
    assert {0.0, 1000.0, *supports} <= {*found.x.tolist()}
    at = np.isin(found.x, supports)
    np.testing.assert_allclose(found.sag[at], 0, atol=1e-15)


def test_the_sign_of_the_error_sole_down_and_sole_up():
    """A flat way measured with a straight sole that sags: both ways the way looks convex."""
    found = sag_on_supports(1000, (0, 1000), BAR)
    sole = -found.sag  # height of the sole; the way is flat at 0 a gap of 1 mm below
    gap = sole + 1.0
    way_by_gap = -gap - (-gap[0])  # sole taken as straight: high where the gap is small
    np.testing.assert_allclose(way_by_gap, found.false_height, atol=1e-15)
    reading = sole - 0.0  # sole up, the indicator runs on a true path at 0 and reads the sole
    path = -(reading - reading[0])  # taken as straight: the carriage rose where the sole is low
    np.testing.assert_allclose(path, found.false_height, atol=1e-15)
    assert found.error == pytest.approx(found.false_height.max()) and found.error > 0
    assert "look 16.2 µm more convex" in str(found)


def test_overhang_turns_the_sign():
    near = sag_on_supports(1000, (300, 700), BAR)  # the ends droop
    assert near.error < 0
    assert "more hollow" in str(near)


def test_uncertain_sections_give_uncertain_sags():
    wide = BeamSection(720.0, 216_000.0, ufloat(206_000, 6_000), 7_850.0)
    found = sag_on_supports(1000, (0, 1000), wide)
    assert found.value.s / found.value.n == pytest.approx(6 / 206)
    assert (found.value - found.error).s == pytest.approx(0, abs=1e-12)  # one source
    assert "U = 0.9 µm" in found.in_words()
    assert "thou" in found.in_words("thou")


def test_scaling():
    one = sag_on_supports(1000, (100, 800), BAR)
    long = sag_on_supports(2000, (200, 1600), BAR)
    assert long.value == pytest.approx(16 * one.value)
    assert long.error == pytest.approx(16 * one.error)


def test_best_supports_against_minimisation_of_what_they_are_best_at():
    pairs = {pair.name: pair for pair in best_supports(1000, BAR).pairs}
    u = np.linspace(0, 1, 4001)

    def held(spacing):
        return ((1 - spacing) / 2, (1 + spacing) / 2)

    def bow(spacing):
        return np.ptp(beam_sag(u, length=1, supports=held(spacing)))

    def shortening(spacing):  # on finite differences, by adaptive quadrature
        def squared(place):
            sag = beam_sag([place - 1e-4, place + 1e-4], length=1, supports=held(spacing))
            return (np.diff(sag)[0] / 2e-4) ** 2

        inner = quad(squared, 1e-4, 1 - 1e-4, points=held(spacing), epsabs=1e-13)[0]
        return 1e6 * inner

    least = minimize_scalar(bow, bounds=(0.54, 0.57), method="bounded", options={"xatol": 1e-9})
    assert pairs["least bow"].spacing == pytest.approx(least.x, abs=2e-6)
    least = minimize_scalar(
        shortening, bounds=(0.54, 0.58), method="bounded", options={"xatol": 1e-6}
    )
    assert pairs["Bessel"].spacing == pytest.approx(least.x, abs=2e-4)
    ends = beam_sag([0.0, 1e-6], length=1, supports=held(pairs["Airy"].spacing))
    assert abs(np.diff(ends)[0]) < 1e-12


def test_no_pair_sags_less_than_the_least():
    found = best_supports(1000, BAR)
    assert found.pairs[0].sag.value == min(pair.sag.value for pair in found.pairs)
    assert list(found.to_dataframe().columns)[-1] == "sag [µm]"
    assert "223 mm from each end" in str(found)


def test_the_table_of_a_sag():
    found = sag_on_supports(1000, (0, 1000), BAR)
    table = found.to_dataframe()
    assert table["sag [µm]"].max() == pytest.approx(16.2, abs=0.05)
    assert "16.2 µm" in found._repr_html_()


@pytest.mark.parametrize(
    ("length", "supports", "words"),
    [
        (0, (0, 1), "length: it must be above 0"),
        (1000, (100, 1001), r"supports: two different places from 0 to 1000 are needed"),
        (1000, (-5, 900), "supports: two different places from 0 to 1000 are needed"),
        (1000, (500, 500), "two different places"),
        (1000, (0, 500, 1000), "supports: two numbers are needed, got 3"),
        (1000, (600, 900), "the middle at 500 lies outside them, so it tips"),
    ],
)
def test_refusals(length, supports, words):
    with pytest.raises(InputError, match=words):
        sag_on_supports(length, supports, BAR)


def test_a_section_that_is_none():
    with pytest.raises(InputError, match=r"section: a BeamSection is needed, got \(60, 12\)"):
        sag_on_supports(1000, (0, 1000), (60, 12))

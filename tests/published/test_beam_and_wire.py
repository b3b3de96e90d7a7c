"""Sag of beams on two supports and of wires, against the constants of the trade."""

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.optimize import brentq, minimize_scalar

from metrolib.heights.sag import beam_sag, wire_sag
from tests.published.printed import assert_printed


def held(u, spacing, length=1.0):
    return beam_sag(u, length=length, supports=((length - spacing) / 2, (length + spacing) / 2))


def test_airy_points_leave_the_end_faces_vertical():
    """G. B. Airy 1846: spacing l / sqrt(3), printed 0.5773502692 ("Airy Points", 2013)."""
    step = 1e-4
    spacing = brentq(lambda s: np.diff(held([0.0, step], s))[0], 0.5, 0.65, xtol=1e-14)
    assert_printed(spacing, "0.5773502692")


def test_bessel_points_shorten_the_neutral_line_least():
    """Spacing 0.5594 l; the prototype metre, a bar of 1020 mm, lay on supports 571 mm apart."""
    u = np.linspace(0, 1, 4001)

    def shortening(spacing):
        return trapezoid(np.gradient(held(u, spacing), u) ** 2, u)

    spacing = minimize_scalar(
        shortening, bounds=(0.5, 0.6), method="bounded", options={"xatol": 1e-9}
    ).x
    assert_printed(spacing, "0.5594")
    assert_printed(spacing * 1020, "571")


def test_least_sag_peak_to_valley():
    """0.554 l (lecture slides); 0.5536, often printed, is one unit low in its last digit."""
    u = np.linspace(0, 1, 2001)
    found = minimize_scalar(
        lambda s: np.ptp(held(u, s)), bounds=(0.54, 0.57), method="bounded", options={"xatol": 1e-9}
    )
    assert_printed(found.x, "0.554")
    assert found.x == pytest.approx(0.5537018, abs=2e-6)
    assert held(0.5, found.x) == pytest.approx(held(0.0, found.x), rel=1e-4)
    assert found.fun == pytest.approx(0.000270396, abs=1e-8)


@pytest.mark.parametrize(
    ("spacing", "centre", "end", "span"),
    [
        (0.5, 0.000162760417, -0.001139322917, 0.00130208),
        (0.5227, 5.8008e-07, -0.000761542444, 0.00081043),
        (0.5537, -0.000269710862, -0.000269755853, 0.000270422),
        (0.5594, -0.000325862439, -0.00018281082, 0.000331532),
        (0.5773502692, -0.000516380119, 8.30981131e-05, 0.000599478),
        (0.6, -0.0007875, 0.0004, 0.0011875),
        (0.6666666666666666, -0.001800411523, 0.001189557613, 0.00298997),
        (1.0, -0.01302083333, 0.0, 0.01302083),
    ],
)
def test_beam_overhanging_two_supports(spacing, centre, end, span):
    """Centre w l² (5 l² - 24 a²) / 384 EI, end w a (3 a² (a + 2 l) - l³) / 24 EI (Roark; AISC
    Manual; formula from memory, figures of the table by double integration), up positive."""
    assert -held(0.5, spacing) == pytest.approx(centre, abs=2e-9)
    assert -held(0.0, spacing) == pytest.approx(end, abs=2e-9)
    assert -held(1.0, spacing) == pytest.approx(end, abs=2e-9)
    inner, over = spacing, (1 - spacing) / 2
    by_formula = -(inner**2) * (5 * inner**2 - 24 * over**2) / 384
    assert -held(0.5, spacing) == pytest.approx(by_formula, abs=1e-15)
    by_formula = -over * (3 * over**2 * (over + 2 * inner) - inner**3) / 24
    assert -held(0.0, spacing) == pytest.approx(by_formula, abs=1e-15)
    assert np.ptp(held(np.linspace(0, 1, 2001), spacing)) == pytest.approx(span, abs=6e-8)


def test_tight_wire():
    """Steel wire of 0.016 in, 0.0007 lb/ft, pulled by 30 lb: 0.0003 ft over 10 ft, 0.03 ft over
    100 ft (millwrights' worked numbers, printed to one digit)."""
    pound, foot = 4.4482216152605, 304.8  # N, mm
    weight, tension = 0.0007 * pound / 0.3048, 30 * pound

    def sag(length, at):
        return (
            float(wire_sag(at * foot, ends=(0, length * foot), weight=weight, tension=tension))
            / foot
        )

    assert_printed(sag(10, 5), "0.0003")
    assert_printed(sag(100, 50), "0.03")
    assert sag(10, 5) == pytest.approx(0.00029166667, rel=1e-6)
    assert sag(100, 50) == pytest.approx(0.029166667, rel=1e-6)
    # 0.0225 ft is printed for the quarter point of 100 ft: 3/4 of the rounded 0.03, not of the sag
    assert sag(100, 25) == pytest.approx(0.021875, rel=1e-6)
    assert 0.75 * 0.03 == pytest.approx(0.0225)

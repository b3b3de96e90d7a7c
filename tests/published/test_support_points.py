"""Points of support found by the library, and growth by heat, against printed values."""

import pytest
from mpmath import diff, findroot, mp, mpf, quad
from uncertainties import ufloat

from metrolib.heights.beam_section import BeamSection
from metrolib.rebuild.support.best_supports import best_supports
from metrolib.rebuild.support.heat import expansion_between, thermal_bow
from tests.published.printed import assert_printed

PAIRS = {
    pair.name: pair for pair in best_supports(1000, BeamSection(720, 216_000, 206e3, 7850)).pairs
}


def test_airy():
    """G. B. Airy 1846: l / sqrt(3), printed 0.5773502692 ("Airy Points", 2013)."""
    assert_printed(PAIRS["Airy"].spacing, "0.5773502692")


def test_bessel():
    """Printed 0.5594; the prototype metre of 1020 mm lay on supports 571 mm apart."""
    assert_printed(PAIRS["Bessel"].spacing, "0.5594")
    assert_printed(1020 * PAIRS["Bessel"].spacing, "571")


def test_bessel_in_thirty_digits():
    """Least integral of the slope squared, written anew on the half beam from its middle.

    With v from the middle, l = w = EI = 1: the moment is -(1/2 - v)² / 2 beyond the support at
    c = s / 2, and by (c - v) / 2 more inside; the slope is its integral, zero in the middle.
    (0.5593838, met with as well, does not come out: it agrees to five digits.)
    """

    def shortening(spacing):
        c, half = spacing / 2, mpf(1) / 2

        def beyond(v):
            return ((half - v) ** 3 - half**3) / 6

        def slope(v):
            inside = min(v, c)
            return beyond(v) + (c * inside - inside**2 / 2) / 2

        return quad(lambda v: slope(v) ** 2, [0, c, half])

    with mp.workdps(30):
        root = findroot(lambda s: diff(shortening, s), mpf("0.559"))
    assert_printed(root, "0.559380118633")
    assert PAIRS["Bessel"].spacing == pytest.approx(float(root), abs=1e-8)


def test_least_bow():
    """0.554 l (lecture slides)."""
    assert_printed(PAIRS["least bow"].spacing, "0.554")
    assert PAIRS["least bow"].spacing == pytest.approx(0.5537018, abs=1e-7)


def test_how_much_the_points_save():
    """Airy leaves 1/22 of the bow held at the ends, Bessel 1/39, least bow 1/48 (common practice,
    no published source)."""
    ends = PAIRS["at the ends"].sag.value
    for name, part in (("Airy", 22), ("Bessel", 39), ("least bow", 48)):
        assert round(ends / PAIRS[name].sag.value) == part


def test_gauge_block_of_jcgm100():
    """JCGM 100:2008, H.1.3.4 and H.1.7: a gauge of 50.000623 mm, alpha 11.5e-6 per degC, and a
    difference of temperature within +-0.05 degC give 16.6 nm."""
    warm = ufloat(20, 0.05 / 3**0.5)
    found = expansion_between(50.000623, 20, warm, 11.5)
    assert_printed(1e6 * found.value.s, "16.6")


@pytest.mark.parametrize(
    ("length", "height", "difference", "expansion", "printed"),
    [
        (2000, 300, 1.0, 10.5, "17.5"),  # common practice, no published source
        (1000, 100, 0.5, 11.5, "7"),  # common practice, no published source
        (1000, 150, 1.0, 11.0, "9.16667"),  # closed form, for want of a published example
    ],
)
def test_thermal_bow(length, height, difference, expansion, printed):
    assert_printed(1e3 * thermal_bow(length, height, difference, expansion).value, printed)

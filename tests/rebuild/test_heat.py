"""Heat: against circle geometry and an integration of a heated section; signs and sums."""

import numpy as np
import pytest
from mpmath import mp, mpf, sqrt
from scipy.integrate import cumulative_simpson
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.heights.beam_section import BeamSection
from metrolib.rebuild.support.heat import expansion_between, thermal_bow
from metrolib.rebuild.support.support import sag_on_supports
from metrolib.rebuild.support.trust import trust_limit
from metrolib.survey.materials import MATERIALS, material


def test_bow_against_the_circle():
    """Top and underside are arcs of one centre whose lengths differ by alpha dT."""
    mp.dps = 40
    length, height, strain = mpf(2000), mpf(300), mpf("10.5e-6") * 1
    radius = height / strain
    sagitta = radius - sqrt(radius**2 - (length / 2) ** 2)
    found = thermal_bow(2000, 300, 1.0, 10.5)
    assert found.value == pytest.approx(float(sagitta), rel=1e-8)


@pytest.mark.parametrize("widths", [[40.0] * 400, [60.0] * 60 + [12.0] * 280 + [60.0] * 60])
def test_bow_against_a_heated_section(widths):
    """Plane sections stay plane: strain e + k z with no force and no moment in any section."""
    height, difference, alpha, modulus = 300.0, 0.7, 10.5e-6, 115e3
    edges = np.linspace(-height / 2, height / 2, len(widths) + 1)
    z = (edges[1:] + edges[:-1]) / 2
    area = np.array(widths) * np.diff(edges)
    free = alpha * difference * z / height  # strain that each layer would take by itself
    rows = np.array([np.ones_like(z), z])
    stiff = modulus * (rows * area) @ rows.T
    _, curvature = np.linalg.solve(stiff, modulus * (rows * area) @ free)
    x = np.linspace(0, 2000, 2001)
    slope = cumulative_simpson(np.full_like(x, -curvature), x=x, initial=0)
    rise = cumulative_simpson(slope, x=x, initial=0)
    rise -= rise[-1] * x / x[-1]
    assert thermal_bow(2000, height, difference, 10.5).value == pytest.approx(rise.max(), rel=1e-9)


def test_signs():
    bed = thermal_bow(2000, 300, 1.0, 10.5)
    assert bed.value > 0 and bed.error > 0  # warm on top: bows up, a false crown
    edge = thermal_bow(1000, 100, 0.5, 11.5, of="straightedge")
    assert edge.value > 0 > edge.error  # back warm: sole high in the middle, a false hollow
    assert "false crown" in str(bed).split("(")[0]
    assert "false hollow" in str(edge).split("(")[0]
    cold = thermal_bow(2000, 300, -1.0, 10.5)
    assert cold.value == -bed.value and "colder" in str(cold)
    assert "no bow" in str(thermal_bow(2000, 300, 0.0, 10.5))


def test_uncertainty_by_hand():
    # relative: 0.2 of the difference, 1/sqrt(3)/10.5 of the expansion
    found = thermal_bow(2000, 300, ufloat(1.0, 0.2), "grey iron")
    assert found.value.s / found.value.n == pytest.approx(np.hypot(0.2, 1 / 3**0.5 / 10.5))
    found = thermal_bow(2000, 300, ufloat(0.0, 0.2), 10.5)
    assert (found.value.n, found.value.s) == pytest.approx((0, 0.2 * 0.0175))


def test_scaling():
    one = thermal_bow(1000, 100, 1.0, 10.0).value
    assert thermal_bow(2000, 100, 1.0, 10.0).value == pytest.approx(4 * one)
    assert thermal_bow(1000, 200, 1.0, 10.0).value == pytest.approx(one / 2)
    assert thermal_bow(1000, 100, 2.0, 10.0).value == pytest.approx(2 * one)


def test_expansion_between():
    found = expansion_between(250, 20, 35, 10.5)  # 250 mm * 10.5e-6 * 15 = 0.039375 mm
    assert found.value == pytest.approx(0.039375)
    assert "grows by 39.4 µm" in str(found)
    back = expansion_between(250, ufloat(35, 0.1), ufloat(20, 0.1), "steel")
    assert back.value.n == pytest.approx(-250 * 11.5e-6 * 15)
    by_hand = 250e-6 * np.hypot(15 / 3**0.5, 11.5 * 0.1 * 2**0.5)
    assert back.value.s == pytest.approx(by_hand)
    assert "shrinks by 43.1 µm" in str(back) and "add that" in str(back)
    drift = ufloat(20, 0.5)  # one thermometer: its own error leaves the difference
    assert expansion_between(250, drift, drift + 1, 10.0).value.s == pytest.approx(0, abs=1e-15)


def test_trust_adds_errors_with_their_signs():
    bed = thermal_bow(2000, 300, ufloat(1.0, 0.2), 10.5)  # +17.5 um, u 3.5
    edge = thermal_bow(1000, 100, ufloat(0.5, 0.1), 11.5, of="straightedge")
    total = trust_limit(bed, edge)
    expected = 17.5e-3 - 11.5e-6 * 0.5 * 1e6 / 800
    u = np.hypot(3.5e-3, 0.2 * 11.5e-6 * 0.5 * 1e6 / 800)
    assert total.value == pytest.approx(expected + 2 * u)
    assert trust_limit(bed, edge, corrected=True).value == pytest.approx(2 * u)
    assert trust_limit(0.004).value == 0.004
    assert trust_limit(-0.004).value == 0.004
    assert "false hollow of 4.0 µm" in str(trust_limit(-0.004))


def test_trust_takes_sag_as_well():
    sag = sag_on_supports(1000, (0, 1000), BeamSection(720.0, 216e3, 206e3, 7850.0))
    assert trust_limit(sag).value == pytest.approx(sag.error)


def test_one_thermometer_counts_once():
    off = ufloat(0, 0.1)
    bows = [thermal_bow(1000, 100, 1 + off, 10.0), thermal_bow(1000, 100, 1 + off, 10.0)]
    once = bows[0].error
    assert trust_limit(*bows, corrected=True).value == pytest.approx(4 * once.s)


def test_materials_say_where_they_come_from():
    assert material("steel") is MATERIALS["steel"]
    assert all(found.source and found.expansion_u > 0 for found in MATERIALS.values())
    # ISO 3650: 11.5 +- 1.0 µm/m per K for steel gauge blocks (from memory)
    assert MATERIALS["steel"].expansion_u == pytest.approx(1.0 / 3**0.5)


def test_words_where_nothing_is_expected():
    found = str(thermal_bow(1500, 250, ufloat(0, 0.1), 10.5))
    # 10.5e-6 * 0.1 * 1500² / (8 * 250) mm = 1.2 µm
    assert found.endswith("no bow is expected, U = 2.4 µm (k = 2)")
    assert str(thermal_bow(1500, 250, 0, 10.5)).endswith("no bow is expected")
    colder = str(expansion_between(250, 20, 15, 10.5))
    assert "shrinks by 13.1 µm; add that to the later reading before" in colder


def test_tables():
    assert "17.5 µm" in thermal_bow(2000, 300, 1.0, 10.5)._repr_html_()
    assert "39.4 µm" in expansion_between(250, 20, 35, 10.5)._repr_html_()
    assert "4.0 µm" in trust_limit(0.004)._repr_html_()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: thermal_bow(0, 300, 1, 10), "length: it must be above 0"),
        (lambda: thermal_bow(2000, -1, 1, 10), "height: it must be above 0"),
        (lambda: thermal_bow(2000, 300, None, 10), "difference: a number is needed"),
        (lambda: thermal_bow(2000, 300, 1, 0), r"expansion \[µm/m per K\]: it must be above 0"),
        (lambda: thermal_bow(2000, 300, 1, "brass"), "material: this is not one of the choices"),
        (lambda: thermal_bow(2000, 300, 1, 10, of="table"), "of: this is not one of the choices"),
        (lambda: expansion_between(-1, 20, 21, 10), "length: it must be above 0"),
        (lambda: trust_limit(), "errors: at least one is needed"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(InputError, match=words):
        call()

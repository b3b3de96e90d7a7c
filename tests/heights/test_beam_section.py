"""Sections: by hand, against an integration, and with their uncertainty."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.heights.beam_section import BeamSection
from metrolib.heights.sag import beam_slope
from metrolib.survey.instruments import Straightedge


def test_rectangle_by_hand():
    # 10 x 20: area 200, second moment 10 * 8000 / 12
    found = BeamSection.rectangle(20, 10)
    assert found.area == 200
    assert found.second_moment == pytest.approx(20_000 / 3)
    # steel: 7850 kg/m³ * 9.80665 m/s² * 200e-6 m² = 15.396 N/m
    assert found.load == pytest.approx(15.396e-3, rel=1e-4)
    assert found.stiffness.n == pytest.approx(206_000 * 20_000 / 3)
    assert found.stiffness.s == pytest.approx(3_000 * 20_000 / 3)


def test_i_section_against_a_sum_of_thin_layers():
    height, width, web, flange = 120.0, 50.0, 12.0, 15.0
    found = BeamSection.i_section(height, width, web=web, flange=flange)
    edges = np.linspace(-height / 2, height / 2, 240_001)
    z, thick = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    broad = np.where(np.abs(z) > height / 2 - flange, width, web)
    assert found.area == pytest.approx(broad @ thick)
    assert found.second_moment == pytest.approx((broad * z**2) @ thick, rel=1e-8)


def test_an_i_section_with_a_full_web_is_a_rectangle():
    found = BeamSection.i_section(60, 12, web=12, flange=5, material="steel")
    plain = BeamSection.rectangle(60, 12)
    assert (found.area, found.second_moment) == pytest.approx((plain.area, plain.second_moment))


def test_uncertain_sizes_stay_uncertain():
    found = BeamSection.rectangle(ufloat(60, 0.5), 12)
    # load / stiffness goes with 1 / height²: 2 * 0.5 / 60, beside 3/206 of the modulus
    ratio = found.load / found.stiffness
    assert ratio.s / ratio.n == pytest.approx(np.hypot(1 / 60, 3 / 206), rel=1e-6)


def test_slope_is_the_derivative_of_the_sag():
    from metrolib.heights.sag import beam_sag

    u, step = np.linspace(0.01, 0.99, 50), 1e-4
    for supports in ((0, 1), (0.1, 0.7), (0.22, 0.78)):
        rise = beam_sag(u + step, length=1, supports=supports) - beam_sag(
            u - step, length=1, supports=supports
        )
        found = beam_slope(u, length=1, supports=supports)
        np.testing.assert_allclose(found, rise / (2 * step), atol=1e-8)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: BeamSection(0, 1, 1, 1), "area: it must be above 0"),
        (lambda: BeamSection(1, "x", 1, 1), "second_moment: a number is needed"),
        (lambda: BeamSection.rectangle(0, 10), "height: it must be above 0"),
        (lambda: BeamSection.i_section(20, 10, web=2, flange=-1), "flange: it must be above 0"),
        (lambda: BeamSection.rectangle(10, 10, "brass"), "material: this is not one of"),
        (lambda: BeamSection.i_section(20, 10, web=2, flange=10), "left between the flanges"),
        (lambda: BeamSection.i_section(20, 10, web=12, flange=2), "width of the flanges"),
    ],
)
def test_refusals(make, words):
    with pytest.raises(InputError, match=words):
        make()


def test_what_a_survey_tells_of_a_straightedge():
    told = {"name": "edge", "length": 1000, "profile_uncertainty": 0.004}
    assert BeamSection.of(Straightedge(**told)) is None
    sizes = {"height": 120.0, "width": 50.0}
    plain = BeamSection.of(Straightedge(**told, **sizes))
    made = BeamSection.rectangle(**sizes)
    assert (plain.area, plain.second_moment) == pytest.approx((made.area, made.second_moment))
    assert plain.load == pytest.approx(made.load)
    ribs = BeamSection.of(Straightedge(**told, **sizes, web=12.0, flange=15.0))
    made = BeamSection.i_section(**sizes, web=12.0, flange=15.0)
    assert (ribs.area, ribs.second_moment) == pytest.approx((made.area, made.second_moment))
    own = BeamSection.of(Straightedge(**told, area=2600, second_moment=5.1e6, density=7200))
    assert (own.area, own.second_moment, own.density) == (2600, 5.1e6, 7200)

"""Straightness: by hand, what must not matter, what must scale, Monte Carlo, refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat

from metrolib.errors import InputError
from metrolib.form.straightness import straightness

REFERENCES = ("minimum zone", "least squares", "end points")
X = np.array([0.0, 100, 200, 300, 400])
Z = np.array([0.0, 4, 0, 0, 8])  # mm, so that each step is an integer

quick = settings(max_examples=50, deadline=None, derandomize=True)
heights = st.lists(st.integers(-50, 50), min_size=3, max_size=15)


def test_by_hand_with_the_end_points():
    # the line climbs 2 per station: deviations 0, 2, -4, -6, 0
    found = straightness(X, Z, reference="end points")
    assert found.value == 8.0
    assert found.deviation.tolist() == [0, 2, -4, -6, 0]
    assert found.contacts == (1, 3)
    assert (found.line.height, found.line.slope) == (0.0, 20.0)


def test_by_hand_with_least_squares():
    # mean 2.4; slope per station (-2*0 - 1*4 + 0 + 1*0 + 2*8) / 10 = 1.2; heights on the line
    # 0, 1.2, 2.4, 3.6, 4.8; deviations 0, 2.8, -2.4, -3.6, 3.2
    found = straightness(X, Z, reference="least squares")
    assert found.value == pytest.approx(6.8, abs=1e-14)
    assert found.contacts == (3, 4)
    assert (found.line.height, found.line.slope) == pytest.approx((0.0, 12.0), abs=1e-12)
    np.testing.assert_allclose(found.deviation, [0, 2.8, -2.4, -3.6, 3.2], atol=1e-14)


def test_by_hand_with_the_minimum_zone():
    # above, the chord from 100 to 400 climbs 4/3 per station; below it, 300 lies 8 - 4/3 - 0 = 20/3
    found = straightness(X, Z)
    assert found.value == pytest.approx(20 / 3, abs=1e-14)
    assert found.contacts == (1, 3, 4)
    assert found.line.slope == pytest.approx(40 / 3)
    assert found.deviation.max() == pytest.approx(10 / 3)
    assert found.deviation.min() == pytest.approx(-10 / 3)


def test_uncertainty_by_hand():
    # value = 1/3 z1 + 2/3 z4 - z3, so u2 = (1/9 + 4/9 + 1) 0.09 = 14/9 * 0.09
    found = straightness(X, Z, 0.3)
    assert found.value.s == pytest.approx(np.sqrt(0.14), rel=1e-14)
    # of the middle deviation at 300, half of the zone: half as much
    assert found.deviation_u[3] == pytest.approx(np.sqrt(0.14) / 2)


@pytest.mark.parametrize("reference", REFERENCES)
def test_the_three_ways_to_give_uncertainties_agree(reference):
    u = np.array([0.1, 0.2, 0.1, 0.3, 0.1])
    one = straightness(X, Z, u, reference=reference)
    two = straightness(X, Z, np.diag(u**2), reference=reference)
    numbers = [ufloat(z, s) for z, s in zip(Z, u, strict=True)]
    three = straightness(X, numbers, reference=reference)
    for found in (two, three):
        assert found.value.n == pytest.approx(one.value.n)
        assert found.value.s == pytest.approx(one.value.s)
        np.testing.assert_allclose(found.deviation_u, one.deviation_u)
        assert (found.line.slope - found.value).s == pytest.approx((one.line.slope - one.value).s)


@pytest.mark.parametrize("reference", REFERENCES)
def test_deviation_uncertainties_are_those_of_the_whole_covariance(reference):
    rng = np.random.default_rng(0)
    factor = rng.normal(size=(5, 5))
    found = straightness(X, Z, factor @ factor.T, reference=reference)
    cov = found.deviations.covariance()
    np.testing.assert_allclose(found.deviation_u**2, np.diag(cov), atol=1e-12)
    for station in range(5):
        apart = np.diag(cov) + cov[station, station] - 2 * cov[station]
        np.testing.assert_allclose(found.deviations.u_from(station) ** 2, apart, atol=1e-12)


def test_correlation_with_the_heights_survives():
    z = np.array(correlated_values([0.0, 1.0, 0.0], np.eye(3) * 1e-4 + 100))
    found = straightness([0, 500, 1000], z)
    difference = found.value - (z[1] - z[0] / 2 - z[2] / 2)
    assert abs(difference.n) < 1e-12
    assert difference.s < 1e-6  # what rounding leaves of a common 10 mm


def test_what_all_heights_share_is_no_uncertainty_of_form():
    x = np.arange(5) * 250.0
    common = 100 * np.ones((5, 5)) + 100 * np.outer(x, x) / 1e6
    found = straightness(x, [0, 0.1, 0.2, 0.1, 0], common + 1e-6 * np.eye(5))
    assert found.value.s == pytest.approx(1e-3 * np.sqrt(1.5), rel=1e-4)


def test_first_order_agrees_with_monte_carlo_where_the_contacts_are_clear():
    rng = np.random.default_rng(20260101)
    x, z, u, n = np.arange(5) * 250.0, np.array([0, -0.03, -0.05, -0.02, 0]), 0.001, 2000
    found = straightness(x, z, u)
    assert found.tied == ()
    draws = [straightness(x, z + u * rng.normal(size=5)).value for _ in range(n)]
    assert np.std(draws, ddof=1) == pytest.approx(found.value.s, rel=4 / np.sqrt(2 * (n - 1)))


def test_first_order_fails_on_a_true_line_and_the_result_says_so():
    rng = np.random.default_rng(20260101)
    x, u = np.arange(9) * 100.0, 0.001
    found = straightness(x, np.zeros(9), u)
    draws = [straightness(x, u * rng.normal(size=9)).value for _ in range(500)]
    assert np.mean(draws) > 2 * u > found.value.n  # noise alone looks like a crooked line
    assert len(found.tied) == 6
    assert "6 more stations may be contacts too, so U is a first estimate" in str(found)


@quick
@given(heights, st.integers(-30, 30), st.integers(-50, 50))
def test_adding_a_line_changes_nothing(z, slope, offset):
    z, x = np.array(z, float), np.arange(len(z), dtype=float)
    for reference in REFERENCES:
        found = straightness(x, z, reference=reference)
        tilted = straightness(x, z + slope * x + offset, reference=reference)
        assert tilted.value == pytest.approx(found.value, abs=1e-11)
        assert tilted.line.slope == pytest.approx(found.line.slope + 1000 * slope, abs=1e-8) or (
            reference == "minimum zone"  # parallel edges: the slope need not be unique
        )


@quick
@given(heights, st.randoms(use_true_random=False))
def test_mirroring_and_reordering_change_nothing(z, random):
    z, x = np.array(z, float), np.arange(len(z), dtype=float) ** 1.5
    order = list(range(len(z)))
    random.shuffle(order)
    for reference in REFERENCES:
        value = straightness(x, z, reference=reference).value
        for other in ((-x, z), (x, -z), (x[order], z[order])):
            assert straightness(*other, reference=reference).value == pytest.approx(
                value, abs=1e-11
            )


@quick
@given(heights)
def test_the_minimum_zone_is_the_least_and_end_points_are_at_most_twice_as_wide(z):
    x = np.arange(len(z), dtype=float)
    zone, fitted, ends = (straightness(x, z, reference=r).value for r in REFERENCES)
    assert zone <= fitted + 1e-12
    assert zone <= ends + 1e-12
    assert ends <= 2 * zone + 1e-12


def test_least_squares_may_be_wider_than_the_end_points():
    # an end-point line is no upper bound for the least-squares one
    x, z = np.arange(5), [0, 3, 0, 0, 0]
    ends = straightness(x, z, reference="end points").value
    assert straightness(x, z, reference="least squares").value > ends == 3.0


@pytest.mark.parametrize("reference", REFERENCES)
def test_scaling(reference):
    once = straightness(X, Z, 0.1, reference=reference)
    twice = straightness(X, 2 * Z, 0.2, reference=reference)
    assert twice.value.n == pytest.approx(2 * once.value.n)
    assert twice.value.s == pytest.approx(2 * once.value.s)
    stretched = straightness(2 * X, Z, 0.1, reference=reference)
    assert stretched.value.n == pytest.approx(once.value.n)
    assert stretched.value.s == pytest.approx(once.value.s)
    inches = straightness(X / 25.4, Z / 25.4, 0.1 / 25.4, reference=reference)
    assert inches.value.n * 25.4 == pytest.approx(once.value.n)


@pytest.mark.parametrize("reference", REFERENCES)
def test_large_offsets_cost_no_digits(reference):
    here = straightness(X, Z, 0.1, reference=reference).value
    far = straightness(X + 2**30, Z + 2**30, 0.1, reference=reference).value
    assert far.n == pytest.approx(here.n, abs=1e-12)
    numbers = [ufloat(z + 2**30, 0.1) for z in Z]
    assert straightness(X + 2**30, numbers, reference=reference).value.n == far.n


def test_a_steep_tilt_costs_only_the_rounding_of_the_heights():
    x = np.linspace(0, 1000, 30)
    z = np.random.default_rng(5).normal(size=30)
    flat, steep = straightness(x, z).value, straightness(x, z + 10 * x).value
    assert steep == pytest.approx(flat, abs=50 * np.spacing(1e4))


def test_the_width_square_to_the_line():
    # a line at 3 in 4 with one point 1 mm above it: cos(atan(3/4)) = 4/5
    found = straightness([0, 4, 8], [0, 4, 6], 0.1)
    assert found.value.n == pytest.approx(1.0)
    assert found.width.n == pytest.approx(0.8)


def test_two_stations_make_a_line():
    found = straightness([0, 300], [0.1, 0.4], 0.1)
    assert (found.value.n, found.contacts) == (0.0, (0, 1))
    assert found.value.s == pytest.approx(0, abs=1e-16)
    assert found.line.slope.n == pytest.approx(1.0)


def test_a_million_stations():
    x = np.arange(1_000_000.0)
    z = np.zeros(x.size)
    z[[100_000, 500_000, 900_000]] = 1.0, -1.0, 1.0
    found = straightness(x, z, 0.01)
    assert found.value.n == pytest.approx(2.0)
    assert found.value.s == pytest.approx(0.01 * np.sqrt(1.5))
    assert found.deviation_u.shape == x.shape


def test_the_sentence_and_the_table():
    found = straightness([0, 200, 700, 1300], [0.0254, 0, 0.0254, 0.0254], 0.001)
    assert str(found) == (
        "straightness 25.4 µm (minimum zone), U = 2.6 µm (k = 2); contacts at 0, 200 and 1300 mm; "
        "1 more station may be a contact too, so U is a first estimate"
    )
    assert found.in_words("thou").startswith("straightness 1.00 thou (minimum zone), U = 0.10 thou")
    html = found._repr_html_()
    assert html == found._repr_html_()
    assert "<th>reference</th><td>minimum zone</td>" in html


@pytest.mark.parametrize(
    ("x", "z", "options", "words"),
    [
        ([0, 1], [0, 1, 2], {}, "x and z: lengths differ, x has 2, z has 3"),
        ([0], [0], {}, "x: at least 2 values are needed, got 1"),
        ([0, 1], [0], {}, "z: at least 2 values are needed, got 1"),
        ([5, 5, 5], [0, 1, 2], {}, "x: all stations at one place, got 3 of them; measure at two"),
        ([0, 1, np.nan], [0, 1, 2], {}, "x: item 2 is not a finite number, got nan"),
        ([0, 1, 2], [0, np.inf, 2], {}, "z: item 1 is not a finite number, got inf"),
        ([0, 1, 2], [0, 1, 2], {"u": -1}, "u: an uncertainty is negative, got -1"),
        ([0, 1, 2], [0, 1, 2], {"u": [1, 2]}, "u: its shape does not fit the heights"),
        ([0, 1, 2], [0, 1, 2], {"reference": "ends"}, "reference: this is not one of the choices"),
        (
            [0, 0, 2],
            [0, 1, 2],
            {"reference": "end points"},
            r"x: 2 stations share the low end, items \[0, 1\], so no line of the end points",
        ),
    ],
)
def test_refusals(x, z, options, words):
    with pytest.raises(InputError, match=words):
        straightness(x, z, **options)


def test_a_second_uncertainty_is_refused():
    with pytest.raises(InputError, match="the numbers in z bring their own uncertainty"):
        straightness([0, 1], [ufloat(0, 1), ufloat(0, 1)], 0.1)


@pytest.mark.parametrize("reference", REFERENCES)
def test_contacts_are_told_in_ascending_x_in_whatever_order_they_were_measured(reference):
    found = straightness(X, Z, reference=reference)
    back = straightness(X[::-1], Z[::-1], reference=reference)
    assert [back.x[i] for i in back.contacts] == [found.x[i] for i in found.contacts]

"""Flatness: by hand, what must not matter, what must scale, Monte Carlo, refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form.flatness import flatness
from metrolib.form.straightness import straightness

REFERENCES = ("minimum zone", "least squares")
X, Y = (side.ravel().astype(float) * 100 for side in np.mgrid[:3, :3])
Z = np.array([0.0, 4, 6, -5, 20, -9, -10, -3, 8])

quick = settings(max_examples=50, deadline=None, derandomize=True)
grids = st.lists(st.integers(-50, 50), min_size=9, max_size=9)


def test_by_hand_one_corner_up():
    # four corners, one lifted by 4: the planes z = x + y - 1 -+ 1 (in units of half the sides)
    # touch two corners each
    found = flatness([0, 2, 0, 2], [0, 0, 2, 2], [0, 0, 0, 4], 0.5)
    assert found.value.n == pytest.approx(2.0)
    assert (found.plane.along.n, found.plane.across.n) == pytest.approx((1000, 1000))
    assert found.plane.height.n == pytest.approx(-1.0)
    # value = (z1 - z2 - z3 + z4) / 2, so u = 0.5 sqrt(4) / 2
    assert found.value.s == pytest.approx(0.5)
    assert found.contacts == (0, 1, 2, 3)


def test_by_hand_least_squares():
    # a pyramid of 9 in the middle of a flat: mean 1, no slope; deviations 8 and -1
    found = flatness(X, Y, np.where((X == 100) & (Y == 100), 9.0, 0.0), reference="least squares")
    assert found.value == pytest.approx(9.0)
    assert found.plane.height == pytest.approx(1.0)
    assert found.deviation[4] == pytest.approx(8.0)


def test_three_stations_lie_in_a_plane():
    found = flatness([0, 1, 0], [0, 0, 1], [3.0, 4, 5], 0.1)
    assert found.value.n == pytest.approx(0.0, abs=1e-15)
    assert (found.plane.along.n, found.plane.across.n) == pytest.approx((1000, 2000))


@pytest.mark.parametrize("reference", REFERENCES)
def test_stations_on_one_line_give_their_straightness(reference):
    t, z = np.arange(5) * 50.0, [0, 0.2, 0.1, 0.4, 0]
    along = straightness(t, z, 0.1, reference=reference)
    found = flatness(0.6 * t, 0.8 * t, z, 0.1, reference=reference)
    assert found.value.n == pytest.approx(along.value.n)
    assert found.value.s == pytest.approx(along.value.s)
    slope = 0.6 * found.plane.along.n + 0.8 * found.plane.across.n
    assert slope == pytest.approx(along.line.slope.n, abs=1e-12)


@pytest.mark.parametrize("reference", REFERENCES)
def test_the_three_ways_to_give_uncertainties_agree(reference):
    u = np.linspace(0.1, 0.3, 9)
    one = flatness(X, Y, Z, u, reference=reference)
    two = flatness(X, Y, Z, np.diag(u**2), reference=reference)
    numbers = [ufloat(z, s) for z, s in zip(Z, u, strict=True)]
    three = flatness(X, Y, numbers, reference=reference)
    for found in (two, three):
        assert found.value.n == pytest.approx(one.value.n)
        assert found.value.s == pytest.approx(one.value.s)
        np.testing.assert_allclose(found.deviation_u, one.deviation_u)
    cov = one.deviations.covariance()
    np.testing.assert_allclose(one.deviation_u**2, np.diag(cov), atol=1e-14)


def test_first_order_agrees_with_monte_carlo_where_the_contacts_are_clear():
    rng = np.random.default_rng(20260101)
    u, n = 0.1, 1000
    z = np.array([0, 7, 1, 3, 20, 5, 2, 9, 4])
    found = flatness(X, Y, z, u)
    assert found.tied == ()
    draws = [flatness(X, Y, z + u * rng.normal(size=9)).value for _ in range(n)]
    assert np.std(draws, ddof=1) == pytest.approx(found.value.s, rel=4 / np.sqrt(2 * (n - 1)))


def test_ties_are_told():
    found = flatness(X, Y, np.zeros(9), 0.001)
    assert len(found.tied) == 9 - len(found.contacts)
    assert "U is a first estimate" in str(found)


@quick
@given(grids, st.integers(-9, 9), st.integers(-9, 9))
def test_adding_a_plane_changes_nothing(z, along, across):
    z = np.array(z, float)
    for reference in REFERENCES:
        value = flatness(X, Y, z, reference=reference).value
        tilted = flatness(X, Y, z + along * X + across * Y + 7, reference=reference).value
        assert tilted == pytest.approx(value, abs=1e-10)


@quick
@given(grids, st.randoms(use_true_random=False))
def test_mirroring_turning_and_reordering_change_nothing(z, random):
    z = np.array(z, float)
    order = list(range(9))
    random.shuffle(order)
    for reference in REFERENCES:
        value = flatness(X, Y, z, reference=reference).value
        for other in ((-X, Y, z), (Y, X, z), (X, Y, -z), (X[order], Y[order], z[order])):
            assert flatness(*other, reference=reference).value == pytest.approx(value, abs=1e-11)


@quick
@given(grids)
def test_the_minimum_zone_is_the_least(z):
    assert flatness(X, Y, z).value <= flatness(X, Y, z, reference="least squares").value + 1e-12


@pytest.mark.parametrize("reference", REFERENCES)
def test_scaling(reference):
    once = flatness(X, Y, Z, 0.1, reference=reference).value
    twice = flatness(X, Y, 2 * Z, 0.2, reference=reference).value
    stretched = flatness(2 * X, 3 * Y, Z, 0.1, reference=reference).value
    assert (twice.n, twice.s) == pytest.approx((2 * once.n, 2 * once.s))
    assert (stretched.n, stretched.s) == pytest.approx((once.n, once.s))


@pytest.mark.parametrize("reference", REFERENCES)
def test_large_offsets_cost_no_digits(reference):
    here = flatness(X, Y, Z, reference=reference).value
    far = flatness(X + 2**30, Y - 2**30, Z + 2**30, reference=reference).value
    assert far == pytest.approx(here, abs=1e-12)


def test_the_width_square_to_the_plane():
    # the plane climbs 2 in 3 along x and 2 in 3... along y: square to it 1 / sqrt(1 + 8/9)
    z = np.array([0.0, 2, 2, 5])
    found = flatness([0, 3, 0, 3], [0, 0, 3, 3], z)
    slopes = np.array([found.plane.along, found.plane.across]) / 1000
    assert found.width == pytest.approx(found.value / np.sqrt(1 + slopes @ slopes))
    assert found.width == pytest.approx(0.5 / np.sqrt(1 + 2 * (2.5 / 3) ** 2))


def test_the_sentence_and_the_table():
    found = flatness([0, 400, 0, 400], [0, 0, 100, 100], [0, 0, 0, 0.0508], 0.001)
    assert found.in_words("thou") == (
        "flatness 1.00 thou (minimum zone), U = 0.08 thou (k = 2); contacts at "
        "x, y = (0, 0), (400, 0), (0, 100) and (400, 100) mm"
    )
    assert "<th>stations</th><td>4</td>" in found._repr_html_()


@pytest.mark.parametrize(
    ("x", "y", "z", "options", "words"),
    [
        ([0, 1], [0, 1, 2], [0, 1], {}, "x and y and z: lengths differ, x has 2, y has 3, z has 2"),
        ([0], [0, 1], [0, 1], {}, "^x: at least 2 values are needed, got 1"),
        ([0, 1], [0], [0, 1], {}, "^y: at least 2 values are needed, got 1"),
        ([0, 1], [0, 1], [0], {}, "^z: at least 2 values are needed, got 1"),
        ([1, 1, 1], [2, 2, 2], [0, 1, 2], {}, "x, y: all stations at one place, got 3 of them"),
        ([0, 1, 2], [0, 0, 1], [0, 1, np.nan], {}, "z: item 2 is not a finite number, got nan"),
        ([0, 1, 2], [0, 0, 1], [0, 1, 1], {"reference": "end points"}, "use one of 'minimum zone'"),
    ],
)
def test_refusals(x, y, z, options, words):
    with pytest.raises(InputError, match=words):
        flatness(x, y, z, **options)


@pytest.mark.parametrize("reference", REFERENCES)
@pytest.mark.parametrize("first", range(4))
def test_the_plane_is_told_from_the_origin_whichever_station_comes_first(first, reference):
    # on z = 2 + 0.01 x - 0.02 y, no two neighbours in the list at the same x or y
    x, y = np.roll([100.0, 400, 250, 600], first), np.roll([50.0, 350, 900, 200], first)
    plane = flatness(x, y, 2 + 0.01 * x - 0.02 * y, reference=reference).plane
    assert (plane.height, plane.along, plane.across) == pytest.approx((2, 10, -20), abs=1e-11)

"""Lines of many sets at once against the kernel for one set, and against triples of stations."""

from itertools import combinations

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form import lines_batched, tiles
from metrolib.form.lines import REFERENCES, minimum_zone, reference_line
from metrolib.form.lines_batched import line_ranges, line_slopes
from metrolib.form.straightness import straightness


def one_by_one(x, z):
    """Widths and slopes by the kernel for one set."""
    x = x - x[0]
    found = [minimum_zone(x, heights - heights[0]) for heights in z]
    slopes = [f.weights[1] @ (h[f.stations] - h[0]) for f, h in zip(found, z, strict=True)]
    return np.array([f.width for f in found]), np.array(slopes)


def assert_same(x, z, *, slopes=False):
    widths, tilts = one_by_one(x, z)
    most = 1e-12 * np.ptp(z, axis=1).max()
    np.testing.assert_allclose(line_ranges("minimum zone", x, z), widths, rtol=0, atol=most)
    if slopes:
        np.testing.assert_allclose(line_slopes("minimum zone", x, z), tilts, rtol=1e-9)


def places(case, n, rng):
    """Stations in order, shuffled, or with some at one place, the ends among them."""
    if case == "even":
        return np.arange(n) * 100.0
    if case == "shuffled":
        return rng.permutation(np.sort(rng.uniform(-500, 900, n)))
    twice = np.repeat(np.arange((n + 1) // 2), 2)[:n] * 50.0
    return rng.permutation(twice)


@pytest.mark.parametrize("n", [3, 4, 7, 30, 101])
@pytest.mark.parametrize("case", ["even", "shuffled", "doubled"])
def test_random_heights(case, n):
    rng = np.random.default_rng(n)
    x = places(case, n, rng)
    z = 0.01 * np.cumsum(rng.normal(size=(200, n)), axis=1)
    assert_same(x, z, slopes=case != "doubled")  # at one place many slopes may be equally good


@pytest.mark.parametrize("n", [3, 5, 8])
@pytest.mark.parametrize("case", ["even", "shuffled", "doubled"])
def test_ties(case, n):
    rng = np.random.default_rng(10 + n)
    assert_same(places(case, n, rng), rng.integers(0, 3, (500, n)).astype(float))


def test_every_height_of_three_levels():
    x = np.array([0.0, 1, 2, 4, 7])
    z = np.array(np.meshgrid(*[[0.0, 1, 2]] * 5)).reshape(5, -1).T
    assert_same(x, z)


def test_widths_by_all_triples():
    # the zone is as wide as the middle one of some three stations is off the chord of the others
    rng = np.random.default_rng(3)
    x, z = np.sort(rng.uniform(0, 1000, 9)), rng.normal(size=(300, 9))
    i, j, k = np.array(list(combinations(range(9), 3))).T
    chord = z[:, i] + (z[:, k] - z[:, i]) * (x[j] - x[i]) / (x[k] - x[i])
    widest = np.abs(z[:, j] - chord).max(axis=1)
    np.testing.assert_allclose(line_ranges("minimum zone", x, z), widest, rtol=1e-12)


def test_two_stations_are_straight_and_slope_as_they_do():
    x, z = np.array([5.0, 15.0]), np.array([[0.1, 0.3], [1.0, 1.0]])
    assert line_ranges("minimum zone", x, z).tolist() == [0.0, 0.0]
    assert line_slopes("minimum zone", x, z).tolist() == pytest.approx([0.02, 0.0])


def test_stations_on_one_line():
    x = np.array([0.0, 300, 500, 1100])
    z = np.outer([0.0, 0.02, -3.0], x / 1000) + 17.0
    np.testing.assert_allclose(line_ranges("minimum zone", x, z), 0.0, atol=1e-14)
    np.testing.assert_allclose(line_slopes("minimum zone", x, z), [0, 2e-5, -3e-3], atol=1e-17)


def test_large_common_height_and_place_cost_no_digits():
    rng = np.random.default_rng(4)
    x, z = np.arange(12.0), rng.integers(0, 2**20, (100, 12)) * 2.0**-20
    far = line_ranges("minimum zone", x + 2.0**30, z + 2.0**20)
    np.testing.assert_array_equal(far, line_ranges("minimum zone", x, z))


def test_a_steep_tilt_costs_only_its_own_rounding():
    rng = np.random.default_rng(5)
    x, z = np.linspace(0, 1, 20), rng.normal(size=(100, 20))
    tilted = line_ranges("minimum zone", x, z + 1e4 * x)
    np.testing.assert_allclose(tilted, line_ranges("minimum zone", x, z), atol=1e-11)


def test_what_is_left_goes_to_the_kernel_for_one_set(monkeypatch):
    rng = np.random.default_rng(6)
    x, z = np.arange(30.0), rng.normal(size=(200, 30))
    expected = line_ranges("minimum zone", x, z), line_slopes("minimum zone", x, z)
    for cap in (0, 1, 2):
        monkeypatch.setattr(lines_batched, "_MOST_EXCHANGES", cap)
        np.testing.assert_allclose(line_ranges("minimum zone", x, z), expected[0], rtol=1e-12)
        np.testing.assert_allclose(line_slopes("minimum zone", x, z), expected[1], rtol=1e-9)


def test_no_case_seen_needs_the_kernel_for_one_set(monkeypatch):
    monkeypatch.setattr(lines_batched.lines, "minimum_zone", None)
    rng = np.random.default_rng(7)
    x = np.sort(rng.uniform(0, 1, 50))
    for z in (rng.normal(size=(500, 50)), np.exp(9 * np.outer(rng.uniform(size=500), x))):
        assert np.isfinite(line_ranges("minimum zone", x, z)).all()


@pytest.mark.parametrize("reference", REFERENCES)
def test_tiles_do_not_show(reference, monkeypatch):
    rng = np.random.default_rng(8)
    x, z = np.arange(10.0), rng.normal(size=(23, 10))
    expected = line_ranges(reference, x, z), line_slopes(reference, x, z)
    for size in (1, 10, 70):  # one row, one row, seven rows
        monkeypatch.setattr(tiles, "_TILE", size)
        # a matrix product of another shape may add in another order
        np.testing.assert_allclose(line_ranges(reference, x, z), expected[0], rtol=1e-13)
        np.testing.assert_allclose(line_slopes(reference, x, z), expected[1], rtol=1e-13)


@pytest.mark.parametrize("reference", ["least squares", "end points"])
def test_fixed_references_as_for_one_set(reference):
    rng = np.random.default_rng(9)
    x, z = rng.permutation(15) * 70.0, rng.normal(size=(40, 15))
    values = [straightness(x, heights, reference=reference).value for heights in z]
    np.testing.assert_allclose(line_ranges(reference, x, z), values, rtol=1e-12)
    line = reference_line(reference, x - x[0], z[0] - z[0, 0])
    slope = line.weights[1] @ (z[0, line.stations] - z[0, 0])
    assert line_slopes(reference, x, z)[0] == pytest.approx(slope, rel=1e-12)


def test_no_sets_give_no_values():
    assert line_ranges("minimum zone", np.arange(3.0), np.empty((0, 3))).shape == (0,)


@pytest.mark.parametrize("function", [line_ranges, line_slopes])
def test_refusals(function):
    x, z = np.arange(3.0), np.zeros((2, 3))
    with pytest.raises(InputError, match="x: all stations at one place, got 3 of them"):
        function("minimum zone", np.full(3, 7.0), z)
    with pytest.raises(InputError, match="reference: this is not one of the choices"):
        function("best", x, z)
    with pytest.raises(InputError, match="x: 2 stations share the low end"):
        function("end points", np.array([0.0, 0, 1]), z)
    with pytest.raises(InputError, match=r"z: rows of 3 numbers are needed, got shape \(3,\)"):
        function("minimum zone", x, z[0])
    with pytest.raises(InputError, match="z: item 4 is not a finite number, got nan"):
        function("minimum zone", x, [[0, 0, 0], [0, np.nan, 0]])
    with pytest.raises(InputError, match="z: numbers are needed"):
        function("minimum zone", x, [["a", "b", "c"]])

"""Planes of many sets at once against the kernel for one set, and against a general solver."""

import numpy as np
import pytest
from scipy.optimize import linprog

from metrolib.errors import InputError
from metrolib.form import planes, planes_batched
from metrolib.form.flatness import flatness
from metrolib.form.planes_batched import plane_ranges


def grid(rows, columns):
    """Stations of a grid, as two vectors."""
    return (side.ravel() * 100.0 for side in np.mgrid[:rows, :columns])


def one_by_one(x, y, z):
    """Widths by the kernel for one set."""
    place = x - x[0], y - y[0]
    found = [planes.reference_plane("minimum zone", *place, one - one[0]) for one in z]
    return np.array([reference.width for reference in found])


def assert_same(x, y, z, basis=None):
    most = 1e-12 * np.ptp(z, axis=1).max()
    found = plane_ranges("minimum zone", x, y, basis, z)
    np.testing.assert_allclose(found, one_by_one(x, y, z), rtol=0, atol=most)


@pytest.mark.parametrize("n", [4, 5, 9, 40])
def test_random_stations_and_heights(n):
    rng = np.random.default_rng(n)
    x, y = rng.uniform(-300, 800, n), rng.uniform(0, 90, n)
    assert_same(x, y, rng.normal(size=(200, n)))


@pytest.mark.parametrize("shape", [(2, 2), (2, 5), (3, 3), (4, 4)])
def test_grids_with_ties(shape):
    rng = np.random.default_rng(sum(shape))
    x, y = grid(*shape)
    assert_same(x, y, rng.integers(0, 4, (400, x.size)).astype(float))


def test_random_stations_of_a_grid_some_twice():
    rng = np.random.default_rng(1)
    for _ in range(40):
        x, y = rng.integers(0, 4, (2, 8)).astype(float)
        if len(planes.corners_of(x, y)) == 3:
            assert_same(x, y, rng.integers(0, 4, (20, 8)).astype(float))


def test_agrees_with_a_general_solver():
    rng = np.random.default_rng(2)
    x, y = grid(3, 4)
    z = rng.normal(size=(20, 12))
    plane, half = np.column_stack([np.ones(12), x / 100, y / 100]), np.ones((12, 1))
    rows, free = np.block([[plane, -half], [-plane, -half]]), [(None, None)] * 4
    widths = [
        2 * linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.r_[one, -one], bounds=free).fun for one in z
    ]
    np.testing.assert_allclose(plane_ranges("minimum zone", x, y, None, z), widths, rtol=1e-9)


def test_any_start_gives_the_same():
    rng = np.random.default_rng(3)
    x, y = grid(4, 5)
    z = rng.normal(size=(300, 20))
    cold = plane_ranges("minimum zone", x, y, None, z)
    for nominal in (z[0], -z[0], 1e-5 * (x - 200) ** 2, np.zeros(20)):
        basis = flatness(x, y, nominal).deviations.reference.stations
        warm = plane_ranges("minimum zone", x, y, basis, z)
        np.testing.assert_allclose(warm, cold, rtol=1e-12)


def test_no_case_seen_needs_the_kernel_for_one_set(monkeypatch):
    rng = np.random.default_rng(4)
    x, y = grid(5, 5)
    z = np.concatenate([rng.normal(size=(1000, 25)), rng.integers(0, 3, (1000, 25))])
    monkeypatch.setattr(planes, "minimum_zone", None)
    assert np.isfinite(plane_ranges("minimum zone", x, y, None, z)).all()


@pytest.mark.parametrize(("limit", "value"), [("_MOST_EXCHANGES", 2), ("_PROOF", -1.0)])
def test_what_is_not_proven_goes_to_the_kernel_for_one_set(monkeypatch, limit, value):
    rng = np.random.default_rng(5)
    x, y = grid(4, 4)
    z = rng.normal(size=(50, 16))
    expected = plane_ranges("minimum zone", x, y, None, z)
    calls = []
    single = planes.minimum_zone
    monkeypatch.setattr(
        planes, "minimum_zone", lambda *given: calls.append(given) or single(*given)
    )
    monkeypatch.setattr(planes_batched, limit, value)
    found = plane_ranges("minimum zone", x, y, None, z)
    np.testing.assert_allclose(found, expected, rtol=1e-12)
    assert calls


def test_three_stations_are_flat():
    x, y = np.array([0.0, 10, 0]), np.array([0.0, 0, 10])
    assert plane_ranges("minimum zone", x, y, None, [[1.0, 5, 7]]).tolist() == [0.0]


@pytest.mark.parametrize("reference", ["minimum zone", "least squares"])
def test_stations_on_one_line_give_its_straightness(reference):
    along = np.array([0.0, 1, 2, 3])
    z = np.random.default_rng(6).normal(size=(20, 4))
    values = [flatness(3 * along, 4 * along, one, reference=reference).value for one in z]
    found = plane_ranges(reference, 3 * along, 4 * along, None, z)
    np.testing.assert_allclose(found, values, rtol=1e-12)


def test_least_squares_as_for_one_set():
    rng = np.random.default_rng(7)
    x, y, z = rng.uniform(0, 9, 15), rng.uniform(0, 9, 15), rng.normal(size=(30, 15))
    values = [flatness(x, y, one, reference="least squares").value for one in z]
    np.testing.assert_allclose(plane_ranges("least squares", x, y, None, z), values, rtol=1e-11)


def test_adding_a_plane_and_a_large_height_changes_nothing():
    rng = np.random.default_rng(8)
    x, y = grid(4, 4)
    z = rng.normal(size=(100, 16))
    tilted = z + 50 + 0.01 * x - 0.02 * y
    np.testing.assert_allclose(
        plane_ranges("minimum zone", x + 2.0**20, y - 2.0**20, None, tilted),
        plane_ranges("minimum zone", x, y, None, z),
        atol=1e-12,
    )


def test_refusals():
    x, y = grid(2, 2)
    with pytest.raises(InputError, match="x, y: all stations at one place"):
        plane_ranges("minimum zone", np.ones(4), np.ones(4), None, np.zeros((1, 4)))
    with pytest.raises(InputError, match="reference: this is not one of the choices"):
        plane_ranges("end points", x, y, None, np.zeros((1, 4)))
    with pytest.raises(InputError, match=r"z: rows of 4 numbers are needed, got shape \(1, 5\)"):
        plane_ranges("minimum zone", x, y, None, np.zeros((1, 5)))

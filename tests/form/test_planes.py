"""The minimum zone of a plane against a general solver and against all supporting planes."""

from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import linprog
from uncertainties import ufloat

from metrolib.form import planes
from metrolib.form.planes import Plane, reference_plane


def by_general_solver(x, y, z):
    plane, half = np.column_stack([np.ones(x.size), x, y]), np.ones((x.size, 1))
    rows = np.block([[plane, -half], [-plane, -half]])
    free = [(None, None)] * 4
    return 2 * linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.r_[z, -z], bounds=free, method="highs").fun


def by_all_normals(x, y, z):
    """The least width over all planes parallel to three stations, or to two pairs of them."""
    points = np.column_stack([x, y, z])
    normals = [np.cross(b - a, c - a) for a, b, c in combinations(points, 3)]
    chords = [b - a for a, b in combinations(points, 2)]
    normals += [np.cross(a, b) for a, b in combinations(chords, 2)]
    widths = [np.ptp(points @ normal / normal[2]) for normal in normals if abs(normal[2]) > 1e-9]
    return min(widths)


def check_reference(found, x, y, z, width):
    terms = found.weights @ z[found.stations]
    over = z - terms[0] - terms[1] * x - terms[2] * y
    np.testing.assert_allclose([over.max(), -over.min()], width / 2, atol=1e-11)
    np.testing.assert_allclose(np.abs(over[list(found.contacts)]), width / 2, atol=1e-11)
    np.testing.assert_allclose(over[found.highest] - over[found.lowest], width, atol=1e-11)


def integer_cases(count, seed):
    rng = np.random.default_rng(seed)
    grid_x, grid_y = (side.ravel().astype(float) for side in np.mgrid[:4, :4])
    for case in range(count):
        n = rng.integers(4, 12)
        x, y = grid_x, grid_y
        if case % 2:
            x, y = rng.integers(0, 4, (2, n)).astype(float)
        z = rng.integers(0, 4, x.size).astype(float)
        if len(planes.corners_of(x, y)) == 3:
            yield x - x[0], y - y[0], z - z[0]


def test_agrees_with_a_general_solver_on_ties():
    for x, y, z in integer_cases(300, seed=1):
        found = reference_plane("minimum zone", x, y, z)
        check_reference(found, x, y, z, by_general_solver(x, y, z))


def test_agrees_with_all_supporting_planes():
    rng = np.random.default_rng(2)
    for _ in range(20):
        x, y, z = rng.normal(size=(3, 7))
        x, y, z = x - x[0], y - y[0], z - z[0]
        found = reference_plane("minimum zone", x, y, z)
        check_reference(found, x, y, z, by_all_normals(x, y, z))


def test_the_fallback_agrees_too(monkeypatch):
    monkeypatch.setattr(planes, "_MOST_EXCHANGES", 0)
    rng = np.random.default_rng(3)
    for _ in range(10):
        x, y, z = rng.normal(size=(3, 12))
        x, y, z = x - x[0], y - y[0], z - z[0]
        found = reference_plane("minimum zone", x, y, z)
        check_reference(found, x, y, z, by_general_solver(x, y, z))


def test_many_stations_are_proven_against_all_of_them():
    rng = np.random.default_rng(4)
    x, y = rng.uniform(0, 1000, 30_000), rng.uniform(0, 300, 30_000)
    z = rng.normal(size=x.size)
    z[[17, 20_000]] = 9.0, -9.0  # a sample of 2000 misses these
    x, y, z = x - x[0], y - y[0], z - z[0]
    found = reference_plane("minimum zone", x, y, z)
    check_reference(found, x, y, z, by_general_solver(x, y, z))


@pytest.mark.parametrize("reference", planes.REFERENCES)
def test_stations_on_one_line_give_the_line_along_them(reference):
    # along the diagonal x = 3 t, y = 4 t: heights 0, 1, 0 at t = 0, 1, 2
    x, y, z = np.array([0.0, 3, 6]), np.array([0.0, 4, 8]), np.array([0.0, 1, 0])
    found = reference_plane(reference, x, y, z)
    terms = found.weights @ z[found.stations]
    assert terms[0] == pytest.approx(0.5 if reference == "minimum zone" else 1 / 3)
    assert terms[1:] == pytest.approx([0, 0], abs=1e-15)
    assert found.contacts == ((0, 1, 2) if reference == "minimum zone" else ())


@pytest.mark.parametrize("number", [float, lambda value: ufloat(value, 0.1)])
def test_plane_gives_heights_as_plain_numbers(number):
    plane = Plane(number(1.0), number(2.0), number(-4.0))
    assert plane.at([0, 500], [250, 0]).tolist() == [0.0, 2.0]


@pytest.mark.parametrize("high", [1e-8, 1e6])
def test_the_fallback_does_not_mind_the_size_of_the_heights(high, monkeypatch):
    monkeypatch.setattr(planes, "_MOST_EXCHANGES", 0)
    x, y, z = np.random.default_rng(5).normal(size=(3, 10))
    x, y, z = x - x[0], y - y[0], z - z[0]
    once, scaled = (reference_plane("minimum zone", x, y, size * z) for size in (1.0, high))
    assert scaled.width == pytest.approx(high * once.width, rel=1e-12)
    assert scaled.contacts == once.contacts


def test_the_direction_of_two_stations_is_a_unit_vector_from_the_first():
    # 3 along and 4 across, away from the origin
    x, y = np.array([9.0, 1, 4]), np.array([9.0, 2, 6])
    assert planes.direction_of(x, y, (1, 2)) == pytest.approx([0.6, 0.8])
    assert planes.direction_of(x, y, (2, 1)) == pytest.approx([-0.6, -0.8])

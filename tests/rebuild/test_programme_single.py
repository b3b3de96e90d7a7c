"""The simplex for one set of heights against rational arithmetic and the general solver."""

from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest

from metrolib.rebuild.removal import programme_batched, programme_single
from metrolib.rebuild.removal.programme import Programme
from metrolib.rebuild.removal.programme_batched import find_targets
from metrolib.rebuild.removal.programme_general import search_target
from metrolib.rebuild.removal.programme_single import find_target

FREE = np.inf


def _programme(columns, z, **changes):
    """Return the programme of some stations, each of which stands for the same area."""
    n, p = columns.shape
    given = {
        "motions": ("lift", "pitch", "roll")[:p],
        "columns": np.array(columns, dtype=float),
        "height": np.array(z, dtype=float),
        "area": np.ones(n),
        "least": np.zeros(n),
        "u": np.zeros(n),
        "greatest": np.full(n, FREE),
        "band": 0.0,
        "limit": np.full(p, FREE),
        "minimise": "volume",
    }
    return Programme(**{**given, **changes})


def _plane(x, y):
    """Return the columns of lift, pitch and roll."""
    return np.column_stack([np.ones(len(x)), x, y])


def _solve(rows, right):
    """Solve a square system of fractions by elimination; None if it is singular."""
    rows = [[*row, value] for row, value in zip(rows, right, strict=True)]
    for i in range(len(rows)):
        pivot = next((r for r in range(i, len(rows)) if rows[r][i]), None)
        if pivot is None:
            return None
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [value / rows[i][i] for value in rows[i]]
        for r in set(range(len(rows))) - {i}:
            rows[r] = [a - rows[r][i] * b for a, b in zip(rows[r], rows[i], strict=True)]
    return [row[-1] for row in rows]


def _sum_of_highest(columns, z):
    """Return the greatest sum of heights of a target below all stations, exactly.

    Every basis is tried, in rational arithmetic: a linear programme is best at one of them.
    """
    rows = [[Fraction(float(value)) for value in row] for row in columns]
    heights = [Fraction(float(value)) for value in z]
    price = [sum(column) for column in zip(*rows, strict=True)]
    found = []
    for basis in combinations(range(len(rows)), len(price)):
        motion = _solve([rows[i] for i in basis], [heights[i] for i in basis])
        if motion is None:
            continue
        level = [sum(a * m for a, m in zip(row, motion, strict=True)) for row in rows]
        if all(low <= height for low, height in zip(level, heights, strict=True)):
            found.append(sum(a * m for a, m in zip(price, motion, strict=True)))
    return max(found)


def _agrees(columns, z, size=None):
    """Compare with rational arithmetic, to 1e-12 of the range of the heights or of `size`."""
    exact = _sum_of_highest(columns, z)
    motion = find_target(_programme(columns, z)).motion
    price = [sum(map(Fraction, column)) for column in columns.T.tolist()]
    found = sum(a * Fraction(m) for a, m in zip(price, motion.tolist(), strict=True))
    size = np.ptp(z) if size is None else size
    assert abs(float(found - exact)) / len(z) <= 1e-12 * size
    assert (columns @ motion <= z + 1e-12 * size).all()


def _grid():
    """Return the places of nine stations on a grid, symmetric about the middle."""
    x, y = (grid.ravel() for grid in np.meshgrid([0.0, 0.5, 1.0], [-0.25, 0.0, 0.25]))
    return x, y


@pytest.mark.parametrize("seed", range(12))
def test_agrees_with_rational_arithmetic_on_a_grid_full_of_ties(seed):
    z = np.random.default_rng(seed).integers(-2, 3, 9) / 64.0
    z[0] += 1 / 64  # so that not all are alike
    _agrees(_plane(*_grid()), z)


def test_agrees_with_rational_arithmetic_on_special_places():
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, 1, 8), rng.uniform(-0.3, 0.3, 8)
    z = rng.normal(0, 0.02, 8)
    _agrees(_plane(x, y), z)
    _agrees(_plane(np.tile(x[:4], 2), np.tile(y[:4], 2)), z)  # duplicates
    _agrees(np.column_stack([np.ones(8), x]), z)  # a line
    _agrees(np.column_stack([np.ones(2), [0.0, 1.0]]), z[:2])  # two points
    _agrees(np.ones((8, 1)), z)  # all at one place: only the lift is free


@pytest.mark.parametrize("seed", range(5))
def test_agrees_with_rational_arithmetic_on_a_steep_tilt(seed):
    # the tilt is ten thousand times what the heights differ from it
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 1, 8), rng.uniform(-0.3, 0.3, 8)
    _agrees(_plane(x, y), 200.0 * x - 120.0 * y + rng.uniform(0, 0.02, 8))


@pytest.mark.parametrize("seed", range(5))
def test_agrees_with_rational_arithmetic_far_from_zero(seed):
    # motions are told from zero, so the last digit of what is far away is the limit
    rng = np.random.default_rng(seed)
    x, y = rng.integers(0, 100, (2, 8)) / 64.0
    z = rng.integers(-50, 50, 8) / 64.0
    _agrees(_plane(x, y), z + 1e9, size=8 * np.spacing(1e9) / 1e-12)
    # the tilt, about 1, makes as much of the way to x = 0
    _agrees(_plane(x + 1e9, y), z, size=8 * np.spacing(1e9) / 1e-12)
    _agrees(_plane(x + 1e4, y), z, size=8 * np.spacing(1e4) / 1e-12)


def test_what_the_stations_do_not_show_stays_as_it_is():
    # all on one line across: no pitch can be told, and none is made
    y = np.linspace(-0.2, 0.2, 6)
    z = np.array([0.01, 0.0, 0.02, 0.0, 0.03, 0.01])
    programme = _programme(_plane(np.full(6, 0.5), y), z)
    motion = find_target(programme).motion
    assert motion[1] == pytest.approx(0.0, abs=1e-12)
    level = programme.columns @ motion
    assert (level <= z + 1e-15).all()
    line = find_target(_programme(np.column_stack([np.ones(6), y]), z)).motion
    np.testing.assert_allclose(level, line[0] + line[1] * y, atol=1e-14)


def _conditions(rng, n):
    """Return conditions of several kinds, by chance."""
    least = np.where(rng.random(n) < 0.3, 0.004, 0.0)
    return {
        "least": least,
        "area": rng.uniform(0.5, 2, n),
        "greatest": np.where(rng.random(n) < 0.05, 0.06, FREE),
        "limit": np.array([FREE, rng.choice([0.005, FREE]), rng.choice([0.0, FREE])]),
        "minimise": str(rng.choice(["volume", "deepest cut"])),
    }


@pytest.mark.parametrize("sample", [False, True])
def test_agrees_with_the_general_solver(sample, monkeypatch):
    # a small sample of a few stations must grow to hold all that decide
    if sample:
        monkeypatch.setattr(programme_single, "_MANY", 20)
        monkeypatch.setattr(programme_single, "_SAMPLE", 4)
    rng, solved = np.random.default_rng(3), 0
    for turn in range(40):
        n = 60
        x, y = rng.integers(0, 8, n) / 8.0, rng.integers(-2, 3, n) / 8.0
        z = rng.integers(-3, 4, n) / 100 if turn % 2 else rng.normal(0, 0.02, n)
        programme = _programme(_plane(x, y), z, **_conditions(rng, n))
        found, expected = find_target(programme), search_target(programme)
        assert (found is None) == (expected is None)
        if expected is None:
            continue
        solved += 1
        level = programme.columns @ (found.motion - expected.motion)
        np.testing.assert_allclose(level, 0.0, atol=1e-9)
        assert set(found.role.values()) <= {"low spot", "high spot", "greatest cut"}
    assert solved > 20


def test_the_guard_and_the_law_count_on_a_sample_as_well(monkeypatch):
    monkeypatch.setattr(programme_single, "_MANY", 20)
    monkeypatch.setattr(programme_single, "_SAMPLE", 4)
    rng, n = np.random.default_rng(9), 200
    columns = _plane(rng.uniform(0, 1, n), rng.uniform(-0.2, 0.2, n))
    programme = _programme(columns, rng.normal(0, 0.02, n), u=rng.uniform(0.001, 0.003, n))
    target = find_target(programme, 2.0)
    counted = programme.height - 2 * programme.u
    np.testing.assert_allclose(target.law @ counted, target.motion, atol=1e-12)
    assert set(np.flatnonzero(target.law.any(axis=0))) == set(target.role)
    lowered = find_target(replace(programme, height=counted))
    np.testing.assert_allclose(target.motion, lowered.motion, atol=1e-13)


def test_where_pivots_run_out_the_general_solver_finds_the_same(monkeypatch):
    rng = np.random.default_rng(4)
    programme = _programme(_plane(rng.uniform(0, 1, 30), rng.uniform(-1, 1, 30)), np.zeros(30))
    sets = rng.normal(0, 0.02, (5, 30))
    found = find_targets(programme, sets)
    asked = []

    def counted(programme):
        asked.append(programme)
        return search_target(programme)

    monkeypatch.setattr(programme_single, "search_target", counted)
    monkeypatch.setattr(programme_single, "MOST_PIVOTS", 2)
    monkeypatch.setattr(programme_batched, "MOST_PIVOTS", 2)
    short = find_targets(programme, sets)
    assert len(asked) == len(sets)
    np.testing.assert_allclose(short.motion, found.motion, rtol=0, atol=1e-13)
    np.testing.assert_array_equal(short.governs, found.governs)

"""Zones of very many stations: proven against all of them, a chunk at a time."""

import tracemalloc

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from metrolib.form import sampled
from metrolib.form.flatness import flatness
from metrolib.form.lines import minimum_zone
from metrolib.form.straightness import straightness

N = 200_000


def line_by_hull(x, z):
    """Return the least width along any edge of the convex hull."""
    corners = ConvexHull(np.column_stack([x, z])).vertices
    x, z = x[corners], z[corners]
    run, rise = np.diff(x, append=x[0]), np.diff(z, append=z[0])
    return np.ptp(z - (rise / run)[run != 0, None] * x, axis=1).min()


def plane_by_hull(x, y, z):
    """Return the width by a general solver, of the corners of the convex hull."""
    corners = ConvexHull(np.column_stack([x, y, z])).vertices
    rows = np.column_stack([np.ones(corners.size), x[corners], y[corners]])
    one, z = np.ones((corners.size, 1)), z[corners]
    table = np.block([[rows, -one], [-rows, -one]])
    return 2 * linprog([0, 0, 0, 1], A_ub=table, b_ub=np.r_[z, -z], bounds=(None, None)).fun


def spikes(rng):
    """Flat but for a few stations that no small sample holds."""
    z = rng.uniform(0, 0.01, N)
    z[rng.integers(0, N, 6)] += rng.choice([-1, 1], 6)
    return z


SHAPES = {
    "random walk": lambda rng: np.cumsum(rng.normal(0, 0.01, N)),
    "noise": lambda rng: rng.normal(0, 1, N),
    "two levels": lambda rng: np.arange(N) % 2 * 1.0,
    "spikes": spikes,
    "steep": lambda rng: rng.normal(0, 1, N) + np.linspace(0, 1e4, N),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("shuffled", [False, True])
def test_lines(shape, shuffled):
    rng = np.random.default_rng(1)
    x, z = np.linspace(0, 10, N), SHAPES[shape](rng)
    if shuffled:
        order = rng.permutation(N)
        x, z = x[order], z[order]
    found = straightness(x, z)
    assert found.value == pytest.approx(line_by_hull(x, z), rel=0, abs=1e-12 * np.ptp(z))
    np.testing.assert_allclose(
        np.abs(found.deviation[list(found.contacts)]), found.value / 2, atol=1e-12 * np.ptp(z)
    )


def test_a_hollow_where_each_station_is_a_corner_of_the_hull():
    # x² from -1 to 1: along a slope b it ranges over 1 + |b| + b²/4, least at b = 0
    x = np.linspace(-1, 1, N + 1)
    found = straightness(x, x**2)
    assert found.value == pytest.approx(1.0, rel=0, abs=1e-12)
    assert found.contacts == (0, N // 2, N)


@pytest.mark.parametrize("shape", ["noise", "spikes", "steep"])
def test_planes(shape):
    rng = np.random.default_rng(2)
    x, y = rng.uniform(0, 10, (2, N))
    z = SHAPES[shape](rng)
    if shape == "steep":
        z = rng.normal(0, 1, N) + 1e3 * x - 500 * y
    found = flatness(x, y, z)
    wide = plane_by_hull(x, y, z - (1e3 * x - 500 * y if shape == "steep" else 0))
    assert found.value == pytest.approx(wide, rel=0, abs=1e-12 * np.ptp(z))


def test_a_face_with_all_but_one_station_on_a_line():
    # the sample lies on a line; the one beside it makes a plane, and takes no part in the zone
    x, y = np.linspace(0, 10, N), np.zeros(N)
    z = np.random.default_rng(3).normal(0, 1, N)
    y[N // 3] = 1.0
    without = np.delete(np.arange(N), N // 3)
    zone = straightness(x[without], z[without]).value
    assert flatness(x, y, z).value == pytest.approx(zone, rel=0, abs=1e-12 * np.ptp(z))


def test_a_file_mapped_into_memory_is_read_a_chunk_at_a_time(tmp_path):
    rng = np.random.default_rng(4)
    x, z = np.arange(10 * N) * 0.01, np.cumsum(rng.normal(0, 0.01, 10 * N))
    np.save(tmp_path / "x.npy", x)
    np.save(tmp_path / "z.npy", z)
    mapped = [np.load(tmp_path / f"{name}.npy", mmap_mode="r") for name in "xz"]
    tracemalloc.start()
    found = minimum_zone(*mapped)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert found.width == minimum_zone(x, z).width
    assert most < z.nbytes / 4


def test_a_sample_has_one_station_from_each_stretch():
    count = sampled.MANY + 7
    chosen = sampled.sample_of(count)
    assert chosen.size == sampled._SAMPLE
    assert (np.diff(chosen) > 0).all()
    assert np.diff(chosen).max() <= 2 * -(-count // sampled._SAMPLE)
    assert 0 <= chosen[0] <= chosen[-1] < count


def test_what_joins_a_sample_joins_it_once():
    chosen = sampled._joined(np.array([2, 5, 9]), np.array([0, 5, 7, 11]))
    assert chosen.tolist() == [0, 2, 5, 7, 9, 11]


def test_stations_beyond_the_zone_by_rounding_alone_are_inside(monkeypatch):
    # two levels on a steep line: half of all stations lie on the border, off it by rounding
    looks = []
    outside = sampled._outside
    monkeypatch.setattr(
        sampled, "_outside", lambda *given: looks.append(outside(*given)) or looks[-1]
    )
    x = np.arange(N) / 1000
    straightness(x, np.arange(N) % 2 + x / 3)
    assert [look.size for look in looks] == [0]

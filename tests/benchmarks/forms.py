"""Rows 1 to 6: straightness and flatness beside a fit and beside linear programmes.

Zones are checked against a linear programme, those of a million points against the edges of the
convex hull, or a programme of its corners.
"""

from functools import partial

import numpy as np
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from metrolib import flatness, straightness
from metrolib.form.lines import reference_line
from metrolib.form.lines_batched import line_ranges
from metrolib.form.planes_batched import plane_ranges
from tests.benchmarks.paired import Row, paired, times_faster

MILLION = 1_000_000
TRIALS = 10_000
LOOPED = 50  # of the trials, by linear programmes


def by_programme(columns, z):
    """Return the width of the narrowest zone over some columns, by a general solver."""
    one = np.ones((z.size, 1))
    design = np.column_stack([one, *columns])
    solved = linprog(
        np.eye(len(columns) + 2)[-1],
        A_ub=np.block([[design, -one], [-design, -one]]),
        b_ub=np.concatenate([z, -z]),
        bounds=(None, None),
        method="highs",
    )
    return 2 * solved.fun


def by_hull(x, z):
    """Return the least width of the zone along any edge of the convex hull."""
    hull = ConvexHull(np.column_stack([x, z]))
    x, z = x[hull.vertices], z[hull.vertices]
    steep = np.diff(x, append=x[0]) != 0
    slopes = np.diff(z, append=z[0])[steep] / np.diff(x, append=x[0])[steep]
    return np.ptp(z - slopes[:, None] * x, axis=1).min()


def agree(ours, reference, z):
    """Refuse to time what does not give the same answer."""
    np.testing.assert_allclose(ours, reference, rtol=0, atol=1e-9 * np.ptp(z))


def worn(n):
    """Return stations along a worn way and their heights [mm]."""
    x = np.linspace(0, 1400, n)
    noise = np.random.default_rng(1).normal(0, 0.001, n)
    return x, -0.03 * np.sin(np.pi * x / 1400) ** 2 + noise


def public_line(n):
    """Time the public function beside the fit of a line."""
    x, z = worn(n)
    agree(straightness(x, z).value, by_programme([x], z), z)
    return paired(lambda: straightness(x, z), lambda: np.polyfit(x, z, 1))


def long_line(kind):
    """Time the kernel on a million stations beside the fit of a line."""
    x, random = np.linspace(0, 1e4, MILLION), np.random.default_rng(2)
    if kind == "random walk":
        z = np.cumsum(random.normal(0, 1e-5, MILLION))
    elif kind == "noise":
        z = random.normal(0, 0.001, MILLION)
    else:
        z = np.arange(MILLION) % 2 * 0.001
    agree(reference_line("minimum zone", x, z).width, by_hull(x, z), z)
    return paired(
        lambda: reference_line("minimum zone", x, z), lambda: np.polyfit(x, z, 1), pairs=9
    )


def many_lines(n):
    """Time a batch of lines beside a loop of linear programmes."""
    x, z = worn(n)
    sets = z + np.random.default_rng(3).normal(0, 0.005, (TRIALS, n))
    return _many(partial(line_ranges, "minimum zone", x), [x], sets)


def many_planes():
    """Time a batch of planes beside a loop of linear programmes."""
    x, y, z = table(5)
    sets = z + np.random.default_rng(4).normal(0, 0.005, (TRIALS, z.size))
    basis = flatness(x, y, z).deviations.reference.stations
    return _many(partial(plane_ranges, "minimum zone", x, y, basis), [x, y], sets)


def _many(ours, columns, sets):
    def loop():
        return [by_programme(columns, z) for z in sets[:LOOPED]]

    agree(ours(sets)[:LOOPED], loop(), sets)
    return times_faster(lambda: ours(sets), loop, share=LOOPED / len(sets))


def table(side):
    """Return stations of a square grid on a worn table and their heights [mm]."""
    x, y = (grid.ravel() for grid in np.meshgrid(*[np.linspace(0, 400, side)] * 2))
    noise = np.random.default_rng(5).normal(0, 0.001, x.size)
    return x, y, 1e-7 * (x - 200) ** 2 - 1e-7 * (y - 200) ** 2 + noise


def public_plane(side):
    """Time the public function beside a linear programme with a row for each side of a station."""
    x, y, z = table(side)
    agree(flatness(x, y, z).value, by_programme([x, y], z), z)
    return times_faster(lambda: flatness(x, y, z), lambda: by_programme([x, y], z), pairs=9)


def large_plane(shuffled):
    """Time the public function on a million stations beside a fit whose matrix is ready."""
    x, y, z = table(1000)
    if shuffled:
        order = np.random.default_rng(6).permutation(x.size)
        x, y, z = x[order], y[order], z[order]
    matrix = np.column_stack([np.ones(x.size), x, y])
    hull = ConvexHull(np.column_stack([x, y, z])).vertices
    agree(flatness(x, y, z).value, by_programme([x[hull], y[hull]], z[hull]), z)
    return paired(
        lambda: flatness(x, y, z), lambda: np.linalg.lstsq(matrix, z, rcond=None), pairs=9
    )


FIT, LOOP = "np.polyfit(x, z, 1)", "a loop of scipy.optimize.linprog"
ROWS = (
    Row("1a", "straightness(x, z), n = 30", FIT, 3, 1.5, partial(public_line, 30)),
    Row("1b", "straightness(x, z), n = 300", FIT, 3, 1.5, partial(public_line, 300)),
    *(
        Row(f"2{letter}", f"zone of 1e6 points, {kind}", FIT, 0.3, 0.1, partial(long_line, kind))
        for letter, kind in zip("abc", ("random walk", "noise", "all ties"), strict=True)
    ),
    Row("3a", "zones of 1e4 sets of 30", LOOP, 500, 1200, partial(many_lines, 30), faster=True),
    Row("3b", "zones of 1e4 sets of 100", LOOP, 500, 1200, partial(many_lines, 100), faster=True),
    *(
        Row(
            f"4{letter}",
            f"flatness(x, y, z), n = {side**2}",
            "scipy.optimize.linprog",
            must,
            stretch,
            partial(public_plane, side),
            faster=True,
        )
        for letter, side, must, stretch in (("a", 5, 4, 10), ("b", 20, 8, 14), ("c", 100, 100, 200))
    ),
    *(
        Row(
            f"5{letter}",
            f"flatness(x, y, z), n = 1e6, {kind}",
            "np.linalg.lstsq",
            1.0,
            0.5,
            partial(large_plane, kind == "shuffled"),
        )
        for letter, kind in (("a", "row by row"), ("b", "shuffled"))
    ),
    Row("6", "zones of 1e4 sets of 5 x 5", LOOP, 300, 650, many_planes, faster=True),
)

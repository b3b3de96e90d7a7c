"""How fast the draws are: beside a loop of linear programmes, and beside drawing alone.

Run it from the project's folder on a quiet machine, with one thread for the linear algebra:
``OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.monte_carlo``. What is compared is timed turn
about in one process; the memory is that of a fresh one. Exits with 1 where a goal is missed.
"""

import platform
import statistics
import subprocess
import sys
import time
from importlib.metadata import version

import numpy as np
from scipy.optimize import linprog

from metrolib.form.flatness import flatness
from metrolib.form.straightness import straightness
from metrolib.uncertain.montecarlo import draw_tiles, monte_carlo

ROUNDS = 7

MEMORY = """
import resource
import numpy as np
from tests.benchmarks.monte_carlo import bed
from metrolib.uncertain.montecarlo import monte_carlo
monte_carlo(bed(100), draws=1_000_000, progress=False)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def bed(stations):
    """Return the straightness of a worn bed with correlated heights, as levels give them."""
    x = np.linspace(0, 1400, stations)
    steps = np.tril(np.ones((stations, stations))) * 0.0005
    return straightness(x, -0.03 * np.sin(np.pi * x / 1400) ** 2, steps @ steps.T)


def table():
    """Return the flatness of a table of 25 stations."""
    x, y = (side.ravel() * 100.0 for side in np.mgrid[:5, :5])
    return flatness(x, y, 1e-7 * (x - 200) ** 2 - 1e-7 * (y - 200) ** 2, 0.002)


def seconds(function):
    """Return the wall time of one call."""
    start = time.perf_counter()
    function()
    return time.perf_counter() - start


def programmes(columns, z):
    """Find the zone of each row of `z` with a general solver, in a loop."""
    one = np.ones((z.shape[1], 1))
    design = np.column_stack([one, *columns])
    rows = np.block([[design, -one], [-design, -one]])
    cost = np.eye(design.shape[1] + 1)[-1]
    free = [(None, None)] * cost.size
    for heights in z:
        b = np.concatenate([heights, -heights])
        linprog(cost, A_ub=rows, b_ub=b, bounds=free, method="highs")


def against_programmes(result, columns):
    """Return how many times faster 10 000 sets go at once than one by one in a loop."""
    heights = result.drawn_from
    z = np.concatenate(list(draw_tiles(heights.values, heights.cov, 10_000, seed=1)))
    pairs = [
        (seconds(lambda: programmes(columns, z[:100])) * 100, seconds(lambda: result.redo(z)))
        for _ in range(ROUNDS)
    ]
    return statistics.median(loop / batch for loop, batch in pairs)


def against_drawing():
    """Return how much longer 100 000 draws to an interval take than the drawing alone."""
    result = bed(100)
    heights = result.drawn_from

    def drawing():
        for _ in draw_tiles(heights.values, heights.cov, 100_000, seed=1):
            pass

    pairs = [
        (seconds(lambda: monte_carlo(result, draws=100_000, progress=False)), seconds(drawing))
        for _ in range(ROUNDS)
    ]
    return statistics.median(whole / alone for whole, alone in pairs)


def memory():
    """Return the most memory [MB] that a process takes for a million draws of 100 stations."""
    done = subprocess.run(
        [sys.executable, "-c", MEMORY], capture_output=True, text=True, check=True
    )
    return float(done.stdout)


if __name__ == "__main__":
    line, plane = bed(30), table()
    rows = [
        ("straightness, 30 stations / linear programmes", against_programmes(line, [line.x]), 500),
        (
            "flatness, 25 stations / linear programmes",
            against_programmes(plane, [plane.x, plane.y]),
            300,
        ),
        ("100 000 draws of 100 stations / drawing alone", against_drawing(), -3),
        ("a million draws of 100 stations [MB]", memory(), -250),
    ]
    packages = ", ".join(f"{p} {version(p)}" for p in ("numpy", "scipy"))
    print(f"Python {platform.python_version()} on {platform.machine()}; {packages}")
    missed = False
    for what, found, goal in rows:
        met = found >= goal if goal > 0 else found <= -goal
        missed |= not met
        print(f"{what:48s} {found:7.1f}, goal {'>=' if goal > 0 else '<='} {abs(goal)}")
    sys.exit(missed)

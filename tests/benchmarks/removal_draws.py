"""How fast targets of many sets of heights are found, beside a loop of linear programmes.

Run it from the project's folder on a quiet machine, with one thread for the linear algebra:
``OPENBLAS_NUM_THREADS=1 python -m tests.benchmarks.removal_draws``. Both are timed turn about in
one process. Exits with 1 where the goal is missed.
"""

import statistics
import sys
import time

import numpy as np
from scipy.optimize import linprog

from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.programme_batched import find_targets
from metrolib.rebuild.removal.removal import plan_removal
from tests.rebuild.beds import flat

GOAL = 200.0
ROUNDS = 7
SETS = 10_000
LOOP = 50


def programme(together):
    """Return the programme of three worn ways with 30 stations each, and its heights."""
    x = np.linspace(0, 1400, 30)
    ways = {"front": (0, 400), "middle": (130, 700), "rear": (250, 900)}
    faces = [flat(name, y, length=1400) for name, (y, _) in ways.items()]
    points = {
        name: (x, -0.05 * np.exp(-(((x - worn) / 300) ** 2))) for name, (_, worn) in ways.items()
    }
    heights = given_heights(faces, points, 0.003)
    plan = plan_removal(heights, faces=list(ways), together=together, confidence=None)
    return plan.programme, plan.relative_height


def loop(rows, z):
    """Solve each set by itself with a general solver."""
    price = -(rows.area @ rows.columns) / rows.area.sum()
    for height in z:
        linprog(price, A_ub=rows.columns, b_ub=height, bounds=(None, None), method="highs")


def seconds(function, *arguments):
    """Return the wall time of one call."""
    start = time.perf_counter()
    function(*arguments)
    return time.perf_counter() - start


def main():
    """Print the ratios; return whether the goal is reached."""
    rng, reached = np.random.default_rng(1), True
    for together in ("coplanar", "parallel"):
        rows, nominal = programme(together)
        for scatter in (0.003, 0.05):
            z = nominal + rng.normal(0, scatter, (SETS, nominal.size))
            ratio = statistics.median(
                seconds(loop, rows, z[:LOOP]) / LOOP / (seconds(find_targets, rows, z) / SETS)
                for _ in range(ROUNDS)
            )
            print(f"{together}, scatter {scatter * 1e3:g} um: {ratio:.0f} x faster than the loop")
            reached &= ratio >= GOAL
    return reached


if __name__ == "__main__":
    sys.exit(0 if main() else 1)

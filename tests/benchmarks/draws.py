"""Rows 13 and 14: draws of correlated heights to an interval, beside drawing the numbers alone."""

import subprocess
import sys

import numpy as np

from metrolib import straightness
from metrolib.uncertain.montecarlo import draw_tiles, monte_carlo
from tests.benchmarks.forms import agree, by_programme
from tests.benchmarks.paired import Row, paired

STATIONS, DRAWS = 100, 100_000

# a child's ru_maxrss would count its parent's size as well
MEMORY = """
from pathlib import Path
from tests.benchmarks.draws import STATIONS, bed
from metrolib import monte_carlo
monte_carlo(bed(STATIONS), draws=1_000_000, progress=False)
most = next(line for line in Path("/proc/self/status").open() if line.startswith("VmHWM"))
print(int(most.split()[1]) / 1024)
"""


def bed(stations):
    """Return the straightness of a worn bed with correlated heights, as levels give them."""
    x = np.linspace(0, 1400, stations)
    steps = np.tril(np.ones((stations, stations))) * 0.0005
    return straightness(x, -0.03 * np.sin(np.pi * x / 1400) ** 2, steps @ steps.T)


def drawn_alone(result, draws):
    """Yield the draws of the heights behind a result, tile by tile."""
    heights = result.drawn_from
    yield from draw_tiles(heights.values, heights.cov, draws, seed=1)


def interval():
    """Time draws to an interval beside the drawing alone."""
    result = bed(STATIONS)
    alone = np.concatenate([result.redo(tile) for tile in drawn_alone(result, DRAWS)])
    found = monte_carlo(result, draws=DRAWS, progress=False)
    np.testing.assert_array_equal(found.samples, np.sort(alone))
    first = next(drawn_alone(result, DRAWS))[:20]
    for z, value in zip(first, alone, strict=False):
        agree(value, by_programme([result.x], z), z)
    return paired(
        lambda: monte_carlo(result, draws=DRAWS, progress=False),
        lambda: [None for _ in drawn_alone(result, DRAWS)],
        pairs=7,
    )


def memory():
    """Return the most memory [MB] that a fresh process takes for a million draws."""
    done = subprocess.run(
        [sys.executable, "-c", MEMORY], capture_output=True, text=True, check=True
    )
    return [float(done.stdout)]


ROWS = (
    Row("13", "1e5 draws of 100 stations to an interval", "drawing alone", 3, 2, interval),
    Row("14", "memory of 1e6 such draws", "nothing", 250, 100, memory, unit="MB"),
)

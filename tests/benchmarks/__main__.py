"""How fast the library is, beside what a user would otherwise write.

Run it from the project's folder on a quiet machine: ``python -m tests.benchmarks``. Each row is
timed turn about with its reference in one process, with one thread for the linear algebra, after
both have been seen to give the same answer. ``--check`` exits with 1 where a must is missed,
``--only 1 7`` measures those rows.
"""

import os

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy is loaded

import argparse
import platform
import re
import sys
from importlib import import_module
from importlib.metadata import version

from tests.benchmarks.paired import middle

#: Each holds the rows of one part of the library as `ROWS`.
PARTS = ("forms", "draws", "removal", "adjusting", "starting", "worksheet")


def main(arguments=None):
    """Print the table; return whether every must is met."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--check", action="store_true", help="exit with 1 where a must is missed")
    parser.add_argument("--only", nargs="+", metavar="ROW", help="numbers of the rows to measure")
    chosen = parser.parse_args(arguments)
    packages = ", ".join(f"{p} {version(p)}" for p in ("numpy", "scipy", "pandas", "matplotlib"))
    print(f"Python {platform.python_version()} on {platform.machine()}, {os.cpu_count()} cores")
    print(f"{packages}; medians of ratios timed turn about\n")
    missed = [row.label for row in _rows(chosen.only) if not _measure(row)]
    print(f"\nmissed: {', '.join(missed)}" if missed else "\nevery must is met")
    return not (chosen.check and missed)


def _rows(only):
    rows = [row for part in PARTS for row in import_module(f"tests.benchmarks.{part}").ROWS]
    number = [re.match(r"\d+", row.label)[0] for row in rows]
    wanted = [row for row, n in zip(rows, number, strict=True) if not only or n in only]
    return sorted(wanted, key=lambda row: (int(re.match(r"\d+", row.label)[0]), row.label))


def _measure(row):
    """Measure and print one row; return whether its must is met."""
    figure = middle(row.ratios())
    sign = ">=" if row.faster else "<="
    word = "missed"
    for goal, name in ((row.must, "must"), (row.stretch, "stretch")):
        word = name if row.meets(figure, goal) else word
    goals = f"must {sign} {row.must:g}, stretch {row.stretch:g}"
    print(f"{row.label:>4} {row.work}, against {row.against}", flush=True)
    print(f"     {figure:9.3g} {row.unit}  ({goals}: {word})", flush=True)
    return row.meets(figure, row.must)


if __name__ == "__main__":
    sys.exit(0 if main() else 1)

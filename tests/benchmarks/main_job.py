"""How long the main job takes, beside importing the libraries that it stands on.

Run it from the project's folder on a quiet machine: ``python -m tests.benchmarks.main_job``.
Both run in fresh processes, turn about; the drawing of the pictures is timed inside the job and
counted apart. Exits with 1 where the median ratio misses the goal.
"""

import platform
import statistics
import subprocess
import sys
import tempfile
import time
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
GOAL = 3.0
ROUNDS = 9

IMPORTS = "import numpy, scipy.optimize, pandas, matplotlib.pyplot"

JOB = """
import sys, time
from metrolib.__main__ import main
from metrolib.show import report

draw, spent = report._pictures, []

def timed(*arguments):
    start = time.perf_counter()
    try:
        return draw(*arguments)
    finally:
        spent.append(time.perf_counter() - start)

report._pictures = timed
main([sys.argv[1], "--report", sys.argv[2]])
print("drawing", sum(spent))
"""


def run(code, *arguments):
    """Run code in a fresh process; return its wall time [s] and what it printed last."""
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return time.perf_counter() - start, (done.stdout.splitlines() or [""])[-1]


def measure(folder):
    """Return (seconds of the imports, seconds of the job without drawing, seconds of drawing)."""
    imports, _ = run(IMPORTS)
    with tempfile.TemporaryDirectory() as place:
        whole, last = run(JOB, folder, str(Path(place) / "report.html"))
    drawing = float(last.split()[1])
    return imports, whole - drawing, drawing


if __name__ == "__main__":
    rounds = [measure("sample_surveys/toolroom_lathe") for _ in range(ROUNDS)]
    ratio = statistics.median(job / imports for imports, job, _ in rounds)
    packages = ", ".join(f"{p} {version(p)}" for p in ("numpy", "scipy", "pandas", "matplotlib"))
    print(f"Python {platform.python_version()} on {platform.machine()}; {packages}")
    for name, seconds in zip(("imports", "job", "drawing"), zip(*rounds, strict=True), strict=True):
        print(f"{name:8s} median {statistics.median(seconds):.2f} s, least {min(seconds):.2f} s")
    print(f"job / imports: median of {ROUNDS} pairs {ratio:.2f}, goal {GOAL}")
    sys.exit(ratio > GOAL)

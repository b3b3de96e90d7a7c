"""Rows 16 and 17: importing the library and the main job, cold, beside importing others.

Each run is a fresh process with files that are in the system's cache.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.paired import Row, seconds

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = "sample_surveys/toolroom_lathe"


def fresh(*arguments):
    """Run Python anew with these arguments; return what it printed."""
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout


def cold(ours, reference, pairs):
    """Return the ratios of fresh processes timed turn about."""
    fresh(*ours), fresh(*reference)  # compiled and in the cache
    return [
        seconds(lambda: fresh(*ours)) / seconds(lambda: fresh(*reference)) for _ in range(pairs)
    ]


def importing():
    """Time `import metrolib` beside `import numpy`."""
    loaded = fresh("-c", "import metrolib, sys; print(*sorted(sys.modules))").split()
    assert "metrolib" in loaded and not {"matplotlib", "ipywidgets", "pandas"} & set(loaded)
    return cold(("-c", "import metrolib"), ("-c", "import numpy"), pairs=15)


def main_job():
    """Time readings to the written report beside importing what that rests on."""
    with tempfile.TemporaryDirectory() as place:
        page = Path(place) / "report.html"
        job = ("-m", "metrolib", SAMPLE, "--report", str(page))
        printed = fresh(*job)
        assert str(page) in printed and "</html>" in page.read_text(encoding="utf-8")
        libraries = "import numpy, scipy.optimize, pandas, matplotlib.pyplot"
        return cold(job, ("-c", libraries), pairs=7)


ROWS = (
    Row("16", "import metrolib", "import numpy", 1.3, 1.1, importing),
    Row(
        "17",
        "the main job on a sample, cold, report written",
        "importing numpy, scipy.optimize, pandas, pyplot",
        4,
        2.5,
        main_job,
    ),
)

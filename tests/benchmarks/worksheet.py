"""Row 18: from a reading that is entered to the picture on the screen, beside drawing it alone."""

import os
import tempfile
import time
from io import BytesIO
from pathlib import Path

import numpy as np
from matplotlib.image import imread

from metrolib.show.worksheet.judged.picture import Picture
from metrolib.show.worksheet.judged.picture_view import view_of
from metrolib.show.worksheet.worksheet import worksheet
from tests.benchmarks.paired import Row, paired

_PAIRS = 15
_FACES = {"front": 0.0, "middle": 130.0, "rear": 250.0}
_STATIONS = np.arange(30) * 50.0

_INSTRUMENT = """
[instruments.level]
unit = "division"
sensitivity = 0.02
sensitivity_unit = "mm/m"
resolution = 0.1
repeatability = 0.25
sensitivity_uncertainty = 0.02
"""


def three_by_thirty(folder, left=0):
    """Write a survey of three faces with thirty stations, its last readings still to be taken.

    Returns
    -------
    list of str
        The readings left, as typed.
    """
    rng = np.random.default_rng(18)
    toml, rows = ['[machine]\nname = "three ways"'], []
    for name, y in _FACES.items():
        toml.append(f"[faces.{name}]\ny = {y}\nwidth = 30\nx_from = 0\nx_to = 1450")
    toml.append(_INSTRUMENT)

    def traverse(name, stations, slope, sign, keys):
        turned = str(sign < 0).lower()
        toml.append(f'[traverses."{name}"]\ninstrument = "level"\nturned = {turned}\n{keys}')
        noise = 0.25 * rng.standard_normal(len(stations))
        rows.extend(
            (name, x, slope(x) / 0.02 + sign * 1.5 + e)
            for x, e in zip(stations, noise, strict=True)
        )

    def height(name, x):
        deep = {"front": 0.08, "middle": 0.01, "rear": 0.04}[name]
        return -deep * np.exp(-(((x - 400) / 250) ** 2))

    for other in ("middle", "rear"):
        for sign in (1, -1):
            keys = (
                f'kind = "level across"\nface = "front"\nother_face = "{other}"\nsetup = "{other}"'
            )

            def roll(x, other=other):
                return 1e3 * (height(other, x) - height("front", x)) / _FACES[other]

            traverse(f"across to {other} {sign}", _STATIONS[::3], roll, sign, keys)
    for name in _FACES:
        for sign in (1, -1):
            keys = f'kind = "level along"\nface = "{name}"\nfoot_spacing = 50'

            def slope(x, name=name):
                return 1e3 * (height(name, x + 50) - height(name, x)) / 50

            traverse(f"along {name} {sign}", _STATIONS[:-1][::sign], slope, sign, keys)
    texts = [f"{value:.1f}" for *_, value in rows]
    last = [*texts[: len(texts) - left], *[""] * left]
    lines = [f"{name},{x:g},{text}" for (name, x, _), text in zip(rows, last, strict=True)]
    Path(folder, "survey.toml").write_text("\n".join(toml), encoding="utf-8")
    Path(folder, "readings.csv").write_text(
        "\n".join(["traverse,x,reading", *lines]) + "\n", encoding="utf-8"
    )
    return texts[len(texts) - left :]


class Bench:
    """A worksheet at its last readings, and its picture."""

    def __init__(self, folder):
        self._typed = iter(three_by_thirty(folder, left=4 * _PAIRS + 2))  # tried once, timed thrice
        self.sheet = worksheet(folder)
        self.picture = Picture()
        self.shown = self.enter()

    def enter(self):
        """Take one reading, judge it and draw: all that happens from Enter to the picture."""
        sheet = self.sheet
        if sheet.prompt is None or sheet.prompt.closing:
            sheet.choose(sheet.survey.planned.traverse[0])
        taken = sheet.take(next(self._typed))
        view = view_of(
            sheet.survey,
            sheet.heights,
            sheet.traverse,
            next_x=None if sheet.prompt is None else sheet.prompt.x,
            doubtful=[] if taken.doubt is None else [taken.doubt],
        )
        return self.picture.png(view)

    def drawn_alone(self):
        """Draw the whole figure as it stands, and nothing else."""
        out = BytesIO()
        self.picture.figure.savefig(out, dpi=self.picture.figure.dpi, format="png")
        return out.getvalue()


def _ratios():
    with tempfile.TemporaryDirectory() as folder:
        flushed, os.fsync = os.fsync, lambda _: None  # how fast a disk flushes is not ours
        try:
            bench = Bench(folder)
            _check_alike(bench.shown, bench.drawn_alone())
            return paired(bench.enter, bench.drawn_alone, pairs=_PAIRS)
        finally:
            os.fsync = flushed


def _check_alike(*pictures):
    """Refuse two pictures that differ in more than what lies on top of what."""
    one, other = (imread(BytesIO(png)) for png in pictures)
    if one.shape != other.shape or (np.abs(one - other).max(axis=2) > 0.1).mean() > 0.005:
        raise AssertionError("the two draw different pictures")


def _milliseconds():
    """Return the processor time of each reading from Enter to the picture, flushing included."""
    with tempfile.TemporaryDirectory() as folder:
        bench, spent = Bench(folder), []
        for _ in range(_PAIRS):
            begun = time.process_time()
            bench.enter()
            spent.append(1e3 * (time.process_time() - begun))
        return spent


ROWS = (
    Row(
        "18a",
        "worksheet, from Enter to the picture, 3 x 30",
        "drawing the picture alone",
        2.0,
        1.3,
        _ratios,
    ),
    Row(
        "18b",
        "the same, processor time",
        "-",
        100,
        60,
        _milliseconds,
        unit="ms",
    ),
)

"""The pictures of acceptance and of ways, read back from what is drawn."""

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.patches import Rectangle
from uncertainties import ufloat

from metrolib.rebuild.acceptance.acceptance import accept
from metrolib.rebuild.acceptance.conformity import guard
from metrolib.rebuild.ways.choosing import choose_way
from metrolib.rebuild.ways.ways import SentOut
from metrolib.show.figures import plot
from metrolib.survey.decision import Decision
from metrolib.survey.tolerances import Tolerance
from tests.rebuild.beds import one_flat
from tests.show.drawn import assert_inside_figure, grey, labels, overlaps


@pytest.fixture(scope="module")
def acceptance():
    signed = {"sign": "positive only", "positive": "tailstock higher"}
    return accept(
        one_flat([0, 0.003, 0.001, 0.004, 0], u=0.002),
        [
            Tolerance("centres", "number", 0.04, **signed),
            Tolerance("wide of it", "number", 0.01),
            Tolerance("flat straight", "straightness", 0.008).on("flat"),
            Tolerance("nothing", "number", 0.02),
        ],
        figures={"centres": ufloat(0.03, 0.002), "wide of it": ufloat(-0.05, 0.001)},
    )


def boxes(ax, hatched):
    return [
        (box.get_x(), box.get_x() + box.get_width(), round(box.get_y() + box.get_height() / 2))
        for box in ax.patches
        if isinstance(box, Rectangle) and bool(box.get_hatch()) == hatched
    ]


def test_zones_and_guards(acceptance):
    ax = plot(acceptance)
    assert boxes(ax, False) == [(0, 1, 0), (-1, 1, 1), (0, 1, 2), (-1, 1, 3)]
    g = guard(0.002) / 0.04
    found = boxes(ax, True)
    assert found[0] == pytest.approx((0, g, 0)) and found[1] == pytest.approx((1 - g, 1, 0))
    assert [row for *_, row in found] == [0, 0, 1, 1]  # none where test inversion decides


def test_figures_with_u(acceptance):
    ax = plot(acceptance)
    bars = [line for line in ax.lines if line.get_marker() == "|"]
    np.testing.assert_allclose(bars[0].get_xdata(), [0.026 / 0.04, 0.034 / 0.04])
    assert [line.get_linestyle() for line in bars] == ["-", ":"]
    dots = [line for line in ax.lines if line.get_marker() in ("o", "X", "D")]
    assert [line.get_marker() for line in dots] == ["o", "o"]
    assert dots[0].get_xdata()[0] == pytest.approx(0.75)
    arrows = [line for line in ax.lines if line.get_marker() == "<"]
    assert len(arrows) == 1 and arrows[0].get_ydata()[0] == 1  # five limits out
    assert ax.get_xlim()[0] > -3


def test_words_beside_the_marks(acceptance):
    ax = plot(acceptance)
    said = [text.get_text() for text in ax.texts]
    figure = "accepted; +30.0 µm, U = 4.0 µm (k = 2)"
    assert said[0] == f"{figure}; allowed 0 to +40.0 µm, tailstock higher"
    assert said[3] == "not decided; no figure was given"
    assert ax.get_xlabel() == "figure as a share of its own limit [1]"
    assert labels(ax) == ["allowed", "guard", "± U (k = 2)", "± U, but test inversion decides"]
    assert [tick.get_text() for tick in ax.get_yticklabels()][2] == "flat straight, flat"
    assert overlaps(ax) == []
    assert_inside_figure(ax)
    assert "thou" in plot(acceptance, unit="thou").texts[0].get_text()


def test_guard_shows_in_grey(acceptance):
    ax = plot(acceptance)
    picture = grey(ax.figure)
    hatch = [box for box in ax.patches if isinstance(box, Rectangle) and box.get_hatch()][2]
    area = hatch.get_window_extent()
    top = picture.shape[0] - int(area.y1)
    pixels = picture[top : top + int(area.height), int(area.x0) : int(area.x1)]
    assert pixels.min() < 0.4 < 0.7 < pixels.max()


def test_ways_side_by_side():
    heights = one_flat([0, -0.03, -0.05, -0.03, 0], u=0.001)
    plane = Decision(("flat",))
    ways = choose_way(
        heights,
        {"true": plane},
        rate=0.05,
        cost_per_hour=20,
        sent_out={"ground": SentOut(plane, 0.003, 500)},
        tolerances=[Tolerance("straight", "straightness", 0.01).on("flat")],
        draws=1000,
    )
    ax = plot(ways)
    bars = [box for box in ax.patches if isinstance(box, Rectangle)]
    volumes = [way.volume / 1e3 for way in ways.ways]
    np.testing.assert_allclose([bar.get_width() for bar in bars], volumes)
    assert [bool(bar.get_hatch()) for bar in bars] == [False, False, True]
    assert ax.get_xlabel() == "metal that comes off [cm³]"
    said = [text.get_text() for text in ax.texts]
    assert "cost 500" in said[2] and "h, cost" in said[1]
    assert "least sure: straight" in said[1]
    assert_inside_figure(ax)
    assert overlaps(ax) == []


def test_words_beside_long_bars_stay_in_a_small_picture():
    heights = one_flat([0, -0.03, -0.05, -0.03, 0], u=0.001)
    ways = choose_way(
        heights,
        {"true": Decision(("flat",))},
        rate=0.05,
        cost_per_hour=20,
        tolerances=[Tolerance("straight on the whole", "straightness", 0.01).on("flat")],
        draws=500,
    )
    _, ax = pyplot.subplots(figsize=(4.6, 2.6), layout="constrained")
    assert_inside_figure(plot(ways, ax))

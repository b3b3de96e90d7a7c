import numpy as np
import pytest
from matplotlib.colors import to_rgba
from matplotlib.patches import Rectangle

from metrolib.heights.result import given_heights
from metrolib.rebuild.bearing.print_log import print_log
from metrolib.show.figures import plot
from metrolib.survey.machine import Face
from metrolib.survey.prints import Print
from tests.show.drawn import assert_inside_figure, grey, labels, overlaps, pixels_of

X = np.arange(0, 1001, 100.0)
ENTRIES = [
    Print("front", (0, 1000), ((0, 1000),)),  # a hump that was rocked
    Print("rear", (0, 600), ((0, 40), (560, 600))),
    Print("rear", (500, 1100), ((500, 540), (960, 1000))),
]


def _log(entries=ENTRIES, names=("front", "rear")):
    faces = [Face(name, 200.0 * i, 30, 0, 1000) for i, name in enumerate(names)]
    shapes = (-1.6e-7 * (X - 500) ** 2, 8e-8 * (X - 500) ** 2)
    points = {name: (X, z) for name, z in zip(names, shapes, strict=True)}
    return print_log(given_heights(faces, points, 0.001), entries)


def _bars(ax, hatched):
    return [
        one
        for one in ax.patches
        if isinstance(one, Rectangle)
        and bool(one.get_hatch()) == hatched
        and (hatched or one.get_facecolor() == to_rgba("white"))
    ]


def _marks(ax, marker):
    return [one for one in ax.lines if one.get_marker() == marker]


def test_bars_are_where_blue_came_off():
    ax = plot(_log())
    stretches = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in _bars(ax, True)]
    assert stretches == [pair for entry in ENTRIES for pair in entry.printed]
    lay = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in _bars(ax, False)]
    assert lay == [entry.laid for entry in ENTRIES]
    assert [text.get_text() for text in ax.texts] == ["1", "2", "3"]


def test_faces_stand_as_seen_from_above():
    ax = plot(_log())
    names = [tick.get_text() for tick in ax.get_yticklabels()]
    assert names == ["front", "rear"] and np.diff(ax.get_yticks())[0] > 0
    assert ax.get_xlabel() == "place along the ways x [mm]"
    assert ax.get_xlim()[1] > 1100  # what hangs over the end is in the picture


def test_contradictions_are_crossed_where_they_are():
    log, ax = _log(), plot(_log())
    (crosses,) = _marks(ax, "X")
    (item,) = log.contradictions
    assert crosses.get_xdata().tolist() == item.x.tolist()
    bar = _bars(ax, False)[0]
    assert bar.get_y() < crosses.get_ydata()[0] < bar.get_y() + bar.get_height()
    assert "contradiction" in labels(ax)
    assert ax.get_title("left").startswith("3 prints in the log: 2 go")


def test_what_the_heights_say_stands_under_each_station():
    log, ax = _log(), plot(_log())
    touches = [at for one in _marks(ax, "^") for at in one.get_xdata()]
    never = [at for one in _marks(ax, "v") for at in one.get_xdata()]
    unsure = [at for one in _marks(ax, "_") for at in one.get_xdata()]
    laid = [(laying.x, laying.still) for laying in log.layings]
    assert sorted(touches) == sorted(at for x, p in laid for at in x[p > 0.95])
    assert sorted(never) == sorted(at for x, p in laid for at in x[p < 0.05])
    assert len(touches) + len(never) + len(unsure) == sum(x.size for x, _ in laid)


def test_no_contradiction_no_entry_in_the_key():
    ax = plot(_log(ENTRIES[1:]))
    assert "contradiction" not in labels(ax) and not _marks(ax, "X")


def test_blue_is_dark_in_a_grey_print():
    ax = plot(_log(ENTRIES[1:2]))
    picture = grey(ax.figure)
    (bare,) = _bars(ax, False)
    blue = _bars(ax, True)[0]
    assert pixels_of(blue, picture).mean() < 0.7 < 0.75 < pixels_of(bare, picture).mean()


def test_a_print_that_is_not_held_is_drawn_without_marks():
    ax = plot(_log([Print("front", (-900, 50), ())]))
    assert [text.get_text() for text in ax.texts] == ["1"]
    assert not _marks(ax, "^") and not _marks(ax, "v")


def test_long_names_and_many_prints():
    names = ("_front slideway under the saddle, at the operator", "rear $ way")
    entries = [Print(names[0], (100.0 * i, 100.0 * i + 300), ()) for i in range(7)]
    ax = plot(_log(entries, names))
    assert overlaps(ax) == []
    assert_inside_figure(ax)


def test_an_empty_log():
    ax = plot(_log([]))
    assert "0 prints in the log" in ax.get_title("left") and len(ax.texts) == 0


def test_thou():
    assert "thou" in _log().in_words("thou")
    assert plot(_log(), unit="thou").get_title("left") == plot(_log()).get_title("left")


def test_one_line_of_html_for_each_contradiction():
    page = _log()._repr_html_()
    assert page.count("<li>") == 1
    assert "rocks under the edge" in page and "&#x27;front&#x27;" in page


@pytest.mark.parametrize("unit", ["um", "thou"])
def test_the_table_shows_each_station(unit):
    frame = _log().to_dataframe(unit)
    sign = {"um": "µm", "thou": "thou"}[unit]
    assert len(frame) == 11 + 7 + 6
    widest = frame.loc[frame["print"] == 1, f"gap [{sign}]"].max()
    assert widest == pytest.approx({"um": 40.0, "thou": 40 / 25.4}[unit])

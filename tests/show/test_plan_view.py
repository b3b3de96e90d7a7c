import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.show.figures import plot
from metrolib.show.plan_view import room_needed
from metrolib.show.style import DEPTH, HATCHES
from metrolib.survey.machine import Face, LeftOut
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat
from tests.show.drawn import (
    assert_inside_figure,
    cell_at,
    cells,
    grey,
    labels,
    numbers,
    overlaps,
    pixels_of,
)


def _bed(**conditions):
    """Low spot -50 at 700 governs; front loses 80, 30, 180 and rear 80 all along."""
    heights = lathe_bed([0, -0.05, 0.1], [0, 0, 0])
    conditions = {"clean_up": 0.03, "confidence": None} | conditions
    return plan_removal(heights, faces=["front", "rear"], **HELD, **conditions)


def _flat(depths, **more):
    """A plan that takes these depths [mm] off: the target lies at the lowest place."""
    heights = one_flat(np.asarray(depths, dtype=float), **more)
    return plan_removal(heights, faces=["flat"], minimise="deepest cut", confidence=None)


def _row(ax, level):
    """The numbers of one band, from left to right, with the place of each."""
    found = sorted((x, float(text)) for x, y, text in numbers(ax) if y == pytest.approx(level))
    return [text for _, text in found], [x for x, _ in found]


def test_numbers_are_the_depths_at_their_stations():
    ax = plot(_bed())
    names = [text.get_text() for text in ax.get_yticklabels()]
    ticks = dict(zip(names, ax.get_yticks(), strict=True))
    assert list(ticks) == ["front", "rear"]  # from the operator's side upward
    # cells reach halfway to the neighbours: middles at 175, 700 and 1225
    assert _row(ax, ticks["front"]) == ([80, 30, 180], pytest.approx([175, 700, 1225]))
    assert _row(ax, ticks["rear"])[0] == [80, 80, 80]


def test_every_number_of_a_sample_is_the_depth_of_the_plan(lathe):
    ax, plan = plot(lathe.plan), lathe.plan
    written = sorted(float(text) for _, _, text in numbers(ax))
    assert written == sorted(np.round(1000 * plan.depth[~plan.left_out]))


def test_thou():
    ax = plot(_bed(), unit="thou")
    # 80, 30 and 180 um by 25.4 um a thou
    assert _row(ax, ax.get_yticks()[0])[0] == [3.1, 1.2, 7.1]
    assert ax.get_title("left") == "to take off, in thou (seen from above)"
    assert labels(ax)[3] == "5.3 to 7.1 thou"


def test_small_depths_get_one_digit_more():
    ax = plot(_flat([0, 0.0032, 0.0018]))
    # from 0, 3.2 and 1.8 the target passes through the ends; 2.3 stand over their chord
    assert _row(ax, 0.5)[0] == [0.0, 2.3, 0.0]
    assert len(set(labels(ax)[:4])) == 4


def test_limits_are_those_of_the_faces():
    ax = plot(_bed())
    assert ax.get_xlim() == (0, 1400)
    assert ax.get_xlabel() == "place along the ways x [mm]"


def test_governing_station_is_pointed_at_and_framed():
    ax, plan = plot(_bed()), _bed()
    (station,) = [item.station for item in plan.governing]
    (mark,) = [one for one in ax.lines if one.get_marker() == "v"]
    assert mark.get_xdata() == pytest.approx([plan.x[station]])
    assert 1.0 < float(mark.get_ydata()[0]) < 1.45  # over the front band, under the rear one
    (frame,) = [one for one in ax.patches if one.get_facecolor()[3] == 0]
    assert frame.get_x() < plan.x[station] < frame.get_x() + frame.get_width()
    assert "governs the target" in labels(ax)


def test_left_out_cells_are_crossed_and_carry_no_number():
    hole = (LeftOut(450, 550, "oil hole"),)
    heights = one_flat([0.1, 0.02, 0.3, 0.05, 0.1], length=1000, left_out=hole)
    plan = plan_removal(heights, faces=["flat"], clean_up=0.01, confidence=None)
    ax = plot(plan)
    cell = cell_at(ax, 500, 0.5)
    assert cell.get_facecolor()[:3] == (1, 1, 1)
    assert not [x for x, _, _ in numbers(ax) if 375 < x < 625]
    crossed = [one for one in ax.lines if one.get_marker() == "None"]
    assert [list(one.get_xdata()) for one in crossed] == [[375, 625], [375, 625]]
    assert [list(one.get_ydata()) for one in crossed] == [[0, 1], [1, 0]]
    assert "crossed: left out" in labels(ax)
    # the 0.3 that lies there sets no step of the scale
    greatest = plan.depth[~plan.left_out].max()
    assert labels(ax)[3].endswith(f"{1000 * greatest:.0f} µm")


def test_key_names_only_what_is_there():
    ax = plot(_bed())
    assert labels(ax) == [
        "0 to 45 µm",
        "45 to 90 µm",
        "90 to 135 µm",
        "135 to 180 µm",
        "governs the target",
    ]


def test_hatch_and_colour_grow_with_depth():
    ax, plan = plot(_bed()), _bed()
    deepest = plan.depth.max()
    for x, depth in ((100, 0.08), (700, 0.03), (1300, 0.18)):
        cell = cell_at(ax, x, 0.5)
        assert cell.get_facecolor() == pytest.approx(DEPTH(depth / deepest))
        assert (cell.get_hatch() or "") == HATCHES[min(int(4 * depth / deepest), 3)]


def test_lightness_of_the_scale_falls_all_the_way():
    grey_values = [np.dot(to_rgb(DEPTH(i / 50)), [0.299, 0.587, 0.114]) for i in range(51)]
    assert np.all(np.diff(grey_values) < 0)


def test_a_grey_print_keeps_the_order_of_depths():
    depths = [0.0, 0.03, 0.06, 0.09, 0.12, 0.15]
    heights = given_heights(
        [flat("flat", length=1500)], {"flat": (300.0 * np.arange(6), np.array(depths))}
    )
    # held against a reference face, so that the target does not follow the ramp
    plan = plan_removal(heights, faces=["flat"], datum=["flat"], confidence=None)
    ax = plot(plan)
    picture = grey(ax.figure)
    order = np.argsort(plan.depth)
    row = [cell_at(ax, x, 0.5) for x in (50, 300, 600, 900, 1200, 1450)]
    darkness = np.array([pixels_of(cell, picture).mean() for cell in row])
    assert np.all(np.diff(darkness[order][np.diff(plan.depth[order], prepend=-1) > 1e-6]) < 0)


def test_numbers_stand_out_in_grey_on_the_darkest_cell():
    ax = plot(_bed())
    picture = grey(ax.figure)
    (number,) = [text for text in ax.texts if text.get_text() == "180"]
    box = number.get_window_extent()
    top = picture.shape[0]
    inside = picture[top - int(box.y1) : top - int(box.y0), int(box.x0) : int(box.x1)]
    assert inside.min() < 0.35 and np.median(inside) > 0.75  # ink on a light ground


def test_sixty_stations_keep_their_numbers_apart():
    x = np.linspace(0, 3000, 60)
    dip = -0.15 * np.exp(-(((x - 900) / 500) ** 2))
    faces = [flat("front", 0, length=3000), flat("rear", 200, length=3000)]
    heights = given_heights(faces, {"front": (x, dip), "rear": (x, 0.3 * dip)}, 0.001)
    plan = plan_removal(heights, faces=["front", "rear"])
    ax = plot(plan)
    assert overlaps(ax) == []
    assert len(cells(ax)) == 120
    assert 40 < len(numbers(ax)) < 120
    assert ax.get_title("left").endswith("cells without a number are in the table")
    # the stations that govern come first
    for item in plan.governing:
        near = [abs(place - item.x) for place, _, _ in numbers(ax)]
        assert min(near) < 30
    assert_inside_figure(ax)
    low, high = ax.get_window_extent().x0 - 1, ax.get_window_extent().x1 + 1
    assert all(low < t.get_window_extent().x0 and t.get_window_extent().x1 < high for t in ax.texts)


def test_numbers_turn_where_the_cell_is_narrow():
    x = np.concatenate([np.arange(0, 40, 8.0), [500.0, 1000.0]])
    heights = given_heights([flat("flat", length=1000)], {"flat": (x, 0.1 - 1e-7 * (x - 500) ** 2)})
    ax = plot(plan_removal(heights, faces=["flat"], confidence=None))
    turned = {text.get_rotation() for text in ax.texts}
    assert turned == {0, 90}
    assert overlaps(ax) == []


def test_long_and_odd_names_are_drawn_as_they_are_written():
    long = "the long front slideway under the saddle, operator's side, first section"
    names = [long, "a$b_x$^", "_rear <b>"]
    faces = [flat(name, 100.0 * i) for i, name in enumerate(names)]
    points = {name: ([0, 250, 500], [0.0, -0.05, 0.01]) for name in names}
    heights = given_heights(faces, points, 0.001)
    ax = plot(plan_removal(heights, faces=names))
    assert_inside_figure(ax)
    shown = [
        text.get_text().replace("\n", " ").replace(r"\$", "$") for text in ax.get_yticklabels()
    ]
    assert shown == names
    assert ax.get_window_extent().width > 0.7 * ax.figure.bbox.width


def test_all_depths_zero():
    ax = plot(_flat([0, 0, 0]))
    assert {text for _, _, text in numbers(ax)} == {"0.0"}
    assert labels(ax)[0] == "nothing comes off"
    assert {cell.get_hatch() for cell in cells(ax)} <= {None, ""}


def test_a_face_that_loses_nothing_is_drawn_all_the_same():
    plan = _bed(band=0.05, clean_up=0.0)
    ax = plot(plan)
    assert _row(ax, ax.get_yticks()[1])[0] == [0, 0, 0]
    assert cell_at(ax, 100, ax.get_yticks()[1]).get_hatch() in (None, "")


def test_wide_face_is_a_grid_with_y_upward(rectangle):
    plan = rectangle.plan
    ax = plot(plan)
    station = int(np.flatnonzero((plan.x == 800) & (plan.y == 0))[0])
    levels = np.unique(plan.y)
    bottom = 4.0 * 0.5 / levels.size  # middle of the lowest row of a band four high
    found = [text for x, y, text in numbers(ax) if x > 700 and y == pytest.approx(bottom)]
    assert found == [f"{1000 * plan.depth[station]:.0f}"]
    assert len(cells(ax)) == plan.x.size
    (governs,) = [item.station for item in plan.governing][:1]
    mark = [one for one in ax.lines if one.get_marker() == "v"][0]
    row = int(np.searchsorted(levels, plan.y[governs]))
    low, high = 4.0 * row / levels.size, 4.0 * (row + 1) / levels.size
    assert low < float(mark.get_ydata()[0]) < high  # inside the cell it points at


def test_many_faces_get_a_higher_figure():
    names = [f"face {i}" for i in range(9)]
    faces = [flat(name, 40.0 * i) for i, name in enumerate(names)]
    points = {name: ([0, 250, 500], [0.0, -0.05, 0.01]) for name in names}
    plan = plan_removal(given_heights(faces, points, 0.001), faces=names)
    assert 3.4 < room_needed(plan) <= 9
    ax = plot(plan)
    assert overlaps(ax) == [] and len(numbers(ax)) == 27


def test_faces_at_one_y_keep_their_order():
    faces = [Face(name, 0.0, 30, 0, 500) for name in ("upper", "lower", "middle")]
    points = {face.name: ([0, 250, 500], [0.0, -0.05, 0.01]) for face in faces}
    plan = plan_removal(given_heights(faces, points), faces=[face.name for face in faces])
    drawn = [text.get_text() for text in plot(plan).get_yticklabels()]
    assert drawn == ["upper", "lower", "middle"]


def test_narrow_axes_thin_the_numbers_out():
    figure = Figure(figsize=(3.0, 3.0), layout="constrained")
    x = np.linspace(0, 500, 41)
    heights = given_heights([flat("flat")], {"flat": (x, 1e-6 * (x - 250) ** 2)})
    plan = plan_removal(heights, faces=["flat"], confidence=None)
    ax = plot(plan, figure.subplots())
    assert overlaps(ax) == []
    assert 3 < len(numbers(ax)) < 41

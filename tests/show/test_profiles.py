import re

import numpy as np
import pytest

from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import SIGN_RULE, twist
from metrolib.form.unworn import unworn
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.show.figures import plot
from metrolib.survey.machine import LeftOut
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat
from tests.show.drawn import band, band_at, labels, line

X = np.array([0.0, 250.0, 500.0, 750.0, 1000.0])
HOLLOW = np.array([0.0, -0.012, -0.020, -0.015, 0.0])


def _magnification(ax):
    """Return what is written, and what the limits and the size of the axes come to."""
    ax.figure.canvas.draw()
    (written,) = re.findall(r"heights drawn about ([\d,]+) times larger", ax.get_xlabel())
    across = np.ptp(ax.get_xlim()) / ax.bbox.width
    unit = 0.0254 if "thou" in ax.get_ylabel() else 0.001
    upward = np.ptp(ax.get_ylim()) * unit / ax.bbox.height
    return float(written.replace(",", "")), across / upward


def test_straightness_draws_deviations_zone_and_contacts():
    ax = plot(straightness(X, HOLLOW, 0.001))
    # a hollow of 20 um: its zone reaches 10 um to both sides of the middle line
    x, y = line(ax, "deviation")
    assert x.tolist() == X.tolist()
    assert y == pytest.approx([10, -2, -10, -5, 10])
    assert line(ax, "upper contact")[0].tolist() == [0, 1000]
    assert line(ax, "lower contact")[0].tolist() == [500]
    level = [np.ravel(one.get_ydata()) for one in ax.lines if one.get_linewidth() == 0.5]
    edges = sorted(float(y[0]) for y in level)
    assert edges == pytest.approx([-10, 10])
    assert "minimum zone line" in labels(ax)
    assert ax.get_title("left").startswith("straightness 20.0 µm (minimum zone), U = 2.4 µm")


def test_contacts_differ_in_shape():
    ax = plot(straightness(X, HOLLOW))
    marks = {one.get_label(): one.get_marker() for one in ax.lines}
    assert marks["upper contact"] != marks["lower contact"]


def test_band_is_two_standard_uncertainties():
    u = np.array([1, 2, 1, 3, 1]) / 1000
    result = straightness(X, HOLLOW, u)
    ax = plot(result)
    for x, deviation, own in zip(X, result.deviation, result.deviation_u, strict=True):
        low, high = band_at(ax, x)
        assert (low, high) == pytest.approx(
            (1000 * (deviation - 2 * own), 1000 * (deviation + 2 * own))
        )
    assert labels(ax)[0] == "± 2 standard uncertainties"


def test_no_band_where_nothing_is_known_of_the_uncertainty():
    ax = plot(straightness(X, HOLLOW))
    assert not ax.collections
    assert "± 2 standard uncertainties" not in labels(ax)


def test_thou():
    x, y = line(plot(straightness(X, HOLLOW), unit="thou"), "deviation")
    assert y == pytest.approx(np.array([10, -2, -10, -5, 10]) / 25.4)


def test_stations_in_any_order_are_drawn_along_the_face():
    shuffled = [3, 0, 4, 1, 2]
    results = [
        (straightness(X[shuffled], HOLLOW[shuffled], 0.001), "deviation"),
        (parallelism(X[shuffled], HOLLOW[shuffled], X, 0 * X, 0.001), "face"),
        (twist(X[shuffled], 0 * X, HOLLOW[shuffled], 200, 0.001), "roll"),
        (unworn(X[shuffled], HOLLOW[shuffled], 0.001), "face"),
    ]
    for result, label in results:
        ax = plot(result)
        x, y = line(ax, label)
        assert x.tolist() == X.tolist()
        low, high = band_at(ax, 250)
        assert low < y[1] < high


@pytest.mark.parametrize("unit", ["um", "thou"])
def test_magnification_is_the_one_drawn(unit):
    ax = plot(straightness(X, HOLLOW, 0.001), unit=unit)
    written, drawn = _magnification(ax)
    step = 10 ** np.floor(np.log10(written))
    assert abs(written - drawn) < 0.6 * step  # written to one digit


def test_a_perfect_line_is_not_blown_up_without_limit():
    ax = plot(straightness(X, 0 * X))
    assert np.ptp(ax.get_ylim()) >= 1  # µm
    assert _magnification(ax)[0] <= 1_000_000


def test_twist_says_its_sign_rule_and_draws_the_roll():
    # B climbs 8 um over a metre, 200 mm away: roll from 0.005 to 0.045 mm/m
    ax = plot(twist([0, 500, 1000], [0, 0, 0], [0.001, 0.005, 0.009], 200, 0.001))
    assert SIGN_RULE in ax.get_title("left").replace("\n", " ")
    assert ax.get_ylabel() == "roll [mm/m]"
    assert line(ax, "roll")[1] == pytest.approx([0.005, 0.025, 0.045])
    assert line(ax, "fitted line")[1] == pytest.approx([0.005, 0.025, 0.045])
    # u of a roll: 0.001 sqrt(2) over 0.2 m
    low, high = band_at(ax, 500)
    assert (high - low) / 4 == pytest.approx(0.001 * np.sqrt(2) / 0.2)


@pytest.mark.parametrize("apart", [0.0, 26.0])
def test_parallelism_draws_the_face_from_the_lower_of_its_two_lines(apart):
    ax = plot(parallelism(X, apart + 0.00001 * X, X, 0 * X, 0.0005))
    assert line(ax, "face")[1] == pytest.approx([0, 2.5, 5, 7.5, 10])
    assert line(ax, "upper contact")[0].tolist() == [1000]
    assert ax.get_ylabel() == "above the lower line [µm]"
    assert "tilt +0.0100 mm/m" in ax.get_title("left").replace("\n", " ")


def test_unworn_bars_its_stretches_below_the_face():
    x = 100.0 * np.arange(8)
    z = [0.001, 0.000, -0.001, -0.012, -0.030, -0.015, 0.001, 0.000]
    result = unworn(x, z, 0.001)
    ax = plot(result)
    assert line(ax, "face")[1] == pytest.approx(-1000 * result.depth)
    bars = [one for one in ax.lines if one.get_linewidth() == 5]
    assert [tuple(one.get_xdata()) for one in bars] == [(0, 200), (600, 700)]
    assert all(one.get_ydata()[0] < -1000 * result.depth.max() for one in bars)


def test_removal_of_a_face_is_hatched_between_measured_and_target():
    heights = lathe_bed([0, -0.05, 0.1], [0, 0, 0])
    faces = ["front", "rear"]
    plan = plan_removal(heights, faces=faces, clean_up=0.03, confidence=None, **HELD)
    ax = plot(plan, face="front")
    assert line(ax, "measured")[1] == pytest.approx([0, -50, 100])
    assert line(ax, "target")[1] == pytest.approx([-80, -80, -80])
    (hatched,) = [one for one in ax.collections if one.get_hatch()]
    corners = hatched.get_paths()[0].vertices
    assert corners[:, 1].min() == pytest.approx(-80) and corners[:, 1].max() == pytest.approx(100)
    assert line(ax, "governs")[0].tolist() == [700]
    assert "comes off" in labels(ax)
    assert ax.get_title("left").startswith("front: ")
    # nothing on the rear face governs
    assert "governs" not in labels(plot(plan, face="rear"))


def test_removal_within_a_band_stops_above_the_target():
    heights = one_flat([0.0, 0.06, 0.0])
    plan = plan_removal(heights, faces=["flat"], band=0.02, confidence=None, datum=["flat"])
    ax = plot(plan, face="flat")
    target = line(ax, "target")[1]
    (hatched,) = [one for one in ax.collections if one.get_hatch()]
    corners = hatched.get_paths()[0].vertices
    middle = corners[np.isclose(corners[:, 0], 250), 1]
    assert middle.max() - middle.min() == pytest.approx(1000 * plan.depth[1])
    assert middle.min() == pytest.approx(target[1] + 20)


def test_left_out_station_of_a_face_leaves_a_gap_and_a_cross():
    hole = (LeftOut(450, 550, "oil hole"),)
    heights = one_flat([0.1, 0.02, 0.3, 0.05, 0.1], length=1000, left_out=hole)
    plan = plan_removal(heights, faces=["flat"], clean_up=0.01, confidence=None)
    ax = plot(plan, face="flat")
    assert np.isnan(line(ax, "measured")[1][2]) and np.isfinite(line(ax, "target")[1][2])
    x, y = line(ax, "left out")
    assert x.tolist() == [500] and y == pytest.approx([1000 * plan.relative_height[2]])


def test_wide_face_is_drawn_line_by_line(rectangle):
    ax = plot(rectangle.plan, face="top")
    assert [label for label in labels(ax) if label.startswith("y ")] == [
        "y 0 mm", "y 150 mm", "y 300 mm", "y 450 mm", "y 600 mm"
    ]  # fmt: skip
    assert labels(ax).count("target") == 1
    assert not any(one.get_hatch() for one in ax.collections)


def _three(u):
    faces = [flat("a"), flat("b", 100), flat("c", 250)]
    points = {name: ([0, 250, 500], [0.0, -0.04, 0.0]) for name in "abc"}
    return given_heights(faces, points, u)


def test_heights_against_a_datum():
    heights = lathe_bed([0.01, -0.04, 0.01], [0, 0, 0], u=0.001, ledge_u=0.001)
    ax = plot(heights, datum=["front ledge", "rear ledge"])
    assert line(ax, "front")[1] == pytest.approx([10, -40, 10], abs=1e-9)
    assert ax.get_title("left").endswith("against front ledge, rear ledge")
    assert set(labels(ax)) == {
        "± 2 standard uncertainties", "front", "rear", "front ledge", "rear ledge"
    }  # fmt: skip
    low, high = band_at(ax, 700)
    assert (low + high) / 2 == pytest.approx(-40)


def test_heights_leave_the_tilt_of_the_machine_out():
    x = np.array([0.0, 250.0, 500.0])
    heights = given_heights([flat("a")], {"a": (x, 26.0 + 0.001 * x)}, 0.001)
    assert line(plot(heights), "a")[1] == pytest.approx([0, 0, 0], abs=1e-6)


def test_heights_of_faces_that_nothing_ties_are_drawn_each_for_itself():
    cov = 1e-6 * np.eye(9)
    cov[3:6, 3:6] += 100.0  # the height of b is quite unknown
    ax = plot(_three(cov))
    title = ax.get_title("left").replace("\n", " ")
    assert "how they lie to each other is not determined" in title
    assert np.ptp(ax.get_ylim()) < 100  # µm; no band of metres
    assert line(ax, "b")[1] == pytest.approx(1000 * np.array([0.04 / 3, -0.08 / 3, 0.04 / 3]))


def test_heights_of_a_face_without_shape_are_not_drawn():
    u = np.repeat([0.001, 5.0, 0.001], 3)
    ax = plot(_three(u))
    assert "not determined and not drawn: b" in ax.get_title("left").replace("\n", " ")
    assert set(labels(ax)) == {"± 2 standard uncertainties", "a", "c"}


def test_faces_differ_in_mark_or_filling():
    names = [f"face {i}" for i in range(8)]
    faces = [flat(name, 40.0 * i) for i, name in enumerate(names)]
    heights = given_heights(faces, {name: ([0, 500], [0.0, 0.0]) for name in names}, 0.001)
    marks = {
        (one.get_marker(), one.get_markerfacecolor())
        for one in plot(heights).lines
        if one.get_label() in names
    }
    assert len(marks) == 8


def test_band_of_heights_is_closed_around_the_line(lathe):
    ax = plot(lathe.heights)
    corners = band(ax)
    name = lathe.heights.face[0]
    x, y = line(ax, name)
    assert corners[:, 0].min() == x.min() and corners[:, 0].max() == x.max()
    assert corners[:, 1].min() < y.min() and corners[:, 1].max() > y.max()

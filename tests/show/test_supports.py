"""Straightedges, bowed bodies and feet: what is drawn, and that it can be read in grey."""

from functools import cache

import numpy as np
import pytest
from matplotlib.text import Annotation
from uncertainties import ufloat

from metrolib.form.first_end import first_end
from metrolib.form.print_under import print_under
from metrolib.form.short_straightedge import hidden_bow
from metrolib.heights.beam_section import BeamSection
from metrolib.rebuild.support.best_supports import best_supports
from metrolib.rebuild.support.dressing import dress_by_print
from metrolib.rebuild.support.elastic import elastic_twist
from metrolib.rebuild.support.feet import Foot
from metrolib.rebuild.support.foot_loads import foot_loads
from metrolib.rebuild.support.foot_turns import foot_response
from metrolib.rebuild.support.heat import thermal_bow
from metrolib.rebuild.support.levelling import adjust_feet
from metrolib.rebuild.support.support import sag_on_supports
from metrolib.show.figures import plot
from tests.rebuild.feet import CORNERS
from tests.show.drawn import assert_inside_figure, labels, line, overlaps

BAR = BeamSection(720.0, 216_000.0, 206_000.0, 7_850.0)
X = np.arange(0, 1501, 50.0)
HOLLOW = 0.06 * (2 * X / 1500 - 1) ** 2
LOPSIDED = HOLLOW + 0.02 * np.clip((X - 1000) / 500, 0, 1)
PLACES = np.array([0.0, 300, 600, 900, 1200, 1500])
TURNS = np.vstack([np.zeros(4), 0.05 * np.eye(4)])


def _response():
    shares = np.column_stack([1 - PLACES / 1500, PLACES / 1500])
    rolls = shares @ np.array([[-3.75, 3.75, 0, 0], [0, 0, -3.75, 3.75]])
    return foot_response(CORNERS, PLACES, TURNS, TURNS @ rolls.T, 0.004)


@cache
def _results():
    roll = 0.06 * PLACES / 1500 + 0.03 * np.exp(-(((PLACES - 600) / 300) ** 2))
    return {
        "sag": sag_on_supports(1000, (100, 800), BAR),
        "best supports": best_supports(1000, BAR),
        "bow": thermal_bow(2000, 300, ufloat(1, 0.2), "grey iron"),
        "no bow": thermal_bow(2000, 300, 0.0, 10.5),
        "hidden": hidden_bow(1500, 500, 0.003),
        "hidden, long straightedge": hidden_bow(1500, 2000, 0.003),
        "print": print_under(X, HOLLOW, 500, 0.003),
        "first end": first_end(X, HOLLOW, 0.002, straightedge=500),
        "first end, exact": first_end(X, LOPSIDED, straightedge=500),
        "dressing": dress_by_print(X, HOLLOW, 500, 0.003),
        "feet": adjust_feet(CORNERS, PLACES, roll, 0.005),
        "feet, one place": adjust_feet(
            [*CORNERS[:2], Foot("right", 1500, 200)], [700], [0.05], 0.005
        ),
        "loads": foot_loads(
            CORNERS, [0, 0, 0, 0.178], weight=8000, centre=(600, 200), stiffness=3000
        ),
        "response": _response(),
        "elastic": elastic_twist(_response(), PLACES, roll, 0.004),
        "elastic, exact": elastic_twist(_response(), PLACES, roll),
    }


@pytest.mark.parametrize("kind", list(_results()))
def test_every_picture_is_whole_and_labelled(kind):
    unit = "thou" if "first end" in kind or "dress" in kind else "um"
    ax = plot(_results()[kind], unit=unit)
    assert "[mm]" in ax.get_xlabel()
    assert ax.get_ylabel().endswith(("[µm]", "[thou]", "[mm/m]", "[mm]"))
    assert not overlaps(ax)
    assert_inside_figure(ax)


def test_the_sag_is_drawn_downward_between_its_supports():
    found = sag_on_supports(1000, (0, 1000), BAR)
    ax = plot(found)
    x, y = line(ax, "sole")
    assert y[np.argmin(np.abs(x - 500))] == pytest.approx(-16.2, abs=0.05)
    assert line(ax, "support")[0].tolist() == [0, 1000]
    assert "a way looks 16.2 µm more convex than it is" in ax.get_title("left")
    assert "times larger" in ax.get_xlabel()


def test_the_best_supports_differ_by_mark():
    ax = plot(best_supports(1000, BAR))
    named = [one for one in ax.lines if "of the length apart" in str(one.get_label())]
    assert len({one.get_marker() for one in named}) == len(named) == 3
    assert "held at its ends it would sag 16.2 µm" in ax.get_title("left")


def test_the_hidden_bow_holds_three_straightedges_that_touch_it():
    found = hidden_bow(1500, 500, 0.003)
    ax = plot(found)
    laid = [one for one in ax.lines if one.get_linewidth() == 3]
    assert [one.get_xdata().tolist() for one in laid] == [[0, 500], [500, 1000], [1000, 1500]]
    x, way = line(ax, "way, hollow")
    for one in laid:
        np.testing.assert_allclose(one.get_ydata(), np.interp(one.get_xdata(), x, way), atol=0.01)
    assert np.ptp(way) == pytest.approx(27.0)


def test_what_prints_and_what_carries_differ_in_shape():
    ax = plot(print_under(X, HOLLOW, 500, 0.003))
    marks = {one.get_label(): one.get_marker() for one in ax.lines}
    assert marks["prints"] != marks["carries the straightedge"]
    assert line(ax, "carries the straightedge")[0].tolist() == [500, 1000]
    assert {"film", "way", "sole"} <= {*labels(ax)}


def test_dressing_shows_before_after_and_what_came_off():
    found = dress_by_print(X, HOLLOW, 500, 0.003)
    ax = plot(found)
    assert line(ax, "before")[1].tolist() == pytest.approx((1e3 * HOLLOW).tolist())
    assert line(ax, "after")[1].tolist() == pytest.approx((1e3 * found.after).tolist())
    assert ax.collections[0].get_hatch()
    assert line(ax, "first placing")[0].tolist() == [500, 1000]


def test_the_first_end_is_named():
    ax = plot(first_end(X, LOPSIDED, straightedge=500))
    said = [text.get_text() for text in ax.texts]
    assert sum("take first" in text for text in said) == 1
    assert [text.endswith("take first") for text in said] == [False, True]


def test_a_warm_top_is_written_above():
    ax = plot(thermal_bow(2000, 300, 1.0, 10.5))
    where = {text.get_text(): text.get_position()[1] for text in ax.texts}
    assert where["warmer"] > where["colder"]
    even = plot(thermal_bow(2000, 300, 0.0, 10.5))
    assert not even.texts and "no bow is expected" in even.get_title(loc="left") + even.get_title()
    where = plot(thermal_bow(2000, 300, -1.0, 10.5)).texts
    where = {text.get_text(): text.get_position()[1] for text in where}
    assert where["warmer"] < where["colder"]


def test_arrows_point_as_the_feet_move_and_the_numbers_say_by_how_much():
    found = adjust_feet(CORNERS, [0, 1500], [0, 0.08], take_out="twist")
    ax = plot(found)
    said = {text.get_text().split("\n")[0]: text.get_text() for text in ax.texts if text.get_text()}
    assert said["front right"] == "front right\nraise 32.0 µm\n0.021 turn (8°)"
    assert said["rear left"] == "rear left\nstays"
    arrows = [text for text in ax.texts if isinstance(text, Annotation) and text.arrow_patch]
    assert len(arrows) == 1
    assert arrows[0].xy[1] > arrows[0].xyann[1]  # upward
    lowered = plot(adjust_feet(CORNERS, [0, 1500], [0, 0.08], take_out="twist", by="lowering"))
    arrows = [text for text in lowered.texts if isinstance(text, Annotation) and text.arrow_patch]
    assert arrows[0].xy[1] < arrows[0].xyann[1]


def test_a_foot_that_carries_nothing_has_another_mark():
    feet = [*CORNERS[:3], Foot("rear right", 1500, 400, carries=False)]
    ax = plot(adjust_feet(feet, PLACES, 0.05 + 0 * PLACES))
    assert {one.get_marker() for one in ax.lines if one.get_marker() != "None"} == {"s", "X"}
    assert "rear right\ncarries nothing" in [text.get_text() for text in ax.texts]


def test_loads_are_written_and_a_hanging_foot_has_another_mark():
    ax = plot(_results()["loads"])
    said = {text.get_text() for text in ax.texts}
    assert "front left\n4000 N, 50 %" in said
    assert "front right\nhangs, 50.0 µm below" in said
    assert {one.get_marker() for one in ax.lines if one.get_marker() != "None"} == {"s", "X"}


def test_response_and_elastic_lines():
    ax = plot(_response())
    assert len(labels(ax)) == 4
    ax = plot(_results()["elastic"])
    x, stays = line(ax, "stays")
    np.testing.assert_allclose(
        stays, line(ax, "measured")[1] - line(ax, "feet can take out")[1], atol=1e-12
    )
    assert labels(ax)[0] == "± 2 standard uncertainties"

"""Pictures of the work round by round: the data in the artists, and that nothing is cut off."""

import numpy as np
import pytest

from metrolib.heights.result import given_heights
from metrolib.heights.rounds import AdjustedRounds
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.progress import progress
from metrolib.show.figures import plot
from metrolib.survey.machine import Face
from tests.rebuild.rounds_given import HELD, LEDGES, bed_rounds
from tests.show.drawn import assert_inside_figure, band_at, labels, line, numbers, overlaps

START = np.array([0.0, -0.05, 0.0])
TOPS = (START, np.array([-0.03, -0.05, -0.02]), np.array([-0.045, -0.05, -0.056]))


@pytest.fixture
def now():
    rounds = bed_rounds(*TOPS, u=0.001)
    return progress(rounds, plan_removal(rounds["start"], **HELD, confidence=None), tolerance=0.002)


def test_profiles_of_a_face_round_by_round(now):
    ax = plot(now, face="top")
    for label, top in zip(("start", "round 1", "round 2"), TOPS, strict=True):
        x, y = line(ax, label)
        assert x.tolist() == [0, 250, 500]
        assert y == pytest.approx(1000 * top)
    assert line(ax, "target")[1] == pytest.approx([-50] * 3)
    assert band_at(ax, 500) == pytest.approx((-58, -54))
    looks = {(one.get_marker(), one.get_linestyle()) for one in ax.lines[:3]}
    assert len(looks) == 3, "rounds differ in more than colour"
    assert "round by round down to the target" in ax.get_title("left")
    assert_inside_figure(ax)


def test_what_is_left_with_its_bars_and_verdicts(now):
    ax = plot(now)
    (bars,) = ax.containers
    points, _, (spans,) = bars.lines
    assert points.get_ydata() == pytest.approx([5, 0, -6])
    ends = [segment[:, 1] for segment in spans.get_segments()]
    assert np.array(ends) == pytest.approx(np.array([[3, 7], [-2, 2], [-8, -4]]))
    signs = {x: text for x, _, text in numbers(ax)}
    assert signs == {250.0: "=", 500.0: "!"}
    assert labels(ax)[0] in ("target", "within the tolerance")
    assert {"target", "within the tolerance", "top"} == set(labels(ax))
    assert ax.get_ylabel() == "left to come off [µm]"
    assert "heights drawn about" in ax.get_xlabel()
    assert_inside_figure(ax)


def test_thou_scales_the_picture_and_nothing_else(now):
    ax = plot(now, unit="thou")
    (bars,) = ax.containers
    assert bars.lines[0].get_ydata() == pytest.approx(np.array([5, 0, -6]) / 25.4)
    assert ax.get_ylabel() == "left to come off [thou]"


def test_signs_stand_below_every_bar_and_apart_from_each_other(now):
    ax = plot(now)
    lowest = min(y for _, y, text in numbers(ax))
    assert lowest < -8
    assert overlaps(ax) == []


def test_a_face_that_is_none_is_refused(now):
    from metrolib.errors import InputError

    with pytest.raises(InputError, match="face: .*'rear'.*'top'"):
        plot(now, face="rear")


def test_a_wide_face_is_drawn_line_by_line():
    face = Face("table", y=0, width=120, x_from=0, x_to=400)
    ledges = [Face(n, y=y, width=20, x_from=0, x_to=400, normal=180) for n, y in LEDGES.items()]
    x, y = np.tile([0.0, 200, 400], 2), np.repeat([-50.0, 50.0], 3)
    ends = (np.array([0.0, 400.0]), np.zeros(2))

    def after(z):
        points = {"table": (x, y, z)} | dict.fromkeys(LEDGES, ends)
        return given_heights([face, *ledges], points)

    heights = {"start": after(np.zeros(6)), "1": after(-np.arange(6) / 1e3)}
    index = {"start": np.arange(10), "1": np.r_[10:16, 6:10]}
    values = np.concatenate([heights["start"].values, heights["1"].values[:6]])
    rounds = AdjustedRounds(heights, index, values, np.zeros((16, 16)), ("table",))
    held = HELD | {"faces": ["table"], "clean_up": 0.005}
    now = progress(rounds, plan_removal(heights["start"], **held))
    assert now.left == pytest.approx(np.array([5, 4, 3, 2, 1, 0]) / 1e3)
    ax = plot(now)
    assert set(labels(ax)) == {"target", "table, y -50 mm", "table, y 50 mm"}
    assert "x 400, y 50 mm on 'table'" in str(now)
    assert_inside_figure(plot(now, face="table"))

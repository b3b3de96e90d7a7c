from functools import cache

import matplotlib
import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.figure import Figure

from metrolib.errors import InputError
from metrolib.form.coplanarity import coplanarity
from metrolib.form.flatness import flatness
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.form.unworn import unworn
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.show.drawers import DRAWERS, OF_ONE_FACE, function_of
from metrolib.show.figures import height_of, plot
from tests.rebuild.beds import one_flat
from tests.show.drawn import assert_inside_figure

X = np.array([0.0, 250.0, 500.0, 750.0, 1000.0])
HOLLOW = np.array([0.0, -0.012, -0.020, -0.015, 0.001])
GRID = tuple(np.meshgrid([0.0, 300.0, 600.0], [0.0, 200.0, 400.0]))


@cache
def _everything(u):
    x, y = (one.ravel() for one in GRID)
    wide = 1e-7 * (x - 300) * (y - 100)
    return {
        "straightness": straightness(X, HOLLOW, u),
        "parallelism": parallelism(X, HOLLOW, X, 0 * X, u),
        "twist": twist(X, HOLLOW, 2 * HOLLOW, 200, u),
        "unworn": unworn(X, HOLLOW, u, tolerance=0.002),
        "flatness": flatness(x, y, wide, u),
        "coplanarity": coplanarity({"a": (X, 0 * X, HOLLOW), "b": (X, 0 * X + 200, -HOLLOW)}, u),
        "plan": plan_removal(one_flat(HOLLOW, u=u), faces=["flat"]),
        "heights": one_flat(HOLLOW, u=u),
    }


KINDS = list(_everything(0.001))


@pytest.mark.parametrize("unit", ["um", "thou"])
@pytest.mark.parametrize("kind", KINDS)
def test_draws_every_kind_of_result_on_given_axes(kind, unit):
    figure = Figure(figsize=(8, 3.4), layout="constrained")
    ax = figure.subplots()
    assert plot(_everything(0.001)[kind], ax, unit=unit) is ax
    assert ax.has_data()
    assert ax.get_xlabel().startswith("place along the ways x [mm]")
    assert not pyplot.get_fignums()


@pytest.mark.parametrize("kind", KINDS)
def test_makes_a_figure_of_its_own(kind):
    result = _everything(0.001)[kind]
    ax = plot(result)
    assert pyplot.get_fignums() == [ax.figure.number]
    assert ax.figure.get_size_inches() == pytest.approx([8, height_of(result)])
    assert_inside_figure(ax)


@pytest.mark.parametrize("kind", KINDS)
def test_draws_what_knows_no_uncertainty(kind):
    ax = plot(_everything(None)[kind])
    assert ax.has_data()
    assert_inside_figure(ax)


@pytest.mark.parametrize("kind", sorted({*KINDS} - {"twist", "flatness", "plan"}))
def test_vertical_axis_names_the_unit(kind):
    assert "[µm]" in plot(_everything(0.001)[kind]).get_ylabel()
    assert "[thou]" in plot(_everything(0.001)[kind], unit="thou").get_ylabel()


def test_checks_are_drawn_too(lathe):
    ax = plot(lathe.heights.checks)
    assert ax.get_xlabel() == "reading, in the order of adjustment"
    assert_inside_figure(ax)


@pytest.mark.parametrize("sample, width", [("lathe", 8.0), ("rectangle", 9.2)])
def test_no_picture_of_a_sample_is_cut(sample, width, request):
    worked = request.getfixturevalue(sample)
    found = worked.found
    results = [(worked.plan, {}), (worked.heights, {"datum": worked.survey.decision.datum})]
    results += [(worked.plan, {"face": worked.plan.decision.faces[0]}), (worked.heights.checks, {})]
    for group in (found.straightness, found.flatness, found.twist, found.parallelism):
        results += [(one, {}) for one in list(group.values())[:1]]
    results += [(found.coplanarity, {})] if found.coplanarity else []
    for result, choice in results:
        size = (width, height_of(result, choice.get("face")))
        figure = Figure(figsize=size, layout="constrained")
        assert_inside_figure(plot(result, figure.subplots(), **choice))


def test_several_pictures_in_one_figure_stay_inside():
    figure = Figure(figsize=(11, 8), layout="constrained")
    axes = figure.subplots(2, 2).ravel()
    results = _everything(0.001)
    for ax, kind in zip(axes, ["straightness", "twist", "plan", "coplanarity"], strict=True):
        plot(results[kind], ax)
    assert_inside_figure(axes[0])
    assert axes[0].get_xlabel().endswith("times larger")


def test_without_a_layout_the_axes_stay_where_they_are():
    ax = Figure(figsize=(8, 4)).add_axes([0.1, 0.3, 0.8, 0.5])
    plot(_everything(0.001)["straightness"], ax)
    assert ax.get_position().bounds == pytest.approx((0.1, 0.3, 0.8, 0.5))


def test_pictures_do_not_depend_on_the_session(lathe):
    """The house's look is in the artists, not in settings that a notebook may have changed."""
    with matplotlib.rc_context({"axes.prop_cycle": matplotlib.cycler(color=["lime"])}):
        drawn = {one.get_color() for one in plot(_everything(0.001)["straightness"]).lines}
    assert "lime" not in drawn


@pytest.mark.parametrize(
    "arguments, words",
    [
        ({"result": 3.0}, "result: there is no picture of this kind, got float; give one of Hei"),
        ({"result": [1, 2]}, "no picture of this kind, got list"),
        ({"unit": "mm"}, "unit: .*'mm'"),
        (
            {"face": "flat"},
            "face: there is no picture of one face of Straightness, got flat",
        ),
        ({"kind": "plan", "face": "rear"}, "face: .*'rear'.*flat"),
        ({"datum": ["flat"]}, "datum: only heights are drawn against one"),
        ({"kind": "heights", "datum": "flat"}, "datum: a list of faces is needed, got 'flat'"),
        ({"kind": "heights", "datum": ["ledge"]}, "datum: .*'ledge'.*flat"),
    ],
)
def test_refuses_and_leaves_no_figure_behind(arguments, words):
    arguments = dict(arguments)
    result = _everything(0.001)[arguments.pop("kind", "straightness")]
    with pytest.raises(InputError, match=words):
        plot(**({"result": result} | arguments))
    assert not pyplot.get_fignums()


def test_twice_the_heights_are_drawn_twice_as_high():
    one = plot(straightness(X, HOLLOW, 0.001)).lines[0].get_ydata()
    two = plot(straightness(X, 2 * HOLLOW, 0.002)).lines[0].get_ydata()
    assert two == pytest.approx(2 * one)


def test_every_drawer_that_is_entered_is_there():
    heights = [height for _, height in DRAWERS.values() if isinstance(height, str)]
    for name in [*(draw for draw, _ in DRAWERS.values()), *heights, *OF_ONE_FACE.values()]:
        assert callable(function_of(name)), name
    assert set(OF_ONE_FACE) <= set(DRAWERS)

"""Pictures of vees, dovetails and squareness: what is drawn is what was found."""

import numpy as np
import pytest
from matplotlib.figure import Figure

from metrolib.form.dovetail import dovetail
from metrolib.form.squareness import squareness
from metrolib.form.vee import vee
from metrolib.form.vee_pins import vee_over_pins
from metrolib.show.figures import height_of, plot
from tests.show.drawn import assert_inside_figure, band_at, grey, labels, line

X = np.array([0.0, 200, 400, 600, 800])
A, B = np.array([0.0, -3, -6, -2, 0]) / 100, np.array([0.0, -1, -2, -4, 1]) / 100


def _everything(u):
    return {
        "vee": vee(X, A, B, (-45, 45), u),
        "one pin": vee_over_pins(25, 30.178, u, half_angle=45, lean=10),
        "two pins": vee_over_pins((25, 15), (30.178, 18.107), u, across=(3.0, 1.9)),
        "external": dovetail((10, 6), (67.32, 56.39), u),
        "internal": dovetail(10, 30.79, u, angle=(55, 60), internal=True),
        "one flank": dovetail(10, 50.79, u, angle=60, flanks=1),
        "ridge": dovetail(10, 50.79, u, angle=135),
        "squareness": squareness([0, 100, 200, 300], [0, 0.002, 0.0035, 0.0065], u),
    }


KINDS = list(_everything(None))


@pytest.mark.parametrize("u", [0.001, None])
@pytest.mark.parametrize("kind", KINDS)
def test_stays_inside_its_figure_in_both_units(kind, u):
    result = _everything(u)[kind]
    for unit in ("um", "thou"):
        figure = Figure(figsize=(8, height_of(result)), layout="constrained")
        ax = figure.subplots()
        assert plot(result, ax, unit=unit) is ax
        assert_inside_figure(ax)
        assert "[mm]" in ax.get_xlabel() and "[" in ax.get_ylabel()


def test_both_planes_of_a_vee_with_bands_and_marks_of_their_own():
    result = vee(X, A, B, (-45, 45), 0.001)
    ax = plot(result)
    for path, label in ((result.vertical, "upward"), (result.horizontal, "toward +y")):
        (name,) = [one for one in labels(ax) if one.startswith(label)]
        x, y = line(ax, name)
        assert x.tolist() == X.tolist()
        assert y == pytest.approx(1000 * path.deviation)
    marks = {one.get_marker() for one in ax.lines if "plane" in str(one.get_label())}
    assert marks == {"o", "s"}
    low, high = band_at(ax, 400, 0)
    assert high - low == pytest.approx(4000 * result.vertical.deviation_u[2])
    assert "times larger" in ax.get_xlabel()
    assert f"{1000 * result.vertical.value.n:.1f} µm" in ax.get_title("left")


def test_stations_of_a_vee_in_any_order():
    shuffled = [3, 0, 4, 1, 2]
    ax = plot(vee(X[shuffled], A[shuffled], B[shuffled], (-45, 45)))
    x, _ = line(ax, "upward (vertical plane)")
    assert x.tolist() == X.tolist()


@pytest.mark.parametrize("kind", ["one pin", "two pins"])
def test_pins_touch_both_flanks_of_a_vee_and_reach_the_height_measured(kind):
    result = _everything(None)[kind]
    ax = plot(result)
    x, y = line(ax, "flanks")
    corner = np.array([x[1], y[1]])
    for diameter, height in zip(result.diameter, result.height, strict=True):
        round_x, round_y = line(ax, f"pin of {diameter:g} mm")
        assert round_y.max() == pytest.approx(height, abs=1e-6)
        for end in (0, 2):
            along = np.array([x[end], y[end]]) - corner
            along /= np.linalg.norm(along)
            off = np.column_stack([round_x, round_y]) - corner
            distance = np.abs(off @ [-along[1], along[0]])
            # 144 corners of the drawn circle come within r (1 - cos 1.25 deg) of the line
            assert distance.min() == pytest.approx(0, abs=3e-4 * diameter)
    assert ax.get_aspect() == 1.0


@pytest.mark.parametrize("kind", ["external", "internal", "one flank", "ridge"])
def test_pins_of_a_dovetail_lie_on_base_and_flank_and_span_what_was_measured(kind):
    result = _everything(None)[kind]
    ax = plot(result)
    pins = [one for one in ax.lines if len(one.get_xdata()) == 145]
    assert len(pins) == result.flanks
    for pin in pins:
        assert np.min(pin.get_ydata()) == pytest.approx(0, abs=1e-9)
    ends = np.concatenate([pin.get_xdata() for pin in pins])
    size = result.diameter.argmin()
    measured = result.drawn_from.values[result.diameter.size + size]
    if kind == "internal":
        inner = [np.max(pins[1].get_xdata()), np.min(pins[0].get_xdata())]
        assert inner[1] - inner[0] == pytest.approx(measured)
    elif kind == "one flank":  # from the side face, drawn upright at the other root
        x, y = line(ax, "flanks and base")
        assert ends.max() - x[np.argmax(y)] == pytest.approx(measured)
    else:
        assert np.ptp(ends) == pytest.approx(measured)


def test_squareness_is_drawn_from_the_line_square_to_the_datum():
    result = squareness([0, 300, 100], [0, 0.009, 0.004], 0.001, square=0.01)
    x, y = line(plot(result), "face")
    assert x.tolist() == [0, 100, 300]
    assert y == pytest.approx([0, 5, 12])  # the square's 10 um/m come on top
    fitted_x, fitted_y = line(plot(result), "its line")
    slope = (fitted_y[-1] - fitted_y[0]) / (fitted_x[-1] - fitted_x[0])
    assert slope == pytest.approx(result.value.n)


def test_metal_and_air_differ_in_a_grey_print():
    ax = plot(_everything(None)["external"])
    picture = grey(ax.figure)
    inside = ax.transData.transform((0, 3)).astype(int)
    outside = ax.transData.transform((-25, 6.9)).astype(int)

    def mean(at):
        rows = slice(picture.shape[0] - at[1] - 6, picture.shape[0] - at[1] + 6)
        return picture[rows, at[0] - 6 : at[0] + 6].mean()

    assert mean(inside) < mean(outside) - 0.1

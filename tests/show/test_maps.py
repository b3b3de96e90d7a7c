from dataclasses import replace

import numpy as np
import pytest

from metrolib.form.coplanarity import coplanarity
from metrolib.form.flatness import flatness
from metrolib.show.figures import plot
from tests.show.drawn import assert_inside_figure, band_at, labels, line, numbers, overlaps

X = np.array([0.0, 250.0, 500.0])


def _saddle():
    """Three corners and the middle decide: a twisted plate, 0 at the edges' middles."""
    x, y = (one.ravel() for one in np.meshgrid([0.0, 300.0, 600.0], [0.0, 200.0, 400.0]))
    return x, y, (x - 300) * (y - 200) / 60000 * 0.020


def test_flatness_writes_each_deviation_at_its_station():
    x, y, z = _saddle()
    result = flatness(x, y, z, 0.0005)
    ax = plot(result)
    written = {(px, py): float(text) for px, py, text in numbers(ax)}
    assert len(written) == 9
    for px, py, deviation in zip(x, y, result.deviation, strict=True):
        assert written[px, py] == pytest.approx(1000 * deviation, abs=0.5)
    assert all(text[0] in "+-" for _, _, text in numbers(ax))
    assert ax.get_ylabel() == "place across y [mm]"
    assert ax.get_title("left").replace("\n", " ").endswith("numbers: deviation in µm")


def test_flatness_marks_the_contacts():
    x, y, z = _saddle()
    result = flatness(x, y, z)
    px, py = line(plot(result), "contacts")
    at = list(result.contacts)
    assert px.tolist() == x[at].tolist() and py.tolist() == y[at].tolist()


def test_higher_places_are_larger_and_darker():
    x, y, z = _saddle()
    result = flatness(x, y, z)
    (bubbles,) = plot(result).collections
    order = np.argsort(result.deviation)
    assert np.all(np.diff(bubbles.get_sizes()[order]) >= -1e-9)
    assert np.all(np.diff(bubbles.get_array()[order]) >= -1e-9)


def test_flatness_in_thou():
    x, y, z = _saddle()
    highest = max(float(text) for _, _, text in numbers(plot(flatness(x, y, z), unit="thou")))
    assert highest == pytest.approx(0.020 / 0.0254, abs=0.05)


def test_many_stations_keep_their_numbers_apart():
    x, y = (one.ravel() for one in np.meshgrid(np.linspace(0, 1500, 25), np.linspace(0, 900, 14)))
    ax = plot(flatness(x, y, 1e-8 * (x - 700) * (y - 400), 0.0005))
    assert overlaps(ax) == []
    assert_inside_figure(ax)
    assert len(numbers(ax)) > 60


def test_a_true_face_is_drawn():
    x, y, z = _saddle()
    ax = plot(flatness(x, y, 0 * z))
    assert {float(text) for _, _, text in numbers(ax)} == {0.0}


def test_coplanarity_draws_each_face_with_its_band():
    result = coplanarity(
        {"a": (X, 0 * X, [0.0, -0.02, 0.0]), "b": (X, 0 * X + 200, [0.0, 0.0, 0.0])}, 0.001
    )
    ax = plot(result)
    for k, name in enumerate("ab"):
        assert line(ax, name)[1] == pytest.approx(1000 * result.faces[name].deviation)
        low, high = band_at(ax, 250, k)
        assert high - low == pytest.approx(4000 * result.faces[name].deviation_u[1])
    assert labels(ax) == ["± 2 standard uncertainties", "a", "b", "contacts", "common plane"]
    marks = {one.get_label(): one.get_marker() for one in ax.lines}
    assert marks["a"] != marks["b"]
    assert ax.get_title("left").startswith("coplanarity of a and b")


def test_coplanarity_of_a_wide_face_is_drawn_line_by_line():
    x, y, z = _saddle()
    shuffled = np.array([4, 0, 8, 2, 6, 1, 3, 7, 5])
    faces = {"top": (x[shuffled], y[shuffled], z[shuffled]), "rail": (X, 0 * X + 700, 0 * X)}
    ax = plot(coplanarity(faces, 0.001))
    assert [one for one in labels(ax) if one.startswith("top")] == [
        "top, y 0 mm", "top, y 200 mm", "top, y 400 mm"
    ]  # fmt: skip
    assert line(ax, "top, y 200 mm")[0].tolist() == [0, 300, 600]


def test_checks_draw_every_tested_reading_and_name_the_suspects(lathe):
    checks = lathe.heights.checks
    ax = plot(checks)
    tested = np.isfinite(checks.normalised)
    assert line(ax, "readings")[1] == pytest.approx(checks.normalised[tested])
    assert line(ax, "suspect")[1] == pytest.approx(checks.normalised[checks.suspects])
    bounds = {one.get_ydata()[0] for one in ax.lines if one.get_linestyle() == "--"}
    assert bounds == {checks.critical, -checks.critical}
    first = checks.suspects[0]
    assert numbers(ax)[0][2] == f"{checks.traverse[first]}, {checks.x[first]:g} mm"
    assert ax.get_title("left").replace("\n", " ") == checks.verdict


def test_a_suspect_at_either_end_is_named_inside_the_picture(lathe):
    checks = lathe.heights.checks
    last = checks.x.size - 1
    ax = plot(replace(checks, suspects=np.array([0, last])))
    assert len(numbers(ax)) == 2
    assert_inside_figure(ax)
    box = ax.get_window_extent()
    assert all(text.get_window_extent().x1 < box.x1 + 2 for text in ax.texts)


def test_checks_without_any_tested_reading_say_so(lathe):
    checks = lathe.heights.checks
    untested = replace(
        checks,
        normalised=np.full(checks.x.size, np.nan),
        suspects=np.array([], dtype=int),
        redundancy=np.zeros(checks.x.size),
        dof=0.0,
    )
    ax = plot(untested)
    assert [text for _, _, text in numbers(ax)] == ["no reading is checked by others"]
    assert ax.get_title("left").startswith("Nothing checks the")

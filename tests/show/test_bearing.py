import numpy as np
import pytest
from matplotlib.patches import Polygon

from metrolib.rebuild.bearing.bearing import bearing_from_counts
from metrolib.rebuild.bearing.bearing_photo import bearing_from_photo
from metrolib.rebuild.bearing.bearing_rules import RULES
from metrolib.show.bearing import room_needed
from metrolib.show.figures import plot
from tests.samples.blued_face import CAMERA, FACE, PHOTO, Camera, lattice
from tests.show.drawn import assert_inside_figure, grey, labels, overlaps


@pytest.fixture(scope="module")
def photographed():
    corners = CAMERA.at(FACE, [[0, 0], [180, 0], [180, 30], [0, 30]])
    return bearing_from_photo(PHOTO, (corners[0], corners[1], 180.0), corners)


def _squares(ax):
    return [one.get_xy()[:4] for one in ax.patches if type(one) is Polygon]


def test_numbers_stand_in_their_squares(photographed):
    ax = plot(photographed)
    written = [int(text.get_text()) for text in ax.texts]
    assert written == photographed.counts.astype(int).tolist()
    squares = np.array(_squares(ax))[photographed.photo.counted]
    for text, corners in zip(ax.texts, squares, strict=True):
        away = np.array(text.xy) - corners.mean(axis=0)
        assert np.abs(away).max() < 12.5
    assert overlaps(ax) == []
    assert_inside_figure(ax)


def test_squares_are_drawn_at_their_size_in_mm(photographed):
    for corners in _squares(plot(photographed)):
        sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        assert sides == pytest.approx(25.0)


def test_marks_of_counted_spots_lie_on_spots(photographed):
    ax = plot(photographed)
    (held,) = [one for one in ax.lines if one.get_marker() == "o"]
    assert len(held.get_xdata()) == photographed.counts.sum()
    # each lies near the middle of a true spot, in mm of the picture
    truth = CAMERA.at(FACE, FACE.centres) / CAMERA.per_mm
    marks = np.column_stack(held.get_data())
    away = np.linalg.norm(marks[:, None] - truth[None], axis=2).min(axis=1)
    assert np.quantile(away, 0.9) < 0.3


def test_glare_is_crossed_and_named(photographed):
    ax = plot(photographed)
    assert "crossed: glare, left out" in labels(ax)
    crosses = [one for one in ax.lines if one.get_marker() == "None"]
    assert len(crosses) == 2
    assert ax.get_xlabel() == "across the picture [mm]" and ax.get_ylim()[0] > ax.get_ylim()[1]


def test_title_is_the_sentence(photographed):
    ax = plot(photographed)
    assert ax.get_title("left").replace("\n", " ") == photographed.in_words()


def test_outlines_stand_out_in_grey():
    face, camera = lattice(50.0, 50.0, 12.5, 4.0), Camera(per_mm=6.0, rim=2.0)
    corners = camera.at(face, [[0, 0], [50, 0], [50, 50], [0, 50]])
    bearing = bearing_from_photo(camera.take(face), (corners[0], corners[1], 50.0), corners)
    ax = plot(bearing)
    picture = grey(ax.figure)
    middle = camera.at(face, [face.centres[5]])[0] / camera.per_mm

    def across(offset):
        x, y = ax.transData.transform(middle + [offset, 1.5])
        return picture[picture.shape[0] - 1 - int(y), int(x) - 3 : int(x) + 4].min()

    edge = (4.0**2 - 1.5**2) ** 0.5
    assert across(edge) < 0.35 < 0.4 < across(0.0) < across(-6.0)  # line, spot, ground


def test_a_count_by_hand_lies_beside_the_rules():
    bearing = bearing_from_counts([12, 15, 17, 13, 10, 17])
    ax = plot(bearing)
    (dots,) = [one for one in ax.lines if one.get_marker() == "o"]
    assert sorted(dots.get_xdata()) == sorted(bearing.counts)
    assert len(set(zip(*dots.get_data(), strict=True))) == 6  # equal counts stand side by side
    bars = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in ax.patches]
    assert bars == [rule.spots for rule in RULES]
    assert all(bar.get_hatch() for bar in ax.patches)
    names = [text.get_text() for text in ax.texts]
    assert names == [*(rule.use for rule in RULES), "this face"]
    assert "usual there, by custom only" in labels(ax)
    assert overlaps(ax) == []
    assert_inside_figure(ax)


def test_counts_on_an_inch_are_drawn_for_25_mm():
    ax = plot(bearing_from_counts([16, 20], square=25.4))
    (dots,) = [one for one in ax.lines if one.get_marker() == "o"]
    assert dots.get_xdata() == pytest.approx(np.array([16, 20]) * (25 / 25.4) ** 2)
    assert ax.get_xlabel() == "spots per 25 mm square"


@pytest.mark.parametrize("counts", [[0], [0, 0], [120, 150]])
def test_few_and_many(counts):
    ax = plot(bearing_from_counts(counts))
    low, high = ax.get_xlim()
    assert low <= min(counts) and high > max(counts)
    assert_inside_figure(ax)


def test_a_long_photograph_is_drawn_low(photographed):
    assert room_needed(photographed) < 4 < room_needed(_square_photo()) <= 8


def _square_photo():
    face, camera = lattice(50.0, 50.0, 12.5, 4.0), Camera(per_mm=4.0, rim=0.0)
    return bearing_from_photo(camera.take(face), ((0, 0), (200, 0), 50.0))

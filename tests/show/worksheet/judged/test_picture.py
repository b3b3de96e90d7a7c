"""The growing picture: what is drawn, and that it is drawn on no global state."""

import subprocess
import sys
from io import BytesIO
from threading import Thread

import numpy as np
import pytest
from matplotlib.image import imread

from metrolib.heights.frame import relative_to
from metrolib.show.worksheet.judged.doubts import doubt_about
from metrolib.show.worksheet.judged.picture import Picture
from metrolib.show.worksheet.judged.picture_view import view_of
from metrolib.survey.folder import read_survey
from tests.show.worksheet.benches import LEVEL, heights_of, stepped, survey, until

VALUES = [0.4, 0.5, 0.6, 0.5, 0.4, 0.6, -5.4, 0.5, 0.3, 0.2]


def seen(made, traverse="out", **how):
    return view_of(made, heights_of(made), traverse, **how)


def ink(png):
    """Return the picture as an array of brightness, 0 black to 1 white."""
    return imread(BytesIO(png))[..., :3].mean(axis=2)


def test_the_profile_is_that_of_the_adjustment_with_its_band():
    made = until(survey(stepped(VALUES)), 6)
    heights = heights_of(made)
    picture = Picture()
    picture.png(view_of(made, heights, "out", next_x=600.0))
    line, band = picture._lines[0], picture._bands[0]
    z, cov = relative_to(heights, ["way"])
    assert line.get_xdata() == pytest.approx(np.arange(0, 700, 100))
    assert line.get_ydata() == pytest.approx(1e3 * z)
    outline = band.get_paths()[0].vertices[:, 1]
    assert outline.max() == pytest.approx((1e3 * (z + 2 * np.sqrt(np.diag(cov)))).max())
    assert picture.heights.get_ylabel() == "height [µm]"
    assert picture.readings.get_ylabel() == "reading [div]"
    assert "x [mm]; heights drawn about" in picture.readings.get_xlabel()


def test_it_grows_with_the_readings_and_marks_the_next_station():
    made, picture = survey(stepped(VALUES)), Picture()
    for count in (3, 6, 10):
        after = until(made, count)
        next_x = 100.0 * count if count < 10 else None
        picture.png(view_of(after, heights_of(after), "out", next_x=next_x))
        assert len(picture._taken.get_xdata()) == count
        assert len(picture._planned.get_xdata()) == 10 - count
        assert picture._next[0].get_visible() is (count < 10)
    assert len(picture._lines) == 1


def test_the_place_axis_does_not_jump_while_readings_come():
    made, picture = survey(stepped(VALUES)), Picture()
    limits = set()
    for count in (3, 5, 9):
        after = until(made, count)
        picture.png(view_of(after, heights_of(after), "out"))
        limits.add(picture.heights.get_xlim())
    assert len(limits) == 1


def test_a_doubtful_reading_differs_in_shape_from_the_others():
    made = survey(stepped(VALUES))
    doubt = doubt_about(made, len(made.readings) - 1)
    picture = Picture()
    view = seen(made, doubtful=[doubt])
    picture.png(view)
    assert picture._doubtful.get_xdata().tolist() == [600.0]
    assert picture._doubtful.get_marker() != picture._taken.get_marker()
    assert "doubtful: 600 mm" in view.alt_text
    assert (ink(picture.png(view)) != ink(picture.png(seen(made)))).sum() > 50


def test_what_is_not_determined_is_not_drawn():
    made = survey([("over the ledge", x, 25.0) for x in range(0, 700, 100)])
    view, picture = seen(made, "over the ledge"), Picture()
    picture.png(view)
    assert (view.lines, view.not_drawn) == ((), ("way",))
    assert not picture.heights.get_visible()
    assert "not determined yet: way" in view.title
    assert "not determined yet: way" in view.alt_text


def test_without_heights_or_readings_it_still_draws():
    made = survey([("out", 100.0 * i, None) for i in range(4)])
    view = view_of(made, None, "out", next_x=0.0)
    assert ink(Picture().png(view)).shape == (550, 800)
    assert view.alt_text == "out: 0 of 4 readings taken; next at 0 mm."


def test_several_faces_are_told_apart_without_colour():
    made = read_survey("sample_surveys/toolroom_lathe")
    picture = Picture()
    view = seen(made, "measuring arm")
    picture.png(view)
    marks = [(line.get_marker(), line.get_mfc() == "white") for line in picture._lines]
    assert len(set(marks)) == len(view.lines) == 7
    assert len(picture.heights.get_legend().get_texts()) == 7
    picture.png(seen(made, "level on front flat"))
    assert picture.heights.get_legend() is None
    assert [line.get_visible() for line in picture._lines] == [True] + 6 * [False]


def test_it_can_be_shown_in_thou():
    made = survey(stepped(VALUES), 'display = "thou"\n' + LEVEL)
    view, picture = seen(made), Picture()
    picture.png(view)
    metric = seen(survey(stepped(VALUES)))
    assert view.lines[0].z == pytest.approx(metric.lines[0].z / 25.4)
    assert picture.heights.get_ylabel() == "height [thou]"


def test_texts_stand_inside_the_picture_and_apart():
    """At the size it is shown: no text is cut off or runs into another."""
    made = until(read_survey("sample_surveys/toolroom_lathe"), 295)
    picture = Picture()
    picture.png(seen(made, "measuring arm", next_x=1300.0))
    drawn = picture.figure.canvas.get_renderer()
    texts = [picture._title, picture._next_words, picture.readings.xaxis.label]
    boxes = [text.get_window_extent(drawn) for text in texts]
    boxes += [picture.figure.legends[0].get_window_extent(drawn)]
    boxes += [picture.heights.get_legend().get_window_extent(drawn)]
    for i, box in enumerate(boxes):
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= 800 and box.y1 <= 550
        for other in boxes[i + 1 :]:
            assert not _meet(box, other)


def _meet(one, other):
    return (
        min(one.x1, other.x1) - max(one.x0, other.x0) > 1
        and min(one.y1, other.y1) - max(one.y0, other.y0) > 1
    )


def test_two_threads_draw_their_own():
    """Callbacks come on other threads: the pictures are those of one thread."""
    views = [seen(survey(stepped(VALUES[:count]))) for count in (4, 8)]
    alone = [Picture().png(view) for view in views]
    got = {}

    def work(i):
        picture = Picture()
        got[i] = [picture.png(views[i]) for _ in range(5)]

    threads = [Thread(target=work, args=(i,)) for i in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for i in (0, 1):
        assert all(np.array_equal(ink(one), ink(alone[i])) for one in got[i])


def test_pyplot_is_never_loaded():
    code = (
        "import sys; from metrolib.show.worksheet.judged.picture import Picture; Picture();"
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)

"""What stands still in the growing picture: kept between readings, yet never out of date."""

from dataclasses import replace

import pytest

from metrolib.show.worksheet.judged.doubts import doubt_about
from metrolib.show.worksheet.judged.picture import Picture
from metrolib.show.worksheet.judged.picture_frame import frame_of
from metrolib.show.worksheet.judged.picture_view import view_of
from metrolib.survey.folder import read_survey
from tests.show.worksheet.benches import heights_of, stepped, survey, until

VALUES = [0.4, 0.5, 0.6, 0.5, 0.4, 0.6, -5.4, 0.5, 0.3, 0.2]


def views():
    """Return what is shown while a traverse is read, with a doubt, and then of other traverses."""
    made = survey(stepped(VALUES))
    for count in (1, 2, 3, 6, 7, 8, 10):
        part = until(made, count)
        doubt = doubt_about(part, count - 1) if count == 7 else None
        doubtful = [] if doubt is None else [doubt]
        next_x = None if count == 10 else 100.0 * count
        yield view_of(part, heights_of(part), "out", next_x=next_x, doubtful=doubtful)
    lathe = read_survey("sample_surveys/toolroom_lathe")
    for traverse in ("measuring arm", "level on front flat", "measuring arm"):
        yield view_of(lathe, heights_of(lathe), traverse, next_x=400.0)


def test_a_picture_that_grew_is_the_one_drawn_anew():
    grown = Picture()
    for view in views():
        assert grown.png(view) == Picture().png(view)


def test_another_station_or_a_doubt_leaves_the_frame_and_changes_the_picture():
    made = survey(stepped(VALUES))
    view = view_of(made, heights_of(made), "out", next_x=100.0)
    further = replace(view, next_x=900.0)
    doubted = view_of(made, heights_of(made), "out", next_x=100.0, doubtful=[doubt_about(made, 9)])
    assert frame_of(view) == frame_of(further) == frame_of(doubted)
    pictures = [Picture().png(one) for one in (view, further, doubted)]
    assert len(set(pictures)) == 3


@pytest.mark.parametrize("scale", [1e-3, 0.37, 1.0, 25.4, 4e4])
def test_limits_hold_what_is_drawn_and_waste_little_room(scale):
    made = survey(stepped([scale * value for value in VALUES]))
    view = view_of(made, heights_of(made), "out")
    frame = frame_of(view)
    line = view.lines[0]
    low, high = (line.z - 2 * line.u).min(), (line.z + 2 * line.u).max()
    for limits, least, most, drawn_at_least in (
        (frame.heights, low, high, 0.0),
        (frame.readings, view.value.min(), view.value.max(), 2.0),  # divisions
    ):
        assert limits[0] < least <= most < limits[1]
        assert max(most - least, drawn_at_least) > 0.5 * (limits[1] - limits[0])


def test_a_reading_between_the_others_moves_no_limit():
    frames = set()
    for value in (-1.0, 0.0, 1.0):
        made = survey(stepped([*VALUES[:5], value, *VALUES[6:]]))
        frames.add(frame_of(view_of(made, None, "out")))
    assert len(frames) == 1

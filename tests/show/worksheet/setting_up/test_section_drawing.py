"""The drawing of the cross-section and of the stations: by what its artists hold."""

from threading import Thread

import numpy as np
import pytest
from matplotlib.figure import Figure

from metrolib.show.worksheet.setting_up.answers import Answers
from metrolib.show.worksheet.setting_up.reading_sets import sheets_of
from metrolib.show.worksheet.setting_up.section_drawing import (
    draw_section,
    draw_stations,
    looks,
    picture_of,
    words_of,
)
from metrolib.show.worksheet.setting_up.setting_up import describe
from metrolib.survey.folder import read_survey
from metrolib.survey.layouts import LAYOUTS
from metrolib.survey.machine import Face, LeftOut

BED = LAYOUTS["two flats and a ledge"]
VEE = LAYOUTS["an inverted vee and a flat"]


def axes():
    return Figure(figsize=(5, 2.2)).add_axes((0.1, 0.2, 0.85, 0.7))


def faces_drawn(ax):
    """Return the two ends of each heavy line."""
    return [line.get_xydata() for line in ax.lines if line.get_linewidth() > 2]


def test_faces_stand_where_they_are_and_as_wide_as_they_are():
    front, rear, ledge = faces_drawn(draw_section(BED, axes()))
    assert sorted(front[:, 0]) == [-20, 20]
    assert sorted(rear[:, 0]) == [160, 200]
    assert front[:, 1].tolist() == rear[:, 1].tolist() == [0, 0]
    # 25 mm down along its own normal: it looks down, so it lies below the flats
    assert sorted(ledge[:, 0]) == [-10, 10]
    assert ledge[:, 1] == pytest.approx(-25)


def test_flanks_lean_away_from_where_they_look():
    front, rear, _ = faces_drawn(draw_section(VEE, axes()))
    # 30 mm wide at 45 degrees: 30 cos 45 = 21.2 mm across, and as much in height
    for flank in (front, rear):
        assert np.ptp(flank, axis=0) == pytest.approx(30 / np.sqrt(2), abs=1e-9)
    assert front[front[:, 1].argmax(), 0] == pytest.approx(-11 + 15 / np.sqrt(2))
    assert rear[rear[:, 1].argmax(), 0] == pytest.approx(11 - 15 / np.sqrt(2))  # the ridge between


def test_seen_along_x_the_larger_y_is_at_the_left():
    ax = draw_section(BED, axes())
    left, right = ax.get_xlim()
    assert left > right
    assert ax.get_title(loc="left") == "seen from the x = 0 end, looking along +x"


def test_the_section_is_drawn_to_one_scale():
    ax = draw_section(VEE, axes())
    width, height = ax.bbox.width, ax.bbox.height
    across, upward = abs(np.diff(ax.get_xlim())[0]), np.diff(ax.get_ylim())[0]
    assert across / width == pytest.approx(upward / height)


def test_each_face_has_its_name_and_sizes_within_the_picture():
    crowd = [
        Face(f"face number {n}", y=12 * n, width=10, x_from=0, x_to=500, normal=180 * (n % 2))
        for n in range(7)
    ]
    figure = Figure(figsize=(5, 3))
    ax = draw_section(crowd, figure.add_axes((0.1, 0.2, 0.85, 0.7)))
    figure.canvas.draw()
    names = [text for text in ax.texts if text.get_text()]
    assert [text.get_text() for text in names if "number 3" in text.get_text()] == [
        "face number 3\nwidth 10, y 36"
    ]
    boxes = [text.get_window_extent() for text in names]
    assert len(boxes) == 7
    assert not any(one.overlaps(other) for at, one in enumerate(boxes) for other in boxes[:at])
    assert all(ax.bbox.y0 - 1 <= box.y0 and box.y1 <= figure.bbox.y1 for box in boxes)


def test_each_normal_has_an_arrow_out_of_the_metal():
    ax = draw_section(VEE, axes())
    arrows = [(np.array(one.xy) - one.xyann) for one in ax.texts if not one.get_text()]
    directions = [arrow / np.hypot(*arrow) for arrow in arrows]
    half = np.sqrt(0.5)
    assert np.allclose(directions, [(-half, half), (half, half), (0, 1)])


def test_stations_lie_on_their_faces_seen_from_above():
    answers = Answers(machine="bed")
    answers.begin_with("two flats and a ledge")
    said = describe(answers)
    ax = draw_stations(list(said.faces.values()), said.all_sheets, axes())
    marks = {line.get_label(): line.get_xydata() for line in ax.lines}
    assert list(marks) == [
        "level along (20 places)",
        "level across (11 places)",
        "micrometer (11 places)",
    ]
    along = marks["level along (20 places)"]
    assert set(along[:, 1]) == {0, 180}
    assert sorted(set(along[:, 0])) == list(range(0, 1000, 100))
    assert ax.get_ylim()[0] < ax.get_ylim()[1]


def test_the_stations_of_a_vee_lie_between_its_flanks():
    answers = Answers(machine="bed")
    answers.begin_with("an inverted vee and a flat")
    said = describe(answers)
    ax = draw_stations(list(said.faces.values()), said.all_sheets, axes())
    along = ax.lines[0].get_xydata()
    assert set(along[:, 1]) == {0, 200}


def test_what_is_left_out_is_hatched():
    face = Face("way", 0, 40, 0, 800, left_out=(LeftOut(300, 340, "oil hole"),))
    ax = draw_stations([face], [], axes())
    (hatched,) = ax.collections
    assert hatched.get_hatch() == "xx"
    xs = hatched.get_paths()[0].vertices[:, 0]
    assert (xs.min(), xs.max()) == (300, 340)


@pytest.mark.parametrize("name", ["toolroom_lathe", "rectangular_face", "milling_table"])
def test_surveys_that_stand_can_be_drawn(name):
    survey = read_survey(f"sample_surveys/{name}")
    sheets = sheets_of(survey)
    along_lines = [one for one in survey.traverses.values() if "line" in one.settings]
    assert len(sheets) == len(survey.traverses) - len(along_lines)
    assert picture_of(list(survey.machine.faces.values()), sheets).startswith(b"\x89PNG")


def test_nothing_described_is_said_in_the_picture_and_in_words():
    for draw in (draw_section([], axes()), draw_stations([], [], axes())):
        assert [text.get_text() for text in draw.texts] == ["no face is described yet"]
    assert "empty" in words_of([])
    assert picture_of([], []).startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("normal", "words"),
    [
        (0, "looks up"),
        (180, "looks down"),
        (-180, "looks down"),
        (90, "looks toward +y"),
        (270, "looks toward -y"),
        (45, "leans 45 degrees from up toward +y"),
        (-135, "leans 135 degrees from up toward -y"),
    ],
)
def test_which_way_a_face_looks(normal, words):
    assert looks(Face("face", 0, 10, 0, 100, normal=normal)) == words


def test_a_name_with_a_dollar_is_no_formula():
    face = Face("way at 5$ a $", 0, 40, 0, 800)
    assert picture_of([face], []).startswith(b"\x89PNG")
    assert "way at 5$ a $: middle at y 0" in words_of([face])


def test_two_threads_draw_what_one_does():
    alone = picture_of(BED, [])
    found = []
    threads = [Thread(target=lambda: found.append(picture_of(BED, []))) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [alone] * 3

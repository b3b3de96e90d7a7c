import pytest

from metrolib.show.worksheet.course import course, read_again
from metrolib.show.worksheet.disk.history import AT_ONCE, new_event
from metrolib.survey.folder import read_survey

ALONG, BACK = "level along front flat", "level along front flat turned"


def _text(folder, change):
    path = folder / "readings.csv"
    path.write_text(change(path.read_text()))
    return read_survey(folder)


def test_the_course_is_that_of_the_rows(folder):
    survey = read_survey(folder)
    assert [one.x for one in course(survey, ALONG)] == [0, 100, 200, 300, 400, 500]
    assert [one.x for one in course(survey, BACK)] == [500, 400, 300, 200, 100, 0]
    assert {one.state for one in course(survey, ALONG)} == {"open"}


def test_rows_that_were_moved_in_the_file_are_followed(folder):
    def move(text):
        head, first, *rest = text.splitlines()
        return "\n".join([head, *rest, first]) + "\n"

    survey = _text(folder, move)
    assert [one.x for one in course(survey, ALONG)] == [100, 200, 300, 400, 500, 0]


def test_what_is_read_is_taken_with_its_number_and_note(folder):
    survey = _text(folder, lambda t: t.replace("flat,100,,,,", "flat,100,-1.5,,,jack moved", 1))
    first, second, *_ = course(survey, ALONG)
    assert (first.state, first.value) == ("open", None)
    assert (second.state, second.value, second.note) == ("taken", -1.5, "jack moved")
    assert (second.planned_line, second.unit, second.kind) == (3, "division", "level along")


def test_the_limits_are_those_of_the_instrument(folder):
    assert (
        course(read_survey(folder), ALONG)[0].low,
        course(read_survey(folder), ALONG)[0].high,
    ) == (None, None)
    path = folder / "survey.toml"
    path.write_text(path.read_text().replace("# range = 20", "range = 20"))
    prompt = course(read_survey(folder), ALONG)[0]
    assert (prompt.low, prompt.high) == (-20, 20)


def test_a_planned_row_that_is_read_elsewhere_in_the_file_is_not_asked_for_again(folder):
    survey = _text(folder, lambda text: text + f"{ALONG},front flat,100,2,,,\n")
    stations = [(one.x, one.state) for one in course(survey, ALONG)]
    assert sorted(stations) == [
        (0, "open"),
        (100, "taken"),
        (200, "open"),
        (300, "open"),
        (400, "open"),
        (500, "open"),
    ]


@pytest.mark.parametrize("at_once", [True, False])
def test_a_repeat_made_at_once_stands_behind_its_station_a_planned_one_in_its_row(folder, at_once):
    survey = _text(
        folder,
        lambda text: (
            text.replace("flat,100,,,,", "flat,100,1,,,", 1) + f"{ALONG},front flat,100,2,2,,\n"
        ),
    )
    prompt = next(one for one in course(survey, ALONG) if one.repeat == 2)
    event = new_event("repeated", prompt, now="2", words=f"{AT_ONCE}, 2")
    found = [(one.x, one.repeat) for one in course(survey, ALONG, [event] if at_once else [])]
    assert found.index((100, 2)) == (2 if at_once else 6)


def test_the_next_repeat_has_the_next_number(folder):
    survey = _text(
        folder,
        lambda text: (
            text.replace("flat,100,,,,", "flat,100,1,,,", 1) + f"{ALONG},front flat,100,2,2,,\n"
        ),
    )
    first = course(survey, ALONG)[1]
    again = read_again(survey, first)
    assert (again.x, again.repeat, again.state, again.planned_line) == (100, 3, "open", None)
    assert again.words.endswith("reading no. 3")


def _all_read(folder):
    def fill(text):
        for x in range(0, 600, 100):
            text = text.replace(f"{ALONG},front flat,{x},,,,", f"{ALONG},front flat,{x},1,,,")
        return text

    return _text(folder, fill)


def test_a_traverse_that_was_not_read_here_asks_for_no_way_back(folder):
    survey = _all_read(folder)
    assert len(course(survey, ALONG)) == 6
    worked = [new_event("taken", course(survey, ALONG)[-1], now="1")]
    back = course(survey, ALONG, worked)[-1]
    assert (back.closing, back.x, back.repeat) == (True, 0, 2)


def test_a_traverse_that_came_back_by_plan_asks_for_no_more(folder):
    _all_read(folder)
    survey = _text(folder, lambda text: text + f"{ALONG},front flat,0,1,2,,\n")
    worked = [new_event("taken", course(survey, ALONG)[-1], now="1")]
    assert not any(one.closing for one in course(survey, ALONG, worked))


def test_keys_are_different_for_all_readings_of_a_survey(folder):
    survey = read_survey(folder)
    keys = [one.key for name in survey.traverses for one in course(survey, name)]
    assert len(set(keys)) == len(keys) == len(survey.planned)

"""The worksheet as it is worked with by hand: take, step, correct, skip, note, repeat, undo."""

import csv

import numpy as np
import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.show.worksheet.worksheet import Worksheet, worksheet
from metrolib.survey.folder import read_survey


def _readings(folder, traverse="level along front flat"):
    """Return {(x, repeat): reading} of a traverse as read_survey finds it on disk."""
    found = read_survey(folder).readings.of(traverse)
    return dict(zip(zip(found.x, found.repeat, strict=True), found.value, strict=True))


def _events(folder):
    with open(folder / "history.csv", encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_a_reading_is_on_disk_when_take_returns(folder, sheet):
    taken = sheet.take("1,5")
    assert (taken.value, taken.text, taken.on_disk) == (1.5, "1,5", True)
    assert _readings(folder) == {(0, 1): 1.5}
    (event,) = _events(folder)
    assert [event[name] for name in ("action", "traverse", "face", "x", "repeat")] == [
        "taken",
        "level along front flat",
        "front flat",
        "0",
        "1",
    ]
    assert (event["was"], event["now"], event["words"]) == ("", "1.5", "1,5")
    assert event["token"] == taken.token


def test_enter_after_enter_follows_the_course(folder, sheet):
    stations = [prompt.x for prompt in sheet.prompts]
    for at, x in enumerate(stations):
        assert sheet.prompt.x == x
        sheet.take(str(at))
    assert _readings(folder) == {(x, 1): at for at, x in enumerate(stations)}


def test_only_the_cells_that_were_filled_change_in_the_readings_file(folder, sheet):
    before = (folder / "readings.csv").read_text().splitlines()
    sheet.take("1.50")
    sheet.take("-2")
    after = (folder / "readings.csv").read_text().splitlines()
    assert after[1:3] == [
        "level along front flat,front flat,0,1.50,,1,",
        "level along front flat,front flat,100,-2,,2,",
    ]
    assert [after[0], *after[3:]] == [before[0], *before[3:]]


def test_a_converted_reading_keeps_its_text_in_the_history(folder, sheet):
    sheet.take("0.03 mm/m")
    assert _readings(folder)[0, 1] == 1.5  # a division is 0.02 mm/m
    assert _events(folder)[0]["words"] == "0.03 mm/m"


@pytest.mark.parametrize("text", ["abc", "", "1.2.3", "3 mm"])
def test_wrong_input_changes_nothing(folder, sheet, text):
    before = (folder / "readings.csv").read_bytes(), sheet.prompt
    with pytest.raises(InputError):
        sheet.take(text)
    assert ((folder / "readings.csv").read_bytes(), sheet.prompt) == before
    assert not (folder / "history.csv").exists()


def test_a_new_worksheet_goes_on_where_the_old_one_stood(folder, sheet):
    sheet.choose("level along rear flat turned")
    sheet.take("1")
    again = worksheet(folder)
    assert again.traverse == "level along rear flat turned"
    assert again.prompt == sheet.prompt
    assert again.prompt.x == 400


def test_a_number_at_a_station_already_read_is_a_correction(folder, sheet):
    sheet.take("1")
    sheet.take("2")
    sheet.step_back()
    sheet.step_back()
    assert (sheet.prompt.x, sheet.prompt.state, sheet.prompt.value) == (0, "taken", 1)
    sheet.take("9")
    assert _readings(folder) == {(0, 1): 9, (100, 1): 2}
    last = _events(folder)[-1]
    assert (last["action"], last["was"], last["now"]) == ("corrected", "1", "9")
    assert sheet.prompt.x == 200


def test_steps_stop_at_the_ends(sheet):
    sheet.step_back()
    assert sheet.prompt.x == 0
    for _ in range(20):
        sheet.step_on()
    assert sheet.prompt == sheet.prompts[-1]


def test_a_correction_by_row_keeps_every_old_number(folder, sheet):
    sheet.take("1.0")
    for text in ("2", "3"):
        sheet.correct(sheet.rows[0], text)
    assert _readings(folder) == {(0, 1): 3}
    events = sheet.rows[0].events
    assert [(event.was, event.now) for event in events] == [("", "1.0"), ("1.0", "2"), ("2", "3")]


def test_what_is_not_read_cannot_be_corrected_or_taken_back(sheet):
    with pytest.raises(InputError, match="correct: nothing is read at 0 mm"):
        sheet.correct(sheet.rows[0], "3")
    with pytest.raises(InputError, match="take_back: nothing is read at 0 mm"):
        sheet.take_back(sheet.rows[0], "slipped")


def test_what_another_worksheet_took_back_meanwhile_is_not_taken_back_twice(
    folder, sheet, monkeypatch
):
    sheet.take("1")
    other, record = worksheet(folder), sheet._kept.record

    def after_the_other(make):
        other.take_back(other.rows[0], "slipped")
        return record(make)

    monkeypatch.setattr(sheet._kept, "record", after_the_other)
    with pytest.raises(InputError, match="take_back: nothing is read at 0 mm"):
        sheet.take_back(sheet.rows[0], "slipped too")
    other.close()
    assert [event["action"] for event in _events(folder)] == ["taken", "taken back"]


def test_repeats_are_kept_beside_each_other(folder, sheet):
    sheet.take("1")
    sheet.take("2")
    sheet.repeat()
    assert (sheet.prompt.x, sheet.prompt.repeat) == (100, 2)
    assert "reading no. 2" in sheet.prompt.words
    assert sheet.prompt in sheet.prompts
    sheet.take("2.5")
    assert _readings(folder) == {(0, 1): 1, (100, 1): 2, (100, 2): 2.5}
    assert sheet.prompt.x == 200
    sheet.step_back()
    assert (sheet.prompt.x, sheet.prompt.repeat) == (100, 2)
    sheet.repeat()
    sheet.take("2.75")
    assert _readings(folder)[100, 3] == 2.75


def test_a_repeat_needs_a_reading(sheet):
    with pytest.raises(InputError, match="repeat: nothing is read in this traverse"):
        sheet.repeat()


def test_a_station_is_skipped_with_its_reason_in_the_note(folder, sheet):
    sheet.skip("oil hole")
    assert sheet.prompt.x == 100
    assert sheet.prompts[0].state == "skipped"
    assert read_survey(folder).planned.note[0] == "skipped: oil hole"
    assert worksheet(folder).prompts[0].state == "skipped"


def test_a_skipped_station_can_be_opened_again_or_simply_read(folder, sheet):
    sheet.note("chipped")
    sheet.skip("oil hole")
    sheet.unskip(sheet.prompts[0])
    assert (sheet.prompt.x, sheet.prompt.state, sheet.prompt.note) == (0, "open", "chipped")
    sheet.skip("oil hole")
    sheet.step_back()
    sheet.take("4")
    assert _readings(folder) == {(0, 1): 4}
    assert read_survey(folder).readings.note.tolist() == ["chipped"]


def test_skipping_needs_a_reason_and_an_unread_station(sheet):
    with pytest.raises(InputError, match="skip: a reason is needed, got ' '"):
        sheet.skip(" ")
    sheet.take("1")
    sheet.step_back()
    with pytest.raises(InputError, match="at 0 mm is read already, 1; take it back instead"):
        sheet.skip("oil hole")
    with pytest.raises(InputError, match="unskip: .* at 0 mm is taken"):
        sheet.unskip()


def test_a_note_goes_to_its_row_and_the_old_one_into_the_history(folder, sheet):
    sheet.note("jack, moved")
    sheet.take("1")
    sheet.note("feet wiped", key=sheet.prompts[0])
    assert read_survey(folder).readings.note[0] == "feet wiped"
    assert _events(folder)[-1]["was"] == "jack, moved"
    assert _readings(folder) == {(0, 1): 1}


def test_a_reading_taken_back_stays_in_the_history_and_its_station_opens(folder, sheet):
    sheet.take("1")
    sheet.take_back(sheet.rows[0], "the level slipped")
    assert _readings(folder) == {}
    assert sheet.prompts[0].state == "open"
    last = _events(folder)[-1]
    assert (last["action"], last["was"], last["words"]) == ("taken back", "1", "the level slipped")
    with pytest.raises(InputError, match="take_back: a reason is needed"):
        sheet.take("1", key=sheet.prompts[0].key)
        sheet.take_back(sheet.rows[0], "")


def test_a_token_is_written_once(folder, sheet):
    first = sheet.take("1", token="t1")
    again = sheet.take("1", token="t1", key=first.prompt.key)
    assert again.value == 1
    assert len(_events(folder)) == 1
    assert sheet.prompt.x == 100
    later = worksheet(folder)
    later.take("1", token="t1", key=first.prompt.key)
    assert len(_events(folder)) == 1


def test_a_key_says_which_reading_is_meant(folder, sheet):
    key = sheet.course_of("level along rear flat")[2].key
    sheet.take("7", key=key)
    assert _readings(folder, "level along rear flat") == {(200, 1): 7}
    assert (sheet.traverse, sheet.prompt.x) == ("level along front flat", 0)
    sheet.go_to(key)
    assert (sheet.traverse, sheet.prompt.x) == ("level along rear flat", 200)


def test_the_key_of_a_repeat_is_found_before_the_repeat_has_a_row(folder, sheet):
    sheet.take("1")
    sheet.repeat()
    key = sheet.prompt.key
    later = worksheet(folder)  # as after a restart, with the reading still in the browser
    later.take("1.25", key=key)
    assert _readings(folder) == {(0, 1): 1, (0, 2): 1.25}


def test_a_key_of_nothing_is_refused(sheet):
    with pytest.raises(InputError, match="key: no station has it, got 'a|b|0|1'"):
        sheet.go_to("a|b|0|1")
    with pytest.raises(InputError, match="traverse: this is not one of the choices"):
        sheet.choose("no such traverse")


def test_a_traverse_read_from_end_to_end_asks_to_come_back_to_its_first_station(folder, sheet):
    count = len(sheet.prompts)
    for at in range(count):
        sheet.take(str(at))
    back = sheet.prompt
    assert (back.closing, back.x, back.repeat) == (True, 0, 2)
    assert back.words.startswith("Back at the first station: Level on the front flat")
    sheet.take("0.5")
    assert _readings(folder)[0, 2] == 0.5
    assert sheet.prompt is None
    assert sheet.prompts[-1].repeat == 2
    assert len(sheet.prompts) == count + 1
    with pytest.raises(InputError, match="is read from end to end; choose another traverse"):
        sheet.take("1")


def test_the_way_back_can_be_left_out(folder, sheet):
    for at in range(len(sheet.prompts)):
        sheet.take(str(at))
    before = (folder / "readings.csv").read_bytes()
    sheet.skip("no time")
    assert sheet.prompt is None
    assert (folder / "readings.csv").read_bytes() == before
    assert worksheet(folder).course_of("level along front flat")[-1].closing is False


def test_heights_come_with_the_readings_and_are_computed_once(sheet):
    assert sheet.heights is None
    for text in ("1", "2", "3"):
        sheet.take(text)
    heights = sheet.heights
    assert heights is sheet.heights
    z = heights.on("front flat").z
    # a level of 0.02 mm/m over feet 100 mm apart: steps of 2, 4 and 6 µm, up to the frame's tilt
    steps = np.diff([float(one.n) for one in z[:4]]) * 1e3
    assert np.diff(steps) == pytest.approx([2, 2], abs=1e-6)
    sheet.take("4")
    assert sheet.heights is not heights


def test_in_words_it_says_what_is_done_and_what_comes_next(sheet):
    sheet.take("1,5")
    text = str(sheet)
    assert "Bench lathe" in text
    assert "last: 1.5 div at 0 mm, level along front flat" in text
    assert "level along front flat: 1 read, 5 to come" in text
    assert "next: Level on the front flat, feet at 100 and 200 mm" in text
    assert "positive when the bubble runs toward high x" in text
    sheet.step_back()
    assert "1.5 div is read here; another number corrects it" in str(sheet)


def test_the_result_stays_as_it_was_and_says_so(sheet):
    sheet.take("1,5")
    sheet.skip("oil <hole>")
    result = sheet.result
    sheet.take("2")
    assert "level along front flat: 1 read, 1 skipped, 4 to come" in str(result)
    assert "<td>level along front flat</td><td>1</td><td>1</td><td>4</td>" in result._repr_html_()
    for said in (str(result), result._repr_html_()):
        assert "As it stood when this was written; it does not follow the screen." in said
    assert "As it stood" not in str(sheet)


def test_without_a_screen_jupyter_shows_the_text(sheet, monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "metrolib.show.worksheet.screen.screen", None)
    assert sheet._repr_mimebundle_() == {"text/plain": str(sheet)}


def test_a_folder_that_is_none_is_refused(tmp_path):
    with pytest.raises(SurveyError, match="there is no such folder"):
        Worksheet(tmp_path / "nowhere")
    with pytest.raises(InputError, match="folder: a path is needed"):
        worksheet(3)


def test_opening_a_folder_without_history_writes_no_file_of_the_survey(folder):
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    worksheet(folder)
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before

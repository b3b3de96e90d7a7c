"""The panel of a round's worksheet: stop reading, warning, and what is left."""

from threading import RLock

import pytest

from metrolib.show.worksheet.rounds.rounds_page import RoundPanel
from metrolib.show.worksheet.screen.live_view import LiveView
from metrolib.show.worksheet.screen.screen import Screen
from metrolib.show.worksheet.screen.taking_page import _TakingPage
from metrolib.show.worksheet.worksheet import worksheet
from tests.show.worksheet.rounds.test_round_stop import FIRST, SIZES, write


def opened(tmp_path, toml=FIRST):
    first = write(tmp_path / "bed", SIZES, toml)
    write(first / "rounds" / "1", dict.fromkeys(SIZES), toml)
    sheet = worksheet(first / "rounds" / "1")
    sheet.choose("over")
    return sheet


def read(sheet, panel, text):
    taken = sheet.take(text)
    panel.taken(taken.prompt, taken.value)


@pytest.fixture
def bench(tmp_path):
    sheet = opened(tmp_path)
    yield sheet, RoundPanel(sheet)
    sheet.close()


def test_the_first_survey_has_no_panel(sheet):
    assert sheet.work is None
    assert LiveView(sheet, RLock())._round is None


def test_without_widgets_the_text_says_the_same(bench):
    sheet, _ = bench
    assert "Stop 'file' here at 25.020 mm." in str(sheet)
    sheet.take("24.995")
    assert "below the target" in str(sheet) and "Nothing to do here" in str(sheet)


def test_the_stop_reading_follows_the_prompt(bench):
    sheet, panel = bench
    panel.show()
    assert "25.020 mm" in panel._stop.value and "60.0 µm" in panel._stop.value
    sheet.take("25,04")
    panel.show()
    assert "Nothing to do here" in panel._stop.value  # at 200 mm
    sheet.take("25")
    sheet.take("25.03")
    while sheet.prompt is not None:
        sheet.skip("done")
    panel.show()
    assert panel._stop.value == ""


def test_a_reading_near_the_target_warns_and_one_far_from_it_does_not(bench):
    sheet, panel = bench
    read(sheet, panel, "25,045")
    assert "45.0 µm are left" in panel._reach.value and "alert" not in panel._reach.value
    read(sheet, panel, "24.995")
    assert 'role="alert"' in panel._reach.value and "Careful" in panel._reach.value
    assert "below the target" in panel._reach.value and panel._before.value == ""


def test_a_place_that_was_warned_of_stays_named_until_it_is_read_anew(bench):
    sheet, panel = bench
    read(sheet, panel, "25.002")
    read(sheet, panel, "25.045")
    assert "Warned of before: 0 mm on &#x27;flat&#x27;." in panel._before.value
    sheet.go_to(next(one.key for one in sheet.prompts if one.x == 0))
    read(sheet, panel, "25.045")
    assert panel._before.value == ""


def test_the_warning_stands_beside_the_prompt_alone(tmp_path):
    sheet = opened(tmp_path)
    screen = Screen(sheet)
    page = _TakingPage(sheet, screen)
    sheet.choose("over")
    page._catch_up()
    message = {"kind": "take", "key": sheet.prompt.key, "text": "24.99", "token": "a"}
    page._heard(message | {"unit": "mm", "again": False, "corrects": False, "waiting": 0})
    assert "Careful" in page.live._round._reach.value
    assert screen._messages == []
    sheet.close()


def test_what_is_left_by_all_readings(bench):
    sheet, panel = bench
    for text in ("25.02", "25.0", "25.01"):
        sheet.take(text)
    (words,) = panel.left(sheet.survey, "over")
    assert words.startswith("At 400 mm on 'flat' by all readings 10.0 µm left")
    assert panel.left(sheet.survey, "plate") == []


def test_a_first_survey_that_decides_nothing_is_told(tmp_path):
    sheet = opened(tmp_path, FIRST.replace('faces = ["flat"]', "faces = []"))
    panel = RoundPanel(sheet)
    panel.show()
    assert "There are no stop readings" in panel._stop.value
    taken = sheet.take("25.0")
    panel.taken(taken.prompt, taken.value)
    assert panel._reach.value == ""
    sheet.close()


def test_the_live_view_holds_it_and_says_what_is_left_after_a_pause(bench):
    sheet, _ = bench
    live = LiveView(sheet, RLock())
    for text in ("25.02", "25.0", "25.01"):
        taken = sheet.take(text)
    live.taken(taken.prompt, taken.value)
    assert "Careful" in live._round._reach.value
    live.show()
    live._pause.join()
    assert "At 400 mm on &#x27;flat&#x27; by all readings" in live._known.value

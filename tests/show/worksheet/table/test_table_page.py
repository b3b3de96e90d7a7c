"""The page of all readings, driven through its widgets."""

import shutil

import pytest

from metrolib.show.worksheet.screen.screen import Screen
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import read_survey
from tests.show.worksheet.widget_hands import every, one, press, texts


@pytest.fixture
def screen(sheet):
    """The screen of a sheet with three readings taken."""
    for text in ("1,5", "-2", "0"):
        sheet.take(text)
    screen = Screen(sheet)
    screen.show("All readings")
    return screen


@pytest.fixture
def page(screen):
    """All that is on it."""
    return screen.widget


def cells(page):
    return [cell.value for cell in every(page, "metro-cell")]


def type_into(page, at, text):
    one(page, "metro-cell", at).value = text


def marks(page, at):
    return one(page, "metro-marks", at).value


def test_the_traverse_that_is_being_read_is_shown_first(page):
    assert cells(page) == ["1.5", "-2", "0", "", "", ""]
    assert one(page, "metro-cell").description == "0 mm [div]"
    assert one(page, "metro-table-told").value == "<p>Rows 1 to 6 of 6: 3 read, 3 open.</p>"


def test_a_number_typed_over_a_reading_corrects_it(page, folder):
    type_into(page, 1, "-2,5")
    assert marks(page, 1) == "<p>✎ changed, first -2</p>"
    assert read_survey(folder).readings.value.tolist() == [1.5, -2.5, 0]
    assert cells(page)[1] == "-2,5"  # what is typed and right is left as it is


def test_another_unit_is_shown_as_the_number_that_stands(page, sheet):
    type_into(page, 1, "0,05 mm/m")  # a division of this level is 0.02 mm/m
    assert cells(page)[1] == "2.5"


def test_a_number_typed_into_an_open_station_takes_it(page, folder):
    type_into(page, 4, "4")
    assert read_survey(folder).readings.x.tolist() == [0, 100, 200, 400]
    assert one(page, "metro-table-told").value == "<p>Rows 1 to 6 of 6: 4 read, 2 open.</p>"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4..5", "two decimal marks"),
        ("abc", "this is no number"),
        ("3 kg", "this is no unit"),
        ("", "nothing is typed; to leave a reading out, open More and say why"),
    ],
)
def test_wrong_input_stays_with_what_is_wrong_beside_it(page, folder, text, words):
    before = (folder / "readings.csv").read_bytes()
    type_into(page, 1, text)
    assert cells(page)[1] == text
    assert "✗" in marks(page, 1)
    assert words in marks(page, 1)
    assert (folder / "readings.csv").read_bytes() == before
    type_into(page, 0, "1,25")  # another row is corrected meanwhile
    assert words in marks(page, 1)
    type_into(page, 1, "-2")
    assert marks(page, 1) == ""


def test_the_same_number_again_is_no_change(page, sheet):
    count = len(sheet.history)
    type_into(page, 0, "1,50")
    assert len(sheet.history) == count


def test_more_shows_the_history_and_leaves_out_with_a_reason(page, folder):
    press(page, "metro-more", 1)
    assert one(page, "metro-more", 1).description == "▾ Less"
    assert ": taken, -2" in one(page, "metro-row-history").value
    press(page, "metro-leave-out")
    assert "say why it is left out" in texts(page, "metro-fault")[0]
    assert len(read_survey(folder).readings) == 3
    one(page, "metro-reason").value = "chip under the foot"
    press(page, "metro-leave-out")
    assert marks(page, 1) == "<p>✗ left out, it was -2: chip under the foot</p>"
    assert cells(page)[1] == ""
    assert read_survey(folder).readings.value.tolist() == [1.5, 0]
    press(page, "metro-bring-back")
    assert cells(page)[1] == "-2"
    assert read_survey(folder).readings.value.tolist() == [1.5, -2, 0]


def test_an_open_station_is_skipped_and_opened_again(page):
    press(page, "metro-more", 4)
    one(page, "metro-reason").value = "oil hole"
    press(page, "metro-leave-out")
    assert marks(page, 4) == "<p>✗ skipped: oil hole</p>"
    press(page, "metro-bring-back")
    assert marks(page, 4) == "<p>○ still to be taken</p>"


def test_more_closes_again(page):
    press(page, "metro-more", 1)
    press(page, "metro-more", 1)
    assert every(page, "metro-row-history") == []
    press(page, "metro-more", 1)
    press(page, "metro-more", 2)
    assert len(every(page, "metro-row-history")) == 1  # one at a time


def test_undo_takes_back_the_last_change_and_says_which(page, screen, sheet):
    type_into(page, 1, "-2,5")
    press(page, "metro-table-undo")
    assert cells(page)[1] == "-2"
    assert sheet.rows[1].value == -2
    assert "Undone: corrected, level along front flat at 100 mm." in screen._said.value


def test_undo_with_nothing_to_undo_says_so(sheet):
    screen = Screen(sheet)
    screen.show("All readings")
    press(screen.widget, "metro-table-undo")
    assert "nothing to undo" in screen._said.value


def test_only_what_is_asked_for_is_shown(page):
    one(page, "metro-table-shown").value = "still to be taken"
    assert cells(page) == ["", "", ""]
    one(page, "metro-table-shown").value = "suspect"
    assert cells(page) == []
    assert one(page, "metro-table-told").value == "<p>No reading is of this kind.</p>"


@pytest.fixture
def lathe(tmp_path):
    """The worksheet and the screen of many readings, all traverses shown."""
    folder = tmp_path / "lathe"
    shutil.copytree("sample_surveys/toolroom_lathe", folder)
    sheet = worksheet(folder)
    screen = Screen(sheet)
    screen.show("All readings")
    one(screen.widget, "metro-table-traverse").value = ""
    yield sheet, screen
    sheet.close()


def test_many_rows_come_forty_at_a_time(lathe):
    sheet, screen = lathe
    page = screen.widget
    assert len(cells(page)) == 40
    assert one(page, "metro-cell").description == "level on front flat: 0 mm [div]"
    assert one(page, "metro-earlier").disabled
    press(page, "metro-later")
    told = one(page, "metro-table-told").value
    assert told == f"<p>Rows 41 to 80 of {len(sheet.rows)}: {len(sheet.rows)} read.</p>"
    for _ in range(10):
        press(page, "metro-later")
    assert one(page, "metro-later").disabled
    assert len(cells(page)) == len(sheet.rows) % 40
    last = one(page, "metro-cell", -1)
    assert last.value == sheet.rows[-1].digits
    one(page, "metro-table-shown").value = "suspect"
    assert len(cells(page)) >= 1
    assert all("? suspect: reads about" in marks(page, at) for at in range(len(cells(page))))


def test_a_page_that_turns_writes_nothing(lathe):
    sheet, screen = lathe
    press(screen.widget, "metro-later")
    press(screen.widget, "metro-earlier")
    assert sheet.history == ()


def test_what_is_typed_while_the_page_turns_goes_to_the_reading_it_was_typed_at(lathe):
    sheet, screen = lathe
    typed_at = one(screen.widget, "metro-cell", 2)
    where = sheet.rows[2].key
    press(screen.widget, "metro-later")  # the kernel turns the page while the browser still shows
    typed_at.value = "-6,5"
    (change,) = sheet.history
    assert sheet.prompt_of(where).place == change.place
    assert change.now == "-6.5"


def test_readings_of_another_worksheet_show_when_the_page_is_opened_again(page, sheet, folder):
    other = worksheet(folder)
    other.take("9")
    other.close()
    press(page, "metro-page", 1)
    press(page, "metro-page", 2)
    assert cells(page)[3] == "9"

"""The worksheet in a real JupyterLab: typed by keyboard, interrupted, and found on disk."""

import re
import tomllib
from contextlib import suppress

import psutil
import pytest
from playwright.sync_api import expect

from metrolib.show.worksheet.worksheet import worksheet
from tests.browser import folders, hands

#: Equal ones in a row, a comma, zeros, a minus sign of another kind: all of them count.
TWENTY = ["1.5", "1.5", "-2", "0", "0", "3,25", "2", "2", "1.5", "0.9", "-1", "-1", "\u22120.5"]
TWENTY += ["0", "1", ".5", "0,5", "2", "1.5", "1.5"]
VALUES = [float(text.replace(",", ".").replace("\u2212", "-")) for text in TWENTY]

TRAVERSES = ["read before", "read elsewhere", "quick", "brisk", "steady", "wrong input", "wild"]
TRAVERSES += ["units", "shared", "steps", "ring", "reload", "killed", "gone"]


@pytest.fixture(scope="module")
def folder(lab):
    return folders.plan(lab.root / "ways", TRAVERSES, {"read before": VALUES})


@pytest.fixture(scope="module")
def page(open_lab, folder):
    return open_lab(folder)


@pytest.mark.parametrize(
    ("traverse", "delay", "count"), [("quick", 20, 20), ("brisk", 60, 20), ("steady", 150, 10)]
)
def test_readings_typed_ahead_all_stand_on_disk(page, folder, shoot, traverse, delay, count):
    hands.choose(page, traverse)
    hands.type_readings(page, TWENTY[:count], delay)
    hands.expect_taken(page, count)
    shoot(page, f"lab_typed_at_{delay}_ms")
    on_disk = folders.readings_on_disk(folder, traverse)
    stations = [(folders.PITCH * at, 1) for at in range(count)]
    assert on_disk == dict(zip(stations, VALUES, strict=False))


def test_the_removal_is_decided_and_the_decision_written(page, folder, shoot):
    hands.turn_to(page, "Decide")
    expect(page.locator(".metro-plan")).to_contain_text("way 1")
    expect(page.locator(".metro-outcome")).to_contain_text("Take 'way 1' down")
    shoot(page, "lab_decide")
    before = page.locator(".metro-outcome").text_content()
    allowance = page.locator(".metro-stepper", has_text="Allowance")
    hands.press(allowance.get_by_role("button", name="+"))
    expect(page.locator(".metro-outcome")).not_to_have_text(before)
    hands.press(page.locator(".metro-use"))
    expect(page.locator(".metro-messages")).to_contain_text("Written into survey.toml")
    shoot(page, "lab_decided")
    decision = tomllib.loads((folder / "survey.toml").read_text(encoding="utf-8"))["decision"]
    assert decision["clean_up"] > 0.02, "the allowance was raised from 0.02 mm"
    hands.turn_to(page, "Take readings")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1.2.3", "Two decimal marks"),
        ("1x", "x is no unit of this instrument"),
        ("1 5", "A blank inside the number"),
        ("31", "more than the instrument can show"),
        ("", "Nothing is typed"),
    ],
)
def test_wrong_input_is_told_beside_the_field_and_keeps_the_focus(page, folder, shoot, typed, said):
    hands.choose(page, "wrong input")
    before = folders.readings_on_disk(folder, "wrong input")
    hands.type_readings(page, [typed], 20)
    wrong = page.locator(".metro-wrong")
    expect(wrong).to_contain_text(said)
    expect(wrong).to_have_attribute("role", "alert")
    expect(hands.reading_field(page)).to_be_focused()
    expect(hands.reading_field(page)).to_have_value(typed)
    if said.startswith("Two"):
        shoot(page, "lab_wrong_input")
    page.keyboard.press("Escape")
    hands.type_readings(page, ["2.5"], 20)
    hands.expect_taken(page, len(before) + 1)
    assert list(folders.readings_on_disk(folder, "wrong input").values()) == [
        *before.values(),
        2.5,
    ]


def test_a_wild_reading_is_asked_about_and_repeated_at_once(page, folder, shoot):
    hands.choose(page, "wild")
    hands.type_readings(page, ["1", "1.1", "0.9", "1", "1.2", "0.8", "1", "1.1", "1"], 20)
    hands.expect_taken(page, 9)
    _read_elsewhere(folder, "read elsewhere", "1")
    hands.type_readings(page, ["21", "1.1"], 20)
    doubt = page.locator(".metro-doubt")
    expect(doubt).to_contain_text("900")
    expect(doubt).to_have_attribute("role", "alert")
    expect(page.locator(".metro-messages")).to_contain_text("read elsewhere at 0 mm")
    expect(doubt).to_be_in_viewport(ratio=1)  # however much is told above it
    expect(hands.reading_field(page)).to_be_in_viewport(ratio=1)
    shoot(page, "lab_doubt")
    page.keyboard.press("*")
    expect(page.locator(".metro-there")).to_contain_text("Once more: 21")
    hands.type_readings(page, ["1.1"], 20)
    hands.expect_taken(page, 12)
    shoot(page, "lab_repeated")
    on_disk = folders.readings_on_disk(folder, "wild")
    assert on_disk[900, 1] == 21.0, "the wild one is kept"
    assert on_disk[900, 2] == 1.1
    assert on_disk[1000, 1] == 1.1, "and the work goes on behind it"
    hands.press_by_keyboard(page, ".metro-doubt-earlier")
    expect(doubt).to_be_hidden()
    hands.expect_taken(page, 11)
    assert (900, 1) not in folders.readings_on_disk(folder, "wild")
    left_out = [e for e in folders.events_on_disk(folder, "wild") if e["action"] == "taken back"]
    assert [event["was"] for event in left_out] == ["21"], "the history keeps what was left out"


def test_a_unit_may_stand_behind_a_number(page, folder, shoot):
    hands.choose(page, "units")
    hands.type_readings(page, ["1 div", "0,02mm/m", "20 um/m", "\u22120.01 mm/m"], 20)
    hands.expect_taken(page, 4)
    shoot(page, "lab_units")
    on_disk = folders.readings_on_disk(folder, "units")
    assert list(on_disk.values()) == [1.0, 1.0, 1.0, -0.5], "a division is 0.02 mm/m"


def test_a_reading_of_another_worksheet_is_never_replaced_unseen(page, folder, shoot):
    """The other one reads while this screen still shows the station as open."""
    hands.choose(page, "shared")
    hands.type_readings(page, ["1"], 20)
    hands.expect_taken(page, 1)
    _read_elsewhere(folder, "shared", "7")
    hands.type_readings(page, ["1.5"], 20)
    expect(page.locator(".metro-messages")).to_contain_text("yours is kept beside it")
    hands.expect_taken(page, 3)
    shoot(page, "lab_two_worksheets")
    on_disk = folders.readings_on_disk(folder, "shared")
    assert (on_disk[100, 1], on_disk[100, 2]) == (7.0, 1.5)
    actions = [event["action"] for event in folders.events_on_disk(folder, "shared")]
    assert actions == ["taken", "taken", "repeated"]


def test_steps_corrections_reasons_and_notes_by_keyboard_alone(page, folder, shoot):
    hands.choose(page, "steps")
    hands.type_readings(page, ["1", "9", "1.2"], 20)
    hands.expect_taken(page, 3)
    page.keyboard.press("ArrowUp")
    page.keyboard.press("/")
    expect(page.locator(".metro-there")).to_contain_text("Taken: 9")
    shoot(page, "lab_stepped_back")
    hands.type_readings(page, ["1.1"], 20)
    expect(page.locator(".metro-station")).to_contain_text("300")
    hands.press_by_keyboard(page, ".metro-skip")
    page.keyboard.type("oil hole")
    shoot(page, "lab_reason")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-progress")).to_contain_text("3 of 20 taken, 1 left out")
    hands.press_by_keyboard(page, ".metro-note")
    page.keyboard.type("wiped again")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-state")).to_contain_text("wiped again")
    hands.type_readings(page, ["1.3"], 20)
    hands.expect_taken(page, 4)
    assert folders.readings_on_disk(folder, "steps") == {
        (0, 1): 1.0,
        (100, 1): 1.1,
        (200, 1): 1.2,
        (400, 1): 1.3,
    }
    events = folders.events_on_disk(folder, "steps")
    corrected = next(event for event in events if event["action"] == "corrected")
    assert (corrected["was"], corrected["now"]) == ("9", "1.1"), "the old reading is never lost"
    assert any("oil hole" in event["words"] for event in events if event["action"] == "skipped")
    rows = folders.rows_on_disk(folder, "steps")
    assert [row["note"] for row in rows if row["x"] == "400"] == ["wiped again"]
    hands.press_by_keyboard(page, ".metro-undo")
    elsewhere = page.locator(".metro-page").first
    elsewhere.focus()
    expect(page.locator(".metro-progress")).to_contain_text("3 of 20 taken")
    expect(page.locator(".metro-station")).to_contain_text("400")
    expect(elsewhere).to_be_focused()  # nobody is called back from where he went meanwhile


def test_every_button_is_reached_by_keyboard_with_a_ring_around_it(page):
    hands.choose(page, "ring")
    wanted = ("page", "traverse", "unit", "take", "back", "on", "repeat", "skip", "note", "undo")
    order = hands.focus_order(page)
    seen = " ".join(name for name, _ in order)
    assert [name for name in wanted if f"metro-{name}" not in seen] == []
    assert all(ring >= 2 for _, ring in order), "whoever works by keyboard sees where he is"


@pytest.mark.parametrize("theme", ["JupyterLab Dark", "JupyterLab Light"])
def test_words_stand_out_in_every_theme(page, shoot, theme):
    hands.set_theme(page, theme)
    hands.choose(page, "wild")
    hands.type_readings(page, ["x"], 20)
    expect(page.locator(".metro-wrong")).to_contain_text("no number")
    shoot(page, f"lab_{theme.split()[-1].lower()}")
    assert hands.faint_words(page) == []
    page.keyboard.press("Escape")
    hands.turn_to(page, "Decide")
    expect(page.locator(".metro-outcome")).to_contain_text("Take")
    expect(page.locator(".metro-options")).to_contain_text("as decided")  # it comes last
    assert hands.faint_words(page) == []
    shoot(page, f"lab_decide_{theme.split()[-1].lower()}")
    hands.turn_to(page, "Take readings")


def test_a_reload_in_the_middle_goes_on_where_it_stood(page, lab, folder):
    hands.choose(page, "reload")
    hands.type_readings(page, ["1", "2"], 20)
    hands.expect_taken(page, 2)
    hands.open_in_lab(page, lab, folder)
    hands.choose(page, "reload")
    expect(page.locator(".metro-progress")).to_contain_text("2 of 20 taken")
    expect(page.locator(".metro-station")).to_contain_text("200")
    hands.type_readings(page, ["3"], 20)
    hands.expect_taken(page, 3)
    assert list(folders.readings_on_disk(folder, "reload").values()) == [1.0, 2.0, 3.0]


def test_a_folder_that_vanishes_loses_nothing(page, folder, shoot):
    hands.choose(page, "gone")
    hands.type_readings(page, ["1"], 20)
    hands.expect_taken(page, 1)
    away = folder.rename(folder.with_name("pulled out"))
    stick = folder.with_name("stick")
    try:
        hands.type_readings(page, ["2", "3"], 20)
        expect(page.locator(".metro-late")).to_contain_text("2 entries are not on disk yet")
        told = page.locator(".metro-message", has_text="on no disk")
        expect(told).to_contain_text("2 changes are")
        expect(told).to_have_count(1)
        expect(page.locator(".metro-progress")).to_contain_text("3 of 20 taken")
        expect(hands.reading_field(page)).to_be_in_viewport(ratio=1)
        shoot(page, "lab_no_writing")
        hands.tab_to(page, ".metro-elsewhere input")
        page.keyboard.type(stick.name)
        page.keyboard.press("Enter")
        hands.press_by_keyboard(page, ".metro-save")
        expect(page.locator(".metro-messages")).to_contain_text("is saved in stick")
        shoot(page, "lab_saved_elsewhere")
        assert list(folders.readings_on_disk(stick, "gone").values()) == [1.0, 2.0, 3.0]
    finally:
        away.rename(folder)
    hands.type_readings(page, ["4"], 20)
    hands.expect_taken(page, 4)
    expect(page.locator(".metro-late")).to_be_hidden()
    expect(page.locator(".metro-elsewhere")).to_be_hidden()
    assert list(folders.readings_on_disk(folder, "gone").values()) == [1.0, 2.0, 3.0, 4.0]


def test_readings_typed_while_the_kernel_dies_are_offered_again(page, folder, shoot):
    hands.choose(page, "killed")
    hands.type_readings(page, ["1", "1.1"], 20)
    hands.expect_taken(page, 2)
    kernel = _kernel_process(page)
    kernel.suspend()
    hands.type_readings(page, ["1.2", "1,3"], 20)
    late = page.locator(".metro-late")
    expect(late).to_contain_text("2 entries are not on disk yet")
    late.scroll_into_view_if_needed()
    shoot(page, "lab_kernel_silent")
    kernel.kill()
    hands.wait_for_restart(page)
    hands.run_all(page)
    left = page.locator(".metro-left")
    expect(left).to_contain_text(re.compile("1.2 at 200 mm.*1,3 at 300 mm"))
    left.scroll_into_view_if_needed()
    shoot(page, "lab_offered_again")
    page.locator(".metro-sheet button").first.focus()  # JupyterLab has it where it likes
    hands.press_by_keyboard(page, ".metro-left-take")
    expect(left).to_be_hidden()
    hands.choose(page, "killed")
    hands.expect_taken(page, 4)
    assert list(folders.readings_on_disk(folder, "killed").values()) == [1.0, 1.1, 1.2, 1.3]


def _read_elsewhere(folder, traverse, text):
    """Take a reading in another worksheet; the screen hears of it with its own next reading."""
    other = worksheet(folder)
    other.choose(traverse)
    other.take(text)
    other.close()


def _kernel_process(page):
    name = f"kernel-{hands.kernel_id(page)}.json"
    for one in psutil.Process().children(recursive=True):
        with suppress(psutil.Error):  # another one may end while it is looked at
            if name in " ".join(one.cmdline()):
                return one
    raise AssertionError(f"no process has {name}")

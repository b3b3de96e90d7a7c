"""The table of all readings in a real browser: 295 rows, by keyboard and by touch."""

import shutil
from pathlib import Path

from playwright.sync_api import expect

from metrolib.survey.folder import read_survey
from tests.browser import hands

SAMPLE = Path(__file__).resolve().parents[2] / "sample_surveys" / "toolroom_lathe"


def line(page, at):
    return page.locator(".metro-table-line").nth(at)


def cell(page, at):
    return line(page, at).locator(".metro-cell input")


def all_traverses(page):
    expect(page.locator(".metro-table-line")).to_have_count(14)
    page.locator(".metro-table-traverse select").select_option(label="all")
    expect(page.locator(".metro-table-line")).to_have_count(40)


def test_corrected_left_out_and_brought_back_by_keyboard(open_lab, lab, shoot):
    folder = shutil.copytree(SAMPLE, lab.root / "table")
    page = open_lab(folder)
    hands.turn_to(page, "All readings")
    all_traverses(page)
    hands.press(page.locator("button.metro-later"))
    expect(page.locator(".metro-table-told")).to_contain_text("Rows 41 to 80 of 295")
    expect(line(page, 2)).to_contain_text("level on rear flat turned: 1300 mm")
    before = cell(page, 2).input_value()
    wrong_input_keeps_focus_and_text(page)
    shoot(page, "table_wrong")
    page.keyboard.press("Control+A")
    page.keyboard.type("-4,5", delay=60)
    page.keyboard.press("Enter")
    expect(line(page, 2)).to_contain_text(f"✎ changed, first {before}")
    expect(line(page, 2)).to_contain_text("? suspect: reads about")
    left_out_with_a_reason(page, shoot)
    hands.press_by_keyboard(page, "button.metro-bring-back")
    expect(cell(page, 2)).to_have_value("-4.5")
    hands.press(page.locator("button.metro-table-undo"))
    expect(line(page, 2)).to_contain_text("✗ left out, it was -4.5: chip under the foot")
    assert len(read_survey(folder).readings) == 294
    history = (folder / "history.csv").read_text(encoding="utf-8-sig").splitlines()
    assert [row.split(",")[2] for row in history[1:]] == [
        "corrected",
        "taken back",
        "brought back",
        "taken back",
    ]
    assert f",{before},-4.5," in history[1]


def wrong_input_keeps_focus_and_text(page):
    """Type a number with two marks: nothing is written, the words stand beside it."""
    cell(page, 2).focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("4..5")
    page.keyboard.press("Enter")
    expect(line(page, 2).locator(".metro-fault")).to_contain_text("two decimal marks")
    expect(cell(page, 2)).to_be_focused()
    expect(cell(page, 2)).to_have_value("4..5")


def left_out_with_a_reason(page, shoot):
    """Open the history by Tab and Enter, say why, and leave the reading out."""
    page.keyboard.press("Tab")
    expect(line(page, 2).locator("button.metro-more")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(".metro-row-history")).to_contain_text("corrected from")
    hands.tab_to(page, ".metro-reason input")
    page.keyboard.type("chip under the foot", delay=20)
    shoot(page, "table_history")
    hands.press_by_keyboard(page, "button.metro-leave-out")
    expect(line(page, 2)).to_contain_text("✗ left out, it was -4.5: chip under the foot")
    expect(cell(page, 2)).to_have_value("")


def test_a_tablet_shows_the_table_without_scrolling_sideways(open_voila, voila, shoot):
    folder = shutil.copytree(SAMPLE, voila.root / "table")
    page = open_voila(folder)
    page.get_by_role("button", name="All readings").tap()
    all_traverses(page)
    line(page, 1).locator("button.metro-more").tap()
    expect(page.locator(".metro-row-history")).to_be_visible()
    shoot(page, "table_tablet")
    hands.expect_no_sideways_scroll(page, "html")
    cell(page, 1).tap()
    cell(page, 1).fill("0,25")
    cell(page, 1).press("Enter")
    expect(line(page, 1)).to_contain_text("✎ changed, first")
    assert 0.25 in read_survey(folder).readings.value.tolist()

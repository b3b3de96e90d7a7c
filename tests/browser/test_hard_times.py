"""The worksheet in hard times: no folder yet, a range in another unit, a folder that is away."""

import pytest
from playwright.sync_api import expect

from tests.browser import folders, hands


@pytest.fixture(scope="module")
def folder(voila):
    return folders.plan(voila.root / "hard_times", ["out"])


@pytest.fixture(scope="module")
def page(open_voila, folder):
    return open_voila(folder)


def test_where_there_is_no_folder_nothing_is_amiss(open_voila, voila, shoot):
    page = open_voila(voila.root / "not_there_yet", ".metro-setting-up")
    expect(page.locator("img.metro-section")).to_be_visible()
    shoot(page, "setting_up_from_nothing")
    expect(page.locator(".metro-message")).to_have_count(0)
    expect(page.locator(".metro-work-state")).to_be_hidden()
    below = page.locator(".jp-OutputArea-output", has_text="does not follow the screen")
    expect(below).to_contain_text("no survey stands in 'not_there_yet' yet")


def test_a_range_holds_in_another_unit_and_the_text_stays(page, folder):
    """The level shows 30 divisions of 0.02 mm/m."""
    hands.type_readings(page, ["0.7 mm/m"], 20)
    expect(page.locator(".metro-wrong")).to_contain_text("more than the instrument can show")
    expect(hands.reading_field(page)).to_have_value("0.7 mm/m")
    expect(hands.reading_field(page)).to_be_focused()
    hands.reading_field(page).fill("")
    hands.type_readings(page, ["0.6 mm/m"], 20)  # just its end
    hands.expect_taken(page, 1)
    assert folders.readings_on_disk(folder, "out") == {(0, 1): 30.0}


def test_what_was_on_no_disk_is_neither_told_nor_offered_once_it_is(page, folder, shoot):
    away = folder.rename(folder.with_name("away"))
    hands.type_readings(page, ["1", "1.2"], 20)
    expect(page.locator(".metro-alarm")).to_contain_text("2 changes are on no disk")
    expect(page.locator(".metro-late")).to_contain_text("2 entries are not on disk yet")
    hands.turn_to(page, "All readings")
    expect(page.locator(".metro-table-line").first).to_be_visible()
    expect(page.locator(".metro-alarm")).to_be_visible()
    shoot(page, "hard_times_on_no_disk")
    away.rename(folder)
    hands.turn_to(page, "Take readings")
    hands.type_readings(page, ["1.1"], 20)
    hands.expect_taken(page, 4)
    expect(page.locator(".metro-alarm")).to_have_count(0)
    expect(page.locator(".metro-left")).to_be_hidden()
    expect(page.locator(".metro-late")).to_be_hidden()
    assert len(folders.readings_on_disk(folder, "out")) == 4

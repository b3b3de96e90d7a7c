"""The worksheet in a real Voila, on the screens it is used on."""

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser import folders, hands
from tests.browser.conftest import LAPTOP, TABLET

PROJECT = Path(__file__).resolve().parents[2]
TEN = ["1.5", "1.5", "0", "0,25", "-1", "-1", "2", "1.5", "0.5", "0"]
TABLET_LYING = {"width": 1280, "height": 800}


@pytest.fixture(scope="module")
def folder(voila):
    return folders.plan(voila.root / "bench", ["front way out", "front way back"])


@pytest.fixture(scope="module")
def page(open_voila, folder):
    return open_voila(folder)


def test_ten_readings_on_a_tablet_stand_on_disk(page, folder, shoot):
    hands.choose(page, "front way out")
    expect(hands.reading_field(page)).to_have_attribute("inputmode", "decimal")
    hands.type_readings(page, TEN, 60)
    hands.expect_taken(page, 10)
    shoot(page, "voila_tablet_upright")
    on_disk = folders.readings_on_disk(folder, "front way out")
    assert list(on_disk.values()) == [float(text.replace(",", ".")) for text in TEN]


@pytest.mark.parametrize(
    ("screen", "name"),
    [(TABLET, "upright"), (TABLET_LYING, "lying"), (LAPTOP, "laptop_enlarged")],
)
def test_nothing_is_cut_off_and_field_and_prompt_are_in_sight(page, shoot, screen, name):
    page.set_viewport_size(screen)
    page.wait_for_function("width => innerWidth === width", arg=screen["width"])
    hands.reading_field(page).focus()
    shoot(page, f"voila_{name}")
    hands.expect_no_sideways_scroll(page, "html")  # nobody does with oily hands
    for part in (".metro-station", ".metro-reading", ".metro-take"):
        expect(page.locator(part)).to_be_in_viewport(ratio=1)
    for size in hands.sizes(page.locator(".metro-entry button:visible")):
        assert min(size) >= 44, "a thumb hits it"


def test_the_field_keeps_the_focus_while_the_picture_is_drawn_anew(page):
    hands.choose(page, "front way back")
    expect(page.locator(".metro-picture-words")).to_contain_text("front way back")  # it is drawn
    picture = page.locator("img.metro-picture")
    before = picture.get_attribute("src")
    hands.type_readings(page, ["1"], 20)
    hands.expect_taken(page, 1)
    expect(picture).not_to_have_attribute("src", before)
    expect(hands.reading_field(page)).to_be_focused()


def test_the_notebook_of_the_worksheet_works_in_voila(voila, tablet, shoot):
    for part in ("notebooks/bench_worksheet.ipynb", "sample_surveys/planer_to_measure"):
        copy = shutil.copytree if (PROJECT / part).is_dir() else shutil.copy
        (voila.root / part).parent.mkdir(exist_ok=True)
        copy(PROJECT / part, voila.root / part)
    page = tablet.new_page()
    hands.visit_voila(page, voila, "notebooks/bench_worksheet.ipynb", ".metro-entry")
    expect(page.locator(".metro-station")).to_contain_text("front way, feet at 0 and 200 mm")
    hands.type_readings(page, ["-2,0", "-1.1"], 60)
    hands.expect_taken(page, 2)
    expect(page.locator(".metro-state")).to_contain_text("on disk: -1.1 at 200 mm")
    page.locator(".metro-entry").scroll_into_view_if_needed()
    shoot(page, "voila_notebook")
    expect(page.locator(".jp-OutputArea-output", has_text="Traceback")).to_have_count(0)
    page.close()

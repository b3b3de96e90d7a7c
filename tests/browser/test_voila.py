"""The worksheet in a real Voila, on the screens it is used on."""

import pytest
from playwright.sync_api import expect

from tests.browser import folders, hands, servers

TEN = ["1.5", "1.5", "0", "0,25", "-1", "-1", "2", "1.5", "0.5", "0"]
TABLET = {"width": 800, "height": 1280}
TABLET_LYING = {"width": 1280, "height": 800}
LAPTOP_ENLARGED = {"width": 1024, "height": 640}  # 1280 x 800 at 125 % zoom


@pytest.fixture(scope="module")
def server(browser, tmp_path_factory):
    place, root = tmp_path_factory.mktemp("voila"), tmp_path_factory.mktemp("served")
    folders.plan(root / "survey", ["front way out"])
    hands.write_notebook(root, "survey")
    with servers.voila(place, root, hands.NAME) as running:
        yield running


@pytest.fixture(scope="module")
def page(browser, server):
    context = browser.new_context(viewport=TABLET, has_touch=True)
    context.set_default_timeout(15_000)
    page = context.new_page()
    page.goto(server.url)
    page.locator(".metro-entry").wait_for(timeout=60_000)
    yield page
    context.close()


def test_ten_readings_on_a_tablet_stand_on_disk(page, server, shoot):
    expect(hands.reading_field(page)).to_have_attribute("inputmode", "decimal")
    hands.type_readings(page, TEN, 60)
    hands.expect_taken(page, 10)
    shoot(page, "voila_tablet_upright")
    on_disk = folders.readings_on_disk(server.root / "survey", "front way out")
    assert list(on_disk.values()) == [float(text.replace(",", ".")) for text in TEN]


@pytest.mark.parametrize(
    ("screen", "name"),
    [(TABLET, "upright"), (TABLET_LYING, "lying"), (LAPTOP_ENLARGED, "laptop_enlarged")],
)
def test_nothing_is_cut_off_and_field_and_prompt_are_in_sight(page, shoot, screen, name):
    page.set_viewport_size(screen)
    hands.reading_field(page).focus()
    shoot(page, f"voila_{name}")
    wide = page.evaluate("() => document.documentElement.scrollWidth")
    assert wide <= screen["width"], "nobody scrolls sideways with oily hands"
    for part in (".metro-station", ".metro-reading", ".metro-take"):
        expect(page.locator(part)).to_be_in_viewport(ratio=1)
    for box in page.locator(".metro-entry button:visible").all():
        size = box.bounding_box()
        assert min(size["width"], size["height"]) >= 44, "a thumb hits it"


def test_the_field_keeps_the_focus_while_the_picture_is_drawn_anew(page):
    hands.type_readings(page, ["1"], 20)
    hands.expect_taken(page, 11)
    expect(hands.reading_field(page)).to_be_focused()

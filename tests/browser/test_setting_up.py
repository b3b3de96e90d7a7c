"""Setting up in a real browser: from nothing to the first reading, by keyboard and by touch."""

from playwright.sync_api import expect

from metrolib.survey.folder import read_survey
from tests.browser import hands


def step(page, number):
    """Open a step by keyboard."""
    hands.press(page.locator("button.metro-step").nth(number - 1))
    expect(page.locator("button.metro-step").nth(number - 1)).to_contain_text("▸")


def test_from_nothing_to_the_first_reading_by_keyboard(open_lab, lab, shoot):
    folder = lab.root / "my_lathe"
    page = open_lab(folder, ".metro-setting-up")
    expect(page.locator(".jp-OutputArea").nth(1)).to_contain_text("no survey stands in")
    shoot(page, "setting_up_machine")
    page.locator("button.metro-step").first.focus()
    hands.tab_to(page, ".metro-machine input")
    page.keyboard.type("My lathe", delay=20)
    page.keyboard.press("Enter")
    expect(page.locator("button.metro-step").first).not_to_contain_text("✗")
    page.locator("button.metro-step").last.focus()
    hands.press_by_keyboard(page, "button.metro-go-on")
    expect(page.locator("button.metro-step").nth(1)).to_contain_text("▸")
    width_is_refused_and_the_focus_stays(page)
    shoot(page, "setting_up_fault")
    the_drawing_follows(page)
    hands.expect_no_sideways_scroll(page, ".metro-sheet")
    shoot(page, "setting_up_faces")
    for number, name in ((3, "instruments"), (4, "readings"), (5, "folder")):
        step(page, number)
        expect(page.locator(".metro-open-step h3").first).to_have_text(f"The {name}")
        hands.expect_no_sideways_scroll(page, ".metro-sheet")
        shoot(page, f"setting_up_{name}")
    hands.press_by_keyboard(page, "button.metro-write")
    expect(page.locator(".metro-entry")).to_be_visible()
    expect(page.locator(".metro-station")).to_contain_text("front flat")
    hands.type_readings(page, ["1,5"], 60)
    hands.expect_taken(page, 1)
    shoot(page, "setting_up_first_reading")
    survey = read_survey(folder)
    assert survey.machine.name == "My lathe"
    assert survey.machine.faces["front flat"].width == 38.1
    assert survey.readings.value.tolist() == [1.5]


def width_is_refused_and_the_focus_stays(page):
    """Type a width that cannot be: the words stand there, the text and the focus stay."""
    expect(page.locator(".metro-field-width input")).to_be_visible()
    hands.tab_to(page, ".metro-field-width input")
    page.keyboard.type("4x")
    page.keyboard.press("Enter")
    told = page.locator(".metro-fault", has_text="'4x' has no known unit; write mm, in or thou")
    expect(told).to_be_visible()
    width = page.locator(".metro-field-width input")
    expect(width).to_be_focused()
    expect(width).to_have_value("4x")
    expect(page.locator("button.metro-step").nth(1)).to_contain_text("✗ 1")


def the_drawing_follows(page):
    """Correct the width: the picture changes, and so do the words below it."""
    drawing = page.locator("img.metro-section")
    before = drawing.get_attribute("src")
    page.keyboard.press("Control+A")
    page.keyboard.type("1,5 in")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-section-words")).to_contain_text("width 38.1")
    expect(drawing).not_to_have_attribute("src", before)
    page.wait_for_function("() => document.querySelector('img.metro-section').naturalWidth > 100")
    expect(page.locator(".metro-field-width input")).to_be_focused()


def test_a_tablet_sets_up_by_touch_in_voila(open_voila, voila, shoot):
    folder = voila.root / "my_table"
    page = open_voila(folder, ".metro-setting-up")
    page.locator(".metro-machine input").tap()
    page.keyboard.type("My table")
    page.locator(".metro-layout select").select_option(label="an inverted vee and a flat")
    page.locator("button.metro-take-layout").tap()
    expect(page.locator(".metro-section-words")).to_contain_text("front flank")
    page.locator("button.metro-step").nth(1).tap()
    expect(page.locator(".metro-field-width input")).to_be_visible()
    hands.expect_no_sideways_scroll(page, ".metro-sheet")
    shoot(page, "setting_up_tablet")
    for _, height in hands.sizes(page.locator(".metro-sheet button:visible")):
        assert height >= 40, "too small for a finger"
    page.locator("button.metro-step").nth(4).tap()
    page.locator("button.metro-write").tap()
    expect(page.locator(".metro-station")).to_be_visible()
    shoot(page, "setting_up_tablet_first_reading")
    assert "front flank" in read_survey(folder).machine.faces

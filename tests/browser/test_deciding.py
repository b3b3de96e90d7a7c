"""Deciding in a real browser: faces left alone, options that outlive the kernel, what is used."""

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from metrolib.survey.folder import read_survey
from tests.browser import hands

SAMPLE = Path(__file__).resolve().parents[2] / "sample_surveys" / "toolroom_lathe"
REFUSED = "'rear flat' must stay untouched"


@pytest.fixture(scope="module")
def lathe(lab):
    return shutil.copytree(SAMPLE, lab.root / "lathe_to_decide")


@pytest.fixture(scope="module")
def page(open_lab, lathe):
    page = open_lab(lathe)
    decide(page)
    return page


def decide(page):
    hands.turn_to(page, "Decide")
    expect(page.locator(".metro-plan svg")).to_be_visible()


def put(page, selector, text):
    field = page.locator(f"{selector} input")
    field.fill(text)
    field.press("Enter")


def test_a_face_is_left_alone_by_keyboard_and_the_refusal_is_in_sight(page, shoot):
    box = page.locator(".metro-alone", has_text="leave rear flat alone").locator("input")
    box.focus()
    page.keyboard.press("Space")
    said = page.locator(".metro-summary")
    expect(said).to_contain_text(REFUSED)
    expect(page.locator(".metro-plan svg")).to_have_count(0)
    for part in (said, box):
        expect(part).to_be_in_viewport(ratio=1)
    expect(box).to_be_focused()
    shoot(page, "decide_left_alone_refused")
    page.keyboard.press("Space")
    expect(page.locator(".metro-plan svg")).to_be_visible()
    expect(said).not_to_contain_text(REFUSED)


def test_a_greatest_cut_is_told_beside_its_field_or_refused_in_words(page, shoot):
    field = page.locator(".metro-most", has_text="Off rear flat").locator("input")
    field.focus()
    page.keyboard.type("-3")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-stepper-wrong:visible")).to_contain_text("metal only comes off")
    expect(field).to_be_focused()
    field.fill("100")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-summary")).to_contain_text("'rear flat' may lose at most 0.100 mm")
    shoot(page, "decide_greatest_cut_refused")
    field.fill("160")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-plan svg")).to_be_visible()
    field.fill("")
    page.keyboard.press("Enter")
    expect(page.locator(".metro-summary")).to_contain_text("deepest")


def test_a_pinned_option_outlives_the_kernel_until_it_is_taken_away(page, lathe, shoot):
    before = read_survey(lathe)
    put(page, ".metro-clean-up", "20")
    put(page, ".metro-option-name", "a thin skin")
    page.locator("button.metro-pin").press("Enter")
    options = page.locator(".metro-options")
    expect(options).to_contain_text("a thin skin")
    shoot(page, "decide_pinned")
    # without waiting for it: it ends when the question is answered
    page.evaluate("() => void window.jupyterapp.commands.execute('kernelmenu:restart')")
    page.get_by_role("button", name="Confirm Kernel Restart").click()
    hands.run_all(page)
    decide(page)
    expect(options).to_contain_text("a thin skin")
    after = read_survey(lathe)
    assert (after.toml_text, after.options) == (before.toml_text, before.options)
    page.locator(".metro-pinned select").select_option(label="a thin skin")
    page.locator("button.metro-unpin").press("Enter")
    expect(options).not_to_contain_text("a thin skin")
    hands.run_all(page)
    decide(page)
    expect(options).not_to_contain_text("a thin skin")


def test_what_is_used_is_what_is_called_decided_from_then_on(page, lathe, shoot):
    put(page, ".metro-clean-up", "25")
    page.locator("button.metro-use").press("Enter")
    expect(page.locator(".metro-message")).to_contain_text("Written into survey.toml")
    assert read_survey(lathe).decision.clean_up == 0.025
    put(page, ".metro-clean-up", "40")
    page.locator(".metro-start select").select_option(label="as decided")
    expect(page.locator(".metro-clean-up input")).to_have_value("25")
    page.locator("button.metro-job-sheet").press("Enter")
    expect(page.locator(".metro-sheet-link a")).to_be_visible()
    assert (lathe / "job_sheet.html").is_file()
    shoot(page, "decide_used")

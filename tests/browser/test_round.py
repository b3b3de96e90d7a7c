"""A round of work in a real browser: where to stop beside the prompt, a warning of an overcut."""

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser import folders, hands

SAMPLE = Path(__file__).resolve().parents[2] / "sample_surveys" / "toolroom_lathe"
TRAVERSE = "micrometer over the ledge"
FROM = 800  # mm; from here on the round is still to be read


@pytest.fixture(scope="module")
def lathe(lab):
    """Return a copy of the lathe whose third round was left in the middle of a traverse."""
    first = shutil.copytree(SAMPLE, lab.root / "lathe")
    readings = first / "rounds" / "3" / "readings.csv"
    lines = readings.read_text(encoding="utf-8").splitlines()
    readings.write_text("".join(f"{_unread(line)}\n" for line in lines), encoding="utf-8")
    return first


def _unread(line):
    traverse, face, x, reading, *rest = line.split(",")
    if traverse == TRAVERSE and int(x) >= FROM:
        reading = ""
    return ",".join([traverse, face, x, reading, *rest])


def test_the_stop_stands_beside_the_prompt_and_an_overcut_warns(open_lab, lathe, shoot):
    page = open_lab(lathe)
    page.locator(".metro-work-state select").select_option(label="round 3")
    expect(page.locator(".metro-round")).to_contain_text("Round 3")
    hands.choose(page, TRAVERSE)
    expect(page.locator(".metro-station")).to_contain_text(str(FROM))
    stop = page.locator(".metro-stop")
    expect(stop).to_contain_text("here at 26.00")
    expect(stop).to_contain_text("Left after round 2")
    expect(stop).to_be_in_viewport(ratio=1)
    expect(hands.reading_field(page)).to_be_in_viewport(ratio=1)
    shoot(page, "round_stop_reading")
    alarm = page.locator(".metro-alarm")
    picture = page.locator("img.metro-picture")
    before = picture.get_attribute("src")
    hands.type_readings(page, ["26,03"], 20)
    expect(page.locator(".metro-reach")).to_contain_text("are left")
    expect(picture).not_to_have_attribute("src", before)  # it comes after any alarm
    expect(alarm).to_be_hidden()
    hands.type_readings(page, ["25,993"], 20)  # the sample's round went too deep here
    expect(alarm).to_contain_text("Careful, the target is within reach. At 900 mm on 'front flat'")
    expect(alarm).to_contain_text("take nothing more off here")
    expect(alarm).to_have_attribute("role", "alert")
    doubt = page.locator(".metro-doubt")
    expect(doubt).to_contain_text("800")
    expect(doubt).to_be_in_viewport(ratio=1)  # though the alarm came after it, and above
    expect(hands.reading_field(page)).to_be_in_viewport(ratio=1)
    expect(hands.reading_field(page)).to_be_focused()
    shoot(page, "round_overcut")
    on_disk = folders.readings_on_disk(lathe / "rounds" / "3", TRAVERSE)
    assert (on_disk[800, 1], on_disk[900, 1]) == (26.03, 25.993)
    assert folders.readings_on_disk(lathe, TRAVERSE)[900, 1] != 25.993, "the first survey stays"


def test_a_warning_stands_once_and_its_place_stays_named(voila, open_voila, shoot):
    """On a tablet, where the picture is below and a keyboard would cover it."""
    bed = shutil.copytree(SAMPLE, voila.root / "lathe_in_a_round")
    readings = bed / "rounds" / "3" / "readings.csv"
    lines = readings.read_text(encoding="utf-8").splitlines()
    readings.write_text("".join(f"{_unread(line)}\n" for line in lines), encoding="utf-8")
    page = open_voila(bed)
    page.locator(".metro-work-state select").select_option(label="round 3")
    hands.choose(page, TRAVERSE)
    expect(page.locator(".metro-stop")).to_contain_text("here at 26.00")
    hands.type_readings(page, ["25.993"], 20)
    warning = page.locator(".metro-sheet .metro-alarm")
    expect(warning).to_have_count(1)
    expect(warning).to_contain_text("At 800 mm on 'front flat'")
    expect(warning).to_be_in_viewport(ratio=1)
    expect(page.get_by_text("take nothing more off here")).to_have_count(1)
    field = hands.reading_field(page)
    assert warning.bounding_box()["y"] < field.bounding_box()["y"], "above the prompt"
    shoot(page, "round_tablet_warning")
    hands.type_readings(page, ["26.03"], 20)
    expect(page.locator(".metro-warned-before")).to_contain_text("800 mm on 'front flat'")
    hands.choose(page, "sled to front flat")
    page.keyboard.press("Tab")
    field.focus()
    page.keyboard.press("/")
    expect(page.locator(".metro-stop")).to_contain_text("No stop reading: 'tailstock flat'")
    shoot(page, "round_no_stop_reading")

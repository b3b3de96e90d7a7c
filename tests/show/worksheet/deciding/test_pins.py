"""Pinned options outlive the worksheet, and disturb nobody who reads the folder."""

import shutil

import pytest

from metrolib.show.worksheet.deciding.deciding_page import page
from metrolib.show.worksheet.deciding.pins import FILE, drop_pin, keep_pin, pins_of
from metrolib.show.worksheet.disk.kept import HIDDEN
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.decision import Decision
from metrolib.survey.folder import read_survey
from tests.show.conftest import SAMPLES
from tests.show.worksheet.deciding.test_deciding_page import Hand, Screen

GENTLE = Decision(("way",), band=0.02, tilt_along=0.01, greatest_cut={"way": 0.1})
BARE = Decision(("way",), confidence=None, untouchable=("way",), target_height=-0.05)


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(SAMPLES / "published_forward_backward", tmp_path / "bed")


def opened(folder):
    sheet = worksheet(folder)
    screen = Screen(sheet)
    hand = Hand(page(sheet, screen))
    screen.open()
    return hand, screen


def test_what_is_kept_comes_back_whole_and_can_be_taken_away(folder):
    (folder / HIDDEN).mkdir()
    assert pins_of(folder, ["way"]) == {}
    keep_pin(folder, "gentle, 1", GENTLE)
    keep_pin(folder, "bare", BARE)
    assert pins_of(folder, ["way"]) == {"gentle, 1": GENTLE, "bare": BARE}
    keep_pin(folder, "bare", GENTLE)
    assert pins_of(folder, ["way"])["bare"] == GENTLE
    drop_pin(folder, "gentle, 1")
    drop_pin(folder, "nobody knows it")
    assert list(pins_of(folder, ["way"])) == ["bare"]


def test_one_for_a_face_that_is_gone_is_left_out_and_stays_in_the_file(folder):
    (folder / HIDDEN).mkdir()
    keep_pin(folder, "gentle", GENTLE)
    keep_pin(folder, "other", Decision(("renamed",)))
    assert list(pins_of(folder, ["renamed"])) == ["other"]
    assert "gentle" in pins_of(folder, ["way"])


@pytest.mark.parametrize("text", ["options = 3", "[options.a", "\0", '[options]\na = "b"'])
def test_a_damaged_file_does_no_harm(folder, text):
    (folder / HIDDEN).mkdir()
    (folder / HIDDEN / FILE).write_text(text, encoding="utf-8")
    assert pins_of(folder, ["way"]) == {}
    hand, screen = opened(folder)
    assert screen.alarms == []
    hand.put("metro-band", "20")
    hand.press("metro-pin")
    assert len(hand.one("metro-pinned").options) == 2


def test_a_new_worksheet_shows_what_another_has_pinned(folder):
    hand, _ = opened(folder)
    before = read_survey(folder)
    hand.put("metro-band", "20")
    hand.put("metro-option-name", "dress it")
    hand.press("metro-pin")
    again, screen = opened(folder)
    assert "dress it" in again.said("metro-options") and screen.alarms == []
    after = read_survey(folder)
    assert (after.toml_text, after.options) == (before.toml_text, before.options)
    again.put("metro-start", "dress it")
    assert again.said("metro-band") == "20"
    again.put("metro-pinned", "dress it")
    again.press("metro-unpin")
    assert "dress it" not in opened(folder)[0].said("metro-options")


def test_what_is_decided_is_always_what_the_survey_says(folder):
    hand, _ = opened(folder)
    hand.put("metro-clean-up", "7")
    hand.press("metro-use")
    hand.put("metro-clean-up", "9")
    hand.put("metro-start", "as decided")
    again, _ = opened(folder)
    assert hand.said("metro-clean-up") == again.said("metro-clean-up")


def test_where_it_cannot_be_kept_it_says_so(folder):
    hand, screen = opened(folder)
    hand.put("metro-band", "20")
    hand.put("metro-option-name", "dress it")
    shutil.rmtree(folder / HIDDEN)
    (folder / HIDDEN).write_text("no folder")
    hand.press("metro-pin")
    assert "holds only until the worksheet is closed" in screen.alarms[-1]
    assert "dress it" in hand.said("metro-options")

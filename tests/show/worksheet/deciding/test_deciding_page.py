"""The deciding page, worked through its widgets in Python."""

import shutil
from threading import RLock

import pytest

from metrolib.show.worksheet.deciding.deciding_page import page
from metrolib.show.worksheet.deciding.steppers import Stepper
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import read_survey
from tests.show.conftest import SAMPLES

FACES = ("front flat", "rear flat", "tailstock flat")


class Screen:
    """What the page needs of the frame round it."""

    def __init__(self, sheet=None):
        self.lock, self.told, self.alarms, self._shown = RLock(), [], [], []
        self.sheet = sheet

    def when_shown(self, do):
        self._shown.append(do)

    def tell(self, words):
        self.told.append(words)

    def alarm(self, words):
        self.alarms.append(words)

    def tell_news(self):
        if self.sheet is not None:
            self.told += self.sheet.news  # which looks at the disk

    def open(self):
        for do in self._shown:
            do()


class Hand:
    """Finds the pieces of a page by their class, and works them."""

    def __init__(self, widget):
        self.widget = widget

    def all(self, name, start=None):
        start = self.widget if start is None else start
        found = [start] if name in getattr(start, "_dom_classes", ()) else []
        return found + [
            piece for child in getattr(start, "children", ()) for piece in self.all(name, child)
        ]

    def one(self, name):
        (found,) = self.all(name)
        return found

    def press(self, name):
        self.one(name).click()

    def put(self, name, value):
        self.one(name).value = value

    def tick(self, name, face, on):
        (box,) = [box for box in self.all(name) if box.description == face]
        box.value = on

    def said(self, name):
        return self.one(name).value

    @property
    def wrong(self):
        return [piece.value for piece in self.all("metro-stepper-wrong") if piece.value]


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(SAMPLES / "toolroom_lathe", tmp_path / "lathe")


@pytest.fixture
def screen():
    return Screen()


@pytest.fixture
def hand(folder, screen):
    hand = Hand(page(worksheet(folder), screen))
    screen.open()
    assert screen.alarms == []
    return hand


def test_it_shows_the_decision_of_the_survey(hand, lathe):
    assert "<svg" in hand.said("metro-plan") and 'class="governs"' in hand.said("metro-plan")
    assert f"{1000 * lathe.plan.depth.max():.1f} µm" in hand.said("metro-summary")
    assert "decides with it" in hand.said("metro-outcome")
    assert "saddle drops" in hand.said("metro-moved")
    assert "as decided" in hand.said("metro-options") and "±" in hand.said("metro-depths")
    ticked = {box.description for box in hand.all("metro-face") if box.value}
    assert ticked == {*lathe.survey.decision.faces}


def test_all_follows_a_number_that_is_typed(hand):
    shown = ("metro-plan", "metro-summary", "metro-outcome", "metro-depths", "metro-options")
    before = [hand.said(name) for name in shown]
    hand.put("metro-clean-up", "12,5")
    assert all(hand.said(name) != was for name, was in zip(shown, before, strict=True))
    assert hand.said("metro-clean-up") == "12.5"


def test_buttons_step_it_up_and_down(hand):
    hand.press("metro-clean-up-more")
    assert hand.said("metro-clean-up") == "35"
    for _ in range(2):
        hand.press("metro-clean-up-less")
    assert hand.said("metro-clean-up") == "25"


def test_a_crown_is_typed_shown_and_said(hand):
    before = hand.said("metro-depths")
    assert hand.said("metro-crown") == "0"
    hand.put("metro-crown", "10")
    assert "The target has a crown of 10.0 µm" in hand.said("metro-outcome")
    assert hand.said("metro-depths") != before
    for _ in range(3):
        hand.press("metro-crown-less")
    assert hand.said("metro-crown") == "-5"
    assert "The target has a hollow of 5.0 µm" in hand.said("metro-outcome")


def test_what_is_no_number_is_told_beside_the_field_and_changes_nothing(hand):
    before = hand.said("metro-summary")
    hand.put("metro-band", "2x")
    (wrong,) = hand.wrong
    assert 'role="alert"' in wrong and "this is no number" in wrong
    assert hand.said("metro-band") == "2x" and hand.said("metro-summary") == before
    hand.put("metro-band", "20")
    assert not hand.wrong and hand.said("metro-summary") != before


def test_a_tolerance_puts_the_allowance_to_nothing_and_it_is_told(hand):
    hand.put("metro-band", "20")
    assert hand.said("metro-clean-up") == "0"
    assert "The allowance was set to 0" in hand.said("metro-summary")
    hand.put("metro-band", "10")
    assert "The allowance" not in hand.said("metro-summary")


@pytest.mark.parametrize("text", ["100", "0", "-5"])
def test_a_confidence_lies_between_0_and_100(hand, text):
    hand.put("metro-sure", text)
    assert "between 0 and 100" in hand.wrong[0]


def test_an_empty_confidence_plans_without_a_guard(hand):
    hand.put("metro-sure", "")
    assert "without a guard" in hand.said("metro-outcome")


def test_the_target_is_raised_by_hand_until_places_do_not_clean_up(hand):
    assert hand.said("metro-height") == ""
    hand.put("metro-height-kind", "by hand")
    at = float(hand.said("metro-height"))
    for _ in range(2):
        hand.press("metro-height-more")
    assert float(hand.said("metro-height")) == pytest.approx(at + 10)
    assert "would not clean up" in hand.said("metro-outcome")
    assert 'class="lacks"' in hand.said("metro-plan")
    hand.put("metro-height-kind", "as high as it cleans up")
    assert "would not clean up" not in hand.said("metro-outcome")


def test_the_tilt_is_free_or_as_the_datum_or_within(hand):
    hand.put("metro-tilt-across-kind", "within")
    assert hand.said("metro-tilt-across") == "0.01"
    hand.put("metro-tilt-across", "0,1")
    within = hand.said("metro-summary")
    hand.put("metro-tilt-across-kind", "free")
    free = hand.said("metro-summary")
    hand.put("metro-tilt-across-kind", "as the datum")
    assert len({within, free, hand.said("metro-summary")}) == 3


def test_without_a_datum_nothing_holds_the_tilt(hand):
    for face in ("underside ledge", "rear ledge"):
        hand.tick("metro-datum", face, False)
    assert hand.one("metro-tilt-along-kind").disabled
    assert hand.said("metro-tilt-along-kind") == "free"


def test_faces_are_chosen(hand):
    hand.tick("metro-face", "tailstock flat", False)
    assert "tailstock flat" not in hand.said("metro-plan")
    for face in ("front flat", "rear flat"):
        hand.tick("metro-face", face, False)
    assert "This cannot be done" in hand.said("metro-summary")
    assert "the reason stands above" in hand.said("metro-outcome")
    assert hand.said("metro-plan") == ""


def test_options_are_pinned_beside_each_other_and_taken_away(hand, screen):
    hand.put("metro-band", "20")
    hand.put("metro-option-name", "dress it")
    hand.press("metro-pin")
    hand.put("metro-start", "as decided")
    assert hand.said("metro-clean-up") == "30"
    assert "dress it" in hand.said("metro-options")
    hand.put("metro-pinned", "dress it")
    hand.press("metro-unpin")
    assert "dress it" not in hand.said("metro-options")
    assert screen.alarms == []


def test_a_name_that_another_has_is_an_alarm(hand, screen):
    hand.put("metro-clean-up", "10")
    hand.put("metro-option-name", "as decided")
    hand.press("metro-pin")
    assert "another one has this name" in screen.alarms[0]


def test_use_this_one_writes_it_and_the_page_goes_on_with_it(hand, screen, folder):
    hand.put("metro-clean-up", "20")
    hand.press("metro-use")
    assert "Written into survey.toml" in screen.told[-1]
    assert read_survey(folder).decision.clean_up == 0.02
    screen.open()
    assert hand.said("metro-clean-up") == "20" and "as decided" in hand.said("metro-options")
    assert screen.alarms == []


def test_what_cannot_be_done_is_not_written(hand, screen, folder):
    for face in FACES:
        hand.tick("metro-face", face, False)
    hand.press("metro-use")
    assert "it is not written, for it cannot be done" in screen.alarms[-1]
    assert read_survey(folder).decision.clean_up == 0.03


def test_the_job_sheet_is_written_and_linked(hand, folder):
    hand.press("metro-job-sheet")
    assert (folder / "job_sheet.html").exists()
    assert 'download="job_sheet.html"' in hand.said("metro-sheet-link")
    hand.put("metro-clean-up", "10")
    assert hand.said("metro-sheet-link") == ""  # it is no longer the sheet of what is shown


def test_before_there_are_readings_it_says_so(tmp_path, screen):
    folder = shutil.copytree(SAMPLES / "planer_to_measure", tmp_path / "planer")
    hand = Hand(page(worksheet(folder), screen))
    screen.open()
    assert "take the readings first" in hand.widget.children[0].value
    assert screen.alarms == []


def test_a_stepper_steps_from_nothing_and_from_a_comma(screen):
    taken = []
    stepper = Stepper("tilt", "mm/m", 0.01, taken.append, screen, "metro-tilt")
    hand = Hand(stepper.widget)
    hand.press("metro-tilt-more")
    stepper.show(None, 3)
    hand.put("metro-tilt", "0,05")
    hand.press("metro-tilt-less")
    assert taken == ["0.01", "0,05", "0.04"]

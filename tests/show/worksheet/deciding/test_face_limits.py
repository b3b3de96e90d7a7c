"""Faces that are left alone, and the most that may come off one, on the deciding page."""

import shutil

import pytest

from metrolib.show.worksheet.deciding.deciding_page import page
from metrolib.show.worksheet.worksheet import worksheet
from tests.show.conftest import SAMPLES
from tests.show.worksheet.deciding.test_deciding_page import FACES, Hand, Screen


@pytest.fixture
def screen():
    return Screen()


@pytest.fixture
def hand(tmp_path, screen):
    folder = shutil.copytree(SAMPLES / "toolroom_lathe", tmp_path / "lathe")
    hand = Hand(page(worksheet(folder), screen))
    screen.open()
    return hand


def most(hand, face):
    """Return the field of a face."""
    (found,) = [one for one in hand.all("metro-most") if face in one.description]
    return found


def test_a_face_is_left_alone_or_the_refusal_says_why_not(hand):
    hand.tick("metro-alone", "leave tailstock flat alone", True)
    said = hand.said("metro-summary")
    assert "This cannot be done" in said and "tailstock flat&#x27; must stay untouched" in said
    assert hand.said("metro-plan") == ""
    hand.put("metro-band", "20")  # its hollow and its ends may differ by so much
    hand.put("metro-together", "parallel")
    assert "tailstock flat" in hand.said("metro-plan")
    assert "This cannot be done" not in hand.said("metro-summary")
    hand.tick("metro-alone", "leave tailstock flat alone", False)
    assert "This cannot be done" not in hand.said("metro-summary")


def test_a_greatest_cut_is_met_or_refused(hand, screen):
    as_it_was = hand.said("metro-plan")
    most(hand, "rear flat").value = "160"
    assert hand.said("metro-plan") == as_it_was
    most(hand, "rear flat").value = "100"
    said = hand.said("metro-summary")
    assert "rear flat&#x27; may lose at most 0.100 mm" in said and hand.said("metro-plan") == ""
    most(hand, "rear flat").value = ""
    assert hand.said("metro-plan") == as_it_was
    assert screen.alarms == []


@pytest.mark.parametrize(("text", "wrong"), [("-5", "metal only comes off"), ("x", "no number")])
def test_what_is_no_depth_is_told_beside_the_field(hand, text, wrong):
    before = hand.said("metro-summary")
    most(hand, "front flat").value = text
    (told,) = hand.wrong
    assert wrong in told and hand.said("metro-summary") == before


def test_the_buttons_begin_at_what_comes_off_now(hand, lathe):
    (less,) = [
        one for one in hand.all("metro-most-less") if one.tooltip.startswith("Off rear flat")
    ]
    deepest = 1000 * lathe.plan.depth[lathe.plan.face == "rear flat"].max()
    less.click()
    assert float(most(hand, "rear flat").value) == pytest.approx(deepest - 5, abs=0.051)


def test_only_faces_of_the_group_have_limits(hand):
    def shown():
        return [line.layout.display != "none" for line in hand.all("metro-face-limit")]

    assert sum(shown()) == len(FACES)
    hand.tick("metro-face", "rear flat", False)
    assert sum(shown()) == len(FACES) - 1


def test_one_left_alone_asks_for_no_greatest_cut(hand):
    most(hand, "rear flat").value = "160"
    hand.tick("metro-alone", "leave rear flat alone", True)
    (line,) = [
        one
        for one in hand.all("metro-face-limit")
        if most(hand, "rear flat") in hand.all("metro-most", one)
    ]
    _, stepper = line.children
    assert stepper.layout.display == "none"
    hand.tick("metro-alone", "leave rear flat alone", False)
    assert most(hand, "rear flat").value == "160"

"""The page that sets up a survey, driven through its widgets."""

import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.beginning import Beginning
from metrolib.show.worksheet.screen.screen import Screen
from metrolib.show.worksheet.worksheet import Worksheet, worksheet
from metrolib.survey.folder import blank_survey, read_survey
from tests.show.worksheet.widget_hands import every, one, press, texts

STEPS = ("Machine", "Faces", "Instruments", "Readings", "Write")


@pytest.fixture
def folder(tmp_path):
    """A folder that does not exist yet."""
    return tmp_path / "my_lathe"


@pytest.fixture
def screen(folder):
    """The screen of a worksheet for it."""
    return Screen(worksheet(folder))


@pytest.fixture
def page(screen):
    """The page that is open on it."""
    return one(screen.widget, "metro-setting-up")


def step(page, name):
    """Open one of the steps."""
    press(page, "metro-step", STEPS.index(name))


def steps(page):
    return [button.description for button in every(page, "metro-step")]


def fill(page, key, text, at=0):
    one(page, f"metro-field-{key}", at).value = text


def test_a_folder_that_is_not_there_is_set_up_first(folder, screen):
    assert isinstance(screen.sheet, Beginning)
    assert "no survey stands in 'my_lathe' yet" in str(screen.sheet)
    assert str(screen.sheet) in str(screen.sheet.result)
    assert "does not follow the screen" in screen.sheet.result._repr_html_()
    assert screen._said.value == "" and screen._state.layout.display == "none"
    assert not folder.exists()


def test_an_empty_folder_is_set_up_too(folder):
    folder.mkdir()
    (folder / "notes.txt").write_text("bought at a sale")
    assert isinstance(worksheet(folder), Beginning)


def test_before_that_nothing_can_be_read(folder, screen):
    screen.show("Set up")
    press(screen.widget, "metro-page", 1)
    assert "Take readings: no survey stands in" in screen._said.value
    with pytest.raises(InputError, match="fill in the page Set up"):
        screen.sheet.take("1")


def test_from_nothing_to_the_first_reading(folder, screen, page):
    sheet = screen.sheet
    one(page, "metro-machine").value = "My lathe"
    step(page, "Faces")
    fill(page, "width", "1,5 in")
    step(page, "Write")
    assert texts(page, "metro-ready") == [
        "<p>Ready: 73 readings in 7 traverses are planned, nothing is wrong.</p>"
    ]
    press(page, "metro-write")
    survey = read_survey(folder)
    assert survey.machine.faces["front flat"].width == 38.1
    assert isinstance(screen.sheet, Worksheet)
    assert one(screen.widget, "metro-page", 1).description == "▸ Take readings"
    assert screen.sheet.prompt.words.startswith("Level on the front flat, feet at 0 and 100 mm")
    # what the user named in the notebook is that worksheet too
    sheet.take("1,5")
    assert read_survey(folder).readings.value.tolist() == [1.5]
    assert screen.sheet.prompts[0].state == "taken"


def test_the_steps_tell_how_much_is_to_be_corrected(page):
    assert steps(page) == [
        "▸ 1 Machine (✗ 1)",
        "2 Faces",
        "3 Instruments",
        "4 Readings",
        "5 Write",
    ]
    one(page, "metro-machine").value = "My lathe"
    step(page, "Faces")
    fill(page, "width", "4x")
    fill(page, "y", "..")
    assert steps(page)[:2] == ["1 Machine", "▸ 2 Faces (✗ 2)"]
    assert one(page, "metro-entry-name").description == "▸ front flat (✗ 2)"


def test_a_fault_stands_under_its_field_and_the_text_stays(page):
    step(page, "Faces")
    fill(page, "width", "4x")
    assert one(page, "metro-field-width").value == "4x"
    (told,) = texts(page, "metro-fault")
    assert "✗ &#x27;4x&#x27; has no known unit; write mm, in or thou behind it" in told
    fill(page, "width", "40")
    assert texts(page, "metro-fault") == []


def test_writing_is_refused_while_anything_is_wrong(folder, screen, page):
    step(page, "Write")
    assert "✗ the machine has no name yet" in one(page, "metro-faults").value
    press(page, "metro-write")
    assert "setting up: the machine has no name yet" in screen._said.value
    assert not folder.exists()


def test_what_nobody_typed_is_listed_before_it_is_written(page):
    step(page, "Faces")
    fill(page, "x-to", "1200")
    step(page, "Write")
    assumed = one(page, "metro-assumed").value
    assert "<li>front flat: width 40</li>" in assumed
    assert "block level: one division is 0.02" in assumed


def test_the_drawing_follows_what_is_typed(page):
    (drawing,) = every(page, "metro-section")
    before = drawing.value
    step(page, "Faces")
    fill(page, "y", "-30")
    assert drawing.value != before
    assert "front flat: middle at y -30, width 40" in one(page, "metro-section-words").value
    same = drawing.value
    fill(page, "name", "")
    assert drawing.value is same


def test_faces_are_added_renamed_and_removed(page):
    step(page, "Faces")
    press(page, "metro-add")
    names = [button.description for button in every(page, "metro-entry-name")]
    assert names == ["front flat", "rear flat", "front ledge", "▸ face 4 (✗ 1)"]
    fill(page, "name", "back way")
    fill(page, "y", "300")
    assert every(page, "metro-entry-name")[3].description == "▸ back way"
    press(page, "metro-remove")
    names = [button.description for button in every(page, "metro-entry-name")]
    assert names == ["▸ front flat", "rear flat", "front ledge"]


def test_an_angle_is_asked_for_where_no_word_says_it(page):
    step(page, "Faces")

    def angle_box():
        return next(
            box
            for box in every(page, "metro-column")
            if every(box, "metro-field-angle")
            and len(box.children) == 2
            and not every(box, "metro-form")
        )

    assert angle_box().layout.display == "none"
    fill(page, "normal", "another angle")
    assert angle_box().layout.display == ""
    fill(page, "angle", "55")
    assert "leans 55 degrees from up toward +y" in one(page, "metro-section-words").value


def test_readings_bring_the_instrument_that_they_need(page):
    step(page, "Readings")
    one(page, "metro-add-kind").value = "straightedge"
    press(page, "metro-add")
    step(page, "Instruments")
    names = [button.description for button in every(page, "metro-entry-name")]
    assert names == ["▸ block level", "micrometer", "dial indicator"]
    assert one(page, "metro-field-profile-uncertainty").placeholder == "0.005 if left empty"


def test_a_face_at_fault_keeps_its_readings(page):
    step(page, "Readings")
    chosen = one(page, "metro-field-role-0").value
    step(page, "Faces")
    fill(page, "width", "?")
    step(page, "Readings")
    assert one(page, "metro-field-role-0").value is None  # it cannot be chosen just now
    step(page, "Faces")
    fill(page, "width", "40")
    step(page, "Readings")
    assert one(page, "metro-field-role-0").value == chosen


def test_a_layout_replaces_typed_figures_only_when_asked_twice(page):
    step(page, "Faces")
    fill(page, "width", "44")
    step(page, "Machine")
    one(page, "metro-layout").value = "one way by itself"
    press(page, "metro-take-layout")
    assert "1 typed figures: press once more" in one(page, "metro-replaced").value
    step(page, "Faces")
    assert one(page, "metro-field-width").value == "44"
    step(page, "Machine")
    press(page, "metro-take-layout")
    assert "way: middle at y 0, width 50" in one(page, "metro-section-words").value
    assert one(page, "metro-replaced").value == ""


def test_go_on_leads_through_the_steps(page):
    for at in range(1, 5):
        press(page, "metro-go-on")
        assert steps(page)[at].startswith(f"▸ {at + 1} ")
    assert one(page, "metro-go-on").layout.display == "none"


def test_a_survey_that_stands_is_shown_and_not_written_over(tmp_path):
    folder = blank_survey(tmp_path / "bed", "Bench lathe")
    screen = Screen(worksheet(folder))
    screen.show("Set up")
    assert every(screen.widget, "metro-write") == []
    (drawing,) = every(screen.widget, "metro-section")
    assert bytes(drawing.value[:4]) == b"\x89PNG"
    assert "front flat: middle at y 0" in one(screen.widget, "metro-section-words").value


def test_a_survey_written_meanwhile_by_another_stays(folder, screen, page):
    one(page, "metro-machine").value = "My lathe"
    step(page, "Write")
    blank_survey(folder, "Written meanwhile")
    press(page, "metro-write")
    assert "stands already" in screen._said.value
    assert read_survey(folder).machine.name == "Written meanwhile"


def test_no_icon_no_number_field(screen, page):
    for name in STEPS:
        step(page, name)
        stack = [screen.widget]
        while stack:
            widget = stack.pop()
            assert not getattr(widget, "icon", "")
            assert "Float" not in type(widget).__name__
            stack += getattr(widget, "children", ())

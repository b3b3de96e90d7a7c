"""The draft of a survey that is being set up: it outlives the kernel, and goes when it is done."""

from dataclasses import asdict

import pytest

from metrolib.show.worksheet.screen.screen import Screen
from metrolib.show.worksheet.setting_up.answers import Answers
from metrolib.show.worksheet.setting_up.draft import NAME, Draft
from metrolib.show.worksheet.setting_up.setting_up import describe
from metrolib.show.worksheet.worksheet import worksheet
from tests.show.worksheet.widget_hands import every, one, press


@pytest.fixture
def folder(tmp_path):
    """A folder that does not exist yet."""
    return tmp_path / "my_lathe"


def opened(folder):
    """Open the page, as a new kernel does."""
    screen = Screen(worksheet(folder))
    return screen, one(screen.widget, "metro-setting-up")


def test_a_form_that_is_half_filled_in_stands_there_again_after_a_restart(folder):
    _, page = opened(folder)
    one(page, "metro-machine").value = "My lathe"
    one(page, "metro-display").value = "thou"
    press(page, "metro-step", 1)
    one(page, "metro-field-width").value = "1,5 in"
    press(page, "metro-add")
    names = [button.description for button in every(page, "metro-entry-name")]
    screen, again = opened(folder)
    assert "What was typed here before stands in its fields again" in screen._said.value
    assert one(again, "metro-machine").value == "My lathe"
    assert one(again, "metro-display").value == "thou"
    press(again, "metro-step", 1)
    assert one(again, "metro-field-width").value == "1,5 in"
    found = [button.description for button in every(again, "metro-entry-name")]
    assert [name.lstrip("▸ ") for name in found] == [name.lstrip("▸ ") for name in names]


def test_looking_alone_leaves_no_trace(folder):
    _, page = opened(folder)
    press(page, "metro-step", 2)
    assert not folder.exists()


def test_it_goes_when_the_survey_is_written(folder):
    _, page = opened(folder)
    one(page, "metro-machine").value = "My lathe"
    assert (folder / NAME).exists()
    press(page, "metro-step", 4)
    press(page, "metro-write")
    assert sorted(path.name for path in folder.iterdir() if path.suffix) == [
        "readings.csv",
        "survey.toml",
    ]


def test_the_answers_come_back_as_they_were(folder):
    answers, draft = Answers(machine="Säge", note="from a sale"), Draft(folder)
    answers.begin_with("an inverted vee and a flat")
    describe(answers)
    draft.keep(answers)
    assert draft.read() is None
    answers.add_readings("feeler gap")
    answers.edge.typed["length"] = "1500"
    describe(answers)
    draft.keep(answers)
    assert asdict(Draft(folder).read()) == asdict(answers)
    assert describe(Draft(folder).read()).all_sheets == describe(answers).all_sheets
    more = Draft(folder).read()
    more.add_face()
    keys = [entry.key for entry in [*more.faces, *more.instruments, *more.readings, more.edge]]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"colour": "red"}', '{"readings": [{"typed": {"kind": "guess"}}]}'],
)
def test_a_damaged_draft_is_passed_over(folder, text):
    folder.mkdir()
    (folder / NAME).write_text(text)
    assert Draft(folder).read() is None
    _, page = opened(folder)
    assert one(page, "metro-machine").value == ""


def test_a_folder_that_takes_nothing_hinders_nobody(tmp_path):
    (tmp_path / "a file").write_text("")
    draft = Draft(tmp_path / "a file" / "my_lathe")
    draft.keep(Answers())
    draft.keep(Answers(machine="My lathe"))
    draft.forget()
    assert draft.read() is None

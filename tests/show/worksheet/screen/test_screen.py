"""The frame: pages on demand, messages, and no error in silence."""

import shutil
from pathlib import Path

import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.rounds.states import states_of
from metrolib.show.worksheet.screen import look
from metrolib.show.worksheet.screen.adding import Adding
from metrolib.show.worksheet.screen.look import button, field, paragraph, say, shown_errors
from metrolib.show.worksheet.screen.screen import PAGES, Screen
from metrolib.show.worksheet.worksheet import worksheet
from tests.browser.folders import plan


def _shown(screen):
    return screen._said.value


def _raiser(error):
    def fail():
        raise error

    return fail


@pytest.mark.parametrize("error", [InputError("width: too wide; make it less"), KeyError("odd")])
def test_an_error_in_a_callback_is_shown_in_words(sheet, error):
    screen = Screen(sheet)
    button("press", _raiser(error), screen).click()
    assert 'role="alert"' in _shown(screen)
    words = "width: too wide" if isinstance(error, InputError) else "KeyError"
    assert words in _shown(screen)


def test_callbacks_hold_the_lock_of_the_screen(sheet):
    screen = Screen(sheet)
    # an RLock that is held tells its owner in its words
    held = shown_errors(screen)(lambda: repr(screen.lock))()
    assert held.startswith("<locked") and repr(screen.lock).startswith("<unlocked")


def test_messages_are_escaped_few_and_go_away_when_seen(sheet):
    screen = Screen(sheet)
    for words in ("one", "two", "<b>three</b>", "<b>three</b>"):
        screen.tell(words)
    assert "&lt;b&gt;three" in _shown(screen) and "two" in _shown(screen)
    assert "one" not in _shown(screen), "more would push the work off the screen"
    screen.clear()
    assert _shown(screen) == "" and screen._message_row.layout.display == "none"


def test_what_is_told_again_with_another_number_stands_there_once(sheet):
    screen = Screen(sheet)
    screen.tell("1 change is on no disk: full")
    screen.tell("2 changes are on no disk: full")
    assert "2 changes" in _shown(screen) and "1 change " not in _shown(screen)


@pytest.mark.parametrize("name", PAGES)
def test_each_page_opens_and_is_marked_in_words(sheet, name):
    screen = Screen(sheet)
    screen.show(name)
    assert _shown(screen) == ""
    marked = [tab for tab in screen._tabs.values() if tab.description.startswith("▸")]
    assert [tab.description for tab in marked] == [f"▸ {name}"]


def test_at_no_moment_two_pages_are_marked_as_open(sheet):
    screen, seen = Screen(sheet), []
    tabs = screen._tabs.values()
    for tab in tabs:
        tab.observe(
            lambda _: seen.append(sum("metro-current" in one._dom_classes for one in tabs)),
            "_dom_classes",
        )
    for name in [*PAGES, *reversed(PAGES)]:
        screen.show(name)
    assert set(seen) == {0, 1}, "each button is told to the browser on its own"


def test_a_page_is_built_once_and_catches_up_each_time(sheet):
    screen = Screen(sheet)
    (first,) = screen._page.children
    screen.show("All readings")
    sheet.take("1.5")
    screen.show("Take readings")
    assert screen._page.children == (first,)


def test_no_button_has_an_icon_that_only_a_network_could_draw():
    files = Path(look.__file__).parent.glob("*.py")
    assert not [file.name for file in files if "icon=" in file.read_text(encoding="utf-8")]


def test_a_paragraph_shows_sentences_as_they_are_written():
    made = paragraph("a < b")
    assert made.value == "<p>a &lt; b</p>"
    say(made, ["one", "", "two"])
    assert made.value == "<ul><li>one</li><li>two</li></ul>"
    assert field("Width", "3", unit="mm").description == "Width [mm]"


def test_the_states_of_the_work_are_told_in_order(tmp_path, monkeypatch):
    for name in (".", "rounds/10", "rounds/2_scraped", "rounds/notes"):
        (tmp_path / name).mkdir(parents=True, exist_ok=True)
        if name != "rounds/notes":
            (tmp_path / name / "survey.toml").write_text("", encoding="utf-8")
    names = list(states_of(tmp_path))
    assert names == ["before work", "round 2 scraped", "round 10"]
    assert list(states_of(tmp_path / "rounds" / "10")) == names
    monkeypatch.chdir(tmp_path / "rounds")
    here = states_of(Path("10"))
    assert list(here) == names and here["round 10"] == Path("10"), "by the name it was opened with"


def test_a_traverse_is_added_and_the_next_round_begun(tmp_path):
    folder = plan(tmp_path / "ways", ["out", "back"])
    sheet = worksheet(folder)
    screen, added = Screen(sheet), []
    adding = Adding(sheet, screen, lambda: added.append(sheet.traverse))
    before = sheet.traverses
    adding._boxes["way 2"].value = True
    adding._kind.value, adding._pitch.value = "level along", "200"
    adding._add()
    assert len(added) == 1 and added[0] not in before
    assert {prompt.face for prompt in sheet.prompts} == {"way 2"}
    adding._pitch.value = "wide"
    with pytest.raises(InputError, match="Stations apart: a length in mm is needed, got 'wide'"):
        adding._add()
    adding._begin()
    assert screen.sheet.folder == folder / "rounds" / "1"
    assert screen._state.label == "round 1"


def test_a_folder_without_a_survey_begins_at_set_up(tmp_path):
    screen = Screen(worksheet(tmp_path / "new"))
    assert screen._tabs["Set up"].description.startswith("▸")
    screen._tabs["Decide"].click()
    assert "Decide" in _shown(screen), "and says what is missing"


def test_in_a_round_the_worksheet_tells_the_stop(tmp_path):
    shutil.copytree("sample_surveys/toolroom_lathe", tmp_path / "lathe")
    screen = Screen(worksheet(tmp_path / "lathe" / "rounds" / "2"))
    assert _shown(screen) == ""
    assert screen._state.label == "round 2"

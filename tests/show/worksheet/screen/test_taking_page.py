"""What the page answers to the browser, without a browser."""

import pytest

from metrolib.show.worksheet.screen.screen import Screen
from metrolib.show.worksheet.screen.taking_page import _TakingPage
from metrolib.show.worksheet.worksheet import worksheet
from tests.browser.folders import plan


@pytest.fixture
def screen(sheet):
    return Screen(sheet)


@pytest.fixture
def page(sheet, screen):
    page = _TakingPage(sheet, screen)
    page.said = []
    page.entry.send = page.said.append
    page._catch_up()
    page.said.clear()
    return page


def hear(page, kind, text="", **more):
    """Have the browser send an entry for the prompt that stands there, and return the answer."""
    message = {"kind": kind, "key": page.sheet.prompt.key, "text": text, "unit": "div"}
    message |= {
        "again": False,
        "corrects": False,
        "waiting": 0,
        "token": f"{kind} {text} {page.sheet.prompt.key}",
    }
    page._heard(message | more)
    answers = [one for one in page.said if one["kind"] in ("written", "kept", "refused")]
    return answers[-1] if answers else None


def prompts(page):
    return {prompt["key"]: prompt for prompt in page.entry.prompts}


def test_a_reading_is_on_disk_when_it_is_answered(page, sheet, folder):
    key = sheet.prompt.key
    answer = hear(page, "take", "1,5", token="t1")
    assert answer == {"kind": "written", "token": "t1", "words": "on disk: 1,5 at 0 mm"}
    assert ",1.5," in (folder / "readings.csv").read_text(encoding="utf-8")
    assert prompts(page)[key]["taken"] == "1.5 div"
    assert page.entry.at == sheet.prompt.key != key


def test_a_token_that_comes_twice_is_answered_twice_and_written_once(page, sheet):
    key = sheet.prompt.key
    hear(page, "take", "1.5", token="t1", key=key)
    hear(page, "take", "1.5", token="t1", key=key)
    assert [one["kind"] for one in page.said if one.get("token") == "t1"] == ["written"] * 2
    assert len(sheet.history) == 1


def test_a_reading_in_another_unit_comes_as_the_instruments_own(page, sheet):
    key = sheet.prompt.key
    unit = sheet.survey.instruments[sheet.survey.traverses[sheet.traverse].instrument]
    hear(page, "take", "0.04", unit="mm/m")
    assert prompts(page)[key]["taken"] == f"{0.04 / unit.factor:g} div"


def test_what_cannot_be_taken_is_refused_in_words_and_nothing_is_written(page, sheet):
    answer = hear(page, "take", "1.2.3")
    assert answer["kind"] == "refused"
    assert "two decimal marks" in answer["words"]
    assert sheet.history == ()


def test_one_more_reading_at_a_place_stands_beside_the_first(page, sheet):
    key = sheet.prompt.key
    hear(page, "take", "1.5")
    hear(page, "take", "1.7", key=key, again=True, token="t2")
    here = [prompt for prompt in sheet.prompts if prompt.x == 0]
    assert [(prompt.repeat, prompt.value) for prompt in here] == [(1, 1.5), (2, 1.7)]


def test_a_number_typed_ahead_never_replaces_a_reading_that_came_meanwhile(page, sheet, folder):
    key = sheet.prompt.key
    other = worksheet(folder)
    other.take("7")
    other.close()
    assert hear(page, "take", "1.5", key=key)["kind"] == "written"
    here = [prompt for prompt in sheet.prompts if prompt.x == 0]
    assert [(prompt.repeat, prompt.value) for prompt in here] == [(1, 7), (2, 1.5)]
    assert "yours is kept beside it as reading no. 2" in page.screen._said.value


def test_a_number_typed_over_a_reading_that_was_seen_corrects_it(page, sheet):
    key = sheet.prompt.key
    hear(page, "take", "7")
    hear(page, "take", "1.5", key=key, corrects=True)
    assert [prompt.value for prompt in sheet.prompts if prompt.x == 0] == [1.5]
    assert sheet.history[-1].was == "7"


def test_the_browser_knows_each_spelling_of_a_unit_that_the_instrument_takes(page, sheet):
    key = sheet.prompt.key
    for word, sign in page.entry.spellings.items():
        assert sign in page.entry.units
        page.sheet.go_to(key)
        answer = hear(page, "take", f"0.01 {word}", corrects=True, token=word)
        assert answer["kind"] == "written", word
    assert "mm/m" in page.entry.spellings and "thou" not in page.entry.spellings


def test_left_out_noted_and_undone(page, sheet):
    first = sheet.prompt.key
    assert hear(page, "skip", "oil hole")["words"] == "left out: 0 mm"
    assert "oil hole" in prompts(page)[first]["skipped"]
    second = sheet.prompt.key
    assert hear(page, "note", "wiped", key=second)["kind"] == "written"
    assert sheet.prompt_of(second).note == "wiped"
    page._heard({"kind": "undo"})
    assert sheet.prompt_of(second).note == ""
    assert page.said[-1]["kind"] in ("go", "saved")


def test_a_folder_that_takes_no_writing_keeps_the_reading_and_says_so(page, sheet, folder):
    away = folder.rename(folder.with_name("away"))
    assert hear(page, "take", "1.5")["kind"] == "kept"
    assert page.unsaved.layout.display == ""
    elsewhere = folder.with_name("stick")
    page.unsaved.children[0].value = str(elsewhere)
    page._save_elsewhere()
    assert "1.5" in (elsewhere / "readings.csv").read_text(encoding="utf-8")
    away.rename(folder)
    page.said.clear()
    assert hear(page, "take", "1.6")["kind"] == "written"
    assert {"kind": "saved"} in page.said
    assert page.unsaved.layout.display == "none"


@pytest.fixture
def long_page(tmp_path):
    sheet = worksheet(plan(tmp_path / "long", ["out"]))
    page = _TakingPage(sheet, Screen(sheet))
    page.said = []
    page.entry.send = page.said.append
    yield page
    sheet.close()


def test_a_wild_reading_is_asked_about_and_can_be_left_out(long_page):
    page, sheet = long_page, long_page.sheet
    for text in ("1", "1.2", "0.8", "1", "1.2", "0.9", "1.1", "1"):
        hear(page, "take", text)
    wild = sheet.prompt.key
    hear(page, "take", "19", key=wild)
    hear(page, "take", "1")
    doubt = next(one for one in page.said if one["kind"] == "doubt")
    assert doubt["key"] == wild and "19" in doubt["words"] and doubt["earlier"] is None
    page._heard({"kind": "leave out", "key": wild, "earlier": wild})
    assert sheet.prompt_of(wild).state == "open"
    assert sheet.history[-1].was == "19"


def test_stepping_in_the_browser_is_followed(page, sheet):
    last = sheet.prompts[-1].key
    page._heard({"kind": "at", "key": last})
    assert sheet.prompt.key == last


def test_the_browser_learns_what_is_on_disk_of_an_earlier_opening(page):
    hear(page, "take", "1.5", token="t1")
    page._heard({"kind": "left", "tokens": ["t1", "never came"]})
    assert page.said[-1] == {"kind": "known", "tokens": ["t1"]}


def test_a_range_holds_in_every_unit(page, sheet):
    """A division of the level is 0.02 mm/m."""
    assert page.entry.in_own["mm/m"] == pytest.approx(50)
    assert page.entry.in_own[page.entry.units[0]] == 1


def test_what_is_on_no_disk_is_an_alarm_on_every_page_and_goes_when_it_is_written(
    page, screen, folder, tmp_path
):
    away = folder.rename(tmp_path / "away")
    screen.show("All readings")
    hear(page, "take", "1.5")
    assert "metro-alarm" in screen._said.value and "on no disk" in screen._said.value
    away.rename(folder)
    screen.show("All readings")  # which finds the folder back, and writes
    assert "on no disk" not in screen._said.value
    assert ",1.5," in (folder / "readings.csv").read_text(encoding="utf-8")

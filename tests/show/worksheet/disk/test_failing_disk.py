"""Power cuts, full disks and closed folders: what was typed is kept, and the user is told."""

import errno
import os
import shutil

import pytest

from metrolib.errors import SurveyError
from metrolib.show.worksheet.disk import history, kept
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey import files
from metrolib.survey.folder import read_survey


def _values(folder):
    return sorted(read_survey(folder).readings.value.tolist())


class _PowerCut(BaseException):
    """Ends a worksheet where it stands, as a power cut does."""


@pytest.fixture
def cut(monkeypatch):
    """Return a function that cuts the power before readings.csv is written."""

    def dark(*_, **__):
        raise _PowerCut

    def arm():
        monkeypatch.setattr(kept, "write_files", dark)
        return monkeypatch

    return arm


def test_a_power_cut_between_the_two_files_loses_nothing(folder, sheet, cut):
    sheet.take("1")
    power = cut()
    with pytest.raises(_PowerCut):
        sheet.take("2")
    power.undo()
    assert _values(folder) == [1]
    later = worksheet(folder)
    assert _values(folder) == [1, 2]
    assert later.prompt.x == 200


@pytest.mark.parametrize("what", ["taken", "corrected", "taken back", "skipped"])
def test_whatever_was_cut_off_is_made_up_for(folder, sheet, cut, what):
    sheet.take("1")
    sheet.take("2")
    do = {
        "taken": lambda: sheet.take("3"),
        "corrected": lambda: sheet.correct(sheet.prompts[0], "7"),
        "taken back": lambda: sheet.take_back(sheet.prompts[0], "slipped"),
        "skipped": lambda: sheet.skip("hole"),
    }[what]
    power = cut()
    with pytest.raises(_PowerCut):
        do()
    power.undo()
    later = worksheet(folder)
    wanted = {"taken": [1, 2, 3], "corrected": [2, 7], "taken back": [2], "skipped": [1, 2]}[what]
    assert _values(folder) == wanted
    assert [one.state for one in later.prompts].count("skipped") == (what == "skipped")


def test_a_power_cut_at_the_first_reading_of_all_loses_nothing(folder, sheet, cut):
    power = cut()
    with pytest.raises(_PowerCut):
        sheet.take("2")
    power.undo()
    assert _values(folder) == []
    later = worksheet(folder)
    assert _values(folder) == [2]
    assert any("lacked 1 reading that history.csv has; put back" in line for line in later.news)


def test_a_lost_note_of_how_far_it_got_loses_and_doubles_nothing(folder, sheet):
    for text in ("1", "2", "3"):
        sheet.take(text)
    sheet.correct(sheet.prompts[0], "4")
    shutil.rmtree(folder / kept.HIDDEN)
    later = worksheet(folder)
    later.take("5")
    assert _values(folder) == [2, 3, 4, 5]
    assert len(later.history) == 5


def _no_space(*_, **__):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _closed(*_, **__):
    raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))


@pytest.mark.parametrize(
    ("failing", "words"),
    [(_no_space, "No space left on device"), (_closed, "Permission denied")],
)
def test_what_no_disk_takes_is_kept_shown_and_written_later(
    folder, sheet, monkeypatch, failing, words
):
    sheet.take("1")
    before = (folder / "history.csv").read_bytes()
    monkeypatch.setattr(history.os, "fsync", failing)
    for text in ("2", "3"):
        assert not sheet.take(text).on_disk
    assert [event.now for event in sheet.unsaved] == ["2", "3"]
    assert (folder / "history.csv").read_bytes() == before
    assert sheet.prompt.x == 300
    assert [row.digits for row in sheet.rows if row.digits] == ["1", "2", "3"]
    said = sheet.news
    assert f"1 change is on no disk: it cannot be written ({words})" in said[0]
    assert "make the folder writable, free the disk or close history.csv" in said[0]
    assert said[0].endswith("and go on, or save elsewhere.")
    assert said[1].startswith("2 changes are on no disk")
    assert "on no disk yet: 2 changes; save elsewhere" in str(sheet)
    assert _values(folder) == [1]
    monkeypatch.undo()
    sheet.take("4")
    assert sheet.unsaved == ()
    assert _values(folder) == [1, 2, 3, 4]
    assert [event.now for event in worksheet(folder).history] == ["1", "2", "3", "4"]


def test_a_folder_that_cannot_be_locked_keeps_the_readings_too(folder, sheet, monkeypatch):
    monkeypatch.setattr(kept.FolderLock, "_create", staticmethod(_refuse))
    assert not sheet.take("1").on_disk
    assert len(sheet.unsaved) == 1
    assert not (folder / "history.csv").exists()
    monkeypatch.undo()
    sheet.take("2")
    assert _values(folder) == [1, 2]


def _refuse(path, mark):
    from metrolib.errors import Fault

    raise SurveyError([Fault(str(path), None, "nothing can be written into the folder", "free it")])


def test_a_folder_that_was_taken_away_keeps_the_readings(folder, sheet):
    sheet.take("1")
    away = folder.with_name("stick pulled out")
    folder.rename(away)
    assert not sheet.take("2").on_disk
    away.rename(folder)
    sheet.take("3")
    assert _values(folder) == [1, 2, 3]


def test_a_readings_file_held_by_another_program_is_made_up_for(folder, sheet, monkeypatch):
    from metrolib.errors import Fault

    def held(*_, **__):
        raise SurveyError([Fault("readings.csv", None, "it cannot be written", "close it")])

    monkeypatch.setattr(kept, "write_files", held)
    assert sheet.take("1").on_disk  # in the history
    assert sheet.take("2").on_disk
    assert sheet.unsaved == ()
    assert "The readings are safe in history.csv" in sheet.news[0]
    assert [row.digits for row in sheet.rows if row.digits] == ["1", "2"]
    assert _values(folder) == []
    monkeypatch.undo()
    sheet.take("3")
    assert _values(folder) == [1, 2, 3]


def test_unsaved_readings_are_saved_elsewhere_and_work_goes_on_there(
    folder, sheet, monkeypatch, tmp_path
):
    sheet.take("1")
    closed = kept.FolderLock._create
    monkeypatch.setattr(kept.FolderLock, "_create", staticmethod(_refuse))
    sheet.take("2")
    place = sheet.save_elsewhere(tmp_path / "stick")
    monkeypatch.setattr(kept.FolderLock, "_create", staticmethod(closed))
    assert _values(place) == [1, 2]
    there = worksheet(place)
    assert [event.now for event in there.history] == ["1", "2"]
    there.take("3")
    assert _values(place) == [1, 2, 3]
    assert [event.now for event in sheet.unsaved] == ["2"]  # still to go into its own folder


def test_saving_elsewhere_overwrites_no_other_readings(folder, sheet, tmp_path):
    sheet.take("1")
    other = sheet.save_elsewhere(tmp_path / "stick")
    worksheet(other).take("2")
    sheet.take("3")
    with pytest.raises(SurveyError, match="it holds 1 readings that this survey lacks"):
        sheet.save_elsewhere(other)
    assert _values(other) == [1, 2]


def test_a_line_torn_by_a_power_cut_is_passed_over(folder, sheet):
    sheet.take("1")
    with open(folder / "history.csv", "ab") as file:
        file.write(b'2026-11-30T08:00:00,wtorn,taken,level along front flat,"front fl')
    later = worksheet(folder)
    later.take("2")
    assert _values(folder) == [1, 2]
    assert [event.now for event in worksheet(folder).history] == ["1", "2"]


def test_a_history_that_was_taken_away_hinders_no_later_reading(folder, sheet):
    sheet.take("1")
    sheet.take("2")
    sheet.close()
    (folder / "history.csv").unlink()
    later = worksheet(folder)
    later.take("3")
    assert _values(folder) == [1, 2, 3]
    assert [event.now for event in later.history] == ["3"]


def test_a_history_held_by_another_program_lets_readings_go_into_their_file(
    folder, sheet, monkeypatch
):
    sheet.take("1")
    monkeypatch.setattr(sheet._kept.history, "append", _closed)
    assert sheet.take("2").on_disk
    assert sheet.unsaved == () and _values(folder) == [1, 2]
    assert "history.csv: it cannot be written (Permission denied)" in sheet.news[0]
    sheet.correct(sheet.prompts[0], "7")  # its old number would be nowhere
    assert [event.now for event in sheet.unsaved] == ["7"] and _values(folder) == [1, 2]
    assert [row.digits for row in sheet.rows if row.digits] == ["7", "2"]
    assert "1 change is on no disk" in sheet.news[0]
    assert _values(sheet.save_elsewhere(folder / "stick")) == [2, 7]
    monkeypatch.undo()
    sheet.take("3")
    assert sheet.unsaved == () and _values(folder) == [2, 3, 7]
    assert sheet.news == []
    later = worksheet(folder)
    assert [(event.was, event.now) for event in later.history] == [
        *(("", "1"), ("", "2"), ("1", "7"), ("", "3"))
    ]


def test_what_another_program_saves_during_the_write_is_kept(folder, sheet, monkeypatch):
    sheet.take("1")
    readings = folder / "readings.csv"
    write, once = files._write_beside, []

    def saved_meanwhile(path, raw):
        part = write(path, raw)
        if not once:
            once.append(raw)
            lines = readings.read_text().splitlines()
            readings.write_text("\n".join([*lines[:5], lines[5] + "dusty", *lines[6:]]) + "\n")
        return part

    monkeypatch.setattr(files, "_write_beside", saved_meanwhile)
    sheet.take("2")
    assert once
    assert _values(folder) == [1, 2]
    assert "dusty" in readings.read_text()
    assert [row.note for row in sheet.rows].count("dusty") == 1


def test_a_closed_folder_in_which_nothing_was_read_yet_is_told_as_it_is(folder, sheet, monkeypatch):
    sheet.take("1")

    monkeypatch.setattr(kept.FolderLock, "_create", staticmethod(_refuse))
    later = worksheet(folder)
    monkeypatch.undo()
    (told,) = [words for words in later.news if "folder" in words and "writable" in words]
    assert told.startswith("Nothing can be written into the folder. What you read stays")
    later.close()

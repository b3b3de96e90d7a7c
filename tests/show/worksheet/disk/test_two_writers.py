"""Several worksheets and a spreadsheet in one folder: nothing is lost, the later one is told."""

import csv
import os
import subprocess
import sys
import time
from pathlib import Path

import metrolib
from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.blank import blank_survey
from metrolib.survey.folder import read_survey
from metrolib.survey.machine import Face


def _values(folder):
    """Return every reading on disk as (traverse, face, x, repeat): value."""
    found = read_survey(folder).readings
    columns = (found.traverse, found.face, found.x, found.repeat, found.value)
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return {tuple(place): value for *place, value in rows}


def test_the_later_worksheet_is_told_that_another_has_the_folder_open(folder, sheet):
    assert sheet.news == []
    later = worksheet(folder)
    (said,) = later.news
    assert said.startswith("Another worksheet has this folder open.")
    assert later.news == []
    later.close()
    sheet.close()
    assert worksheet(folder).news == []


def test_each_sees_what_the_other_has_read(folder, sheet):
    other = worksheet(folder)
    other.choose("level along rear flat")
    other.take("7")
    assert sheet.news == ["Another worksheet made 1 change: level along rear flat at 0 mm."]
    assert [row.digits for row in sheet.rows if row.digits] == ["7"]
    sheet.take("1")
    assert _values(folder) == {
        ("level along front flat", "front flat", 0, 1): 1,
        ("level along rear flat", "rear flat", 0, 1): 7,
    }
    assert len(other.news) == 2  # who has it open, and what was read
    assert [row.digits for row in other.rows if row.digits] == ["1", "7"]


def test_two_readings_of_one_station_are_both_kept(folder, sheet):
    other = worksheet(folder)
    other.take("1")
    sheet.take("2")
    key = ("level along front flat", "front flat", 0)
    assert _values(folder) == {(*key, 1): 1, (*key, 2): 2}
    assert any("was read in another worksheet meanwhile" in line for line in sheet.news)
    assert sheet.prompt.x == 100


def test_what_was_typed_as_new_corrects_no_reading_of_another(folder, sheet):
    key = sheet.prompt.key
    other = worksheet(folder)
    other.take("1")
    assert sheet.news  # it knows by now, the hand at its keys did not yet
    sheet.take("2", key=key, corrects=False)
    assert sorted(_values(folder).values()) == [1, 2]


def test_interleaved_readings_and_corrections_lose_nothing(folder, sheet):
    other = worksheet(folder)
    other.choose("level along rear flat")
    for at in range(5):
        sheet.take(str(at))
        other.take(str(10 + at))
        other.correct(sheet.prompts[at], str(20 + at))
        sheet.note(f"note {at}", key=other.course_of("level along rear flat")[at])
    values = _values(folder)
    assert sorted(values.values()) == [10, 11, 12, 13, 14, 20, 21, 22, 23, 24]
    notes = read_survey(folder).readings.note.tolist()
    assert sorted(notes)[-5:] == [f"note {at}" for at in range(5)]


_WRITER = """
import sys
from metrolib.show.worksheet.worksheet import worksheet
folder, first = sys.argv[1], int(sys.argv[2])
sheet = worksheet(folder)
keys = [prompt.key for prompt in sheet.prompts]
print("ready", flush=True)
sys.stdin.readline()  # both begin together
for at in range(200):
    taken = sheet.take(str(10 * first + at), key=keys[first + at], corrects=False)
    assert taken.on_disk
    if at % 50 == 0:
        sheet.correct(sheet.prompt_of(sheet.history[-1]), str(10 * first + at + 0.5))
print(len(sheet.unsaved), *sheet.news)
"""


def test_two_processes_of_two_hundred_readings_each_lose_none(tmp_path):
    faces = [Face(name, y, 40, 0, 29_800) for name, y in (("front", 0), ("rear", 150))]
    folder = blank_survey(tmp_path / "bed", faces=faces, kinds="comparison")
    environment = {"PYTHONPATH": str(Path(metrolib.__file__).parents[1])}
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", _WRITER, str(folder), first],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
        )
        for first in ("0", "100")  # of 300 stations both read a hundred
    ]
    assert [writer.stdout.readline() for writer in writers] == ["ready\n"] * 2
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    said = [writer.communicate(timeout=600)[0] for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    assert [line.split()[0] for line in said] == ["0", "0"]
    assert any("Another worksheet" in line for line in said)
    taken = [*range(200), *range(1000, 1200)]
    wanted = [at + 0.5 if at % 50 == 0 else at for at in taken]
    assert sorted(_values(folder).values()) == wanted
    with open(folder / "history.csv", encoding="utf-8-sig", newline="") as file:
        events = list(csv.DictReader(file))
    found = [int(event["now"]) for event in events if event["action"] in ("taken", "repeated")]
    assert sorted(found) == taken
    assert len({event["token"] for event in events}) == len(events) == 408


# --- a spreadsheet, or another program, in the same folder ----------------------------------------


def _edit(folder, change):
    path = folder / "readings.csv"
    path.write_text(change(path.read_text()))
    os.utime(path, (time.time() + 1,) * 2)  # no hand saves within the same tick of a coarse clock


def test_an_edit_in_a_spreadsheet_is_kept_and_told(folder, sheet):
    sheet.take("1")
    _edit(folder, lambda text: text.replace("front flat,0,1,", "front flat,0,9,"))
    sheet.take("2")
    assert sorted(_values(folder).values()) == [2, 9]
    (said,) = sheet.news
    assert "changed in another program (level along front flat at 0 mm: 1 → 9)" in said
    event = next(event for event in sheet.history if event.action == "edited elsewhere")
    assert (event.was, event.now) == ("1", "9")


def test_an_edit_between_two_sessions_is_kept_and_told(folder, sheet):
    sheet.take("1")
    sheet.take("2")
    sheet.close()
    _edit(folder, lambda text: text.replace("front flat,0,1,", "front flat,0,9,"))
    later = worksheet(folder)
    assert any("0 mm: 1 → 9" in line for line in later.news)
    assert sorted(_values(folder).values()) == [2, 9]


def test_readings_that_an_old_copy_overwrote_are_put_back_and_told(folder, sheet):
    old = (folder / "readings.csv").read_text()
    for text in ("1", "2", "3"):
        sheet.take(text)
    _edit(folder, lambda text: old.replace("front flat,500,,", "front flat,500,50,", 1))
    (edited, lacked) = sorted(sheet.news)
    assert "lacked 3 readings that history.csv has; put back" in edited + lacked
    assert "at 500 mm: nothing → 50" in edited + lacked
    assert sorted(_values(folder).values()) == [1, 2, 3, 50]


def test_a_file_saved_with_semicolons_and_commas_is_written_on_in_its_dialect(folder, sheet):
    sheet.take("1.5")

    def as_german(text):
        return text.replace("1.5", "1#5").replace(",", ";").replace("#", ",")

    _edit(folder, as_german)
    sheet.take("2.25")
    text = (folder / "readings.csv").read_text()
    assert "front flat;0;1,5;" in text and "front flat;100;2,25;" in text
    assert sorted(_values(folder).values()) == [1.5, 2.25]


def test_a_faulty_file_stops_no_reading(folder, sheet):
    sheet.take("1")
    good = (folder / "readings.csv").read_text()
    _edit(folder, lambda text: text.replace("front flat,0,1,", "front flat,0,one,"))
    taken = sheet.take("2")
    assert taken.on_disk
    assert "cannot be read: readings.csv, line 2: reading 'one' is no number" in sheet.news[0]
    assert "one" in (folder / "readings.csv").read_text()
    assert [row.digits for row in sheet.rows if row.digits] == ["1", "2"]
    sheet.take("3")
    (folder / "readings.csv").write_text(good)
    sheet.take("4")
    assert sorted(_values(folder).values()) == [1, 2, 3, 4]


def test_a_changed_survey_file_is_taken_up(folder, sheet):
    path = folder / "survey.toml"
    path.write_text(path.read_text().replace("# range = 20", "range = 5"))
    sheet.take("1")
    assert sheet.prompt.high == 5


def test_a_history_saved_by_a_spreadsheet_is_read_and_added_to(folder, sheet):
    sheet.take("1,5")
    sheet.take("2")
    path = folder / "history.csv"
    rows = list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))
    with open(path, "w", encoding="cp1252", newline="") as file:
        writer = csv.writer(file, delimiter=";", lineterminator="\r\n")
        writer.writerows([cell.replace("1.5", "1,5") for cell in row] for row in rows)
    sheet.take("3")
    later = worksheet(folder)
    assert [event.now for event in later.history] == ["1.5", "2", "3"]
    assert sorted(_values(folder).values()) == [1.5, 2, 3]


def test_lines_taken_out_of_the_history_are_written_again(folder, sheet):
    sheet.take("1")
    sheet.take("2")
    path = folder / "history.csv"
    path.write_text("\n".join(path.read_text().splitlines()[:2]) + "\n")
    sheet.take("3")
    assert sorted(event.now for event in worksheet(folder).history) == ["1", "2", "3"]

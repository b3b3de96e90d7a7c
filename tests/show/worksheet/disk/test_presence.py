import os
import socket
import subprocess
import sys
import time

from metrolib.show.worksheet.disk import presence
from metrolib.show.worksheet.disk.presence import FRESH, Presence


def test_open_worksheets_see_each_other_until_they_close(tmp_path):
    one = Presence(tmp_path)
    assert one.others() == 0
    two, three = Presence(tmp_path), Presence(tmp_path)
    assert one.others() == two.others() == 2
    two.close()
    assert one.others() == 1
    del three
    assert one.others() == 0


def _file(folder, process, host, age=0.0):
    path = folder / f"{presence.MARK}x"
    path.write_text(f"{process} {host}")
    os.utime(path, (time.time() - age,) * 2)
    return path


def test_a_worksheet_that_died_here_is_not_open(tmp_path):
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    path = _file(tmp_path, ended.pid, socket.gethostname())
    assert Presence(tmp_path).others() == 0
    assert not path.exists()


def test_a_worksheet_that_lives_here_is_open_however_long_it_rested(tmp_path):
    _file(tmp_path, os.getpid(), socket.gethostname(), age=10 * FRESH)
    assert Presence(tmp_path).others() == 1


def test_of_one_on_another_computer_only_its_last_sign_of_life_tells(tmp_path):
    mine = Presence(tmp_path)
    path = _file(tmp_path, 1, "another computer", age=FRESH - 20)
    assert mine.others() == 1
    _file(tmp_path, 1, "another computer", age=FRESH + 1)
    assert mine.others() == 0
    assert path.exists()


def test_work_is_a_sign_of_life(tmp_path):
    mine = Presence(tmp_path)
    (path,) = tmp_path.iterdir()
    os.utime(path, (0, 0))
    mine.touch()
    assert time.time() - path.stat().st_mtime < 60


def test_other_files_beside_it_are_no_worksheets(tmp_path):
    (tmp_path / "lock").write_text("1 x")
    (tmp_path / "merged").write_text("3")
    assert Presence(tmp_path).others() == 0


def test_a_folder_that_cannot_be_written_is_no_hindrance(tmp_path):
    away = Presence(tmp_path / "nowhere")
    away.touch()
    assert away.others() == 0
    away.close()


def test_a_notebook_cell_that_is_run_again_is_no_other_worksheet(tmp_path, monkeypatch):
    monkeypatch.setattr(presence, "_running_cell", lambda: "cell a")
    first, again = Presence(tmp_path), Presence(tmp_path)
    assert again.others() == 0
    monkeypatch.setattr(presence, "_running_cell", lambda: "cell b")
    other = Presence(tmp_path)
    assert other.others() == 2
    for one in (first, again, other):
        one.close()

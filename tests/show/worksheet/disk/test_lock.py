import os
import threading
import time

import pytest

from metrolib.errors import SurveyError
from metrolib.show.worksheet.disk import lock
from metrolib.show.worksheet.disk.lock import FolderLock


def test_one_at_a_time(tmp_path):
    inside, most = [], []

    def work():
        for _ in range(20):
            with FolderLock(tmp_path):
                inside.append(1)
                most.append(len(inside))
                time.sleep(0.0005)
                inside.pop()

    workers = [threading.Thread(target=work) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len(most) == 80 and max(most) == 1
    assert list(tmp_path.iterdir()) == []


def test_the_lock_is_given_back_after_an_error(tmp_path):
    with pytest.raises(ValueError, match="in between"), FolderLock(tmp_path):
        raise ValueError("in between")
    with FolderLock(tmp_path) as again:
        assert again.held()


def _leave(folder, age):
    """Leave the lock of a process that died so long ago."""
    path = folder / lock.NAME
    path.write_text("12345 dead")
    os.utime(path, (time.time() - age,) * 2)
    return path


@pytest.mark.parametrize("side", [1, -1])  # a clock set back makes it a lock of the future
def test_the_lock_of_a_dead_process_is_broken_after_the_stated_time(tmp_path, side):
    _leave(tmp_path, side * 100 * lock.STALE)
    with FolderLock(tmp_path) as mine:
        assert mine.held()
    assert list(tmp_path.iterdir()) == []


def test_a_fresh_lock_is_waited_for_and_then_told(tmp_path, monkeypatch):
    monkeypatch.setattr(lock, "PATIENCE", 0.05)
    path = _leave(tmp_path, 0)
    with (
        pytest.raises(SurveyError, match="another worksheet has been writing"),
        FolderLock(tmp_path),
    ):
        raise AssertionError("nobody may come in")
    assert path.read_text() == "12345 dead"


def test_a_lock_lost_in_sleep_is_known_to_be_lost_and_leaves_the_other_alone(tmp_path):
    with FolderLock(tmp_path) as mine:
        assert mine.held()
        (tmp_path / lock.NAME).write_text("another")
        assert not mine.held()
    assert (tmp_path / lock.NAME).read_text() == "another"


def test_a_breaker_that_died_too_is_no_lasting_hindrance(tmp_path):
    _leave(tmp_path, lock.STALE + 1)
    breaker = tmp_path / f"{lock.NAME}.break"
    breaker.write_text("")
    os.utime(breaker, (time.time() - lock.STALE - 1,) * 2)
    with FolderLock(tmp_path) as mine:
        assert mine.held()


def test_a_folder_that_is_not_there_cannot_be_locked(tmp_path):
    with pytest.raises(SurveyError, match="nothing can be written into the folder"):
        FolderLock(tmp_path / "nowhere").__enter__()

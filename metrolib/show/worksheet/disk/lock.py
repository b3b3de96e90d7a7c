"""Lock: one writer at a time in a survey folder, whatever system or process it belongs to."""

import os
import secrets
import time
from contextlib import suppress

from metrolib.errors import Fault, SurveyError

NAME = "lock"

#: No write lasts this long: an older lock was left by a process that died [s].
STALE = 10.0

#: So long a writer waits for its turn [s].
PATIENCE = 30.0


class FolderLock:
    """The right to write in a folder, as a context; made by creating a file that must not exist.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    SurveyError
        On entry, if the folder cannot be written or another writer keeps it too long.
    """

    def __init__(self, folder):
        self._path = folder / NAME
        self._mark = None

    def __enter__(self):
        mark = f"{os.getpid()} {secrets.token_hex(8)}"
        until = time.monotonic() + PATIENCE
        wait = 0.0005
        while not self._create(self._path, mark):
            if self._is_stale(self._path):
                self._break()
            elif time.monotonic() > until:
                raise SurveyError([_busy(self._path.parent)])
            else:
                time.sleep(wait)
                wait = min(2 * wait, 0.02)
        self._mark = mark
        return self

    def __exit__(self, *_):
        if self.held():
            with suppress(OSError):
                self._path.unlink()
        self._mark = None

    def held(self):
        """Tell whether the lock is still this writer's: a sleeping computer may have lost it."""
        try:
            return self._mark is not None and self._path.read_text() == self._mark
        except OSError:
            return False

    @staticmethod
    def _create(path, mark):
        """Make a file with a mark in it; False where it is there already."""
        try:
            with open(path, "x") as file:
                try:
                    file.write(mark)
                    file.flush()
                except OSError:  # a full disk: nobody may wait for this lock
                    path.unlink()
                    raise
            return True
        except FileExistsError:
            return False
        except OSError as error:
            if os.name == "nt" and path.exists():
                return False  # Windows refuses a file for the moment in which it is taken away
            raise SurveyError([_closed(path.parent, error)]) from error

    @staticmethod
    def _is_stale(path):
        with suppress(OSError):
            # a clock that was set back meanwhile makes it a lock of the future
            return abs(time.time() - path.stat().st_mtime) > STALE
        return False

    def _break(self):
        """Take a stale lock away, one breaker at a time: a fresh one must not go with it."""
        breaker = self._path.with_name(NAME + ".break")
        if not self._create(breaker, ""):
            if self._is_stale(breaker):
                with suppress(OSError):
                    breaker.unlink()
            return
        try:
            if self._is_stale(self._path):
                with suppress(OSError):
                    self._path.unlink()
        finally:
            with suppress(OSError):
                breaker.unlink()


def _busy(folder):
    wrong = f"another worksheet has been writing for more than {PATIENCE:g} s"
    return Fault(str(folder), None, wrong, "close it, then try again")


def _closed(folder, error):
    remedy = "make the folder writable or free the disk, or save the readings elsewhere"
    wrong = f"nothing can be written into the folder ({error.strerror or error})"
    return Fault(str(folder), None, wrong, remedy)

"""Presence: who has a survey folder open, so that the later worksheet is told."""

import os
import secrets
import socket
import sys
import time
import weakref
from contextlib import suppress

#: A worksheet that gave no sign for so long is taken for closed [s].
FRESH = 120.0

#: Begins the name of each worksheet's file.
MARK = "open-"


class Presence:
    """The sign of one open worksheet: a small file, touched whenever the worksheet writes.

    Parameters
    ----------
    hidden : Path
        Folder for such files.
    """

    def __init__(self, hidden):
        self._path = hidden / f"{MARK}{secrets.token_hex(4)}"
        self._cell = _running_cell()
        with suppress(OSError):  # nothing depends on it
            self._path.write_text(self._words)
        self.close = weakref.finalize(self, _remove, self._path)

    def touch(self):
        """Give a sign of life."""
        with suppress(OSError):
            os.utime(self._path)

    def others(self):
        """Return how many other worksheets have the folder open."""
        found = []
        with suppress(OSError):
            found = [path for path in self._path.parent.iterdir() if path.name.startswith(MARK)]
        return sum(_is_open(path) for path in found if not self._is_mine(path))

    @property
    def _words(self):
        return f"{os.getpid()} {socket.gethostname()}\n{self._cell}"

    def _is_mine(self, path):
        """Tell whether a file is of this worksheet, or of its cell as it was run before."""
        with suppress(OSError):
            return path == self._path or (self._cell != "" and path.read_text() == self._words)
        return False


def _running_cell():
    """Return the name of the notebook's cell that runs; empty outside of a notebook."""
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    parent = shell.get_parent() if hasattr(shell, "get_parent") else {}
    return str(parent.get("metadata", {}).get("cellId", ""))


def _remove(path):
    with suppress(OSError):
        path.unlink(missing_ok=True)


def _is_open(path):
    """Tell whether the worksheet of a file is open; the file of a dead process is taken away."""
    try:
        process, _, host = path.read_text().partition("\n")[0].partition(" ")
        age = time.time() - path.stat().st_mtime
    except OSError:
        return False
    # Windows has no harmless way to ask after a process: there only the age counts
    if os.name == "posix" and host == socket.gethostname() and process.isdigit():
        if _is_alive(int(process)):
            return True
        _remove(path)
        return False
    return abs(age) < FRESH


def _is_alive(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True  # it runs under another user
    return True

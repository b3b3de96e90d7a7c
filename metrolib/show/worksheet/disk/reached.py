"""Reached: how far the history has got into readings.csv, so that no merging is forgotten."""

import os
from contextlib import suppress

NAME = "merged"


class Reached:
    """The number of events that readings.csv has, in a small file that all worksheets share.

    Parameters
    ----------
    hidden : Path
        Folder of that file.
    count : int
        Events that the history has: the number where no file says it, and the greatest that it can
        be, should the history have been taken away.
    """

    def __init__(self, hidden, count):
        self._path = hidden / NAME
        self._last = count
        if self.get() > count:
            self.set(count)

    def get(self):
        """Return the number as it stands now, whoever wrote it."""
        with suppress(OSError, ValueError):
            self._last = int(self._path.read_bytes())
        return self._last

    def set(self, count):
        """Write the number; where that fails some events are merged once more, to no effect."""
        self._last = count
        with suppress(OSError):
            handle = os.open(self._path, os.O_WRONLY | os.O_CREAT)
            try:
                os.write(handle, f"{count:9d}".encode())  # always of one length, in its place
            finally:
                os.close(handle)

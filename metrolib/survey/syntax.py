"""Syntax: the text of survey.toml -> its tables, past the lines that are no TOML.

`tomllib` stops at the first line that it cannot read. Here such a line gets its fault and is mended
in a copy of the text, only so that all that stands below is checked in the same pass; a survey
with a fault is never used.
"""

import json
import re
import tomllib
from dataclasses import dataclass

from metrolib.errors import Fault
from metrolib.survey.slips import syntax_fault

FILE = "survey.toml"

#: Stands for a value that could not be read, and in names that are lost: their fault is told.
TOLD = "\ue000"

#: Tables that hold tables with names of their own.
_NAMED = ("faces", "instruments", "straightedges", "traverses", "options")

_PART = r"""(?:[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"|'[^']*')"""
_KEY = re.compile(rf"\s*({_PART}(?:\s*\.\s*{_PART})*)\s*=(.*)$", re.DOTALL)
_HEADER = re.compile(r"\s*\[{1,2}[^\[\],]*\]{1,2}\s*(#.*)?$")

#: After so many faults the text is something else altogether.
_MOST = 25


@dataclass(frozen=True, eq=False)
class Document:
    """What a TOML text says.

    Attributes
    ----------
    tables : dict or None
        None where no reading on is possible. The value of a key that could not be read is TOLD.
    text : str
        TOML with the lines of the text given, those at fault mended.
    faults : list of Fault
    doubtful : set of str
        Kinds of tables, such as ``"faces"``, of which not every name is known.
    """

    tables: dict | None
    text: str
    faults: list
    doubtful: set


def load_toml(text):
    r"""Read the tables of survey.toml.

    Parameters
    ----------
    text : str
        With any line ends and with or without a byte-order mark.

    Returns
    -------
    Document

    Examples
    --------
    >>> document = load_toml("y = 150,5\nwidth = 40.0\n")
    >>> document.tables["width"], str(document.faults[0])
    (40.0, 'survey.toml, line 1: this is no TOML: y = 150,5; write decimals with a point: 150.5')
    """
    return _Mending(plain(text)).document()


def plain(text):
    r"""Return a text without byte-order mark and with ``\n`` as the only line end."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


class _Mending:
    """A copy of the text, mended line by line until it can be read."""

    def __init__(self, text):
        self.lines = text.split("\n")
        self.faults = []
        self.doubtful = set()
        self._tried = {}

    def document(self):
        tables = self._read()
        for kind in (None, *_NAMED):
            table = tables if kind is None else (tables or {}).get(kind)
            if not isinstance(table, dict):
                continue
            for name in [name for name in table if TOLD in name]:
                del table[name]  # an entry whose name is lost, or that stands twice
        return Document(tables, "\n".join(self.lines), self.faults, self.doubtful)

    def _read(self):
        while True:
            try:
                return tomllib.loads("\n".join(self.lines))
            except tomllib.TOMLDecodeError as error:
                if len(self.faults) >= _MOST or not self._mend(str(error)):
                    return None

    def _mend(self, message):
        """Note what stops the reader and mend it; False where that is of no avail."""
        found = re.search(r"\(at line (\d+), column \d+\)", message)
        last = max([at for at, line in enumerate(self.lines) if line.strip()], default=0)
        stop = int(found[1]) - 1 if found else last
        start = self._opened_above(stop)
        at = stop if start is None else start
        tried = self._tried[at] = self._tried.get(at, 0) + 1
        if tried == 1:
            # inside a list over several lines the item is to blame, else the list left open
            item = start is not None and not self._begins_anew(stop) and found
            told = stop if item else at
            left_open = start is not None and not item
            self.faults.append(
                Fault(FILE, told + 1, *syntax_fault(self.lines[told], message, left_open=left_open))
            )
        if tried > 2:
            return False
        if start is not None:
            self._blank_below(start)
        self.lines[at] = self._mended(self.lines[at], message, at, tried)
        return True

    def _opened_above(self, stop):
        """Return the line of a key whose brackets are still open at line `stop`, or None."""
        for at in range(stop - 1, -1, -1):
            if (key := _KEY.match(self.lines[at])) or _HEADER.match(self.lines[at]):
                if not key or not key[2].lstrip().startswith(("[", "{")):
                    return None
                between = "\n".join([key[2], *self.lines[at + 1 : stop]])
                bare = re.sub(r""""(\\.|[^"\\\n])*"|'[^'\n]*'|#[^\n]*""", "", between)
                is_open = sum(map(bare.count, "[{")) > sum(map(bare.count, "]}"))
                return at if is_open else None
        return None

    def _begins_anew(self, at):
        """Tell whether a line begins a table or a key of its own."""
        return bool(_KEY.match(self.lines[at]) or _HEADER.match(self.lines[at]))

    def _blank_below(self, at):
        """Take out the further lines of a value that began in line `at`."""
        for below in range(at + 1, len(self.lines)):
            if self._begins_anew(below):
                break
            self.lines[below] = ""

    def _mended(self, line, message, at, tried):
        if line.lstrip().startswith("["):
            return self._header(line, message, at, tried)
        if tried > 1 or "overwrite" in message:
            return ""
        if key := _KEY.match(line):
            return f"{key[1]} = {json.dumps(TOLD)}"
        if key := re.match(r"""\s*([^\W\d][^=\n"'\[\]{}#]*?)\s*(=|\s[\d"'\[])""", line):
            meant = re.sub(r"[^\w-]+", "_", key[1])
            return f"{json.dumps(meant)} = {json.dumps(TOLD)}"
        return ""

    def _header(self, line, message, at, tried):
        """Return a heading that can be read: with the name meant, or with none."""
        found = re.match(r"""\s*\[+\s*["']?(\w*)["']?\s*\.?\s*(.*?)[\s\]]*(#.*)?$""", line)
        kind, name = found[1], found[2].strip("\"' ")
        if "twice" not in message and "overwrite" not in message and tried == 1:
            if kind in _NAMED and name:
                return f"[{kind}.{json.dumps(name)}]"
            if kind and not name:
                return f"[{kind}]"
        self.doubtful |= {kind} if kind in _NAMED else set(_NAMED)
        lost = json.dumps(f"{TOLD}{at}")
        return f"[{kind}.{lost}]" if kind in _NAMED and tried == 1 else f"[{lost}]"

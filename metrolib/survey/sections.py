"""Sections: one table of survey.toml, taken key by key, with a fault for each key that is wrong."""

from difflib import get_close_matches
from math import isfinite

from metrolib.errors import Fault
from metrolib.survey.syntax import TOLD

#: Given as `default`, it makes a key one that must be there.
NEEDED = object()


class Book:
    """The faults of one file, each at the line of its key.

    Parameters
    ----------
    file : str
    places : Places
    """

    def __init__(self, file, places):
        self.file = file
        self.places = places
        self.faults = []

    def fault(self, path, wrong, remedy):
        """Note a fault at the key `path`."""
        self.faults.append(Fault(self.file, self.places.line(*path), wrong, remedy))


class Section:
    """One table: each method takes a key, checks it and returns its value.

    A key that is wrong is noted in the book and comes back as None; `sound` then turns False.
    `finish` notes the keys that nobody took. A key whose line could not be read comes back as None
    without a further fault.

    Parameters
    ----------
    book : Book
    path : tuple of str
        Where the table stands.
    table : dict
    title : str
        How a fault names it, e.g. ``"face 'front flat'"``.
    """

    def __init__(self, book, path, table, title):
        self.book = book
        self.path = path
        self.title = title
        self.sound, found = isinstance(table, dict), table
        table = table if self.sound else {}
        self.told = {key for key, value in table.items() if value == TOLD}
        self.table = {key: value for key, value in table.items() if key not in self.told}
        self.taken = {}
        self.wrong_keys = set()
        if not self.sound:
            book.fault(
                path, f"{title} is {found!r}, which is no table", "write it as [table] with keys"
            )

    def fault(self, key, wrong, remedy):
        """Note a fault of a key, or of the whole table where `key` is None."""
        self.sound = False
        self.wrong_keys.add(key)
        path = self.path if key is None else (*self.path, key)
        # a fault of the whole file names the file by itself
        self.book.fault(path, f"{self.title}: {wrong}" if path else wrong, remedy)

    def number(self, key, default=NEEDED, *, at_least=None, above=None):
        """Take a finite number within its limits, as float."""
        value = self._take(key, default, "a number")
        if value is None or value is default:
            return value
        if not _is_number(value):
            return self.fault(
                key, f"{key} is {_shown(value)}, a number is needed", "write a plain number"
            )
        return self._within(key, float(value), at_least, above)

    def numbers(self, key, default=NEEDED, *, ascending=False):
        """Take two finite numbers, as a tuple of floats."""
        value = self._take(key, default, "two numbers")
        if value is None or value is default:
            return value
        remedy = "write it as [number, number]"
        if not (isinstance(value, list) and len(value) == 2 and all(map(_is_number, value))):
            return self.fault(key, f"{key} is {_shown(value)}, two numbers are needed", remedy)
        first, second = map(float, value)
        if not (isfinite(first) and isfinite(second)):
            return self.fault(key, f"{key} is {_shown(value)}, which is not finite", remedy)
        if ascending and first >= second:
            return self.fault(
                key, f"{key} is {_shown(value)}, not ascending", "write the lower one first"
            )
        return first, second

    def text(self, key, default=NEEDED):
        """Take a text; one that must be there may not be empty."""
        value = self._take(key, default, "a text")
        if value is None or value is default:
            return value
        if not isinstance(value, str):
            return self.fault(
                key, f"{key} is {_shown(value)}, a text is needed", "put it in quotes"
            )
        if default is NEEDED and not value.strip():
            return self.fault(key, f"{key} is empty", "write a text")
        return value

    def flag(self, key, default):
        """Take true or false."""
        value = self._take(key, default, "true or false")
        if value is None or isinstance(value, bool):
            return value
        return self.fault(key, f"{key} is {_shown(value)}", "write true or false, without quotes")

    def choice(self, key, allowed, default=NEEDED, *, what=None):
        """Take one of the words in `allowed`."""
        value = self._take(key, default, f"one of {_listed(allowed)}")
        if value is None or value is default:
            return value
        return self._known(key, value, allowed, what)

    def names(self, key, known, default=NEEDED, *, what="face"):
        """Take a list of known names, as tuple."""
        value = self._take(key, default, f"a list of {what}s")
        if value is None or value is default:
            return value
        if not isinstance(value, list):
            return self.fault(
                key, f"{key} is {_shown(value)}, a list is needed", f'write ["{what} name"]'
            )
        repeated = [name for place, name in enumerate(value) if name in value[:place]]
        if repeated:
            return self.fault(key, f"{key} names {repeated[0]!r} twice", "name it once")
        found = [self._known(key, name, known, what) for name in value]
        return None if None in found else tuple(found)

    def tables(self, key):
        """Take a table of named tables, as (name, value) pairs."""
        value = self._take(key, {}, "tables")
        if isinstance(value, dict):
            return list(value.items())
        if value is None:
            return []
        self.fault(key, f"{key} is {_shown(value)}", f'write a table [{key}."NAME"] for each')
        return []

    def raw(self, key, default=None):
        """Take a value as it is."""
        self.taken[key] = None
        if key in self.told:
            self._leave(key)
        return self.table.get(key, default)

    def given(self, key):
        """Tell whether a key stands in the table, readable or not."""
        return key in self.table or key in self.told

    def finish(self, *, open_keys=False):
        """Note the keys that are unknown, and return the values of those if `open_keys`."""
        left = {key: value for key, value in self.table.items() if key not in self.taken}
        if open_keys:
            return left
        for key in left:
            self.fault(
                key,
                f"unknown key {key!r}",
                suggest(key, self.taken, otherwise=f"the keys here are {', '.join(self.taken)}"),
            )
        return {}

    def _take(self, key, default, kind):
        self.taken[key] = None
        if key in self.told:
            return self._leave(key)
        if key in self.table:
            return self.table[key]
        if default is not NEEDED:
            return default
        return self.fault(None, f"{key} is missing", f"add {key} = {kind}")

    def _leave(self, key):
        """Leave a key whose fault is told already."""
        self.sound = False
        self.wrong_keys.add(key)

    def _within(self, key, value, at_least, above):
        if not isfinite(value):
            return self.fault(key, f"{key} is {value}, which is not finite", "write a plain number")
        if at_least is not None and value < at_least:
            return self.fault(key, f"{key} is {value:g}", f"it must be at least {at_least:g}")
        if above is not None and value <= above:
            return self.fault(key, f"{key} is {value:g}", f"it must be above {above:g}")
        return value

    def _known(self, key, value, allowed, what):
        if isinstance(value, str) and value in allowed:
            return value
        wrong = (
            f"{key} is {_shown(value)}"
            if what is None
            else f"{key} names the unknown {what} {value!r}"
        )
        return self.fault(
            key, wrong, suggest(value, allowed, otherwise=f"use one of {_listed(allowed)}")
        )


def suggest(word, known, *, otherwise):
    """Return "did you mean ...?" for a word that resembles a known one, else `otherwise`.

    Examples
    --------
    >>> suggest("widht", ["y", "width"], otherwise="the keys here are y, width")
    "did you mean 'width'? Otherwise the keys here are y, width"
    """
    plain = {name.casefold(): name for name in known}
    close = get_close_matches(word.casefold(), plain, n=1) if isinstance(word, str) else []
    return f"did you mean {plain[close[0]]!r}? Otherwise {otherwise}" if close else otherwise


def _is_number(value):
    return isinstance(value, int | float) and not isinstance(value, bool)


def _listed(words):
    return ", ".join(repr(word) for word in words) or "none (there are none yet)"


def _shown(value):
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."

"""The tables of tolerances that come with the library, read from ``tolerances/*.toml``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files

from metrolib import checks
from metrolib.errors import SurveyError
from metrolib.survey.places import Places
from metrolib.survey.sections import Book, Section
from metrolib.survey.tolerances import SLOPES, TESTS, Tolerance, take_tolerance
from metrolib.units import show_length


@dataclass(frozen=True, eq=False, repr=False)
class Tolerances(Mapping):
    """A table of tolerances: a mapping of names to `Tolerance`.

    Attributes
    ----------
    name : str
    entries : dict of str to Tolerance
    """

    name: str
    entries: dict[str, Tolerance]

    def __getitem__(self, name):
        checks.choice("tolerance", name, self.entries)
        return self.entries[name]

    def __iter__(self):
        return iter(self.entries)

    def __len__(self):
        return len(self.entries)

    def __str__(self):
        lines = [f"{name}: {in_words(one)} ({one.origin})" for name, one in self.entries.items()]
        return "\n  ".join([f"Tolerances for a {self.name}", *lines])

    __repr__ = __str__

    def to_dataframe(self):
        """Return the table as a pandas table, one tolerance a row."""
        from pandas import DataFrame

        rows = [_row(one) for one in self.entries.values()]
        return DataFrame(rows, columns=["tolerance", "test", "allowed", "source"])

    def _repr_html_(self):
        table = self.to_dataframe().to_html(index=False, border=0)
        return f"<p>Tolerances for a {escape(self.name)}</p>{table}"


def tolerances(name, *, faces=(), datum=()):
    """Return one of the tables of tolerances that come with the library.

    Parameters
    ----------
    name : str
        ``"lathe, ordinary class"``, ``"lathe, precision class"``, ``"lathe, large"``,
        ``"lathe, classic chart"``, ``"lathe, published record"``, ``"knee mill"``,
        ``"surface grinder"``, ``"surface plate"`` or ``"straightedge"``.
    faces, datum : sequence of str
        Faces of a survey that all of them are for; `Tolerance.on` says it for one.

    Returns
    -------
    Tolerances
        A mapping of names to `Tolerance`.

    Raises
    ------
    InputError
        If there is no such table.

    Notes
    -----
    Most figures are from memory and marked so: defaults to be edited, not quotations of a
    standard. Those of the published record, and of the surface plates of grades 0 to 3, were read
    in print. Own figures go into a survey's ``[tolerances."NAME"]`` tables, in the same format.

    Examples
    --------
    >>> table = tolerances("lathe, precision class")
    >>> print(table["height of centres"].origin)
    ISO 1708:1989, as recalled, G11 [from memory, high confidence]
    >>> table["bed straight, 500 to 1000 mm"].limit_at(900)
    0.015
    """
    checks.choice("name", name, _tables())
    for argument, given in (("faces", faces), ("datum", datum)):
        if isinstance(given, str):
            raise checks.wrong(
                argument, "a list of faces is needed", repr(given), "put it in brackets"
            )
    found = {one.name: one.on(*faces, datum=datum) for one in _tables()[name]}
    return Tolerances(name, found)


def in_words(tolerance, limit=None, unit="um"):
    """Say what a tolerance allows.

    Parameters
    ----------
    tolerance : Tolerance
    limit : float, optional
        Its limit, scaled already [mm or mm/m]; else its scaling is said too.
    unit : str
        ``"um"`` or ``"thou"``; slopes are said in mm/m.

    Examples
    --------
    >>> in_words(Tolerance("spindle", "number", 0.02, sign="positive only", per=300))
    '0 to +20.0 µm, positive only, per 300 mm'
    >>> in_words(Tolerance("twist", "twist", 0.04))
    'within ±0.04 mm/m'
    """

    def said(length):
        return f"{length:.4g} mm/m" if tolerance.test in SLOPES else show_length(length, unit)

    size = said(tolerance.limit if limit is None else limit)
    if tolerance.sign != "either":
        side = "+" if tolerance.sign in ("convex only", "positive only") else "-"
        words = f"0 to {side}{size}, {tolerance.positive or tolerance.sign}"
    else:
        words = f"within ±{size}" if "positive only" in TESTS[tolerance.test] else f"up to {size}"
    if tolerance.in_any is not None:
        words += f" in any {tolerance.in_any:.10g} mm"
    if limit is not None:
        return words
    if tolerance.per is not None:
        words += f", per {tolerance.per:.10g} mm"
    if tolerance.add_per_metre:
        beyond = f" beyond {tolerance.length_from:.10g} mm" if tolerance.length_from else ""
        words += f", and {said(tolerance.add_per_metre)} more for each metre{beyond}"
    return words


def _row(tolerance):
    lengths = ""
    if tolerance.length_from and tolerance.length_to == float("inf"):
        lengths = f", over {tolerance.length_from:.10g} mm"
    elif tolerance.length_to < float("inf"):
        lengths = f", {tolerance.length_from:.10g} to {tolerance.length_to:.10g} mm"
    return {
        "tolerance": tolerance.name,
        "test": tolerance.test,
        "allowed": in_words(tolerance) + lengths,
        "source": tolerance.origin,
    }


@cache
def _tables():
    """Read all tables, by their titles."""
    folder = files("metrolib.rebuild.acceptance").joinpath("tolerances")
    found = {}
    for file in sorted(folder.iterdir(), key=lambda file: file.name):
        if file.name.endswith(".toml"):
            title, entries = _read(file.name, file.read_text(encoding="utf-8"))
            found[title] = entries
    return found


def _read(file, text):
    """Return the title and the tolerances of one table."""
    document, book = tomllib.loads(text), Book(file, Places(text))
    entries = [
        take_tolerance(Section(book, ("tolerances", name), table, f"tolerance {name!r}"), set())
        for name, table in document["tolerances"].items()
    ]
    if book.faults:
        raise SurveyError(book.faults)
    return document["title"], tuple(entries)

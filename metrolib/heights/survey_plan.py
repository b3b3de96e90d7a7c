"""What a planned survey will tell, and how that is read."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.heights import plan_words
from metrolib.heights.expected import Question
from metrolib.heights.result import NotDetermined
from metrolib.units import DISPLAYS, show_length


@dataclass(frozen=True, eq=False)
class Expected:
    """How sure one result will be.

    Attributes
    ----------
    question : Question
        What is looked at: its kind, faces, places and linear functions of the heights.
    u : ndarray, shape (m,)
        Standard uncertainty at each place, with the survey as intended [mm or mm/m].
    u_after : ndarray, shape (m,)
        The same with the added readings.
    wanted : float or None
        Standard uncertainty that is wanted [mm or mm/m].
    """

    question: Question
    u: np.ndarray
    u_after: np.ndarray
    wanted: float | None

    @property
    def name(self):
        """What the result is called."""
        return self.question.name

    @property
    def kind(self):
        """One of `metrolib.heights.expected.KINDS`."""
        return self.question.kind

    @property
    def x(self):
        """Where it is looked at; a slope or a twist, the length that it covers [mm]."""
        return self.question.x

    @property
    def worst(self):
        """Largest standard uncertainty, with the survey as intended [mm or mm/m]."""
        return float(self.u.max())

    @property
    def worst_after(self):
        """Largest standard uncertainty with the added readings [mm or mm/m]."""
        return float(self.u_after.max())

    def shown(self, value, unit):
        """Write an uncertainty with its unit."""
        return f"{value:.4f} mm/m" if self.question.unit == "mm/m" else show_length(value, unit)

    def in_words(self, unit="um"):
        """Say how sure it will be, and where it is least sure."""
        place = f" at {self.x[int(self.u.argmax())]:g} mm" if self.u.size > 1 else ""
        return f"{self.name}: u = {self.shown(self.worst, unit)}{place}"


@dataclass(frozen=True)
class Addition:
    """A reading to add.

    Attributes
    ----------
    traverse, face : str
    x : float
        [mm]
    repeat : int
        1 where the survey has no such reading; else the number of the repeat.
    worst : float
        Once it and those before it are taken: the largest ratio of an uncertainty to what is
        wanted; 1 is sure enough.
    limits : str
        Name of the result that is then farthest from what is wanted.
    """

    traverse: str
    face: str
    x: float
    repeat: int
    worst: float
    limits: str

    def __str__(self):
        on = f" on {self.face!r}" if self.face and self.face not in self.traverse else ""
        new = "a reading more" if self.repeat == 1 else f"repeat {self.repeat}"
        return f"{self.traverse!r} at {self.x:g} mm{on} ({new})"


@dataclass(frozen=True, eq=False, repr=False)
class SurveyPlan:
    """What a survey will tell, before it is taken.

    Attributes
    ----------
    results : tuple of Expected
        Every result that the readings determine.
    not_determined : tuple of NotDetermined
        What no reading ties down, each with the reading that would.
    additions : tuple of Addition
        Readings to add until what is wanted is reached, the most useful first.
    reached : bool
        Whether it is reached; True where nothing is wanted.
    floor : float or None
        The largest ratio of an uncertainty to what is wanted that repeating candidates without
        end would leave; None where nothing is wanted.
    face : ndarray of str, shape (n,)
    x, y : ndarray, shape (n,)
        Stations [mm].
    cov, cov_after : ndarray, shape (n, n)
        Covariance of the heights there: as intended, and with the added readings [mm²].
    traverse, reading_face : ndarray of str, shape (m,)
    reading_x : ndarray, shape (m,)
        Intended readings [mm].
    line : ndarray of int, shape (m,)
        Line of readings.csv.
    measures : ndarray of str, shape (m,)
        ``"length"`` or ``"slope"``.
    redundancy : ndarray, shape (m,)
        How far the others check each reading: 0 not at all, 1 wholly.
    findable : ndarray, shape (m,)
        Error in each reading that the checks flag in 95 of 100 surveys; infinite where nothing
        checks it [mm or mm/m].
    unchecked : ndarray of int
        Readings that nothing checks: a blunder there would go unseen.
    """

    results: tuple[Expected, ...]
    not_determined: tuple[NotDetermined, ...]
    additions: tuple[Addition, ...]
    reached: bool
    floor: float | None
    face: np.ndarray
    x: np.ndarray
    y: np.ndarray
    cov: np.ndarray
    cov_after: np.ndarray
    traverse: np.ndarray
    reading_face: np.ndarray
    reading_x: np.ndarray
    line: np.ndarray
    measures: np.ndarray
    redundancy: np.ndarray
    findable: np.ndarray
    unchecked: np.ndarray

    def __getitem__(self, name):
        """Return the result of that name, e.g. ``plan["bow of 'front flat'"]``."""
        found = {each.name: each for each in self.results}
        checks.choice("result", name, found)
        return found[name]

    @property
    def rows(self):
        """The readings to add, as rows for `Survey.with_readings`, still to be taken."""
        return [
            {
                "traverse": each.traverse,
                "face": each.face,
                "x": each.x,
                "reading": None,
                "repeat": each.repeat,
            }
            for each in self.additions
        ]

    def in_words(self, unit="um"):
        """Say what the survey will tell, and what to add.

        Parameters
        ----------
        unit : {"um", "thou"}
            Unit of lengths.
        """
        checks.choice("unit", unit, DISPLAYS)
        return plan_words.in_words(self, unit)

    def to_dataframe(self, unit="um", what="results"):
        """Return a pandas table.

        Parameters
        ----------
        unit : {"um", "thou"}
            Unit of lengths.
        what : {"results", "additions", "readings"}
            How sure each result will be; the readings to add; or what checks each reading.
        """
        from pandas import DataFrame

        checks.choice("unit", unit, DISPLAYS)
        checks.choice("what", what, plan_words.TABLES)
        return DataFrame(plan_words.TABLES[what](self, unit))

    def to_html(self, unit="um"):
        """Return the results as an HTML table, with what else is to be said as a list."""
        checks.choice("unit", unit, DISPLAYS)
        return plan_words.to_html(self, unit)

    def __repr__(self):
        return self.in_words()

    def _repr_html_(self):
        return self.to_html()

"""The errors and warnings of metrolib: each says what is wrong, where, and what to do."""

from dataclasses import dataclass


class MetrolibError(Exception):
    """Any error that metrolib raises on purpose."""


class InputError(MetrolibError, ValueError):
    """An argument that cannot be used: which one, what is wrong, what to do."""


class NotDeterminedError(MetrolibError):
    """A quantity was asked for that no reading ties down."""


class ImpossiblePlanError(MetrolibError):
    """No removal meets all the conditions: which of them cannot be met, and by how much."""


@dataclass(frozen=True)
class Fault:
    """One fault in a survey folder.

    Attributes
    ----------
    file : str
        Name of the file, e.g. ``"readings.csv"``.
    line : int or None
        Line in it, counted from 1; None where the whole file is meant.
    wrong : str
        What is wrong, with the value found.
    remedy : str
        What to do about it.
    """

    file: str
    line: int | None
    wrong: str
    remedy: str

    def __str__(self):
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return f"{place}: {self.wrong}; {self.remedy}"


class SurveyError(MetrolibError):
    """A survey folder that cannot be used, with every fault found in one pass.

    Attributes
    ----------
    faults : tuple of Fault
        All faults, in the order of the files and lines.
    """

    def __init__(self, faults):
        self.faults = tuple(faults)
        count = "1 fault" if len(self.faults) == 1 else f"{len(self.faults)} faults"
        super().__init__("\n  ".join([f"{count} in the survey:", *map(str, self.faults)]))


class MetrolibWarning(UserWarning):
    """Any warning of metrolib: the result is usable, but something is doubtful."""


class TiedContactsWarning(MetrolibWarning):
    """Another station may be the true contact, so the first-order uncertainty is doubtful."""


class DoubtfulReadingsWarning(MetrolibWarning):
    """Readings disagree with each other by more than their uncertainties allow."""

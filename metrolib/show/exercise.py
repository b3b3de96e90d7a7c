"""Exercise: an answer compared with the right one."""

from dataclasses import dataclass

from metrolib import checks


@dataclass(frozen=True, eq=False)
class Answer:
    """Whether an answer is right.

    Attributes
    ----------
    value : bool or None
        None where no answer was given.
    given : float or str or None
        As it was given, where it is no number though one is asked for.
    right : float or str
    within : float
        How far from the right one an answer may be.
    unit : str
    """

    value: bool | None
    given: float | str | None
    right: float | str
    within: float
    unit: str

    def __str__(self):
        if self.value is None:
            return f"not answered yet; the answer is {self._shown(self.right)}"
        if isinstance(self.given, str) != isinstance(self.right, str):
            return f"not yet: you say {self.given!r}, {self._asked_for()}"
        verdict = "right" if self.value else "not yet"
        return f"{verdict}: you say {self._shown(self.given)}, it is {self._shown(self.right)}"

    def _shown(self, answer):
        said = answer if isinstance(answer, str) else f"{answer:.4g}"
        return f"{said} {self.unit}".strip()

    def _asked_for(self):
        if isinstance(self.right, str):
            return "a word in quotes is asked for"
        return f"a number is asked for, in {self.unit}" if self.unit else "a number is asked for"


def check_answer(given, right, *, within=0.0, unit=""):
    """Compare the answer to an exercise with the right one.

    An answer of the wrong kind is told as a verdict, so that the cells after it run.

    Parameters
    ----------
    given : float or str or None
        The reader's; None where there is none yet. A number may stand in quotes, and may have a
        decimal comma there.
    right : float or str
        Words are compared whatever their capitals and the blanks around them.
    within : float
        How far from the right number an answer may be, either way.
    unit : str
        Of the number, for the words.

    Returns
    -------
    Answer
        Its ``str()`` is the verdict.

    Raises
    ------
    InputError
        If `right` or `within` is no number that can be compared.

    Examples
    --------
    >>> print(check_answer(None, 0.0203, within=0.001, unit="mm"))
    not answered yet; the answer is 0.0203 mm
    >>> print(check_answer(0.02, 0.0203, within=0.001, unit="mm"))
    right: you say 0.02 mm, it is 0.0203 mm
    >>> print(check_answer("Front", "front flat"))
    not yet: you say Front, it is front flat
    >>> print(check_answer("a hair", 0.0203, within=0.001, unit="mm"))
    not yet: you say 'a hair', a number is asked for, in mm
    """
    within = checks.number("within", within)
    if isinstance(right, str):
        met = isinstance(given, str) and given.strip().casefold() == right.strip().casefold()
    else:
        right = checks.number("right", right)
        given = _number(given)
        met = isinstance(given, float) and abs(given - right) <= within
    return Answer(None if given is None else met, given, right, within, unit)


def _number(given):
    """Return the number that an answer is, None where there is none, or else its words."""
    if given is None:
        return None
    try:
        return float(str(given).strip().replace(",", "."))
    except ValueError:
        return str(given)

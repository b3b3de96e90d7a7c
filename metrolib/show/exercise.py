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
        verdict = "right" if self.value else "not yet"
        return f"{verdict}: you say {self._shown(self.given)}, it is {self._shown(self.right)}"

    def _shown(self, answer):
        said = answer if isinstance(answer, str) else f"{answer:.4g}"
        return f"{said} {self.unit}".strip()


def check_answer(given, right, *, within=0.0, unit=""):
    """Compare the answer to an exercise with the right one.

    Parameters
    ----------
    given : float or str or None
        The reader's; None where there is none yet.
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
        If words are given where a number is asked for, or the other way round.

    Examples
    --------
    >>> print(check_answer(None, 0.0203, within=0.001, unit="mm"))
    not answered yet; the answer is 0.0203 mm
    >>> print(check_answer(0.02, 0.0203, within=0.001, unit="mm"))
    right: you say 0.02 mm, it is 0.0203 mm
    >>> print(check_answer("Front", "front flat"))
    not yet: you say Front, it is front flat
    """
    within = checks.number("within", within)
    if isinstance(right, str):
        if given is not None and not isinstance(given, str):
            raise checks.wrong("given", "words are asked for", repr(given), "put them in quotes")
        met = given is not None and given.strip().casefold() == right.strip().casefold()
    else:
        right = checks.number("right", right)
        given = None if given is None else checks.number("given", given)
        met = given is not None and abs(given - right) <= within
    return Answer(None if given is None else met, given, right, within, unit)

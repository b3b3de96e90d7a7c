"""Doubts: a new reading is judged at once, while the set-up still stands and can read it again."""

from dataclasses import dataclass

from metrolib.heights.blunders import critical_value
from metrolib.show.worksheet.disk.history import key_of
from metrolib.show.worksheet.judged.comparisons import Comparisons
from metrolib.show.worksheet.judged.slip_names import decimals, usual_slip
from metrolib.show.worksheet.typed import unit_sign


@dataclass(frozen=True)
class Doubt:
    """A reading that is out of line.

    Attributes
    ----------
    traverse, face : str
    x : float
        [mm]
    repeat : int
        Which reading: the one just taken, or an earlier one, which further places now check.
    against : str
        ``"its repeats"``, ``"the other readings"`` or ``"its neighbours"``.
    value, expected, u : float
        As read, what those make one expect, and the standard uncertainty of the difference [unit
        of the instrument].
    slip : str or None
        The usual mistake that would explain it.
    words : str
        What is out of line, by how much, and whether to repeat it.
    """

    traverse: str
    face: str
    x: float
    repeat: int
    against: str
    value: float
    expected: float
    u: float
    slip: str | None
    words: str

    @property
    def off(self):
        """The reading less what is expected [unit of the instrument]."""
        return self.value - self.expected

    @property
    def place(self):
        """Which reading is meant, to be compared with that of rows, prompts and events."""
        return key_of(self.traverse, self.face, self.x, self.repeat)

    @property
    def key(self):
        """The key of the prompt that asks for it."""
        return self.place.key

    def __str__(self):
        return self.words


def doubt_about(survey, row, heights=None, *, row_functions=None, asked=frozenset()):
    """Judge a reading that was just taken, and those of its traverse which it helps to check.

    Parameters
    ----------
    survey : Survey
    row : int
        Which of `survey.readings` was just taken.
    heights : Heights, optional
        Adjusted from all readings, with the new one; without them it is judged by its traverse
        alone.
    row_functions : dict of str to function, optional
        As in `adjust`.
    asked : set of tuple
        Places of the doubts that were told before; they are not told again, and a repeat settles
        them: one that agrees confirms the first reading, one that does not takes its place.

    Returns
    -------
    Doubt or None

    Notes
    -----
    Three comparisons, the most certain first: with the repeats at the same place; with what all
    other readings together say, where the adjustment checks it; with its neighbours along the
    traverse. Where the adjustment would have shown a slip of that size and shows none, it has the
    last word over the neighbours: a face may have a dent.

    The critical value is shared out over all rows of the survey, taken and planned: about one
    survey in twenty has a question too many by chance.
    """
    readings = survey.readings
    tests = max(len(readings) + len(survey.planned), 1)
    compare = Comparisons(survey, heights, critical_value(tests), row_functions or {}, asked)
    for found in (compare.repeats(row), compare.others(row), *compare.neighbours(row)):
        if found is None or compare.place(found.row) in asked or compare.confirmed(found.row):
            continue
        return _doubt(survey, found)
    return None


def _doubt(survey, found):
    """Return a disagreement as a doubt, in words."""
    readings = survey.readings
    traverse = survey.traverses[readings.traverse[found.row]]
    instrument = survey.instruments[traverse.instrument]
    value, x = float(readings.value[found.row]), float(readings.x[found.row])
    slip = usual_slip(value, found.expected, found.u, instrument)
    return Doubt(
        traverse=traverse.name,
        face=str(readings.face[found.row]),
        x=x,
        repeat=int(readings.repeat[found.row]),
        against=found.against,
        value=value,
        expected=found.expected,
        u=found.u,
        slip=None if slip is None else slip[0],
        words=_sentence(x, value, found, slip, instrument),
    )


def _sentence(x, value, found, slip, instrument):
    """Say what is out of line, by how much, and ask."""
    digits, sign = decimals(instrument), unit_sign(instrument.unit)
    off = value - found.expected
    words = (
        f"At {x:g} mm {value:.{digits}f} {sign} was read; {found.against} make it about "
        f"{found.expected:.{digits}f} {sign}, so it is {abs(off):.{digits}f} {sign} too "
        f"{'high' if off > 0 else 'low'}"
    )
    if slip is not None:
        words += f" ({slip[0]}? {slip[1]:.{digits}f} {sign} would fit)"
    if found.twin:
        words += f", or else {found.twin} is wrong"
    return words + ": repeat it now?"

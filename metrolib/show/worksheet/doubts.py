"""Doubts: a new reading is judged at once, while the set-up still stands and can read it again."""

from dataclasses import dataclass

import numpy as np

from metrolib.errors import InputError
from metrolib.heights.blunders import UNCHECKED, critical_value
from metrolib.heights.equations import places_of
from metrolib.heights.kinds import terms_of
from metrolib.heights.stations import MERGE
from metrolib.show.worksheet.history import key_of
from metrolib.show.worksheet.neighbours import STEEPEST, against_neighbours
from metrolib.show.worksheet.slip_names import decimals, usual_slip
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
        return "|".join(map(str, self.place))

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
        Places of the doubts that were told before; they are not told again.

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
    bench = _Bench(survey, heights, critical_value(tests), row_functions or {})
    for found in (bench.repeats(row), bench.others(row), *bench.neighbours(row)):
        if found is not None and found.place not in asked:
            return found
    return None


@dataclass(frozen=True, eq=False)
class _Bench:
    """What a reading is judged by."""

    survey: object
    heights: object
    critical: float
    row_functions: dict

    def repeats(self, row):
        """Compare a reading with those taken at the same place in the same traverse."""
        readings = self.survey.readings
        same = self._same_line(row) & (np.abs(readings.x - readings.x[row]) <= MERGE)
        same[row] = False
        if not same.any():
            return None
        traverse, instrument = self._of(row)
        own = np.flatnonzero(readings.traverse == traverse.name)
        drift = traverse.drift_uncertainty * (
            np.abs(readings.order[row] - readings.order[same]).mean()
            / max(np.ptp(readings.order[own]), 1)
        )
        u = float(np.hypot(_u(instrument) * np.sqrt(1 + 1 / same.sum()), drift))
        expected = float(np.median(readings.value[same]))
        if abs(readings.value[row] - expected) <= self.critical * u:
            return None
        return self._doubt(row, "its repeats", expected, u)

    def others(self, row):
        """Compare a reading with what all others together make of it, where they check it."""
        at = self._checked(row)
        if at is None:
            return None
        found = self.heights.checks
        if not abs(found.normalised[at]) > self.critical:
            return None
        _, instrument = self._of(row)
        off = found.residual[at] / found.redundancy[at] / instrument.factor
        # of the difference from the others: the reading's own and what they know of it
        u = _u(instrument) / np.sqrt(found.redundancy[at])
        expected = float(self.survey.readings.value[row] - off)
        return self._doubt(row, "the other readings", expected, float(u), self._twin(at))

    def neighbours(self, row):
        """Yield the readings of this traverse that are out of line, the new one first."""
        readings = self.survey.readings
        mine = np.flatnonzero(self._same_line(row) & ~self._on_damage(row))
        x, place = np.unique(np.round(readings.x[mine] / MERGE) * MERGE, return_inverse=True)
        value = np.array([np.median(readings.value[mine[place == i]]) for i in range(x.size)])
        _, instrument = self._of(row)
        u, step = _u(instrument), STEEPEST[instrument.measures] / instrument.factor
        last = {int(i): int(mine[place == i][-1]) for i in place}  # the repeat that stands there
        for here, one in sorted(last.items(), key=lambda item: (item[1] != row, -item[1])):
            found = against_neighbours(x, value, here, u, self.critical, step)
            if found is not None and found.doubtful and not self._cleared(one, found.off):
                yield self._doubt(one, "its neighbours", found.expected, found.u)

    def _of(self, row):
        traverse = self.survey.traverses[self.survey.readings.traverse[row]]
        return traverse, self.survey.instruments[traverse.instrument]

    def _same_line(self, row):
        """Tell which readings were taken in the same traverse over the same face; shape (m,)."""
        readings = self.survey.readings
        return (readings.traverse == readings.traverse[row]) & (readings.face == readings.face[row])

    def _on_damage(self, row):
        """Tell which readings of the traverse touch what is left out; shape (m,)."""
        readings = self.survey.readings
        traverse, _ = self._of(row)
        touched = np.zeros(len(readings), dtype=bool)
        mine = np.flatnonzero(readings.traverse == traverse.name)
        faces = list(self.survey.machine.faces.values())
        try:
            terms = terms_of(traverse, readings.select(mine), self.survey, self.row_functions)
        except InputError:  # a kind of the user's own, without its function: its feet are not known
            return touched
        places = places_of([(term, np.arange(mine.size)) for term in terms], faces)
        for i, face in enumerate(faces):
            on_it = places["face"] == i
            out = face.is_left_out(places["x"][on_it])
            touched[mine[places["row"][on_it][out]]] = True
        return touched

    def _checked(self, row):
        """Return the place of a reading among the checks, or None where nothing checks it."""
        if self.heights is None or self.heights.checks is None:
            return None
        at = np.flatnonzero(self.heights.checks.line == self.survey.readings.line[row])
        if not at.size or self.heights.checks.redundancy[at[0]] < UNCHECKED:
            return None
        return int(at[0])

    def _cleared(self, row, off):
        """Tell whether the adjustment speaks against an error of this size."""
        at = self._checked(row)
        if at is None:
            return False
        _, instrument = self._of(row)
        found = self.heights.checks
        # such an error would put the normalised residual here, with a scatter of 1
        would_be = off / _u(instrument) * np.sqrt(found.redundancy[at])
        return abs(would_be - found.normalised[at]) > self.critical

    def _twin(self, at):
        """Return the words for a reading that may be wrong in this one's place, or ""."""
        found = self.heights.checks
        for suspect, others in found.inseparable.items():
            same = [i for i in (suspect, *others) if i != at]
            if at in (suspect, *others) and same:
                return f"{found.traverse[same[0]]!r} at {found.x[same[0]]:g} mm"
        return ""

    def _doubt(self, row, against, expected, u, twin=""):
        readings = self.survey.readings
        traverse, instrument = self._of(row)
        value = float(readings.value[row])
        slip = usual_slip(value, expected, u, instrument)
        return Doubt(
            traverse.name,
            str(readings.face[row]),
            float(readings.x[row]),
            int(readings.repeat[row]),
            against,
            value,
            expected,
            u,
            None if slip is None else slip[0],
            _sentence(float(readings.x[row]), value, expected, against, slip, twin, instrument),
        )


def _u(instrument):
    """Return the standard uncertainty of one reading, in its own unit."""
    return instrument.u / instrument.factor


def _sentence(x, value, expected, against, slip, twin, instrument):
    """Say what is out of line, by how much, and ask."""
    digits, sign = decimals(instrument), unit_sign(instrument.unit)
    off = value - expected
    words = (
        f"At {x:g} mm {value:.{digits}f} {sign} was read; {against} make it about "
        f"{expected:.{digits}f} {sign}, so it is {abs(off):.{digits}f} {sign} too "
        f"{'high' if off > 0 else 'low'}"
    )
    if slip is not None:
        words += f" ({slip[0]}? {slip[1]:.{digits}f} {sign} would fit)"
    if twin:
        words += f", or else {twin} is wrong"
    return words + ": repeat it now?"

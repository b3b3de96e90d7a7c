"""Comparisons: a reading against its repeats, against all others, and along its traverse."""

from dataclasses import dataclass

import numpy as np

from metrolib.errors import InputError
from metrolib.heights.blunders import UNCHECKED
from metrolib.heights.equations import places_of
from metrolib.heights.kinds import terms_of
from metrolib.heights.stations import MERGE
from metrolib.show.worksheet.disk.history import key_of
from metrolib.show.worksheet.judged.neighbours import STEEPEST, against_neighbours


@dataclass(frozen=True)
class Disagreement:
    """A reading that others contradict.

    Attributes
    ----------
    row : int
        Which of the survey's readings.
    against : str
        ``"its repeats"``, ``"the other readings"`` or ``"its neighbours"``.
    expected, u : float
        What those make one expect, and the standard uncertainty of the reading less that [unit of
        the instrument].
    twin : str
        The reading that may be wrong in its place; empty where there is none.
    """

    row: int
    against: str
    expected: float
    u: float
    twin: str = ""


@dataclass(frozen=True, eq=False)
class Comparisons:
    """What the readings of a survey are compared by.

    Attributes
    ----------
    survey : Survey
    heights : Heights or None
        Adjusted from all its readings.
    critical : float
        As from `metrolib.heights.blunders.critical_value`.
    row_functions : dict of str to function
    asked : set of Place
        Readings that were doubted before.
    """

    survey: object
    heights: object
    critical: float
    row_functions: dict
    asked: set

    def repeats(self, row):
        """Compare a reading with those taken at the same place, less those in doubt themselves."""
        readings = self.survey.readings
        same = self._repeats_of(row) & ~self._in_doubt(row)
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
        return Disagreement(row, "its repeats", expected, u)

    def others(self, row):
        """Compare a reading with what all others together make of it, where they check it."""
        at = self._checked(row)
        if at is None or (self._repeats_of(row) & self._in_doubt(row)).any():
            return None  # a repeat is not to blame for the slip that it mends
        found = self.heights.checks
        if not abs(found.normalised[at]) > self.critical:
            return None
        _, instrument = self._of(row)
        off = found.residual[at] / found.redundancy[at] / instrument.factor
        # of the difference from the others: the reading's own and what they know of it
        u = _u(instrument) / np.sqrt(found.redundancy[at])
        expected = float(self.survey.readings.value[row] - off)
        return Disagreement(row, "the other readings", expected, float(u), self._twin(at))

    def neighbours(self, row):
        """Yield the readings of this traverse that are out of line, the new one first."""
        readings = self.survey.readings
        mine = np.flatnonzero(self._same_line(row) & ~self._on_damage(row))
        doubted = self._in_doubt(row)
        mine = np.array(
            [i for i in mine if not (doubted[i] and (self._repeats_of(i) & ~doubted).any())], int
        )
        x, place = np.unique(np.round(readings.x[mine] / MERGE) * MERGE, return_inverse=True)
        value = np.array([np.median(readings.value[mine[place == i]]) for i in range(x.size)])
        _, instrument = self._of(row)
        u, step = _u(instrument), STEEPEST[instrument.measures] / instrument.factor
        last = {int(i): int(mine[place == i][-1]) for i in place}  # the repeat that stands there
        for here, one in sorted(last.items(), key=lambda item: (item[1] != row, -item[1])):
            found = against_neighbours(x, value, here, u, self.critical, step)
            if found is not None and found.doubtful and not self._cleared(one, found.off):
                yield Disagreement(one, "its neighbours", found.expected, found.u)

    def confirmed(self, row):
        """Tell whether a repeat that was doubted before agrees with this reading."""
        readings = self.survey.readings
        before = self._repeats_of(row) & self._in_doubt(row)
        _, instrument = self._of(row)
        off = np.abs(readings.value[before] - readings.value[row])
        return bool((off <= self.critical * _u(instrument) * np.sqrt(2)).any())

    def place(self, row):
        """Return which reading it is, to be compared with that of rows, prompts and events."""
        readings = self.survey.readings
        columns = (readings.traverse, readings.face, readings.x, readings.repeat)
        return key_of(*(column[row] for column in columns))

    def _in_doubt(self, row):
        """Tell which readings of this line were doubted before; shape (m,)."""
        doubted = np.zeros(len(self.survey.readings), dtype=bool)
        if self.asked:
            mine = np.flatnonzero(self._same_line(row))
            doubted[mine] = [self.place(i) in self.asked for i in mine]
        return doubted

    def _repeats_of(self, row):
        """Tell which other readings were taken at the same place of the same line; shape (m,)."""
        readings = self.survey.readings
        same = self._same_line(row) & (np.abs(readings.x - readings.x[row]) <= MERGE)
        same[row] = False
        return same

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


def _u(instrument):
    """Return the standard uncertainty of one reading, in its own unit."""
    return instrument.u / instrument.factor

"""Round stop: what an instrument reads when a place is done, and how near the target it is now."""

import warnings
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path

import numpy as np

from metrolib.errors import DoubtfulReadingsWarning, MetrolibError
from metrolib.heights.adjust import adjust
from metrolib.heights.rounds import adjust_rounds
from metrolib.heights.stations import MERGE
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.progress import progress
from metrolib.rebuild.stages.stop_readings import stop_readings
from metrolib.show.worksheet.rounds.compared_stop import compared_words, watch_of, why_none
from metrolib.show.worksheet.rounds.round_reach import COVERAGE, reach_of
from metrolib.show.worksheet.rounds.round_words import left_words, standing_words, stop_words
from metrolib.show.worksheet.rounds.states import BEFORE_WORK, states_of
from metrolib.survey.folder import read_survey
from metrolib.survey.rounds import START
from metrolib.survey.syntax import FILE


def round_work(folder, *, row_functions=None):
    """Return the work that a folder is a round of.

    Parameters
    ----------
    folder : str or Path
        A survey folder below ``rounds`` in the folder of the first survey.
    row_functions : dict of str to function, optional
        As in `adjust`.

    Returns
    -------
    RoundWork or None
        None where the folder is no round.
    """
    folder = Path(folder).resolve()
    paths = states_of(folder)
    if folder not in [*paths.values()][1:] or not (paths[BEFORE_WORK] / FILE).is_file():
        return None
    earlier = {}
    for path in paths.values():
        if path == folder:
            break
        earlier[path.name if earlier else START] = path
    return RoundWork(folder.name, earlier, row_functions)


class RoundWork:
    """The work up to a round: the plan of the first survey, and how far the rounds before it came.

    Nothing is read before it is asked for; then faults of those surveys come as a SurveyError.

    Parameters
    ----------
    name : str
        Of the round.
    earlier : dict of str to Path
        Folders of the first survey and of the rounds before this one, in order.
    row_functions : dict of str to function, optional
    """

    def __init__(self, name, earlier, row_functions=None):
        self.name, self._earlier = name, earlier
        self._row_functions = row_functions
        self._watches = {}
        self._standing = None, None

    @cached_property
    def before(self):
        """The first survey and the rounds before this one, a dict of str to Survey."""
        return {name: read_survey(path) for name, path in self._earlier.items()}

    @property
    def start(self):
        """The first survey."""
        return self.before[START]

    @cached_property
    def plan(self):
        """The removal that the first survey's decision asks for, a RemovalPlan.

        Raises
        ------
        MetrolibError
            If nothing can be decided from the first survey.
        """
        with _quietly():
            heights = adjust(self.start, row_functions=self._row_functions)
            return plan_removal(heights, self.start.decision)

    @cached_property
    def last(self):
        """Where the work stood before this round, a Progress; None where this is the first one."""
        return self._progress(self.before) if len(self.before) > 1 else None

    def progress(self, survey):
        """Return where the work stands with the readings of this round so far.

        Parameters
        ----------
        survey : Survey
            Of this round.

        Returns
        -------
        Progress or None
            None as long as the readings do not suffice.
        """
        if self._standing[0] is not survey:
            self._standing = survey, self._progress({**self.before, self.name: survey})
        return self._standing[1]

    def method(self, face):
        """Return the method that a face is worked by now; None where none is described.

        It is the first one whose allowance some place of the face has not come down to.
        """
        left = self.plan.depth if self.last is None else self.last.left
        mine = (self.plan.face == face) & ~self.plan.left_out
        most = np.nanmax(left[mine], initial=0.0)
        methods = self.start.methods
        return next((one for one in methods if one.leaves < most), methods[-1] if methods else None)

    def stop(self, survey, traverse, face, x):
        """Say what the instrument reads here when the present method is done.

        Parameters
        ----------
        survey : Survey
            Of this round.
        traverse, face : str
        x : float
            [mm]

        Returns
        -------
        str
            Empty where the plan does not concern the place.
        """
        station = self._station(face, x)
        if station is None:
            return ""
        left = self.plan.depth[station] if self.last is None else self.last.left[station]
        told = self._stop_told(survey, traverse, station, left)
        was = left_words(float(left), list(self.before)[-1], survey.display)
        return " ".join(part for part in (told, was) if part)

    def _stop_told(self, survey, traverse, station, left):
        """Say at what reading to stop at a station, or why no reading tells."""
        method, unit = self.method(str(self.plan.face[station])), survey.display
        if method is not None and left <= method.leaves:
            return f"Nothing to do here with {method.name!r}."
        if why := why_none(survey, survey.traverses[traverse], self.plan):
            return why
        seen = self._watch_of(survey, traverse)
        if seen is None:
            return ""
        if station not in seen.stations:
            return f"No stop reading: nothing is known here of what {traverse!r} is read from."
        leaves = 0.0 if method is None else method.leaves
        stops = stop_readings(self.plan, seen, np.minimum(self.plan.depth, leaves))
        if not seen.gauge.absolute:
            return compared_words(stops, seen.zero_at, station, method, unit)
        at = int(np.flatnonzero(stops.stations == station)[0])
        return stop_words(method, stops.written(unit)[at])

    def reach(self, survey, traverse, face, x, value):
        """Tell how near the target the place is, by a reading that shows its size alone.

        Parameters
        ----------
        survey : Survey
            Of this round.
        traverse, face : str
        x : float
            [mm]
        value : float
            [unit of the instrument]

        Returns
        -------
        Reach or None
            None where the reading by itself does not tell: of a level, an indicator, a place that
            the plan does not have. `progress` tells when enough of the round is read.
        """
        station, seen = self._station(face, x), self._watch_of(survey, traverse)
        # an indicator is set anew in each round, so its reading by itself tells no height
        if station is None or seen is None or not seen.gauge.absolute:
            return None
        if station not in seen.stations:
            return None
        return reach_of(self.plan, seen, station, value, self.method(face), survey.display)

    def told_stop(self, survey, prompt):
        """Return what `stop` says at a prompt, or why nothing can be said; empty without one."""
        if prompt is None:
            return ""
        try:
            return self.stop(survey, prompt.traverse, prompt.face, prompt.x)
        except MetrolibError as error:
            return f"There are no stop readings: {error}"

    def told_reach(self, survey, reading, value):
        """Return the `Reach` of a reading, a prompt or an event; None where there is none."""
        try:
            return self.reach(survey, reading.traverse, reading.face, reading.x, value)
        except MetrolibError:
            return None

    def standing(self, survey, face, x):
        """Say what is left at a place, by all readings of the round so far; empty if not known."""
        station, now = self._station(face, x), self.progress(survey)
        return (
            "" if station is None or now is None else standing_words(now, station, survey.display)
        )

    def _progress(self, surveys):
        try:
            with _quietly():
                rounds = adjust_rounds(surveys, row_functions=self._row_functions)
                return progress(rounds, self.plan, coverage=COVERAGE, draws=4_000)
        except MetrolibError:
            return None

    def _station(self, face, x):
        """Return the place of a station in the plan, in the middle of its face, or None."""
        plan = self.plan
        if face not in plan.faces:
            return None
        here = (plan.face == face) & (np.abs(plan.x - x) <= MERGE) & ~plan.left_out
        here &= plan.y == plan.faces[face].y
        return int(np.flatnonzero(here)[0]) if here.any() else None

    def _watch_of(self, survey, traverse):
        """Return what a traverse reads on its face as it stood; None where it watches none."""
        own = survey.traverses[traverse]
        key = repr((own, survey.instruments[own.instrument]))
        if key not in self._watches:
            self._watches[key] = watch_of(survey, own, self.plan)
        return self._watches[key]


@contextmanager
def _quietly():
    """Leave out the warning of doubtful readings: they are told elsewhere."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        yield

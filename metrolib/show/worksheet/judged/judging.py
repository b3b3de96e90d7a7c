"""Judging: what the readings of an open worksheet make of the heights, and of each other."""

import warnings

from metrolib.errors import DoubtfulReadingsWarning, MetrolibError
from metrolib.show.worksheet.disk.history import key_of
from metrolib.show.worksheet.judged.doubts import doubt_about
from metrolib.show.worksheet.judged.known import known


class Judge:
    """The heights from all readings so far, computed once for each state of the folder.

    Parameters
    ----------
    walk : Walk
        Where the worksheet stands.
    row_functions : dict of str to function or None
        As in `adjust`.
    """

    def __init__(self, walk, row_functions):
        self._walk, self._row_functions = walk, row_functions
        self._heights = self._known = None, None
        self._asked = set()

    @property
    def heights(self):
        """Heights in the state of the traverse in hand, or None where there are none yet."""
        survey = self._walk.survey
        state = survey.traverses[self._walk.traverse].state
        if self._heights[0] != (survey, state):
            self._heights = (survey, state), self._adjusted(survey, state)
        return self._heights[1]

    @property
    def known(self):
        """What the readings tell so far, a `Known`."""
        given = self._walk.survey, self.heights, self._walk.traverse
        if self._known[0] != given:
            self._known = given, known(*given, row_functions=self._row_functions)
        return self._known[1]

    def forget(self, place):
        """Forget that the reading at a place was doubted: another one stands there now."""
        self._asked.discard(place)

    def doubt(self, place):
        """Return what is odd about the reading at a place, a `Doubt` not told before, or None."""
        readings = self._walk.survey.readings
        names = "traverse", "face", "x", "repeat"
        columns = (getattr(readings, name).tolist() for name in names)
        places = [key_of(*one) for one in zip(*columns, strict=True)]
        if place not in places:
            return None
        doubt = doubt_about(
            self._walk.survey,
            places.index(place),
            self.heights,
            row_functions=self._row_functions,
            asked=self._asked,
        )
        if doubt is not None:
            self._asked.add(doubt.place)
        return doubt

    def _adjusted(self, survey, state):
        from metrolib.heights.adjust import adjust

        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DoubtfulReadingsWarning)
                return adjust(survey, states=[state], row_functions=self._row_functions)
        except MetrolibError:
            return None

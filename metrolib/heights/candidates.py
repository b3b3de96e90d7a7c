"""Candidates: readings that might be added to a survey, as rows over the heights it has already."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights.equations import places_of
from metrolib.heights.kinds import terms_of
from metrolib.heights.stations import MERGE
from metrolib.survey.readings import Readings

_KEYS = {"traverse", "x", "face"}


@dataclass(frozen=True, eq=False)
class Candidates:
    """Readings that might be added.

    Attributes
    ----------
    traverse, face : ndarray of str, shape (c,)
    x : ndarray, shape (c,)
        [mm]
    repeat : ndarray of int, shape (c,)
        Number that the first such reading gets: 1 where the survey has none there.
    """

    traverse: np.ndarray
    face: np.ndarray
    x: np.ndarray
    repeat: np.ndarray

    def __len__(self):
        return len(self.x)

    def select(self, chosen):
        """Return some of them, as `Candidates`."""
        return Candidates(**{name: column[chosen] for name, column in vars(self).items()})

    def as_readings(self, readings, value=np.nan):
        """Return them as `Readings`, by default not taken yet, each at the end of its traverse.

        Their lines count down from -1, so that nothing takes them for lines of a file.
        """
        last = {
            name: readings.order[readings.traverse == name].max(initial=0)
            for name in dict.fromkeys(self.traverse)
        }
        return Readings(
            traverse=self.traverse,
            face=self.face,
            x=self.x,
            value=np.full(len(self), value),
            repeat=self.repeat,
            order=np.array([last[name] for name in self.traverse], dtype=int),
            note=np.full(len(self), "", dtype=object),
            line=-1 - np.arange(len(self)),
        )


def usual_candidates(survey, traverses, readings, stations, row_functions=None):
    """Return a repeat of every reading, and every traverse at each station that it leaves out.

    Parameters
    ----------
    survey : Survey
    traverses : sequence of Traverse
    readings : Readings
        Of the survey as intended.
    stations : Stations
    row_functions : dict of str to function, optional

    Returns
    -------
    Candidates
        Only those that can be taken and speak of heights that the survey has.

    Notes
    -----
    A reading where the survey has no station brings one equation and at least one new unknown. It
    says nothing of the heights that are asked for, so none is proposed.
    """
    rows = []
    stations_x = np.unique(stations.x)
    for traverse in traverses:
        own = readings.of(traverse.name)
        for face in dict.fromkeys(own.face):
            mine = own.x[own.face == face]
            here = mine if "line" in traverse.settings else np.concatenate([mine, stations_x])
            rows += [(traverse.name, face, x) for x in _each_once(here)]
    offered = _candidates(rows, readings)
    return offered.select(_useful(survey, traverses, readings, stations, offered, row_functions))


def own_candidates(survey, traverses, readings, stations, wanted, row_functions=None):
    """Return the readings that the user would take, from a list of dicts.

    Parameters
    ----------
    wanted : iterable of dict
        With the keys ``traverse``, ``x`` and, where it is not the traverse's own, ``face``.

    Returns
    -------
    Candidates

    Raises
    ------
    InputError
        If an entry is not such a dict, names an unknown traverse, cannot be taken, or stands where
        the survey has no station.
    """
    if isinstance(wanted, dict | str) or not hasattr(wanted, "__iter__"):
        raise checks.wrong("candidates", "a list is needed", repr(wanted)[:60], "put it in one")
    known = {traverse.name: traverse for traverse in traverses}
    rows = [_row(f"candidates[{i}]", each, known, readings) for i, each in enumerate(wanted)]
    if not rows:
        raise checks.wrong("candidates", "there is none", "an empty list", "leave it out for all")
    offered = _candidates(rows, readings)
    useful = _useful(survey, traverses, readings, stations, offered, row_functions)
    if not useful.all():
        lost = int(np.flatnonzero(~useful)[0])
        raise checks.wrong(
            f"candidates[{lost}]",
            "it cannot be taken there, or no other reading stands at its place, so that it tells "
            "nothing of the others",
            f"{rows[lost][0]!r} at x = {rows[lost][2]:g}",
            "choose stations of the survey, or plan it as a row of readings.csv",
        )
    return offered


def _row(where, entry, known, readings):
    """Return traverse, face and x of one entry; the face is by default that of its traverse."""
    if not isinstance(entry, dict) or not {"traverse", "x"} <= set(entry) <= _KEYS:
        remedy = "give a dict with the keys traverse, x and, as wanted, face"
        raise checks.wrong(where, "this is no reading", repr(entry)[:60], remedy)
    checks.choice(f"{where}: traverse", entry["traverse"], known)
    default = known[entry["traverse"]].settings.get("face")
    if not isinstance(default, str):
        read = dict.fromkeys(readings.of(entry["traverse"]).face)
        default = next(iter(read)) if len(read) == 1 else ""
    return entry["traverse"], entry.get("face", default), checks.number(f"{where}: x", entry["x"])


def _candidates(rows, readings):
    traverse = np.array([row[0] for row in rows], dtype=object)
    face = np.array([row[1] for row in rows], dtype=object)
    x = np.array([row[2] for row in rows], dtype=float)
    same = (
        (readings.traverse == traverse[:, None])
        & (readings.face == face[:, None])
        & (np.abs(readings.x - x[:, None]) <= MERGE)
    )
    return Candidates(traverse, face, x, 1 + np.where(same, readings.repeat, 0).max(axis=1))


def _each_once(x):
    """Return places in ascending order, each once."""
    x = np.sort(x)
    return x[np.concatenate([[True], np.diff(x) > MERGE])]


def _useful(survey, traverses, readings, stations, offered, row_functions):
    """Tell which readings can be taken and touch no height that the survey lacks; shape (c,)."""
    faces = list(survey.machine.faces.values())
    useful = np.zeros(len(offered), dtype=bool)
    for traverse in traverses:
        mine = np.flatnonzero(offered.traverse == traverse.name)
        if not mine.size:
            continue

        def terms(group, traverse=traverse):
            rows = offered.select(group).as_readings(readings, 0.0)
            return terms_of(traverse, rows, survey, row_functions)

        for group, found in _possible(mine, terms):
            places = places_of([(term, np.arange(group.size)) for term in found], faces)
            lacking = places["row"][~_known(places, stations)]
            useful[np.delete(group, lacking)] = True
    return useful


def _possible(mine, terms):
    """Yield the readings that can be taken with their terms: in one go, or else one by one."""
    for groups in ([mine], mine[:, None]):
        whole = True
        for group in groups:
            try:
                found = terms(group)
            except InputError:
                whole = False
                continue
            yield group, found
        if whole:
            return


def _known(places, stations):
    """Tell which places stand on stations of the survey, or between them where that is enough."""
    known = np.zeros(len(places["x"]), dtype=bool)
    for face in np.unique(places["face"]):
        mine, theirs = np.flatnonzero(places["face"] == face), stations.face == face
        beside = np.abs(places["y"][mine][:, None] - stations.y[theirs]) <= MERGE
        ahead = places["x"][mine][:, None] - stations.x[theirs]
        on_one = (beside & (np.abs(ahead) <= MERGE)).any(axis=1)
        between = (beside & (ahead >= 0)).any(axis=1) & (beside & (ahead <= 0)).any(axis=1)
        known[mine] = on_one | (between & ~places["station"][mine])
    return known

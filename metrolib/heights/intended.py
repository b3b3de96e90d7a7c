"""Intended: the readings of a survey, taken or still planned, as rows that need no reading."""

from dataclasses import replace

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights.equations import equations
from metrolib.survey.readings import Readings


def intended(survey):
    """Return all readings of a survey; those not taken yet have NaN as their value.

    Raises
    ------
    InputError
        If the survey has no rows at all.
    """
    both = joined(survey.readings, survey.planned)
    if not len(both):
        raise InputError(
            "readings: there are none to plan with, got 0 rows; write a row for each reading that "
            "you intend to take and leave its reading empty (blank_survey makes such a folder)"
        )
    return both


def joined(first, second):
    """Return two sets of readings as one."""
    more = vars(second)
    return Readings(**{key: np.concatenate([old, more[key]]) for key, old in vars(first).items()})


def filled(survey, traverses, readings, row_functions=None, shape=None):
    """Return readings with nominal values where none is taken yet.

    Parameters
    ----------
    survey : Survey
    traverses : sequence of Traverse
        Whose readings are returned.
    readings : Readings
        NaN where nothing was read; each has a line of its own.
    row_functions : dict of str to function, optional
    shape : dict of str to (x, z), optional
        Height above nominal that faces are guessed to have, by face [mm].

    Returns
    -------
    Readings

    Raises
    ------
    InputError
        If `shape` names an unknown face, or is no pair of numbers in ascending x.

    Notes
    -----
    The rows are linear, but a scale error counts in proportion to the reading. A reading that is
    not taken yet is put at what the faces would give at their nominal or guessed heights: where
    nothing is guessed, 0 for a level, the size for a micrometer, and the nominal difference from
    the first reading for an indicator that is set anew.
    """
    mine = readings.select(np.isin(readings.traverse, [traverse.name for traverse in traverses]))
    open_still = np.isnan(mine.value)
    if shape is None and not open_still.any():
        return mine
    mine = replace(mine, value=np.where(open_still, 0.0, mine.value))
    system = equations(survey, traverses, row_functions, mine)
    unknowns = system.prior.copy()
    unknowns[: system.stations.x.size] += _guessed(survey, system.stations, shape or {})
    nominal = system.matrix @ unknowns + (system.reading - system.observed)
    of_line = dict(zip(system.line.tolist(), nominal, strict=True))
    factor = {each.name: survey.instruments[each.instrument].factor for each in traverses}
    value = [
        of_line[line] / factor[name]
        for line, name in zip(mine.line.tolist(), mine.traverse, strict=True)
    ]
    return replace(mine, value=np.where(open_still, value, mine.value))


def _guessed(survey, stations, shape):
    """Return the height above nominal that is guessed for each station."""
    found = np.zeros(stations.x.size)
    number = {name: i for i, name in enumerate(survey.machine.faces)}
    for name, pair in shape.items():
        checks.choice("shape", name, number)
        if not isinstance(pair, tuple | list) or len(pair) != 2:
            raise checks.wrong(
                f"shape[{name!r}]", "a pair is needed", repr(pair)[:60], "give places and heights"
            )
        x, z = (checks.vector(f"shape[{name!r}]", part) for part in pair)
        checks.same_length(x=x, z=z)
        if (np.diff(x) <= 0).any():
            raise checks.wrong(f"shape[{name!r}]", "x must rise", x.tolist(), "sort the places")
        mine = stations.face == number[name]
        found[mine] = np.interp(stations.x[mine], x, z)
    return found

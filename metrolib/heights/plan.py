"""Plan: how sure a survey will make every result before it is taken, and what to add to it."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights.blunders import UNCHECKED, critical_value, findable
from metrolib.heights.candidates import own_candidates, usual_candidates
from metrolib.heights.covariance import Given
from metrolib.heights.determined import not_determined
from metrolib.heights.equations import equations
from metrolib.heights.expected import KINDS, questions
from metrolib.heights.intended import filled, intended, joined
from metrolib.heights.search import Field, choose
from metrolib.heights.solve import least_squares
from metrolib.heights.states import chosen_traverses
from metrolib.heights.survey_plan import Addition, Expected, SurveyPlan


def plan_survey(
    survey, wanted=None, *, states=None, row_functions=None, candidates=None, most=20, shape=None
):
    """Tell what a survey will give before it is taken, and which readings to add.

    The uncertainty of a result needs the places and instruments of the readings, not the readings.
    So a survey folder whose reading cells are empty, or filled in part, can be judged.

    Parameters
    ----------
    survey : Survey
        Its rows with and without a reading are the intended readings.
    wanted : float, or dict of str to float, optional
        Largest standard uncertainty that is wanted. One number holds for all lengths: every
        straightness, flatness, bow, height and slope [mm]. A dict names kinds of result
        (``"straightness"``, ``"flatness"``, ``"bow"``, ``"height"``, ``"slope"`` [mm],
        ``"twist"`` [mm/m]) or single results (``"bow of 'front flat'"``). Without it nothing is
        added.
    states, row_functions
        As in `metrolib.heights.adjust.adjust`.
    candidates : list of dict, optional
        Readings that might be added, with the keys ``traverse``, ``x`` and, as wanted, ``face``;
        each may be taken several times. Without it: a repeat of every intended reading, and every
        traverse of the survey at each station that it leaves out.
    most : int
        Add no more than so many readings.
    shape : dict of str to (x, z), optional
        Rough guess of how faces depart from nominal, by face, straight between the places given
        [mm], e.g. ``{"front flat": ([0, 400, 1400], [0, -0.1, 0])}``. It matters only where an
        instrument has a scale error (see Notes).

    Returns
    -------
    SurveyPlan

    Raises
    ------
    InputError
        If there are no rows, the states are mixed, `wanted` names no result or is not above 0, or
        a candidate cannot be used.

    Notes
    -----
    A scale error counts in proportion to the reading. Where nothing is read yet, the reading is
    put at what the nominal heights give (0 for a level), or those of `shape`. A plan without a
    shape is too hopeful for far worn ways: by up to a third on a bed worn by 0.12 mm that is
    surveyed with a level of 2 % scale uncertainty.

    What lies between stations is left out, and a station where the survey has none is not
    proposed.

    The readings to add are found by greedy searches and exchanges (`metrolib.heights.search`).

    Examples
    --------
    A level stepped along a flat of 1.2 m, 200 mm a step, not a reading taken yet:

    >>> import tempfile
    >>> from metrolib import blank_survey, read_survey
    >>> flat = {"y": 0, "width": 40, "x_from": 0, "x_to": 1200}
    >>> with tempfile.TemporaryDirectory() as place:
    ...     survey = read_survey(
    ...         blank_survey(f"{place}/bed", faces={"flat": flat}, kinds="level along")
    ...     )
    >>> plan = plan_survey(survey, wanted={"bow": 0.0005})
    >>> print(plan["bow of 'flat'"].in_words())
    bow of 'flat': u = 0.6 µm
    >>> print(plan.additions[0])
    'level along flat' at 0 mm (repeat 2)
    """
    readings = intended(survey)
    chosen = _chosen(survey, readings, states)
    most = int(checks.number("most", most, at_least=0))
    readings = filled(survey, chosen, readings, row_functions, shape)
    system = equations(survey, chosen, row_functions, readings)
    faces, stations = list(survey.machine.faces.values()), system.stations
    solution = _solved(system, np.arange(len(system.u)))
    cov = _cov(solution, stations)
    asked = questions(faces, stations, cov)
    limits = _limits(wanted, asked)
    if wanted is None:
        taken, floor, cov_after = [], None, cov
    else:
        offered, joint = _offers(
            survey, chosen, readings, stations, candidates, row_functions, shape
        )
        own, row = np.flatnonzero(joint.line >= 0), np.zeros(len(offered), dtype=int)
        added = np.flatnonzero(joint.line < 0)
        row[-1 - joint.line[added]] = added
        field = _field(joint, own, row, asked, limits)
        groups = [f"{t} / {f}" for t, f in zip(offered.traverse, offered.face, strict=True)]
        taken = choose(field, most, np.unique(groups, return_inverse=True)[1])
        floor = float(np.sqrt(max(field.floor(), 0.0)))
        cov_after = _cov(_solved(joint, np.concatenate([own, row[taken]])), stations)
    results = tuple(
        Expected(each, _u(each.laws, cov), _u(each.laws, cov_after), limit)
        for each, limit in zip(asked, limits, strict=True)
    )
    unchecked, least = _checked(system, solution)
    return SurveyPlan(
        results,
        not_determined(faces, stations, Given(cov)),
        () if not taken else _additions(offered, taken, field, asked, limits),
        all(each.wanted is None or each.worst_after <= each.wanted for each in results),
        floor,
        np.array([faces[i].name for i in stations.face]),
        stations.x,
        stations.y,
        cov,
        cov_after,
        system.traverse,
        system.face,
        system.x,
        system.line,
        system.measures,
        solution.redundancy,
        least,
        unchecked,
    )


def left_open(survey, *, states=None, row_functions=None):
    """Tell what a survey leaves open once its planned readings are taken as well.

    That is `plan_survey(survey).not_determined`, in half the time.

    Parameters
    ----------
    survey, states, row_functions
        As in `plan_survey`.

    Returns
    -------
    tuple of NotDetermined

    Raises
    ------
    InputError
        If there are no rows, or the states are mixed.

    Notes
    -----
    The readings to come are put at 0: whether a quantity is determined does not hang on what a
    scale error adds.
    """
    readings = intended(survey)
    readings = replace(readings, value=np.nan_to_num(readings.value))
    chosen = _chosen(survey, readings, states)
    system = equations(survey, chosen, row_functions, readings)
    cov = Given(_cov(_solved(system, np.arange(len(system.u))), system.stations))
    return not_determined(list(survey.machine.faces.values()), system.stations, cov)


def _chosen(survey, readings, states):
    """Return the traverses whose rows count."""
    chosen = chosen_traverses(survey, readings, states)
    if not chosen:
        raise checks.wrong("states", "no row belongs to them", states, "choose others")
    return chosen


def _solved(system, rows):
    """Solve for some rows of a system; what is read does not matter."""
    matrix, _ = system.whitened(rows)
    return least_squares(matrix, np.zeros(len(rows)), system.prior_u, system.weak, system.along)


def _cov(solution, stations):
    """Return the covariance of the heights alone."""
    return solution.covariance(np.arange(len(stations.x)))


def _u(laws, cov):
    return np.sqrt(np.einsum("ij,ij->i", laws @ cov, laws))


def _limits(wanted, asked):
    """Return for each result the uncertainty that is wanted, or None."""
    if wanted is None:
        return [None] * len(asked)
    if not isinstance(wanted, Mapping):
        wanted = checks.number("wanted", wanted, above=0)
        limits = [wanted if each.unit == "mm" else None for each in asked]
        if not any(limits):
            raise InputError("wanted: no length is determined, got no result; see not_determined")
        return limits
    for key, value in wanted.items():
        checks.choice("wanted", key, dict.fromkeys([*KINDS, *(each.name for each in asked)]))
        if not any(key in (each.kind, each.name) for each in asked):
            remedy = "plan_survey(survey).not_determined says which reading would tie it"
            raise checks.wrong("wanted", "no such result is determined", repr(key), remedy)
        checks.number(f"wanted[{key!r}]", value, above=0)
    if not wanted:
        raise checks.wrong("wanted", "nothing is named", wanted, "leave it out")
    limits = [wanted.get(each.name, wanted.get(each.kind)) for each in asked]
    return [None if limit is None else float(limit) for limit in limits]


def _offers(survey, chosen, readings, stations, candidates, row_functions, shape):
    """Return what may be added, and its rows joined to those of the survey as one system."""
    if candidates is None:
        offered = usual_candidates(survey, chosen, readings, stations, row_functions)
    else:
        shapes = {traverse.state for traverse in chosen}
        chosen = [each for each in survey.traverses.values() if each.state in shapes]
        offered = own_candidates(survey, chosen, readings, stations, candidates, row_functions)
        used = {*readings.traverse, *offered.traverse}
        chosen = [each for each in chosen if each.name in used]
    both = joined(readings, offered.as_readings(readings))
    both = filled(survey, chosen, both, row_functions, shape)
    return offered, equations(survey, chosen, row_functions, both)


def _field(joint, own, row, asked, limits):
    """Return what there is to choose from."""
    factor = _solved(joint, own).factor
    laws = np.vstack(
        [each.laws / limit for each, limit in zip(asked, limits, strict=True) if limit is not None]
    )
    extras = np.zeros((len(laws), len(joint.extras)))
    results = factor.reach(np.hstack([laws, extras]))
    offers = factor.reach(joint.whitened(row)[0].toarray())
    return Field((results**2).sum(axis=1), results @ offers.T, offers @ offers.T)


def _additions(offered, taken, field, asked, limits):
    """Return the readings to add, with how far each of them leads."""
    wanted = [each for each, limit in zip(asked, limits, strict=True) if limit is not None]
    name_of = np.repeat([each.name for each in wanted], [len(each.laws) for each in wanted])
    found = []
    for before, candidate in enumerate(taken):
        variance = field.after(taken[: before + 1])[0]
        worst = int(np.flatnonzero(variance >= variance.max() * (1 - 1e-6))[0])  # ties: see search
        found.append(
            Addition(
                traverse=str(offered.traverse[candidate]),
                face=str(offered.face[candidate]),
                x=float(offered.x[candidate]),
                repeat=int(offered.repeat[candidate]) + taken[:before].count(candidate),
                worst=float(np.sqrt(variance[worst])),
                limits=str(name_of[worst]),
            )
        )
    return tuple(found)


def _checked(system, solution):
    """Return the readings that nothing checks, and the error that would be found in each."""
    redundancy = solution.redundancy
    tested = redundancy >= UNCHECKED
    critical = critical_value(max(int(tested.sum()), 1))
    return np.flatnonzero(~tested), findable(system.u, redundancy, critical)

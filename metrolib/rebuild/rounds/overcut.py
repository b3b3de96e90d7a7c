"""After an overcut: lower everything to it, or leave the dip, and what each of them costs."""

from dataclasses import replace

import numpy as np

from metrolib import checks
from metrolib.errors import ImpossiblePlanError, MetrolibError
from metrolib.form.wording import nominal, uncertainty
from metrolib.rebuild.acceptance.conformity import ACCEPTED, NOT_ACCEPTED, NOT_DECIDED, guard
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.after_overcut import AfterOvercut, Remedy
from metrolib.rebuild.rounds.seen import station_keys
from metrolib.rebuild.rounds.standing import Progress
from metrolib.rebuild.rounds.standing_verdicts import below_anywhere
from metrolib.rebuild.wording import place
from metrolib.uncertain.linear import Measured
from metrolib.units import show_length


def after_overcut(progress, *, tolerance, rate=None, seed=1, draws=40_000):
    """Compare lowering everything to an overcut with leaving the dip.

    Parameters
    ----------
    progress : Progress
        Where the work stands; the station deepest below the target is looked at.
    tolerance : float
        How far a place may stay below the target: local form, where the drawing or the standard
        that you work to allows it [mm].
    rate : float, optional
        Metal that comes off in an hour [cm³/h]; when not given, that of `progress`, if any.
    seed, draws : int
        As in `plan_removal`.

    Returns
    -------
    AfterOvercut

    Raises
    ------
    InputError
        If no place lies below the target, or a number is out of its limits.

    Notes
    -----
    *Leaving it*: all else goes down to the target as planned. ISO 14253-1:2017 (in our words, from
    secondary sources): accepted when the depth and its guard, the one-sided quantile times the
    standard uncertainty, lie within the tolerance; not accepted when the depth less the guard lies
    beyond; else not decided. *Lowering just so far*: the whole target is lowered, not tilted, by
    what is missing to the first. *Lowering to it*: the decision is planned anew from the heights
    as they are, with nothing to clean up but the dip, all its other conditions kept; what a face
    has lost counts against its greatest cut.

    Only what the stations show is known: a dip between two of them may be deeper.

    Examples
    --------
    One flat, planned at -0.02 mm, where the last cut went 0.004 mm too deep in the middle:

    >>> from metrolib.heights.result import given_heights
    >>> from metrolib.heights.rounds import AdjustedRounds
    >>> from metrolib.rebuild.rounds.progress import progress
    >>> from metrolib.survey.machine import Face
    >>> top = Face("top", y=0, width=40, x_from=0, x_to=200)
    >>> ledge = Face("ledge", y=0, width=30, x_from=0, x_to=200, normal=180)
    >>> def survey(*z):
    ...     return given_heights([top, ledge], {
    ...         "top": ([0.0, 100.0, 200.0], z), "ledge": ([0.0, 100.0, 200.0], [0.0] * 3)})
    >>> heights = {"start": survey(0.0, -0.02, 0.0), "1": survey(-0.015, -0.024, -0.015)}
    >>> own = {"start": np.arange(6), "1": np.array([6, 7, 8, 3, 4, 5])}
    >>> values = np.concatenate([heights["start"].values, heights["1"].values[:3]])
    >>> rounds = AdjustedRounds(heights, own, values, np.zeros((9, 9)), ("top",))
    >>> plan = plan_removal(heights["start"], faces=["top"], datum=["ledge"], tilt_along=0.0)
    >>> print(after_overcut(progress(rounds, plan), tolerance=0.005))
    Overcut at 100 mm on 'top': 4.0 µm below the target, at one station alone. Left as it is, \
within 5.0 µm: accepted (probability over 0.99). To leave the dip is 0.02 cm³ more to come off; to \
lower all until it cleans up is 0.04 cm³ more to come off, the target 4.0 µm lower.
    """
    checks.kind("progress", progress, Progress, "the function of that name gives it")
    tolerance = checks.number("tolerance", tolerance, at_least=0)
    rate = _rate(progress) if rate is None else checks.number("rate", rate, above=0)
    room = np.where(progress.counts, progress.room, np.inf)
    deepest = int(room.argmin())
    if room[deepest] >= 0:
        raise checks.wrong(
            "progress",
            "no place lies below the target",
            f"{show_length(room[deepest], 'um')} above it at the lowest",
            "go on with the plan",
        )
    dip = _dip(progress.plan, room, deepest)
    law = progress.seen.law[-1][dip]
    cov = progress.seen.cov
    heights = Measured(progress.rounds.values, cov if cov.any() else None, None)
    depth = heights.several(-progress.seen.law[-1][deepest][None], [-room[deepest]])[0]
    spare = guard(uncertainty(depth) or 0.0, progress.coverage)
    within = below_anywhere(room[dip] + tolerance, law @ cov @ law.T, draws=draws, seed=seed)
    anew = _lowered_to_it(progress, seed, draws)
    return AfterOvercut(
        progress,
        deepest,
        dip,
        depth,
        tolerance,
        1 - within,
        _verdict(nominal(depth), spare, tolerance),
        tuple(_remedies(progress, anew, nominal(depth) + spare - tolerance, rate)),
        anew,
    )


def _rate(progress):
    """Return the rate per hour that the work showed, or None [cm³/h]."""
    return next((each.rate for each in progress.finish if each.per == "hour"), None)


def _dip(plan, room, deepest):
    """Return the stations around the deepest, on its line, that lie below the target with it."""
    line = np.flatnonzero((plan.face == plan.face[deepest]) & (plan.y == plan.y[deepest]))
    line = line[np.argsort(plan.x[line])]
    low, at = room[line] < 0, int(np.flatnonzero(line == deepest)[0])
    first = last = at
    while first > 0 and low[first - 1]:
        first -= 1
    while last < len(line) - 1 and low[last + 1]:
        last += 1
    return line[first : last + 1]


def _verdict(depth, spare, tolerance):
    """Return the decision on leaving a dip."""
    if depth + spare <= tolerance:
        return ACCEPTED
    return NOT_ACCEPTED if depth - spare > tolerance else NOT_DECIDED


def _lowered_to_it(progress, seed, draws):
    """Return the removal that is left when the dip is to clean up, or why there is none."""
    free = {"clean_up": 0.0, "band": 0.0, "greatest_cut": {}, "target_height": None}
    remaining = replace(progress.plan.decision, **free)
    last = progress.rounds[progress.names[-1]]
    try:
        anew = plan_removal(last, remaining, seed=seed, draws=draws)
    except MetrolibError as error:
        return error
    too_deep = _beyond_greatest_cut(progress, anew)
    return anew if too_deep is None else ImpossiblePlanError(too_deep)


def _beyond_greatest_cut(progress, anew):
    """Say where a face would lose more in all than it may; None if nowhere."""
    plan, coming = progress.plan, dict(zip(station_keys(anew), anew.depth, strict=True))
    for i, key in enumerate(station_keys(plan)):
        most = plan.decision.greatest_cut.get(key[0], np.inf)
        in_all = progress.taken[i] + coming.get(key, 0.0)
        if progress.counts[i] and in_all > most + 1e-9:
            return (
                f"{key[0]!r} would lose {show_length(in_all, 'um')} in all at {place(plan, i)}, "
                f"and may lose {show_length(most, 'um')}"
            )
    return None


def _remedies(progress, anew, short, rate):
    """Yield the ways to go on, the cheapest first."""
    plan, counts = progress.plan, progress.counts

    def way(name, lowered, depth, area):
        metal = float(area @ depth)
        return Remedy(
            name, lowered, float(depth.max()), metal, metal / 1e3 / rate if rate else None
        )

    def down_by(lowered):
        return np.clip(np.where(counts, progress.left, 0.0) + lowered * counts, 0.0, None)

    yield way("leave the dip", 0.0, down_by(0.0), plan.area)
    if short > 0:
        yield way("lower all just so far that it is accepted", short, down_by(short), plan.area)
    if isinstance(anew, RemovalPlan):
        yield way("lower all until it cleans up", _between(progress, anew), anew.depth, anew.area)


def _between(progress, anew):
    """Return how far a target planned anew lies below the first, mean over the faces [mm].

    The two may be seen in different frames; how far each lies below the face does not depend on it.
    """
    known = dict(zip(station_keys(anew), anew.relative_height - anew.target, strict=True))
    plan, room = progress.plan, progress.room
    keys = station_keys(plan)
    both = np.array([key in known for key in keys]) & progress.counts
    lower = [known[keys[i]] - room[i] for i in np.flatnonzero(both)]
    return float(np.average(lower, weights=plan.area[both]))

"""Progress: where the work stands after a round, against the plan, and when to stop."""

from collections.abc import Mapping

import numpy as np

from metrolib import checks
from metrolib.form.wording import nominal, uncertainty
from metrolib.heights.rounds import AdjustedRounds
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.rounds import standing_verdicts as verdicts
from metrolib.rebuild.rounds.round_rates import at_given_rate, ratio_interval, to_finish
from metrolib.rebuild.rounds.seen import see
from metrolib.rebuild.rounds.standing import Progress, metal_left

#: Rounding, not metal [mm].
_NOTHING = 1e-10


def progress(
    rounds,
    plan,
    *,
    planned_from=None,
    tolerance=0.0,
    hours=None,
    rate_from=None,
    rate=None,
    scatter=None,
    coverage=0.95,
    seed=1,
    draws=40_000,
):
    """Tell where the work stands after the last round, against the plan.

    Parameters
    ----------
    rounds : AdjustedRounds
    plan : RemovalPlan
        From the survey of one of these rounds.
    planned_from : str, optional
        Which of them; the first when not given.
    tolerance : float
        How far a place may end below the target, or above it and its band [mm].
    hours : dict of str to float, optional
        Hours of work that went into each round but the first, by its name.
    rate_from : sequence of str, optional
        Rounds whose work was like that to come, to tell the rate from; all when not given.
    rate : float or `uncertainties` number, optional
        Metal that comes off in an hour, from your log, in place of what the rounds tell [cm³/h].
    scatter : float, optional
        Standard deviation of a cut against what was aimed at, relative to it; when not given,
        0.5, which aims at half of what is left.
    coverage : float
        Probability at which an overcut counts as proven, with which a cut must not lead to one,
        and of the interval of the work left.
    seed, draws : int
        Of the joint draws behind `Progress.anywhere`.

    Returns
    -------
    Progress

    Raises
    ------
    InputError
        If the plan does not fit the rounds, a number is out of its limits, or a name is no round
        of work.

    Notes
    -----
    All heights are seen in the frame of the plan, with the covariance over all rounds, so what the
    rounds share is neither counted twice nor taken for metal; the target stands fixed in that
    frame. A round with fewer stations gives the others on the straight line between their
    neighbours, which `seen.between` marks; beyond its last station, and where no reading ties a
    place to the datum, nothing is told.

    Verdicts: *overcut* where a place lies more than the tolerance below the target with at least
    the probability `coverage`; else *stop* where no more than the tolerance is left; else *slow
    down* where the uncertainty reaches half of what is left; else *go on*.

    Examples
    --------
    A flat over an untouched ledge, before and after a round, by heights given as arrays:

    >>> from metrolib.heights.result import given_heights
    >>> from metrolib.heights.rounds import AdjustedRounds
    >>> from metrolib.rebuild.removal.removal import plan_removal
    >>> from metrolib.survey.machine import Face
    >>> top = Face("top", y=0, width=30, x_from=0, x_to=200)
    >>> ledge = Face("ledge", y=0, width=30, x_from=0, x_to=200, normal=180)
    >>> x, flat = [0.0, 100.0, 200.0], [0.0, 0.0, 0.0]
    >>> def survey(z):
    ...     return given_heights([top, ledge], {"top": (x, z), "ledge": (x, flat)})
    >>> heights = {"start": survey([0.0, -0.05, 0.0]), "1": survey([-0.03, -0.05, -0.052])}
    >>> own = {"start": np.arange(6), "1": np.array([6, 7, 8, 3, 4, 5])}
    >>> values = np.concatenate([heights["start"].values, heights["1"].values[:3]])
    >>> rounds = AdjustedRounds(heights, own, values, np.zeros((9, 9)), ("top",))
    >>> plan = plan_removal(heights["start"], faces=["top"], datum=["ledge"], tilt_along=0.0)
    >>> now = progress(rounds, plan)
    >>> now.taken.round(3).tolist(), now.left.round(3).tolist(), now.verdict.tolist()
    ([0.03, 0.0, 0.052], [0.02, 0.0, -0.002], ['go on', 'stop', 'overcut'])
    """
    checks.kind("rounds", rounds, AdjustedRounds, "it comes from adjust_rounds")
    checks.kind("plan", plan, RemovalPlan, "it comes from plan_removal")
    tolerance = checks.number("tolerance", tolerance, at_least=0)
    coverage = checks.number("coverage", coverage, above=0.5)
    if coverage >= 1:
        raise checks.wrong("coverage", "it must be below 1", coverage, "give 0.95 or so")
    if scatter is None:
        scatter = verdicts.UNKNOWN_SCATTER
    scatter = checks.number("scatter", scatter, at_least=0)
    if rate is not None:
        rate = checks.quantity("rate", rate, above=0)
    work = rounds.names[1:]
    hours = _hours(hours, work)
    chosen = _rate_rounds(rate_from, work)
    after = [rounds.names.index(name) for name in chosen]
    seen = see(rounds, plan, rounds.names[0] if planned_from is None else planned_from)
    left = seen.height[-1] - plan.target - plan.decision.band
    left[np.abs(left) < _NOTHING] = 0.0
    u = seen.u(seen.law[-1])
    room = left + plan.decision.band
    counts = ~plan.left_out & np.isfinite(left)
    verdict = verdicts.judge(left, room, u, tolerance, coverage)
    verdict[~np.isfinite(left)] = verdicts.NOT_KNOWN
    verdict[plan.left_out] = verdicts.LEFT_OUT
    at = np.flatnonzero(counts)
    law = seen.law[-1][at]
    standing = np.where(counts, (room + tolerance) / np.maximum(u, 1e-12), np.inf)
    rate_here, rounds_left = _station_rates(seen, left, after, coverage)
    last, last_u = _since(seen, _before(seen))
    taken, taken_u = _since(seen, _first(seen))
    return Progress(
        rounds,
        plan,
        seen,
        last,
        last_u,
        taken,
        taken_u,
        left,
        _or_nan(u, left),
        verdicts.most_to_aim_at(left, room + tolerance, u, scatter, coverage),
        _or_nan(verdicts.below(room + tolerance, u), left),
        verdicts.below_anywhere(
            (room + tolerance)[at], law @ seen.cov @ law.T, draws=draws, seed=seed
        ),
        int(standing.argmin()),
        verdict,
        rate_here,
        float(np.mean([hours[name] for name in chosen])) if hours else None,
        rounds_left,
        tuple(_finish(seen, plan, counts, left, after, chosen, hours, rate, coverage)),
        tolerance,
        coverage,
        hours,
    )


def _or_nan(value, known):
    """Return values; NaN where what they belong to is not known."""
    return np.where(np.isfinite(known), value, np.nan)


def _hours(hours, work):
    """Return the hours of each round of work, checked; empty where none are given."""
    if hours is None:
        return {}
    if not isinstance(hours, Mapping):
        raise checks.wrong(
            "hours", "hours by the name of each round are needed", hours, "give a dict"
        )
    for name in hours:
        checks.choice("hours: round", name, dict.fromkeys(work))
    missing = [name for name in work if name not in hours]
    if missing:
        raise checks.wrong(
            "hours", "a round of work has none", missing[0], "give the hours of each round"
        )
    return {name: checks.number(f"hours of round {name!r}", hours[name], above=0) for name in work}


def _rate_rounds(rate_from, work):
    """Return the rounds that the rate is told from."""
    if rate_from is None:
        return work
    if isinstance(rate_from, str):
        raise checks.wrong(
            "rate_from", "a list of rounds is needed", repr(rate_from), "put it in brackets"
        )
    for name in rate_from:
        checks.choice("rate_from", name, dict.fromkeys(work))
    if not rate_from:
        raise checks.wrong("rate_from", "no round is named", "none", "leave it out for all")
    return tuple(name for name in work if name in rate_from)


def _before(seen):
    """Return for each station the latest earlier round that measured it; -1 for none."""
    known = np.isfinite(seen.height[:-1])
    latest = len(known) - 1 - np.argmax(known[::-1], axis=0)
    return np.where(known.any(axis=0), latest, -1)


def _first(seen):
    """Return for each station the first earlier round that measured it; -1 for none."""
    known = np.isfinite(seen.height[:-1])
    return np.where(known.any(axis=0), np.argmax(known, axis=0), -1)


def _since(seen, earlier):
    """Return what came off each station since a round of its own, and standard uncertainty."""
    at = np.arange(len(earlier))
    off = np.where(earlier < 0, np.nan, seen.height[earlier, at] - seen.height[-1])
    return off, _or_nan(seen.u(seen.law[earlier, at] - seen.law[-1]), off)


def _station_rates(seen, left, after, coverage):
    """Return the rate of each station in a round, and the rounds that it needs, as ToFinish does.

    Measuring is all that the interval holds: each place is cut as it needs, not always alike.
    """
    off = sum(seen.height[k - 1] - seen.height[k] for k in after) / len(after)
    law = sum(seen.law[k - 1] - seen.law[k] for k in after) / len(after)
    rounds_left = np.full((len(left), 3), np.nan)
    for i in np.flatnonzero(np.isfinite(left) & np.isfinite(off)):
        if left[i] <= 0:
            rounds_left[i] = 0.0
            continue
        both = np.array([seen.law[-1, i], law[i]])
        rounds_left[i, 0] = left[i] / off[i] if off[i] > 0 else np.inf
        rounds_left[i, 1:] = ratio_interval(left[i], off[i], both @ seen.cov @ both.T, coverage)
    return off, rounds_left


def _finish(seen, plan, counts, left, after, chosen, hours, rate, coverage):
    """Return how many rounds and hours are left."""
    law, metal = metal_left(plan, seen, counts, left)
    finish = []
    needed = sorted({len(seen.height) - 1, *after, *(k - 1 for k in after)})
    # a station missing in one of them would pass for metal that is not there
    if np.isfinite(seen.height[needed][:, ~plan.left_out]).all():
        area = plan.area * counts
        off = [seen.height[k - 1] - seen.height[k] for k in after]
        taken = np.array([area @ np.nan_to_num(each) for each in off])
        laws = np.array([law, *(area @ (seen.law[k - 1] - seen.law[k]) for k in after)])
        cov = laws @ seen.cov @ laws.T
        finish = [to_finish("round", metal, taken, np.ones(len(after)), cov, chosen, coverage)]
        if hours:
            spent = np.array([hours[name] for name in chosen])
            finish.append(to_finish("hour", metal, taken, spent, cov, chosen, coverage))
    if rate is not None:
        u, size = float(seen.u(law[None])[0]), nominal(rate)
        given = at_given_rate(metal, u, size, uncertainty(rate) or 0.0, coverage)
        finish = [each for each in finish if each.per != "hour"] + [given]
    return finish

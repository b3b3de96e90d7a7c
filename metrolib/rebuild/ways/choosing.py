"""Choosing the way: ways of making faces true side by side, with what each costs and leaves."""

from collections.abc import Mapping

from metrolib import checks
from metrolib.rebuild.acceptance.acceptance import checked_tolerances
from metrolib.rebuild.removal.options import AsItIs, check_options, compare
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.ways.consequences import check_carried, consequences
from metrolib.rebuild.ways.foretold import (
    chances_after,
    chances_as_it_is,
    heights_after,
    left_after,
    left_as_it_is,
)
from metrolib.rebuild.ways.ways import SentOut, Way, Ways


def choose_way(
    heights,
    options,
    *,
    rate=None,
    methods=None,
    cost_per_hour=None,
    finishing_u=0.0,
    sent_out=None,
    tolerances=(),
    length=None,
    carried=None,
    drive=None,
    seed=1,
    draws=10_000,
):
    """Put ways of making faces true side by side: what each costs, and what it leaves.

    Parameters
    ----------
    heights : Heights
    options : dict of str to Decision
        What might be done by hand, by name.
    rate : float or `uncertainties` number, optional
        Metal that one's own hand takes off [cm³/h]; from a log, with the scatter of it.
    methods : sequence of Method, optional
        In place of `rate`: the hours are then those of `stages`, one method after the other.
    cost_per_hour : float, optional
        Of that work, in any money.
    finishing_u : float
        How far a finished place may lie from where it was to end, from place to place: standard
        uncertainty [mm].
    sent_out : dict of str to SentOut, optional
        What might be sent out, by name.
    tolerances : mapping of str to Tolerance, or iterable of Tolerance
        Whose chances are told; those of numbers that heights do not tell are left out.
    length : float, optional
        As in `accept`.
    carried : mapping of str to Carried, optional
        What rides on the faces: how far each drops, and whether it would hang over faces that were
        cut while others were not.
    drive : Drive, optional
        What stays where it is: how far the half-nut then lies off the screw, and the tailstock's
        centre off the headstock's.
    seed, draws : int
        Of the draws of what is left; the seed is that of the plans' guard too.

    Returns
    -------
    Ways

    Raises
    ------
    InputError
        As `compare`, `accept` and `stages` do; or if a rate is not above zero, a cost or an
        uncertainty is below zero, both rate and methods or one name twice are given, or
        something is of another kind than is told here.

    Notes
    -----
    The plans are those of `compare`, which tells more of each: its tilt, its guard and what governs
    it. After a cut by hand a place lies as much lower as was planned:
    the uncertainty of its height stays as surveyed, and `finishing_u` joins it wherever metal
    came off, as if the depths were taken off without measuring again. Surveys on the way
    make it better. What is sent out lies in the plane that was ordered, set up on the datum (the
    faces themselves, without one) as the survey knows it; only `SentOut.u` is its own.

    What is left and the chances come from joint draws of the true heights after the cut. Places
    that are left as they are hold the survey's noise already, so a cut that spares many of them is
    told a little worse than it is; leaving all alone is judged as `accept` does.

    It knows nothing of how the bed moves when metal comes off or it is clamped on a grinder.

    Examples
    --------
    >>> from uncertainties import ufloat
    >>> from metrolib.heights.result import given_heights
    >>> from metrolib.survey.decision import Decision
    >>> from metrolib.survey.machine import Face
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> points = {"flat": ([0, 125, 250, 375, 500], [0.0, -0.03, -0.05, -0.03, 0.0])}
    >>> ways = choose_way(
    ...     given_heights([flat], points, u=0.001),
    ...     {"high spots only": Decision(("flat",), band=0.02, confidence=None)},
    ...     rate=ufloat(0.058, 0.01),
    ...     cost_per_hour=20,
    ... )
    >>> way = ways["high spots only"]
    >>> print(f"{way.volume / 1e3:.2f} cm³, {way.hours:.1u} h, {way.cost:.1u}")
    0.11 cm³, 1.9+/-0.3 h, 39+/-7
    """
    check_options(options)
    carried = {} if carried is None else carried
    sent_out = {} if sent_out is None else sent_out
    _check(options, rate, methods, cost_per_hour, finishing_u, sent_out)
    _check_draws(draws, length)
    check_carried(carried, drive)
    entries = [one for one in checked_tolerances(tolerances) if one.faces] if tolerances else []
    every = {**options, **{name: order.decision for name, order in sent_out.items()}}
    told, prices = (entries, length, draws, seed), (rate, methods, cost_per_hour)
    rides = carried, drive
    ways = [
        _way(heights, name, outcome, sent_out.get(name), every, prices, finishing_u, told, rides)
        for name, outcome in compare(heights, every, seed=seed).outcomes
    ]
    return Ways(tuple(ways), tuple(entry.name for entry in entries))


def _check_draws(draws, length):
    """Refuse draws of nothing, and a length that is none."""
    checks.number("draws", draws, at_least=1)
    if length is not None:
        checks.number("length", length, above=0)


def _check(options, rate, methods, cost_per_hour, finishing_u, sent_out):
    """Refuse what makes no sense."""
    if rate is not None:
        checks.quantity("rate", rate, above=0)
    if rate is not None and methods is not None:
        raise checks.wrong("rate and methods", "both tell the hours", "both", "give one of them")
    if cost_per_hour is not None:
        checks.number("cost_per_hour", cost_per_hour, at_least=0)
    checks.number("finishing_u", finishing_u, at_least=0)
    if not isinstance(sent_out, Mapping):
        raise checks.wrong("sent_out", "orders by name are needed", sent_out, "give a dict")
    for name, order in sent_out.items():
        if not isinstance(order, SentOut):
            raise checks.wrong(
                "sent_out", "each must be a SentOut", order, "say who cuts, how well"
            )
        if name in options:
            raise checks.wrong("sent_out", "an option has this name", repr(name), "rename one")
        checks.number(f"u of {name!r}", order.u, at_least=0)
        if order.cost is not None:
            checks.number(f"cost of {name!r}", order.cost, at_least=0)


def _way(heights, name, outcome, order, options, prices, finishing_u, told, rides):
    """Return one way."""
    tolerances, length, draws, seed = told
    after, left, chances, drop, moved = None, {}, {}, {}, {}
    if isinstance(outcome, AsItIs):
        left = left_as_it_is(heights, _meant(outcome, options))
        if tolerances:
            chances = chances_as_it_is(heights, tolerances, length, seed)
    elif isinstance(outcome, RemovalPlan):
        after = heights_after(outcome, finishing_u, None if order is None else order.u)
        left = left_after(after, outcome.decision, draws=draws, seed=seed)
        chances = chances_after(after, tolerances, length, draws=draws, seed=seed)
        drop, moved = _drop(outcome), consequences(outcome, *rides)
    hours, cost = _price(outcome, order, *prices)
    return Way(name, outcome, order is not None, hours, cost, drop, moved, left, chances, after)


def _meant(outcome, options):
    """Return the first decision that is about the faces left alone."""
    for decision in options.values():
        if (tuple(decision.faces), decision.together) == (outcome.faces, outcome.together):
            return decision
    raise LookupError(outcome.faces)


def _drop(plan):
    """Return the mean depth that each face loses, by area [mm]."""
    drop = {}
    for name in plan.faces:
        mine = plan.face == name
        drop[name] = float(plan.depth[mine] @ plan.area[mine] / plan.area[mine].sum())
    return drop


def _price(outcome, order, rate, methods, cost_per_hour):
    """Return one's own hours and the cost, each None where it is not known."""
    if isinstance(outcome, AsItIs):
        return 0.0, 0.0
    if not isinstance(outcome, RemovalPlan):
        return None, None
    if order is not None:
        return 0.0, order.cost
    if rate is None and methods is None:
        return None, None
    hours = stages(outcome, methods).value if rate is None else _volume(outcome) / rate
    return hours, None if cost_per_hour is None else hours * cost_per_hour


def _volume(plan):
    """Return the metal in cm³, uncertain as far as the heights are."""
    if plan.volume_u == 0:
        return plan.volume / 1e3
    from uncertainties import ufloat

    return ufloat(plan.volume / 1e3, plan.volume_u / 1e3)

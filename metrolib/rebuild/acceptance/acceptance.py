"""Acceptance: every test of the finished ways against its tolerance, with what decides it."""

from collections.abc import Mapping

from metrolib import checks
from metrolib.heights.result import Heights
from metrolib.rebuild.acceptance.conformity import NOT_DECIDED, checked_coverage
from metrolib.rebuild.acceptance.items import HeightItems, Item, items_of_figure
from metrolib.rebuild.acceptance.verdicts import Acceptance, Verdict
from metrolib.survey.tolerances import Tolerance, check_tolerance
from metrolib.uncertain.draws import whole


def accept(measured, tolerances, *, figures=None, length=None, coverage=0.95, draws=2000, seed=1):
    """Decide for each tolerance whether it is met, not met, or not decided.

    Parameters
    ----------
    measured : Heights, or dict of str to number or result
        Heights of the finished state; or figures by the name of their tolerance, as `figures`.
    tolerances : mapping of str to Tolerance, or iterable of Tolerance
        From `tolerances`, a survey's ``survey.tolerances``, or one's own.
    figures : dict of str to number, (number, length) or result, optional
        What was measured otherwise, by the name of the tolerance that judges it: a signed number
        [mm or mm/m], an `uncertainties` number if its uncertainty is known, with the length it
        was measured over where the tolerance depends on it [mm]; or a result of `straightness`,
        `flatness`, `parallelism`, `twist` or `coplanarity`.
    length : float, optional
        What the tolerances of the heights count as length, e.g. the distance between centres
        [mm]; else the length that was surveyed.
    coverage : float
        Probability of conformity that is asked for, at least 0.5.
    draws, seed : int
        Of the test inversion near zero.

    Returns
    -------
    Acceptance

    Raises
    ------
    InputError
        If a tolerance makes no sense, names no or unknown faces, depends on a length that nobody
        gave, or has a stretch longer than its face; or if a figure has no tolerance.

    Notes
    -----
    The rule of ISO 14253-1 (2017; from memory): who proves something bears the uncertainty. A
    figure is accepted where the probability of conformity (JCGM 106:2012) reaches `coverage`,
    which for one limit is a guard of 1.65 u inside it at 95 %; not accepted where it is beyond a
    limit as surely; else not decided, a legitimate answer: measure better, or agree on a rule.

    Signed numbers, twist and levels follow the normal law. Where several places must all be within
    limits (convex only, variation of level, local parallelism), see
    `metrolib.rebuild.acceptance.conformity.judge_places`; peak-to-valley figures, which noise can
    only widen, are decided as `metrolib.rebuild.acceptance.conformity.judge_zone` says.

    Judged are the stations; what lies between them, how the machine settles afterwards, and errors
    that the covariance leaves out, are not in it.

    Examples
    --------
    >>> from uncertainties import ufloat
    >>> from metrolib.rebuild.acceptance.tolerance_tables import tolerances
    >>> table = tolerances("lathe, ordinary class")
    >>> found = accept(
    ...     {"height of centres": ufloat(0.036, 0.003)}, [table["height of centres"]]
    ... )
    >>> print(found)
    1 test: 0 accepted, 0 not accepted, 1 not decided, with a probability of conformity of at
    least 95 %
      height of centres: not decided; allowed 0 to +40.0 µm, tailstock higher; measured +36.0 µm,
      U = 6.0 µm (k = 2); probability of conformity 90.9 % (ISO 1708:1989, as recalled, G11
      [from memory, high confidence])
    """
    entries = checked_tolerances(tolerances)
    heights, figures = _measured(measured, figures)
    for name in figures:
        checks.choice("figures", name, [entry.name for entry in entries])
    if length is not None:
        length = checks.number("length", length, above=0)
    coverage = checked_coverage(coverage)
    draws, seed = whole("draws", draws, at_least=100), whole("seed", seed, at_least=0)
    from_heights = None if heights is None else HeightItems(heights)
    verdicts, omitted = [], []
    for tolerance in entries:
        items = _items(tolerance, from_heights, figures)
        judged = [_verdict(tolerance, item, length, coverage, draws, seed) for item in items]
        verdicts += [one for one in judged if one is not None]
        if judged and not any(judged):
            omitted.append(tolerance.name)
    return Acceptance(tuple(verdicts), coverage, tuple(omitted))


def checked_tolerances(tolerances):
    """Return the tolerances as a list, each checked."""
    if isinstance(tolerances, Mapping):
        tolerances = tolerances.values()
    entries = checks.listed("tolerances", tolerances, Tolerance, "see metrolib.tolerances")
    for entry in entries:
        check_tolerance(entry)
    names = [entry.name for entry in entries]
    twice = [name for place, name in enumerate(names) if name in names[:place]]
    if twice:
        raise checks.wrong("tolerances", "two have one name", repr(twice[0]), "rename one")
    if not entries:
        raise checks.wrong("tolerances", "there is nothing to test", "none", "give at least one")
    return entries


def _measured(measured, figures):
    """Return the heights, or None, and the figures."""
    if isinstance(measured, Heights):
        return measured, dict(figures or {})
    if not isinstance(measured, Mapping):
        raise checks.wrong(
            "measured",
            "heights, or figures by the name of their tolerance, are needed",
            type(measured).__name__,
            "give what adjust or given_heights returns, or a dict",
        )
    return None, {**measured, **(figures or {})}


def _items(tolerance, from_heights, figures):
    """Return what is to be tested for one tolerance."""
    if tolerance.name in figures:
        return items_of_figure(tolerance, figures[tolerance.name])
    if tolerance.test == "number" or from_heights is None:
        return [Item("", None, reason="no figure was given")]
    return from_heights.of(tolerance)


def _verdict(tolerance, item, length, coverage, draws, seed):
    """Judge one item; None where the tolerance is for another length."""
    counted = item.length if length is None else length
    if counted is not None and not tolerance.covers(counted):
        return None
    if item.ask is None:
        low, high = tolerance.bounds(counted) if counted else tolerance.unscaled_bounds
        return Verdict(
            tolerance, item.on, counted, low, high, None, "", NOT_DECIDED, None, item.reason
        )
    low, high = tolerance.bounds(counted)
    asked = item.asked(tolerance)
    judged = asked.judge(low, high, coverage, draws, seed)
    return Verdict(
        tolerance,
        item.on,
        counted,
        low,
        high,
        asked.measured(judged.worst),
        asked.where(judged.worst),
        judged.decision,
        judged.probability,
        judged.note,
    )

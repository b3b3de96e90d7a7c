"""What a planned cut will leave: the heights after it, their form, and tolerances met."""

from dataclasses import replace

import numpy as np

from metrolib.form.wording import nominal, uncertainty
from metrolib.heights.frame import fit_motion, rigid_columns
from metrolib.rebuild.acceptance.acceptance import accept
from metrolib.rebuild.acceptance.conformity import guard
from metrolib.rebuild.acceptance.items import HeightItems
from metrolib.rebuild.acceptance.tested import share_within
from metrolib.rebuild.findings import findings
from metrolib.uncertain.draws import joint_draws

#: The forms that are told of what is left.
FORMS = ("straightness", "flatness", "parallelism", "twist")

# Share of cases in which no more is left.
_MOST = 0.95


def heights_after(plan, finishing_u, machined_u=None):
    """Return the heights as planned after the cut, with what will be unsure of them.

    Parameters
    ----------
    plan : RemovalPlan
    finishing_u : float
        Of a place cut by hand [mm].
    machined_u : float, optional
        Of a place cut by somebody else to the plane that was ordered [mm]; the survey's
        uncertainty then only tells how that plane lies to the datum.

    Returns
    -------
    Heights
    """
    heights, index = plan.heights, plan.group.index
    values, cut = heights.values.copy(), index[plan.depth > 0]
    values[index] -= plan.depth
    own = np.zeros(values.size)
    if machined_u is None:
        own[cut] = finishing_u**2
        return replace(heights, values=values, cov=heights.cov + np.diag(own))
    own[cut] = machined_u**2
    rigid = rigid_columns(heights.faces, heights.face, heights.x, heights.y)
    datum = np.isin(heights.face, plan.decision.datum)
    law = fit_motion(rigid, datum, np.isin(heights.face, plan.decision.faces))
    carried = np.eye(values.size)
    carried[cut] = rigid[cut] @ law
    return replace(heights, values=values, cov=carried @ heights.cov @ carried.T + np.diag(own))


def left_as_it_is(heights, decision):
    """Return what each form is and what it is at most, of the worst face or pair.

    Returns
    -------
    dict of str to (float, float)
        The figure as measured and the end of its one-sided 95 % interval by the linear law, both
        without sign [mm; twist mm/m].
    """

    def told(result):
        size = abs(nominal(result.value))
        return size, size + guard(uncertainty(result.value) or 0.0, _MOST)

    return _worst(heights, decision, told)


def left_after(after, decision, *, draws, seed):
    """Return what each form is expected to be and at most, of the worst face or pair.

    Parameters
    ----------
    after : Heights
        From `heights_after`.
    decision : Decision
    draws, seed : int

    Returns
    -------
    dict of str to (float, float)
        Middle and 95 % quantile of the draws, both without sign [mm; twist mm/m].
    """

    def told(result):
        source = joint_draws(result.drawn_from.values, result.drawn_from.cov, seed=seed)
        sizes = np.concatenate([np.abs(result.redo(tile)) for tile in source.tiles(0, draws)])
        return tuple(float(size) for size in np.quantile(sizes, (0.5, _MOST)))

    return _worst(after, decision, told)


def _worst(heights, decision, told):
    found = findings(heights, decision)
    left = {}
    for form in FORMS:
        results = getattr(found, form)
        if form in ("straightness", "flatness"):
            results = {name: one for name, one in results.items() if name in decision.faces}
        if results:
            left[form] = max(map(told, results.values()), key=lambda sizes: sizes[1])
    return left


def chances_as_it_is(heights, tolerances, length, seed):
    """Return the probability that each tolerance is met now, the least of its faces."""
    verdicts = accept(heights, tolerances, length=length, seed=seed).verdicts
    return _least((one.tolerance.name, one.probability) for one in verdicts)


def chances_after(after, tolerances, length, *, draws, seed):
    """Return the probability that each tolerance will be met, the least of its faces.

    Parameters
    ----------
    after : Heights
        From `heights_after`.
    tolerances : iterable of Tolerance
    length : float or None
        As in `accept`.
    draws, seed : int
    """
    items = HeightItems(after)
    told = []
    for tolerance in tolerances:
        for item in items.of(tolerance):
            counted = item.length if length is None else length
            if item.ask is not None and tolerance.covers(counted):
                asked, limits = item.asked(tolerance), tolerance.bounds(counted)
                told.append((tolerance.name, share_within(asked, *limits, draws, seed)))
    return _least(told)


def _least(told):
    """Return the least probability by name; nothing for what is not determined."""
    least = {}
    for name, probability in told:
        if probability is not None:
            least[name] = min(probability, least.get(name, 1.0))
    return least

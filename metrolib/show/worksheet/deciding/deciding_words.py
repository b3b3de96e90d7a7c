"""What a decision at work comes to, in words and beside the pinned options."""

import numpy as np
from scipy.special import ndtr

from metrolib.errors import MetrolibError
from metrolib.form.wording import nominal, uncertainty
from metrolib.rebuild.wording import governing_place, place, volume
from metrolib.units import show_length

_UNSURE = 0.95  # a station that cleans up less surely than this is named
_NAMED = 5  # so many of them
_NOTHING = 5e-5  # a movement below this is none [mm]


def summary(work):
    """Say what the choice of a `Deciding` comes to, in one line; or why it cannot be done."""
    plan = work.outcome
    if isinstance(plan, MetrolibError):
        return f"This cannot be done: {plan}"
    row = _row(work, "", work.choice)
    parts = [f"deepest {row['deepest']}", row["volume"]]
    parts += [row["hours (U, k = 2)"]] if "hours (U, k = 2)" in row else []
    parts += [f"all clean up: {row['all clean up']}"] if "all clean up" in row else []
    return "  |  ".join(parts)


def sentences(work):
    """Say what the choice of a `Deciding` comes to: the plan, and what does not surely clean up."""
    plan = work.outcome
    if isinstance(plan, MetrolibError):
        return ["Nothing can be planned so; the reason stands above."]
    return [plan.in_words(work.unit), *_unsure(plan)]


def moved_words(work):
    """Say what the choice does to what rides on the faces and to what drives it."""
    return [
        f"{what}: {show_length(much, work.unit, sign=True)}"
        for what, much in work.moved_by(work.choice).items()
        if abs(much) >= _NOTHING
    ]


def option_table(work):
    """Return the pinned options and the choice as a pandas table of texts, an option a column."""
    from pandas import DataFrame

    rows = [_row(work, name, decision) for name, decision in work.pinned.items()]
    rows.append(_row(work, "on screen", work.choice))
    return DataFrame(rows).fillna("").set_index("option").T


def _row(work, name, decision):
    """Return what is told of one option."""
    plan = work.outcome_of(decision)
    if isinstance(plan, MetrolibError):
        return {"option": name, "deepest": "cannot be done"}
    row = {
        "option": name,
        "deepest": show_length(plan.depth[plan.deepest], work.unit),
        "volume": volume(plan.volume),
        "hours (U, k = 2)": _hours(work.hours_of(decision)),
        "all clean up": f"{100 * plan.confidence:.0f} %" if plan.heights.cov.any() else "",
        "governed by": governing_place(plan) or _governed_by_none(decision),
    }
    moved = {
        what: show_length(much, work.unit, sign=True)
        for what, much in work.moved_by(decision).items()
        if abs(much) >= _NOTHING
    }
    return {what: text for what, text in row.items() if text} | moved


def _governed_by_none(decision):
    return "" if decision.target_height is None else "set by hand"


def _hours(told):
    """Write hours with their expanded uncertainty; empty where they are not known."""
    if told is None:
        return ""
    u = uncertainty(told)
    return f"{nominal(told):.1f} h" if u is None else f"{nominal(told):.1f} ± {2 * u:.1f} h"


def _unsure(plan):
    """Name the stations that do not surely clean up, the least sure first."""
    if not plan.heights.cov.any():
        return []
    untouched = np.isin(plan.face, plan.decision.untouchable)
    room = plan.relative_height - plan.target - plan.decision.clean_up
    chance = np.where(plan.left_out | untouched, 1.0, ndtr(room / np.maximum(plan.depth_u, 1e-12)))
    least = [i for i in np.argsort(chance, kind="stable") if chance[i] < _UNSURE]
    if not least:
        return []
    told = "; ".join(
        f"{place(plan, i)} on {str(plan.face[i])!r} {100 * chance[i]:.0f} %" for i in least[:_NAMED]
    )
    more = f"; and {len(least) - _NAMED} more" if len(least) > _NAMED else ""
    ends = "clean up" if plan.decision.band == 0 else "keep to the target"
    return [f"Least sure to {ends}, each for itself: {told}{more}."]

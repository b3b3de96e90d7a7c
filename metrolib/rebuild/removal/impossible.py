"""Why a removal is impossible: which conditions stand against each other, and by how much."""

from dataclasses import dataclass

import numpy as np

from metrolib.errors import ImpossiblePlanError
from metrolib.rebuild.removal.conditions import named
from metrolib.rebuild.removal.programme_general import solve_linear

_SCALE = 1e3  # um for one mm, as in the programme itself
_NEGLIGIBLE = 1e-6  # um


@dataclass(frozen=True)
class _Condition:
    """A condition that may be relaxed: the rows of its stations, or the limit of a motion."""

    kind: str
    name: str
    face: str | None = None
    motion: int | None = None


def impossible(programme, face, x, decision, guard):
    """Return the error that names the conditions that cannot be met, and by how much.

    Parameters
    ----------
    programme : Programme
    face : ndarray of str, shape (q,)
    x : ndarray, shape (q,)
        Its places, the stations first [mm].
    decision : Decision
    guard : Guard
        The guard that is needed, and what is possible without it.

    Returns
    -------
    ImpossiblePlanError

    Notes
    -----
    Each condition is first relaxed alone, by as little as does; each that suffices is one way out.
    Where none suffices alone, all are relaxed together with the least sum of depths, a tilt
    counted by the height that it makes over the length of the faces.
    """
    conditions, k = _conditions(programme, face, decision), guard.k
    alone = []
    for condition in conditions:
        found = _relax(programme, face, k, [condition])
        if found is not None:
            alone += _sentences(programme, face, x, found, [condition])
    found = None if alone else _relax(programme, face, k, conditions)
    if alone:
        reason = "; or else ".join(alone)
    elif found is not None:
        reason = "; and ".join(_sentences(programme, face, x, found, conditions))
    else:
        reason = _no_metal(programme, face, x, k)
    needs = ""
    if guard.without is not None:
        needs = (
            f" This is with the guard of {k:.2f} u that a confidence of {decision.confidence:g} "
            "needs; with confidence=None it can be done, and all cleans up with a probability of "
            f"{guard.confidence_without:.2f}."
        )
    return ImpossiblePlanError(
        f"no removal from {named(decision.faces)} meets all the conditions: {reason}.{needs} "
        "Relax what is named here, or leave a face out of the group."
    )


def _no_metal(programme, face, x, k):
    """Say how much is lacking where faces look against each other and stand too close.

    An underside in a coplanar group can rise to the target no more than a top can.
    """
    columns = programme.at_places(programme.columns)
    q, p = columns.shape
    low = programme.at_places(programme.height) - programme.least - k * programme.u
    found = solve_linear(
        np.append(np.zeros(p), 1.0),
        A_ub=np.hstack([columns, -np.ones((q, 1))]),
        b_ub=low * _SCALE,
        bounds=[(None, None)] * p + [(0, None)],
    )
    at = int((columns @ found.x[:p] / _SCALE - low).argmax())
    return (
        f"the faces look against each other and stand too close, however the target lies "
        f"{found.fun / _SCALE:.3f} mm of metal is lacking at {x[at]:g} mm on {str(face[at])!r} "
        '(correct the nominal heights, or plan with together="parallel")'
    )


def _conditions(programme, face, decision):
    """Return the conditions of a decision that may be relaxed."""
    found = []
    for name in decision.faces:
        if name in decision.untouchable:
            found.append(_Condition("untouchable", name, face=name))
        elif name in decision.greatest_cut:
            found.append(_Condition("greatest cut", name, face=name))
    ways = {"pitch": "along", "yaw": "along, seen from above,", "roll": "across"}
    for place, (motion, limit) in enumerate(zip(programme.motions, programme.limit, strict=True)):
        if np.isfinite(limit):
            found.append(_Condition("tilt", ways[motion], motion=place))
    return found


def _relax(programme, face, k, conditions):
    """Return the motions that break the given conditions least, or None if that does not help."""
    n, p = programme.columns.shape
    slack, price = np.zeros((n, len(conditions))), np.ones(len(conditions))
    limit = np.append(programme.limit * _SCALE, np.full(len(conditions), np.inf))
    rows, right = [], []
    for place, condition in enumerate(conditions):
        if condition.face is not None:
            slack[:, place] = face[:n] == condition.face
            continue
        # |motion| <= limit + slack, priced by the height that the slack makes over the faces
        j = condition.motion
        price[place] = np.ptp(programme.columns[:, j])
        limit[j] = np.inf
        for sign in (1.0, -1.0):
            row = np.zeros(p + len(conditions))
            row[j], row[p + place] = sign, -1.0
            rows.append(row)
            right.append(programme.limit[j] * _SCALE)
    capped = np.isfinite(programme.greatest)
    columns = programme.at_places(programme.columns)
    low = programme.at_places(programme.height) - programme.least - k * programme.u
    high = programme.band + programme.greatest - programme.height
    found = solve_linear(
        np.append(np.zeros(p), price),
        A_ub=np.vstack(
            [
                np.hstack([columns, np.zeros((len(columns), len(conditions)))]),
                np.hstack([-programme.columns, -slack])[capped],
                *rows,
            ]
        ),
        b_ub=np.concatenate([low * _SCALE, high[capped] * _SCALE, right]),
        bounds=np.column_stack([np.append(-limit[:p], np.zeros(len(conditions))), limit]),
    )
    return None if found is None else found.x[:p] / _SCALE


def _sentences(programme, face, x, motion, conditions):
    """Say of each broken condition by how much it must be relaxed."""
    depth = programme.depth(motion)
    sentences = []
    for condition in conditions:
        if condition.face is None:
            need, allowed = abs(motion[condition.motion]), programme.limit[condition.motion]
            if (need - allowed) * _SCALE > _NEGLIGIBLE:
                sentences.append(
                    f"the target may tilt at most {allowed:.3f} mm/m {condition.name} against the "
                    f"datum, but must tilt {need:.3f} mm/m"
                )
            continue
        mine = np.flatnonzero(face[: len(depth)] == condition.face)
        over = depth[mine] - programme.greatest[mine]
        at = mine[over.argmax()]
        if over.max() * _SCALE <= _NEGLIGIBLE:
            continue
        if condition.kind == "untouchable":
            must = "must stay untouched"
        else:
            must = f"may lose at most {programme.greatest[at]:.3f} mm"
        sentences.append(
            f"{condition.name!r} {must}, but {depth[at]:.3f} mm must come off at {x[at]:g} mm"
        )
    return sentences

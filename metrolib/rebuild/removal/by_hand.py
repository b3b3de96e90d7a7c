"""A target at a height given by hand: what it takes off, and how surely it cleans up."""

from dataclasses import replace

import numpy as np

from metrolib import checks
from metrolib.errors import ImpossiblePlanError
from metrolib.rebuild.removal.guard import draw_errors, share_cleaned
from metrolib.rebuild.removal.programme import Target

_ROUNDING = 1e-9  # [mm]
_LIFTS = 1e-9  # a lift that raises the faces less than this does not raise them


def at_height(guard, group, places, programme, decision, *, draws, seed):
    """Return a guard whose target is moved to the mean height that the decision gives.

    Parameters
    ----------
    guard : Guard
        That of the least removal: its target has the tilt that is kept.
    group : Group
    places : Places
    programme : Programme
    decision : Decision
        With a `target_height`.
    draws, seed : int
        Of the errors by which it is judged how surely all places clean up.

    Returns
    -------
    Guard
        No place decides its target; `k` is below 0 where a place does not clean up even as
        measured.

    Raises
    ------
    ImpossiblePlanError
        If more would come off a face than it may lose.
    InputError
        If the faces look sideways, so that no height can be given.
    """
    motion = guard.target.motion + _lift(group, guard.target.motion, decision.target_height)
    _check_greatest(programme, places, motion, decision)
    uncertain = programme.u > 0
    cov = np.where(np.outer(uncertain, uncertain), places.cov, 0.0)
    target = Target(motion, np.zeros((motion.size, len(programme.least))), {})
    share = share_cleaned(programme, target, draw_errors(cov, draws, seed))
    room = programme.room(motion)[uncertain] / programme.u[uncertain]
    k = float(room.min()) if decision.confidence is not None and room.size else 0.0
    return replace(guard, k=k, confidence=share, target=target, programme=programme)


def _lift(group, motion, height):
    """Return the change of the motions that brings the mean height of the target to `height`."""
    mean = group.mean(group.columns)
    moves = np.array([name == "lift" or name.startswith("offset") for name in group.motions])
    raised = float(mean @ moves)
    if abs(raised) < _LIFTS:
        raise checks.wrong(
            "target_height",
            "these faces look sideways, so no lift raises their target",
            height,
            "leave it out",
        )
    return moves * (height - group.mean(group.crown) - mean @ motion) / raised


def _check_greatest(programme, places, motion, decision):
    """Refuse a target that takes more off a face than it may lose."""
    depth = programme.depth(motion)
    over = depth - programme.greatest
    at = int(over.argmax())
    if over[at] <= _ROUNDING:
        return
    face, most = str(places.face[at]), programme.greatest[at]
    must = f"may lose at most {most:.3f} mm" if most > 0 else "must stay untouched"
    raise ImpossiblePlanError(
        f"a target at {decision.target_height:g} mm takes too much: {face!r} {must}, but "
        f"{depth[at]:.3f} mm would come off at {places.x[at]:g} mm. Set the target higher, or "
        "relax what is named here."
    )

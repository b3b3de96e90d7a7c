"""The removal: the least that must come off each face at each station so that they end true."""

import numpy as np

from metrolib.rebuild.removal.by_hand import at_height
from metrolib.rebuild.removal.conditions import checked_decision
from metrolib.rebuild.removal.group import make_group
from metrolib.rebuild.removal.guard import find_guard
from metrolib.rebuild.removal.impossible import impossible
from metrolib.rebuild.removal.places import make_places
from metrolib.rebuild.removal.plan import Governing, RemovalPlan
from metrolib.rebuild.removal.programme import Programme


def plan_removal(heights, decision=None, *, seed=1, draws=40_000, **conditions):
    """Plan the least removal that makes faces end true together.

    Parameters
    ----------
    heights : Heights
    decision : Decision, optional
        What is to be decided, as in survey.toml.
    seed : int
        Seed of the draws that the guard rests on.
    draws : int
        How many surfaces are drawn to judge the guard by; 40 000 tell a probability of 0.95 to
        0.001.
    **conditions
        Fields of `Decision`, in place of those of `decision`: faces, together, datum, tilt_along,
        tilt_across, clean_up, band, confidence, minimise, untouchable, greatest_cut,
        between_stations, target_height, crown.

    Returns
    -------
    RemovalPlan

    Raises
    ------
    InputError
        If a condition makes no sense, or a tilt is held to a datum that does not show it.
    NotDeterminedError
        If the readings do not tie the faces to each other or to the datum.
    ImpossiblePlanError
        If no removal meets all the conditions; it names those that cannot be met.

    Notes
    -----
    A linear programme. With z the heights above nominal in the frame, T the target, r the depths:
    z - r <= T + band after the cut; T + clean_up <= z wherever a face must clean up, and lower by
    the guard; r is at least 0 and at most what the face may lose; an untouchable face ends as it
    is, so that T <= z <= T + band there, without guard. The target may move as `together` says: one
    rigid motion of the nominal shape (lift, pitch, roll, and shift and yaw where a face does not
    look straight up or down), or one tilt and an offset for each face. A crown is put on that
    shape beforehand (`metrolib.rebuild.removal.crown.crown_at`); the plan then is that of a plane
    under heights that are lower by the crown. `tilt_along` holds its
    pitch, and its yaw where the datum shows that; `tilt_across` its roll.

    Areas give each station its weight (see `metrolib.rebuild.removal.areas`). Several targets may
    be equally good; `metrolib.rebuild.removal.programme_single.find_target` says which is taken.

    The guard makes all places clean up with the confidence asked for, at the least removal that
    does (`metrolib.rebuild.removal.guard.find_guard`), over errors drawn jointly from the
    covariance of the heights in the frame; the target stands fixed there. What the readings tie to
    a datum counts in full: a height of all faces over the datum that is not well known makes the
    guard deeper, as it must if the target is set out from the datum; set out from the faces
    themselves, it is on the safe side. Where faces are only to be parallel the uncertainty of each
    face's own height drops out, for its depth is set out from the face itself; so does, with a
    datum, that of a free motion that no reading ties to the datum. Where several low spots compete,
    the one that reads lowest is more often read too low than too high; so faces clean up at least
    as often as asked, and near-perfect ones far more often.

    With `target_height` the target keeps the tilt of the least removal and is moved to that mean
    height. Places may then not clean up: `RemovalPlan.lacking` tells how much metal they lack, and
    `RemovalPlan.confidence` how surely all of them do.

    Stations are where the face is known. With `between_stations` the guard covers what may hide in
    the middle of each gap as well, as far as the curvature that the survey shows can tell
    (`metrolib.rebuild.removal.between.find_gaps`).

    Examples
    --------
    A flat with a hollow of 0.05 mm in its middle, everything cut 0.01 mm below the hollow:

    >>> from metrolib.heights.result import given_heights
    >>> from metrolib.survey.machine import Face
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [0.0, -0.05, 0.0])})
    >>> plan = plan_removal(heights, faces=["flat"], clean_up=0.01)
    >>> plan.depth.round(3).tolist(), round(plan.volume / 1000, 3)
    ([0.06, 0.01, 0.06], 0.525)
    """
    decision = checked_decision(heights, decision, conditions)
    group = make_group(heights, decision)
    places = make_places(group, decision, gaps=decision.between_stations)
    programme = make_programme(group, decision, places)
    guard = find_guard(programme, places.cov, decision.confidence, draws=draws, seed=seed)
    if guard.target is None:
        raise impossible(programme, places.face, places.x, decision, guard)
    if decision.target_height is not None:
        given = {"draws": draws, "seed": seed}
        guard = at_height(guard, group, places, programme, decision, **given)
    return _plan(heights, decision, group, places, programme, guard)


def make_programme(group, decision, places):
    """Return the linear programme of a group, over its stations that count and its places."""
    counts = ~group.left_out
    untouchable = np.isin(group.face, decision.untouchable)
    greatest = np.array([decision.greatest_cut.get(name, np.inf) for name in group.face])
    as_it_is = np.isin(places.face, decision.untouchable)
    return Programme(
        group.motions,
        group.columns[counts],
        group.over_crown[counts],
        group.area[counts],
        np.where(as_it_is, 0.0, decision.clean_up),
        np.where(as_it_is, 0.0, places.u),
        np.where(untouchable, 0.0, greatest)[counts],
        float(decision.band),
        group.limit,
        decision.minimise,
        places.low if len(places.low) > counts.sum() else None,
    )


def _plan(heights, decision, group, places, programme, guard):
    """Put the plan together."""
    found, counts = guard.target, np.flatnonzero(~group.left_out)
    target = group.columns @ found.motion + group.crown
    motion_law = found.law @ places.low @ group.law[counts]
    answer = group.columns @ motion_law
    depth = np.maximum(group.relative_height - target - decision.band, 0.0)
    # The solver's last digit must not make a scratch of a place that is left as it is.
    depth[depth < 1e-10] = 0.0
    volume = float(group.area @ depth)
    costs = programme.depth(found.motion) - programme.depth(guard.without.motion)
    guard_volume = float(programme.area @ costs)
    # dV/dz: the metal under each station that is cut, less what the target's own motion brings.
    cut = programme.area * (depth[counts] > 0)
    gradient = -(cut @ programme.columns) @ found.law
    gradient[: len(cut)] += cut
    deepest = np.where(group.left_out, -1.0, depth)
    return RemovalPlan(
        heights,
        decision,
        {name: heights.faces[name] for name in decision.faces},
        group.face,
        group.x,
        group.y,
        group.left_out,
        group.nominal,
        group.relative_height,
        target,
        np.sqrt(np.clip(((answer @ heights.cov) * answer).sum(axis=1), 0.0, None)),
        depth,
        np.sqrt(np.clip(np.diag(group.cov), 0.0, None)),
        group.area,
        group.motions,
        found.motion,
        motion_law,
        volume,
        float(np.sqrt(max(gradient @ places.cov @ gradient, 0.0))),
        # of cuts alike but for the last digit the first
        int((deepest > deepest.max() - 1e-10).argmax()),
        _governing(places, found, gradient),
        guard.k,
        guard_volume / float(programme.area.sum()),
        guard_volume,
        guard.confidence,
        group,
        places,
        guard.programme,
    )


def _governing(places, found, gradient):
    """Return the places that decide, the most costly first."""
    stations = [
        Governing(
            int(places.ends[i, 0]),
            str(places.face[i]),
            float(places.x[i]),
            float(places.y[i]),
            role if places.ends[i, 0] == places.ends[i, 1] else "hollow between stations",
            -0.01 * float(gradient[i]),
        )
        for i, role in found.role.items()
    ]
    return tuple(sorted(stations, key=lambda station: -abs(station.cost)))

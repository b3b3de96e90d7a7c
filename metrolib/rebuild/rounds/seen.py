"""Seen: the heights of several rounds at the stations of a removal plan, in the plan's frame."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.rebuild.findings import UNKNOWN
from metrolib.rebuild.removal.crown import crown_at


@dataclass(frozen=True, eq=False)
class Seen:
    """Heights of several rounds in the frame of a plan; n stations, N heights of all rounds.

    Attributes
    ----------
    height : ndarray, shape (rounds, n)
        Above nominal [mm]; NaN where a round did not measure, or its readings do not tie the place
        to the frame.
    law : ndarray, shape (rounds, n, N)
        How they answer to the heights of all rounds; zeros where not known.
    between : ndarray of bool, shape (rounds, n)
        Taken on the straight line between the neighbouring stations of that round; where the
        target has a crown, bent as that is.
    cov : ndarray, shape (N, N)
        Covariance of the heights of all rounds [mm²].
    """

    height: np.ndarray
    law: np.ndarray
    between: np.ndarray
    cov: np.ndarray

    def u(self, law):
        """Return the standard uncertainty of functions of all heights, shape (k, N), (k,)."""
        return np.sqrt(np.clip(np.einsum("ij,jk,ik->i", law, self.cov, law), 0.0, None))


def see(rounds, plan, planned_from):
    """Return the heights of several rounds at the stations of a plan.

    Parameters
    ----------
    rounds : AdjustedRounds
    plan : RemovalPlan
    planned_from : str
        The round whose survey it was planned from: the heights that set its frame.

    Returns
    -------
    Seen

    Raises
    ------
    InputError
        If the plan has a station or face that this round lacks, plans a face that the rounds take
        for untouched, or the last round did not measure one of its faces.

    Notes
    -----
    A plan sees height i as ``(law (z - nominal))_i``: its own height less what the motion that
    fits the datum makes of it. That motion is kept, and only the own height is that of each round.
    """
    checks.choice("planned_from", planned_from, rounds.heights)
    _check_faces(rounds, plan)
    base = rounds.index[planned_from][_matched(rounds[planned_from], plan, planned_from)]
    count, size = len(plan.x), len(rounds.values)
    own = np.zeros_like(plan.group.law)
    own[np.arange(count), plan.group.index] = 1.0
    frame = np.zeros((count, size))
    frame[:, base] = own - plan.group.law
    faces = plan.heights.faces
    nominal = np.array([faces[name].nominal_height for name in plan.heights.face])
    moved = (own - plan.group.law) @ (rounds.values[base] - nominal)
    height = np.full((len(rounds.names), count), np.nan)
    law = np.zeros((len(rounds.names), count, size))
    between = np.zeros(height.shape, dtype=bool)
    for k, name in enumerate(rounds.names):
        here, weights, between[k] = _own_heights(rounds[name], plan)
        law[k][:, rounds.index[name]] = weights
        crown = crown_at(plan.decision, faces, rounds[name].face, rounds[name].x)
        over_crown = weights @ (rounds[name].values - crown)
        values = over_crown + plan.group.crown - plan.nominal - moved
        height[k, here] = values[here]
        law[k, here] -= frame[here]
    found = Seen(height, law, between, rounds.cov)
    for k, each in enumerate(law):  # what no reading ties to the datum gets no number
        open_ = found.u(each) >= UNKNOWN
        height[k, open_], law[k, open_], between[k, open_] = np.nan, 0.0, False
    return found


def _check_faces(rounds, plan):
    """Refuse plans of faces that the rounds do not follow."""
    last = rounds.names[-1]
    for name in plan.faces:
        if name not in rounds.cut and name not in plan.decision.untouchable:
            raise InputError(
                f"plan: it cuts {name!r}, but the rounds take that face for untouched; "
                "adjust_rounds(..., cut=[...]) names the faces that are cut"
            )
        if name not in rounds[last].face:
            raise InputError(
                f"round {last!r}: {name!r} was not measured, so nothing tells what is left on it; "
                "measure it, or plan the other faces alone"
            )


def _matched(heights, plan, name):
    """Return the places of the plan's stations among some heights."""
    known = {key: i for i, key in enumerate(station_keys(heights))}
    found = []
    for key in station_keys(plan.heights):
        if key not in known:
            raise InputError(
                f"plan: its station at {key[1]:g} mm on {key[0]!r} is none of round {name!r}; plan "
                "from the survey of one of these rounds, and say from which by planned_from"
            )
        found.append(known[key])
    return np.array(found)


def station_keys(stations):
    """Return what tells stations apart: face, x and y to a hundredth."""
    return list(
        zip(
            stations.face.tolist(),
            stations.x.round(2).tolist(),
            stations.y.round(2).tolist(),
            strict=True,
        )
    )


def _own_heights(heights, plan):
    """Return which stations of the plan a round measured, as weights of its heights, and how.

    Returns
    -------
    here : ndarray of bool, shape (n,)
    weights : ndarray, shape (n, heights of the round)
    between : ndarray of bool, shape (n,)
        Where the round has no station of its own but one on either side.
    """
    count = len(plan.x)
    weights = np.zeros((count, len(heights.x)))
    here, between = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    known = {key: i for i, key in enumerate(station_keys(heights))}
    for i, (face, x, y) in enumerate(station_keys(plan)):
        if (face, x, y) in known:
            weights[i, known[face, x, y]], here[i] = 1.0, True
            continue
        line = np.flatnonzero((heights.face == face) & (np.abs(heights.y - y) < 0.01))
        order = line[np.argsort(heights.x[line])]
        place = int(np.searchsorted(heights.x[order], x))
        if 0 < place < len(order):
            low, high = order[place - 1], order[place]
            share = (x - heights.x[low]) / (heights.x[high] - heights.x[low])
            weights[i, low], weights[i, high] = 1 - share, share
            here[i] = between[i] = True
    return here, weights, between

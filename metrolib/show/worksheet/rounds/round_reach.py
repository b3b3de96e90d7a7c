"""Round reach: how near the target one reading shows a place, and what one more pass risks."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.rebuild.rounds.standing_verdicts import below
from metrolib.show.worksheet.rounds.round_words import reach_words

#: With this probability a cut must not lead to an overcut.
COVERAGE = 0.95


@dataclass(frozen=True)
class Reach:
    """How near the target a place is, by one reading.

    Attributes
    ----------
    face : str
    x : float
        [mm]
    left, u : float
        Still to come off down to the target and its band, below zero where the place lies lower
        already; and standard uncertainty [mm].
    overcut : float
        Probability that the place lies below the target already.
    next_pass : float or None
        Probability that one more pass of the present method takes it below the target; None where
        the survey describes no methods.
    near : bool
        Whether the target is within reach: a warning, no mere report.
    words : str
    """

    face: str
    x: float
    left: float
    u: float
    overcut: float
    next_pass: float | None
    near: bool
    words: str

    def __str__(self):
        return self.words


def reach_of(plan, seen, station, value, method, unit):
    """Tell how near the target a place is, by a reading that shows its size alone.

    Parameters
    ----------
    plan : RemovalPlan
    seen : Watch
        Of the instrument over the face.
    station : int
        One of its stations, as a place in the arrays of the plan.
    value : float
        The reading [unit of the instrument].
    method : Method or None
        The present one.
    unit : str
        Display unit.

    Returns
    -------
    Reach

    Notes
    -----
    A size across the face and one that is not cut needs no other reading: what it was before the
    work, less what it is, is what came off. One more pass takes off what the method's log says,
    p, with its scatter u_p; the place then lies below the target with probability
    ``Phi((p - left) / sqrt(u² + u_p²))``.
    """
    at = int(np.flatnonzero(seen.stations == station)[0])
    reading = value * seen.gauge.instrument.factor
    taken = seen.gauge.traverse.sign * (seen.now[at] - reading * (1 - seen.scale))
    u = float(seen.u(np.full(seen.now.size, reading))[at])
    left = float(plan.depth[station] - taken)
    room = left + plan.decision.band
    overcut, after = _below(room, u), None
    if method is not None:
        after = _below(room - method.per_pass, float(np.hypot(u, method.per_pass_uncertainty)))
    near = left <= 2 * u or (overcut if after is None else after) > 1 - COVERAGE
    face, x = str(plan.face[station]), float(plan.x[station])
    found = Reach(face, x, left, u, overcut, after, bool(near), "")
    return replace(found, words=reach_words(found, method, unit))


def _below(room, u):
    """Return the probability that one place lies lower than it may."""
    return float(below(np.array([room]), np.array([u]))[0])

"""What is told of the work after a round, and how it is read."""

from dataclasses import dataclass
from functools import cached_property
from html import escape

import numpy as np

from metrolib.heights.rounds import AdjustedRounds
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.rounds import progress_words as words
from metrolib.rebuild.rounds.round_rates import ToFinish
from metrolib.rebuild.rounds.seen import Seen
from metrolib.rebuild.rounds.standing_verdicts import GO_ON, NOT_KNOWN, SLOW_DOWN
from metrolib.uncertain.linear import Measured


@dataclass(frozen=True, eq=False)
class Progress:
    """Where the work stands after the last of several rounds, at the n stations of the plan.

    Attributes
    ----------
    rounds : AdjustedRounds
    plan : RemovalPlan
        Its `x`, `y`, `left_out` tell the stations.
    seen : Seen
        The heights after each round in the frame of the plan.
    last, last_u : ndarray, shape (n,)
        Taken off since the round before in which the place was measured [mm].
    taken, taken_u : ndarray, shape (n,)
        Taken off since the first round in which the place was measured [mm].
    left, left_u : ndarray, shape (n,)
        Still to come off down to the target and its band, below zero where the place lies lower
        already; and standard uncertainty [mm].
    at_most : ndarray, shape (n,)
        What may be aimed at before measuring again [mm].
    probability : ndarray, shape (n,)
        That the place lies lower than the target and the tolerance allow.
    anywhere : float
        That any of those that count does, from joint draws.
    nearest : int
        The station nearest to an overcut.
    verdict : ndarray of str, shape (n,)
        ``"go on"``, ``"slow down"``, ``"stop"``, ``"overcut"``; ``"not known"``,
        ``"left out"``.
    rate : ndarray, shape (n,)
        Taken off in a round, mean of those that the rate is told from; NaN where not known [mm].
    hours_a_round : float or None
        Mean hours of those rounds, where hours are given.
    rounds_left : ndarray, shape (n, 3)
        Rounds to finish each place at its own rate, and their interval; infinite where the rate is
        not determined, NaN where not known.
    finish : tuple of ToFinish
        How many rounds and, where hours are given, how many hours are left.
    tolerance : float
        How far a place may end off [mm].
    coverage : float
    hours : dict of str to float
        Spent in each round, where given.
    """

    rounds: AdjustedRounds
    plan: RemovalPlan
    seen: Seen
    last: np.ndarray
    last_u: np.ndarray
    taken: np.ndarray
    taken_u: np.ndarray
    left: np.ndarray
    left_u: np.ndarray
    at_most: np.ndarray
    probability: np.ndarray
    anywhere: float
    nearest: int
    verdict: np.ndarray
    rate: np.ndarray
    hours_a_round: float | None
    rounds_left: np.ndarray
    finish: tuple[ToFinish, ...]
    tolerance: float
    coverage: float
    hours: dict[str, float]

    @property
    def names(self):
        """Names of the rounds."""
        return self.rounds.names

    @property
    def face(self):
        """Face of each station, shape (n,)."""
        return self.plan.face

    @property
    def counts(self):
        """Which stations count: known in the last round and not left out; shape (n,)."""
        return ~self.plan.left_out & np.isfinite(self.left)

    @property
    def room(self):
        """Height above the target, shape (n,) [mm]; `left` and the band that may stay."""
        return self.left + self.plan.decision.band

    @property
    def height(self):
        """Height after each round, shape (rounds, n); NaN where not measured [mm]."""
        return self.seen.height

    @cached_property
    def height_u(self):
        """Standard uncertainty of `height`, shape (rounds, n) [mm]."""
        u = np.array([self.seen.u(law) for law in self.seen.law])
        return np.where(np.isfinite(self.height), u, np.nan)

    @property
    def value(self):
        """Metal still to come off, a plain number where all heights are exact [mm³]."""
        cov = self.seen.cov if self.seen.cov.any() else None
        law, metal = metal_left(self.plan, self.seen, self.counts, self.left)
        return Measured(self.rounds.values, cov, None).several(law[None], [metal])[0]

    @property
    def done(self):
        """True where every place is known, and none is told to go on or slow down."""
        return not {*self.verdict} & {GO_ON, SLOW_DOWN, NOT_KNOWN}

    def in_words(self, unit="um"):
        """Say where the work stands, in one paragraph.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return words.in_words(self, unit)

    def to_dataframe(self, unit="um"):
        """Return a pandas table, one station a row.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``.
        """
        return words.station_table(self, unit)

    def to_text(self, unit="um"):
        """Return what to do in plain text: a place along the ways a line, a face a column."""
        return f"{words.grid_key(unit)}\n{words.grid(self, unit).to_string()}"

    def to_html(self, unit="um"):
        """Return what to do as an HTML table: a place along the ways a row, a face a column."""
        grid = words.grid(self, unit).to_html(border=0, classes="depths")
        return f"<p>{escape(words.grid_key(unit))}</p>{grid}"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return f"<p>{escape(self.in_words())}</p>{words.face_table(self)}"


def metal_left(plan, seen, counts, left):
    """Return the metal still to come off: how it answers to all heights, and its value [mm³]."""
    weight = plan.area * (counts & (left > 0))
    return weight @ seen.law[-1], float(weight @ np.nan_to_num(left))

"""What a row of the table is, and how two ways to do one work are timed turn about."""

import resource
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One row of the table: a work, what it is measured against, and the goals.

    Attributes
    ----------
    label : str
        Number in the table, with a letter where a row has several sizes.
    work, against : str
    must, stretch : float
        Goals for the median of the ratios.
    ratios : function
        Returns the ratios, ours / reference, or reference / ours where `faster`; called when the
        row is measured. It first makes sure that both give the same answer.
    faster : bool
        The goals say how many times faster ours is: more is better.
    unit : str
        ``"x"``, or the unit of a figure that is no ratio.
    """

    label: str
    work: str
    against: str
    must: float
    stretch: float
    ratios: Callable[[], Sequence[float]]
    faster: bool = False
    unit: str = "x"

    def meets(self, figure, goal):
        """Tell whether a figure reaches a goal."""
        return figure >= goal if self.faster else figure <= goal


def seconds(function):
    """Return the processor time of one call, and of the processes that it ends [s].

    On a quiet machine that is the time on the clock, for nothing here runs on two cores at once;
    on a busy one it leaves out the time of the others.
    """
    start = _spent()
    function()
    return _spent() - start


def _spent():
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def per_call(function, least=0.002, long=0.5):
    """Return the processor time of one call [s].

    Short calls are timed as many in a row as take `least` seconds. All but those that take `long`
    are timed thrice, and the least counts: an interruption by other work would weigh more with a
    short call than with a long one.
    """
    spent = seconds(function)
    if spent > long:
        return spent
    calls = int(least / max(spent, 1e-7)) + 1
    return min(seconds(lambda: [function() for _ in range(calls)]) for _ in range(3)) / calls


def paired(ours, reference, *, pairs=15, share=1.0):
    """Return the ratios ours / reference of calls timed turn about in this process.

    Parameters
    ----------
    ours, reference : function
        Without arguments.
    pairs : int
    share : float
        The part of the work that one call of `reference` does, where all of it would take too long.
    """
    ours(), reference()  # whatever only a first call costs
    return [per_call(ours) / (per_call(reference) / share) for _ in range(pairs)]


def times_faster(ours, reference, *, pairs=7, share=1.0):
    """Return how many times faster ours is than the reference, for each pair of calls."""
    return [1 / ratio for ratio in paired(ours, reference, pairs=pairs, share=share)]


def middle(ratios):
    """Return the median of the ratios."""
    return statistics.median(ratios)

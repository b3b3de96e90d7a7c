"""Monte Carlo beside the linear law: joint draws of all heights through a result (JCGM 101)."""

import math
from collections import deque
from itertools import count, islice

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.uncertain.distribution import Distribution
from metrolib.uncertain.draws import draw_tiles, joint_draws, whole
from metrolib.uncertain.intervals import (
    numerical_tolerance,
    shortest_interval,
    symmetric_interval,
)
from metrolib.uncertain.progress import Progress

__all__ = ["draw_tiles", "monte_carlo"]

# Draws in a batch, at least (JCGM 101:2008, 7.9.4 b), and where an endless search ends.
_BATCH = 10_000
_MOST_DRAWS = 2**24
# Batches that other workers begin before the first is back; later as many as are done.
_AHEAD = 8


def monte_carlo(
    result, *, draws=None, digits=2, coverage=0.95, seed=1, executor=None, progress=None
):
    """Draw the heights behind a result within their joint uncertainty, and see how it scatters.

    Parameters
    ----------
    result : Straightness, Flatness, Coplanarity, Parallelism, Twist, or the like
        Its heights must be uncertain. Anything will do that has the attributes ``value``, a
        number with its uncertainty; ``drawn_from``, the heights as
        `metrolib.uncertain.linear.Measured`; and ``redo``, a function of heights, shape (T, n),
        that returns T values.
    draws : int, optional
        How many; else as many as it takes until mean, standard deviation and interval are known
        to `digits` digits (JCGM 101:2008, 7.9.4), but not more than 16 777 216.
    digits : int
        Significant digits that are meant of the uncertainty: 1, 2 or 3.
    coverage : float
        Share of the draws that the intervals hold.
    seed : int or None
        Draws with the same seed are the same; None takes a seed from the operating system.
    executor : concurrent.futures.Executor, optional
        Who draws: threads, processes, or a cluster. The result does not depend on it.
    progress : False, optional
        A progress bar shows after a second; with False never.

    Returns
    -------
    Distribution

    Raises
    ------
    InputError
        If nothing is known of the uncertainty of the heights, an argument is out of its limits,
        or no number comes out of some draws.

    Notes
    -----
    The heights are drawn from a joint normal law. A batch has 10 000 draws or more, in whole
    tiles; draws end when, over the batches, twice the standard deviation of the averages of mean,
    standard deviation and both ends of the symmetric interval are below half a unit of the last
    meant digit of u.

    The draws start from heights that hold noise already. So near zero, where noise can only
    widen a zone, they are too large on average, and the share `coverage` of the draws is not the
    probability that the true value lies there: `Distribution.bias` shows it.

    Examples
    --------
    A hollow of 20 µm at five stations; three of them decide, whatever is drawn, so the linear law
    holds:

    >>> from metrolib.form.straightness import straightness
    >>> from metrolib.uncertain.montecarlo import monte_carlo
    >>> x = [0, 250, 500, 750, 1000]
    >>> hollow = straightness(x, [0, -0.012, -0.020, -0.015, 0], 0.001)
    >>> found = monte_carlo(hollow, draws=20_000)
    >>> found.agrees, round(found.u, 4), round(found.linear_u, 4)
    (True, 0.0012, 0.0012)

    Nothing decides on a true face; noise alone makes a straightness:

    >>> true = straightness(x, [0, 0, 0, 0, 0], 0.001)
    >>> found = monte_carlo(true, draws=20_000)
    >>> found.agrees, found.value, round(found.mean, 4)
    (False, 0.0, 0.0018)
    """
    heights, value, linear_u = _read(result)
    digits = whole("digits", digits, at_least=1)
    if digits > 3:
        raise checks.wrong("digits", "at most 3 can be reached by draws", digits, "ask for 1 or 2")
    coverage = checks.number("coverage", coverage, above=0)
    if coverage >= 1:
        raise checks.wrong("coverage", "it must be below 1", coverage, "give 0.95, say")
    fewest = math.ceil(100 / (1 - coverage) - 1e-6)  # JCGM 101:2008, 7.9.4 b
    if draws is not None:
        draws = whole("draws", draws, at_least=fewest)
    source = joint_draws(heights.values, heights.cov, seed=seed)
    batch = math.ceil(max(fewest, _BATCH) / source.tile_size) * source.tile_size

    found = _Batches(batch, digits, coverage)
    most = max(_MOST_DRAWS, 2 * batch) if draws is None else draws
    with Progress("draws", draws, progress) as bar:
        for values in _drawn(result.redo, source, batch, most, executor):
            found.add(values)
            bar.reach(found.count)
            if draws is None and found.settled:
                break
    samples = found.in_order()
    return Distribution(
        value=value,
        mean=float(samples.mean()),
        u=float(samples.std(ddof=1)),
        symmetric=symmetric_interval(samples, coverage),
        shortest=shortest_interval(samples, coverage),
        coverage=coverage,
        draws=samples.size,
        samples=samples,
        linear_u=linear_u,
        digits=digits,
        settled=found.settled,
        seed=source.seed,
        quantity=getattr(result, "quantity", "length"),
    )


def _read(result):
    """Return the heights behind a result, its value and its linear uncertainty."""
    heights = getattr(result, "drawn_from", None)
    if heights is None or not hasattr(result, "redo"):
        raise checks.wrong(
            "result",
            "the heights it came from can't be drawn",
            type(result).__name__,
            "give a straightness, flatness, coplanarity, parallelism, twist or removal plan",
        )
    if heights.cov is None:
        raise InputError(
            "result: nothing is known of the uncertainty of its heights; give u with the heights, "
            "or heights that bring their own"
        )
    return heights, float(result.value.nominal_value), float(result.value.std_dev)


def _drawn(redo, source, batch, most, executor):
    """Yield the values of each batch in order, whoever finishes first."""
    jobs = ((start, min(batch, most - start)) for start in range(0, most, batch))
    if executor is None:
        for start, size in jobs:
            yield _values(redo, source, start, size)
        return
    waiting = deque()
    try:
        for done in count():
            for start, size in islice(jobs, max(_AHEAD, done) - len(waiting)):
                waiting.append(executor.submit(_values, redo, source, start, size))
            if not waiting:
                return
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()


def _values(redo, source, start, size):
    """Return the values of `size` draws from number `start` on, which begins a tile."""
    values, at = np.empty(size), 0
    for tile in source.tiles(start // source.tile_size, size):
        found = np.asarray(redo(tile), dtype=float)
        if found.shape != (len(tile),):
            raise checks.wrong(
                "result", "redo must give one value for each draw", found.shape, "mend its redo"
            )
        values[at : at + len(tile)] = found
        at += len(tile)
    if not np.isfinite(values).all():
        raise checks.wrong(
            "result",
            "no number comes out of some draws",
            f"{np.count_nonzero(~np.isfinite(values))} of {size}",
            "it has no value within the uncertainty of its heights; measure better",
        )
    return values


class _Batches:
    """The values so far, and what each whole batch says by itself (JCGM 101:2008, 7.9.4)."""

    def __init__(self, batch, digits, coverage):
        self.batch, self.digits, self.coverage = batch, digits, coverage
        self.values, self.said, self.count = [], [], 0

    def add(self, values):
        """Take one more batch."""
        self.values.append(values)
        self.count += values.size
        if values.size == self.batch:
            ends = symmetric_interval(np.sort(values), self.coverage)
            self.said.append((values.mean(), values.std(ddof=1), *ends))

    def in_order(self):
        """Return all values in ascending order; 1e8 of them are 0.8 GB, so none is kept here."""
        values = np.concatenate(self.values)
        self.values.clear()
        values.sort()
        return values

    @property
    def settled(self):
        """Whether the averages over the batches are known to the digits meant; None if untold."""
        said = np.array(self.said)
        if len(said) < 2:
            return None
        spread = 2 * said.std(axis=0, ddof=1) / np.sqrt(len(said))
        return bool(spread.max() <= numerical_tolerance(self._u(said), self.digits))

    def _u(self, said):
        """Return the standard deviation of all values in whole batches, from those of each."""
        mean, u = said[:, 0], said[:, 1]
        squares = (self.batch - 1) * np.sum(u**2) + self.batch * np.sum((mean - mean.mean()) ** 2)
        return float(np.sqrt(squares / (self.batch * len(said) - 1)))

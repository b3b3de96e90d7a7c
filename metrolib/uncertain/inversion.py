"""Test inversion: which true peak-to-valley figures could well have given the measured one.

The draws of `metrolib.uncertain.montecarlo` start from heights that hold noise already, so near zero
they lie too high and miss the truth. Here the question is turned round: for each size that the true
figure may have, true faces of that size are drawn, noise is added, and the figure is found again.
A size is kept when the measured figure is no rare outcome of it.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import ndtri

from metrolib.uncertain.progress import Progress
from metrolib.uncertain.smooth import TrueFaces

#: Share of each tail of rare outcomes that is used. The true face is drawn, not known, which makes
#: plain tails a little too short: with them 92 to 97 % of simulated surveys were covered.
TAIL_KEPT = 0.8

# Sizes of the true figure that are tried; between them the probability is interpolated.
_SIZES = 49
# Draws that tell how far noise reaches, and numbers in one call of `redo`.
_FIRST, _NUMBERS = 2048, 2**21


@dataclass(frozen=True, eq=False)
class Inversion:
    """How probable a figure as small as the measured one is, for each size of the true one.

    Attributes
    ----------
    sizes : ndarray, shape (k,)
        Of the true figure, ascending [mm].
    below : ndarray, shape (c, k)
        Share of the draws up to the measured figure, for each class of true faces.
    share : ndarray, shape (c,)
        Probability of each class.
    draws : int
        For each size and class.
    """

    sizes: np.ndarray
    below: np.ndarray
    share: np.ndarray
    draws: int

    def ends(self, low, high, only=None):
        """Return the sizes between which the measured figure is no rare outcome.

        Parameters
        ----------
        low, high : float
            Probability of the rare outcomes that are cut off below and above, on the side of
            small true figures and on that of large ones.
        only : int, optional
            Look at one class of true faces.

        Returns
        -------
        (float, float)
            [mm]

        Notes
        -----
        The smallest and the largest size are taken, should there be gaps between. A measured figure
        so small that even a perfect face hardly ever gives it would leave no size at all; the
        probability `high` is then halved from that of a perfect face, so a bound above zero stands.
        """
        below = self.share @ self.below if only is None else self.below[only]
        if self.sizes[0] == 0:
            high = min(high, below[0] / 2)
        return self._crossing(1 - below, low), self._crossing(below[::-1], high, backward=True)

    def middle(self):
        """Return the size from which the measured figure is as often exceeded as not [mm]."""
        below = self.share @ self.below
        return self._crossing(below[::-1], 0.5, backward=True) if below[0] > 0.5 else 0.0

    def _crossing(self, probability, level, *, backward=False):
        """Return the first size at which a probability that rises from about 0 reaches a level."""
        sizes = self.sizes[::-1] if backward else self.sizes
        first = int(np.argmax(probability >= level))
        if first == 0:
            return float(sizes[0])
        # between two sizes the quantile of a normal law is nearly a straight line
        half = 0.5 / self.draws
        near = ndtri(np.clip([*probability[first - 1 : first + 1], level], half, 1 - half))
        part = (near[2] - near[0]) / (near[1] - near[0])
        return float(sizes[first - 1] + part * (sizes[first] - sizes[first - 1]))


def invert(redo, observed, faces, *, draws, seed, executor=None, progress=None):
    """Find how probable the measured figure is, for each size of the true one.

    Parameters
    ----------
    redo : callable
        Finds the figure again: a function of heights, shape (T, n) [mm], to T values. A line or a
        plane in the heights must not matter to it, and a face twice as large must give twice.
    observed : float
        The figure on the heights as measured [mm].
    faces : TrueFaces
        What the heights leave possible of the true face.
    draws : int
        True faces of each class, each with its own noise, used again at every size.
    seed : int
        Draws with the same seed are the same.
    executor : concurrent.futures.Executor, optional
        Who draws; the result does not depend on it.
    progress : False, optional
        A progress bar shows after a second; with False never.

    Returns
    -------
    Inversion
    """
    reach = 1.2 * float(redo(_noise(faces, _stream(seed, 0), _FIRST)).max())
    sizes = np.linspace(max(0.0, observed - reach), observed + reach, _SIZES)
    count = max(8, min(1024, _NUMBERS // (_SIZES * len(faces.basis))))
    tiles = [(1 + i, min(count, draws - at)) for i, at in enumerate(range(0, draws, count))]
    work = partial(_count_below, redo, observed, faces, sizes, seed)
    found = map(work, tiles) if executor is None else executor.map(work, tiles)
    below, done = np.zeros((len(faces.classes), _SIZES)), 0
    with Progress("draws", draws, progress) as bar:
        for (_, size), counts in zip(tiles, found, strict=True):
            below, done = below + counts, done + size
            bar.reach(done)
    share = np.array([each.share for each in faces.classes])
    return Inversion(sizes, below / draws, share, draws)


def _count_below(redo, observed, faces: TrueFaces, sizes, seed, tile):
    """Count the draws of one tile up to the measured figure, for each class and size."""
    number, count = tile
    random = _stream(seed, number)
    counts = []
    for each in faces.classes:
        form = each.draw(random, count) @ faces.basis.T
        noise = _noise(faces, random, count)
        # a face without any form is a perfect one at every size
        figure = redo(form)
        unit = form * np.divide(1.0, figure, out=np.zeros(count), where=figure > 0)[:, None]
        heights = sizes[:, None, None] * unit + noise
        figures = redo(heights.reshape(-1, noise.shape[1])).reshape(sizes.size, count)
        counts.append((figures <= observed).sum(axis=1))
    return np.array(counts)


def _noise(faces, random, count):
    """Draw the noise of the heights, less the line or plane in it, shape (count, n)."""
    return random.standard_normal((count, faces.noise.shape[1])) @ faces.noise.T @ faces.basis.T


def _stream(seed, number):
    """Return the random numbers of one tile."""
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(number,)))

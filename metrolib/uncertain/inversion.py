"""Test inversion: which true peak-to-valley figures could well have given the measured one.

The draws of `metrolib.uncertain.montecarlo` start from heights that hold noise already, so near
zero they lie too high and miss the truth. Here the question is turned round: for each size that
the true figure may have, true faces of that size are drawn, noise is added, and the figure is
found again. A size is kept when the measured figure is no rare outcome of it.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import ndtri

from metrolib.uncertain.progress import Progress
from metrolib.uncertain.smooth import TrueFaces

#: Share of the tails of rare outcomes that is used, of both and of one alone. The true face is
#: drawn, not known, which makes plain tails a little too short: with all of them 91 to 97 % of
#: simulated surveys were covered.
TAILS_KEPT, TAIL_KEPT = 0.8, 0.5

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
    exceeded_by_perfect : float
        Share of the draws of noise alone that reach the measured figure.
    """

    sizes: np.ndarray
    below: np.ndarray
    share: np.ndarray
    draws: int
    exceeded_by_perfect: float

    def ends(self, low, high):
        """Return the sizes between which the measured figure is no rare outcome.

        Parameters
        ----------
        low, high : float
            Probability of the rare outcomes that are cut off below and above, on the side of
            small true figures and on that of large ones.

        Returns
        -------
        (float, float)
            [mm]

        Notes
        -----
        The smallest and the largest size are taken, should there be gaps between.
        """
        below = self.share @ self.below
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


def invert(
    redo, observed, faces, *, draws, seed, quiet=0.0, sizes=None, executor=None, progress=None
):
    """Find how probable the measured figure is, for each size of the true one.

    Parameters
    ----------
    redo : callable
        Finds the figure again: a function of heights, shape (T, n) [mm], to T values. A line or a
        plane in the heights must not matter to it, and heights twice as large must give twice.
    observed : float
        The figure on the heights as measured [mm].
    faces : TrueFaces
        What the heights leave possible of the true face.
    draws : int
        True faces of each class, each with its own noise, used again at every size.
    seed : int
        Draws with the same seed are the same.
    quiet : float
        A figure so small that even a perfect face gives less with only this probability counts as
        the one it gives less than with just this: luck must not make a face truer than true.
    sizes : ndarray, optional
        Sizes of the true figure to try, ascending [mm]; else all that noise lets be possible.
    executor : concurrent.futures.Executor, optional
        Who draws; the result does not depend on it.
    progress : False, optional
        A progress bar shows after a second; with False never.

    Returns
    -------
    Inversion

    Notes
    -----
    A true face drawn from what the heights leave possible has a figure of its own. It is brought to
    each size in two steps: by the regression of faces on figures over the draws, which changes it
    as the heights would allow (an ensemble Kalman update; G. Evensen, 1994; from memory), then by
    what is left as a factor.
    """
    noise_alone = redo(_noise(faces, _stream(seed, 0), _FIRST))
    exceeded = float((noise_alone >= observed).mean())
    observed = max(observed, float(np.quantile(noise_alone, quiet)))
    if sizes is None:
        reach = 1.2 * float(noise_alone.max())
        sizes = np.linspace(max(0.0, observed - reach), observed + reach, _SIZES)
    count = max(8, min(1024, _NUMBERS // (_SIZES * len(faces.form))))
    tiles = [(1 + i, min(count, draws - at)) for i, at in enumerate(range(0, draws, count))]
    growths = [_growth(redo, faces, each, _stream(seed, 0)) for each in faces.classes]
    work = partial(_count_below, redo, observed, faces, growths, sizes, seed)
    found = map(work, tiles) if executor is None else executor.map(work, tiles)
    below, done = np.zeros((len(faces.classes), sizes.size)), 0
    with Progress("draws", draws, progress) as bar:
        for (_, size), counts in zip(tiles, found, strict=True):
            below, done = below + counts, done + size
            bar.reach(done)
    share = np.array([each.share for each in faces.classes])
    return Inversion(sizes, below / draws, share, draws, exceeded)


def _growth(redo, faces, each, random):
    """Return how the faces of a class change on average where their figure is larger, (n,)."""
    forms = each.draw(random, _FIRST)
    figures = redo(forms)
    off = figures - figures.mean()
    return off @ (forms - forms.mean(axis=0)) / max(off @ off, 1e-300)


def _count_below(redo, observed, faces: TrueFaces, growths, sizes, seed, tile):
    """Count the draws of one tile up to the measured figure, for each class and size."""
    number, count = tile
    random = _stream(seed, number)
    counts = []
    for each, growth in zip(faces.classes, growths, strict=True):
        forms = each.draw(random, count)
        noise = _noise(faces, random, count)
        # A larger figure is likely to be one in the direction in which the heights are least
        # known; growing all of the face alike would leave the rest of it unlike what was seen.
        grown = forms + (sizes[:, None] - redo(forms))[:, :, None] * growth
        flat = (sizes.size * count, len(growth))
        figures = redo(grown.reshape(flat)).reshape(sizes.size, count)
        share = np.divide(sizes[:, None], figures, out=np.zeros_like(figures), where=figures > 0)
        heights = grown * share[:, :, None] + noise
        figures = redo(heights.reshape(flat)).reshape(sizes.size, count)
        counts.append((figures <= observed).sum(axis=1))
    return np.array(counts)


def _noise(faces, random, count):
    """Draw the noise of the heights, less the line or plane in it, shape (count, n)."""
    return random.standard_normal((count, len(faces.noise))) @ faces.noise.T


def _stream(seed, number):
    """Return the random numbers of one tile."""
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(number,)))

"""Joint random draws of heights, tile by tile, the same whoever draws them."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.uncertain.linear import symmetric_root

# Draws in a tile; of more than 2048 heights fewer, so that a tile stays under 32 megabytes.
_TILE = 2048
_NUMBERS = 2**22


@dataclass(frozen=True, eq=False)
class Draws:
    """A source of joint normal draws; each tile has its own stream of random numbers.

    Attributes
    ----------
    values : ndarray, shape (n,)
        Expectations [mm].
    factor : ndarray, shape (n,) or (n, n)
        Standard uncertainties of independent heights [mm], or F with F F' = covariance.
    seed : int
    """

    values: np.ndarray
    factor: np.ndarray
    seed: int

    @property
    def tile_size(self):
        """Draws in a whole tile."""
        return int(min(_TILE, max(1, _NUMBERS // self.values.size)))

    def tile(self, number, size):
        """Return the first `size` draws of a tile, shape (size, n) [mm].

        Parameters
        ----------
        number : int
            Which tile, from 0.
        size : int
            At most `tile_size`.
        """
        stream = np.random.SeedSequence(self.seed, spawn_key=(number,))
        random = np.random.default_rng(stream).standard_normal((size, self.factor.shape[-1]))
        if self.factor.ndim == 1:
            random *= self.factor
        else:
            random = random @ self.factor.T
        random += self.values
        return random

    def tiles(self, first, draws):
        """Yield tiles from number `first` on, the last one cut, until `draws` are drawn."""
        for start in range(0, draws, self.tile_size):
            yield self.tile(first + start // self.tile_size, min(self.tile_size, draws - start))


def joint_draws(values, cov, *, seed):
    """Return the source of joint draws of heights.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Heights [mm].
    cov : ndarray, shape (n,) or (n, n)
        Variances of independent heights, or their covariance matrix, which may be singular [mm²].
    seed : int or None
        Draws with the same seed are the same; None takes a seed from the operating system.

    Returns
    -------
    Draws

    Raises
    ------
    InputError
        If the seed is not a whole number from 0 on.
    """
    if seed is None:
        seed = np.random.SeedSequence().entropy
    seed = whole("seed", seed, at_least=0)
    cov = np.asarray(cov, dtype=float)
    return Draws(np.asarray(values), np.sqrt(cov) if cov.ndim == 1 else symmetric_root(cov), seed)


def draw_tiles(values, cov, draws, *, seed):
    """Yield joint normal draws of heights in tiles of at most 2048.

    Parameters
    ----------
    values, cov, seed
        As for `joint_draws`.
    draws : int
        How many in all.

    Yields
    ------
    ndarray, shape (tile, n)
        [mm]

    Notes
    -----
    JCGM 101:2008, 6.4.8: a multivariate Gaussian distribution. Each tile has its own child of the
    seed, so it does not matter who draws it, nor in what order.

    Examples
    --------
    >>> import numpy as np
    >>> cov = np.array([[1.0, 1.0], [1.0, 1.0]])  # the two err together
    >>> tiles = list(draw_tiles([0.0, 5.0], cov, 5000, seed=1))
    >>> [len(tile) for tile in tiles]
    [2048, 2048, 904]
    >>> bool(np.allclose(tiles[0][:, 1] - tiles[0][:, 0], 5.0))
    True
    """
    yield from joint_draws(values, cov, seed=seed).tiles(0, whole("draws", draws, at_least=1))


def whole(argument, value, *, at_least):
    """Return `value` as an int that is not below a limit.

    Raises
    ------
    InputError
        If it is not a whole number, or too small.

    Examples
    --------
    >>> whole("draws", 1e5, at_least=1)
    100000
    """
    if isinstance(value, int) and not isinstance(value, bool):
        result = value  # a seed may have more digits than a float holds
    else:
        number = checks.number(argument, value)
        result = int(number)
        if result != number:
            raise checks.wrong(argument, "a whole number is needed", value, "round it")
    if result < at_least:
        raise checks.wrong(argument, f"it must be at least {at_least}", value, "give a larger one")
    return result

"""Many sets of heights at once: in tiles that stay in the processor's cache."""

import numpy as np

# Numbers in a tile: half a megabyte, which a core's cache holds.
_TILE = 65_536


def tiles(z):
    """Return slices that cut the rows of `z` into tiles.

    Parameters
    ----------
    z : ndarray, shape (T, n)

    Examples
    --------
    >>> [(part.start, part.stop) for part in tiles(np.zeros((3, 30_000)))]
    [(0, 2), (2, 3)]
    """
    size = max(1, _TILE // z.shape[1])
    return [slice(start, min(start + size, len(z))) for start in range(0, len(z), size)]


def coefficients(reference, z):
    """Return the coefficients of a reference with fixed weights, for each set of heights.

    Parameters
    ----------
    reference : Reference
    z : ndarray, shape (T, n)
        Heights, each less the first one of its set [mm].

    Returns
    -------
    ndarray, shape (T, p)
        Height at the origin [mm], then slopes [mm/mm].
    """
    return z[:, reference.stations] @ reference.weights.T


def ranges_over(reference, places, z):
    """Return the range of the deviations from a reference with fixed weights, for each set.

    Parameters
    ----------
    reference : Reference
        Least squares, or end points: its weights do not depend on the heights.
    places : tuple of ndarray, shape (n,)
        Coordinates of the stations from the origin of `reference` [mm].
    z : ndarray, shape (T, n)
        [mm]

    Returns
    -------
    ndarray, shape (T,)
        [mm]
    """
    design = np.stack([np.ones_like(places[0]), *places])  # [1, x] or [1, x, y]
    ranges = np.empty(len(z))
    for part in tiles(z):
        above = z[part] - z[part, :1]
        ranges[part] = np.ptp(above - coefficients(reference, above) @ design, axis=1)
    return ranges

"""Light on a photograph: what the bare ground would look like everywhere, and spots against it."""

from dataclasses import dataclass

import numpy as np

from metrolib.errors import InputError

#: A blurred copy of the light is made on a grid of about so many cells to a window.
_CELLS = 24

#: Times that the ground is told from the spots anew.
_ROUNDS = 3

#: The two kinds of pixels must differ by so many of their own scatters: noise cut in two differs
#: by 2.6 (half normal laws: 2 * 0.80 / 0.60), an even run of greys by 3.5 (2 * sqrt(3)).
_APART = 4.0

#: ... and by this share of the ground's brightness.
_LEAST_CONTRAST = 0.05


@dataclass(frozen=True, eq=False)
class Evened:
    """A photograph with the light taken out.

    Attributes
    ----------
    ratio : ndarray, shape (rows, columns)
        Brightness over that of bare ground at the same place: about 1 on the ground.
    threshold : float
        Halfway between ground and spots.
    contrast : float
        Spots less ground, as ratio; below 0 where the spots are dark.
    """

    ratio: np.ndarray
    threshold: float
    contrast: float

    def marked(self, ratio, shift=0.0):
        """Return which pixels are spots, the threshold moved by a share of the contrast."""
        level = self.threshold + shift * self.contrast
        return ratio < level if self.contrast < 0 else ratio > level


def even_light(grey, usable, window, *, dark, blur):
    """Take uneven light out of a photograph.

    Parameters
    ----------
    grey : ndarray, shape (rows, columns)
        Brightness, 0 to 1.
    usable : ndarray of bool, same shape
        Pixels of the face that no glare covers.
    window : float
        Size of the pieces within which ground is looked for [pixels].
    dark : bool
        Whether the spots are darker than the ground.
    blur : float
        Standard deviation of the smoothing before ground and spots are told apart [pixels].

    Returns
    -------
    Evened

    Raises
    ------
    InputError
        If the spots cannot be told from the ground.

    Notes
    -----
    Light multiplies: what reaches the camera is light times reflectance, so brightness is divided
    by that of the ground, which is looked for within a window larger than a few spots: first a
    high percentile there (a low one where spots are bright), then the mean of the pixels that the
    threshold calls ground.
    """
    from scipy import ndimage

    smooth = smoothed(grey, usable, blur)
    cell = max(int(window / _CELLS), 1)
    size = max(int(round(window / cell)), 3)
    coarse = _cells_mean(smooth, usable, cell)
    kept = np.where(np.isnan(coarse), np.nanmedian(coarse), coarse)
    percentile = 80 if dark else 20
    light = ndimage.percentile_filter(kept, percentile, size=size, mode="nearest")
    light = ndimage.gaussian_filter(light, size / 4, mode="nearest")
    for _ in range(_ROUNDS):
        ratio = smooth / _at_full_size(light, cell, grey.shape)
        threshold, spots = _two_kinds(ratio[usable], dark)
        ground = usable & ~(ratio < threshold if dark else ratio > threshold)
        light = _light_on(smooth, ground, cell, size / 4)
    ratio = grey / _at_full_size(light, cell, grey.shape)
    _check_contrast(smoothed(ratio, usable, blur)[usable], threshold, spots)
    return Evened(ratio, threshold, spots - 1.0)


def smoothed(values, usable, blur):
    """Return a picture smoothed so that what lies beside the usable pixels does not bleed in.

    Parameters
    ----------
    values : ndarray, shape (rows, columns)
    usable : ndarray of bool, same shape
    blur : float
        Standard deviation [pixels].
    """
    from scipy import ndimage

    weight = ndimage.gaussian_filter(usable.astype(float), blur)
    inner = ndimage.gaussian_filter(np.where(usable, values, 0.0), blur)
    inner = np.divide(inner, weight, out=np.zeros(values.shape), where=weight > 0)
    return np.where(usable, inner, ndimage.gaussian_filter(values, blur))


def _cells_mean(values, usable, cell):
    """Return the mean of the usable pixels of each cell; NaN where there are none."""
    total, count = _cells_sum(np.where(usable, values, 0.0), cell), _cells_sum(usable, cell)
    return np.divide(total, count, out=np.full(total.shape, np.nan), where=count > 0)


def _cells_sum(values, cell):
    """Return the sums over cells of `cell` by `cell` pixels; those at the edge are smaller."""
    rows, columns = (np.arange(0, length, cell) for length in values.shape)
    by_rows = np.add.reduceat(np.asarray(values, dtype=float), rows, axis=0)
    return np.add.reduceat(by_rows, columns, axis=1)


def _light_on(smooth, ground, cell, spread):
    """Return the brightness of the ground on a coarse grid, carried over the places without any.

    A plane is fitted around each cell, with weights that fall off as a bell curve: a mean would
    lag behind light that rises toward the edge of the picture.
    """
    from scipy import ndimage

    count = _cells_sum(ground, cell)
    total = _cells_sum(np.where(ground, smooth, 0.0), cell)
    down, across = np.meshgrid(*map(np.arange, count.shape), indexing="ij")

    def around(values):
        return ndimage.gaussian_filter(values, spread, mode="constant")

    one, x, y = around(count), around(count * across), around(count * down)
    xx, xy, yy = (around(count * place) for place in (across**2, across * down, down**2))
    t, tx, ty = around(total), around(total * across), around(total * down)
    # the same moments about each cell itself
    xx, yy = xx - 2 * across * x + across**2 * one, yy - 2 * down * y + down**2 * one
    xy = xy - across * y - down * x + across * down * one
    x, y, tx, ty = x - across * one, y - down * one, tx - across * t, ty - down * t
    few = 1e-5 * cell**2  # where no ground is near, the mean of all ground, and no slope
    moments = np.array(
        [[one + few, x, y], [x, xx + few * spread**2, xy], [y, xy, yy + few * spread**2]]
    )
    mean = total.sum() / max(count.sum(), 1.0)
    sides = np.array([t + few * mean, tx, ty])
    fitted = np.linalg.solve(moments.transpose(2, 3, 0, 1), sides.transpose(1, 2, 0)[..., None])
    return fitted[..., 0, 0]


def _at_full_size(light, cell, shape):
    """Return a coarse picture at full size, linear between the middles of its cells."""
    from scipy import ndimage

    rows, columns = ((np.arange(length) + 0.5) / cell - 0.5 for length in shape)
    grid = np.meshgrid(rows, columns, indexing="ij")
    full = ndimage.map_coordinates(light, grid, order=1, mode="nearest")
    return np.maximum(full, 1e-6)


def _two_kinds(ratio, dark):
    """Return the threshold between two kinds of pixels, and the level of the spots.

    The cut is the one that leaves the least variance within the two kinds (N. Otsu, IEEE Trans.
    Syst. Man Cybern. 9, 62, 1979; from memory); the threshold is halfway between their medians,
    which leaves the edge of a blurred spot where it is.
    """
    low, high = np.percentile(ratio, [0.1, 99.9])
    if high - low < _LEAST_CONTRAST:
        raise _no_contrast(0.0)
    count, edges = np.histogram(ratio, bins=256, range=(low, high))
    middle = (edges[1:] + edges[:-1]) / 2
    below = np.cumsum(count)[:-1].astype(float)
    above = below[-1] + count[-1] - below
    sums = np.cumsum(count * middle)
    means = (sums[:-1] / np.maximum(below, 1), (sums[-1] - sums[:-1]) / np.maximum(above, 1))
    cut = edges[1:-1][np.argmax(below * above * (means[1] - means[0]) ** 2)]
    levels = np.median(ratio[ratio <= cut]), np.median(ratio[ratio > cut])
    return float(sum(levels) / 2), float(levels[0] if dark else levels[1])


def _check_contrast(ratio, threshold, spots):
    """Refuse a picture whose ground and spots cannot be told apart."""
    kinds = [ratio[ratio <= threshold], ratio[ratio > threshold]]
    if min(kind.size for kind in kinds) == 0:
        raise _no_contrast(0.0)
    within = np.sqrt(sum(kind.size * kind.var() for kind in kinds) / ratio.size)
    apart = kinds[1].mean() - kinds[0].mean()
    if apart < max(_APART * within, _LEAST_CONTRAST) or abs(spots - 1.0) < _LEAST_CONTRAST:
        raise _no_contrast(apart / max(within, 1e-12))


def _no_contrast(apart):
    return InputError(
        f"photo: spots and ground cannot be told apart, they differ by {apart:.1f} of their own "
        f"scatters where {_APART:g} are needed; mark the face alone as area, wipe the ground, use "
        "a thinner film or softer light, and check the words ink and spots"
    )

"""Reference lines of many sets of heights over the same stations, without a loop over the sets."""

import numpy as np

from metrolib import checks
from metrolib.form import lines
from metrolib.form.tiles import coefficients, ranges_over, tiles

# Up to 7 exchanges were seen; what is left after this many goes to the kernel for one set.
_MOST_EXCHANGES = 50
_ROUNDING = 16 * np.finfo(float).eps


def line_ranges(reference, x, z):
    """Return the range of the deviations from a reference line, for each set of heights.

    Parameters
    ----------
    reference : str
        ``"minimum zone"``, ``"least squares"`` or ``"end points"``.
    x : ndarray, shape (n,)
        Stations common to all sets [mm].
    z : ndarray, shape (T, n)
        A set of heights in each row [mm].

    Returns
    -------
    ndarray, shape (T,)
        [mm]

    Raises
    ------
    InputError
        If the word is unknown, the stations define no such line, or the heights do not fit.

    Examples
    --------
    >>> x = np.array([0.0, 500.0, 1000.0])
    >>> line_ranges("minimum zone", x, [[0.0, 0.02, 0.0], [0.0, 0.01, 0.04]]).round(6).tolist()
    [0.02, 0.01]
    """
    z, x = checks.table("z", z, x.size), x - x[0]
    fixed = _fixed_reference(reference, x)
    return minimum_zones(x, z)[0] if fixed is None else ranges_over(fixed, (x,), z)


def line_slopes(reference, x, z):
    """Return the slope of a reference line for each set of heights, shape (T,) [mm/mm].

    Parameters and errors are those of `line_ranges`.
    """
    z, x = checks.table("z", z, x.size), x - x[0]
    fixed = _fixed_reference(reference, x)
    if fixed is None:
        return minimum_zones(x, z)[1]
    return np.concatenate([coefficients(fixed, z[part] - z[part, :1])[:, 1] for part in tiles(z)])


def _fixed_reference(reference, x):
    """Return the reference where its weights do not depend on the heights, else None."""
    if reference == "minimum zone" and np.ptp(x) > 0:
        return None
    return lines.reference_line(reference, x, np.zeros_like(x))


def minimum_zones(x, z):
    """Find the minimum zones of many sets of heights: exact.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Stations, from some place near them, not all at one place [mm].
    z : ndarray, shape (T, n)
        [mm]

    Returns
    -------
    widths : ndarray, shape (T,)
        [mm]
    slopes : ndarray, shape (T,)
        [mm/mm]

    Notes
    -----
    The exchange of `metrolib.form.lines.minimum_zone` with a vector in place of each number. The
    zone of the four supporting stations met last is nowhere wider than that of all stations; a
    set is done when its best slope brings no new support, so that both widths are the same.
    """
    if x.size == 2:
        return np.zeros(len(z)), (z[:, 1] - z[:, 0]) / (x[1] - x[0])
    widths, slopes = np.empty(len(z)), np.empty(len(z))
    for part in tiles(z):
        widths[part], slopes[part] = _exchange(x, z[part] - z[part, :1])
    return widths, slopes


def _exchange(x, z):
    """Exchange in all rows of one tile; return (widths, slopes)."""
    widths, slopes = np.empty(len(z)), np.empty(len(z))
    sets, heights, supports = np.arange(len(z)), z, _steepest(x, z)
    pending, each, over = np.ones(len(z), dtype=bool), np.arange(len(z)), np.empty_like(z)
    for _ in range(_MOST_EXCHANGES):
        slope, least = _best_chords(x[supports], heights[each, supports])
        np.multiply(slope[:, None], x, out=over)
        np.subtract(heights, over, out=over)
        upper, lower = over.argmax(axis=1), over.argmin(axis=1)
        width = over[each, upper] - over[each, lower]

        known = (upper == supports[0]) | (upper == supports[2])
        known &= (lower == supports[1]) | (lower == supports[3])
        # the heights range over no more than this width and what the slope adds
        rounding = _ROUNDING * (width + 2 * np.abs(slope) * np.ptp(x))
        done = known | (width - least <= rounding) | (x[upper] == x[lower])
        now = pending & done
        widths[sets[now]], slopes[sets[now]] = width[now], slope[now]
        pending &= ~done
        left = np.count_nonzero(pending)
        if left == 0:
            return widths, slopes

        falls = x[upper] < x[lower]  # the best slope is less than this one
        supports = np.where(
            falls, [supports[0], supports[1], upper, lower], [upper, lower, *supports[2:]]
        )
        if 2 * left < pending.size:  # copying the rest pays only then
            sets, heights, supports = sets[pending], heights[pending], supports[:, pending]
            pending, each, over = np.ones(left, dtype=bool), np.arange(left), over[:left]
    for row in sets[pending]:
        found = lines.minimum_zone(x, z[row])
        widths[row], slopes[row] = found.width, found.weights[1] @ z[row, found.stations]
    return widths, slopes


def _steepest(x, z):
    """Return the supports of infinitely steep zones, shape (4, T).

    They are the upper and lower one left of the best slope, then those right of it.
    """
    low, high = np.flatnonzero(x == x.min()), np.flatnonzero(x == x.max())
    at_low, at_high = z[:, low], z[:, high]
    return np.array(
        [
            high[at_high.argmax(axis=1)],
            low[at_low.argmin(axis=1)],
            low[at_low.argmax(axis=1)],
            high[at_high.argmin(axis=1)],
        ]
    )


def _best_chords(x, z):
    """Return the chord slopes along which zones of four supports are narrowest, and the widths.

    Parameters
    ----------
    x, z : ndarray, shape (4, T)
        Of the supports, in the order of `_steepest`.
    """
    apart, rise = x[2:] - x[:2], z[2:] - z[:2]
    exists = apart != 0
    slopes = np.divide(rise, apart, out=np.zeros_like(rise), where=exists)
    over_x = slopes[:, None, :] * x  # (chord, support, set)
    over = z - over_x
    widths = np.maximum(over[:, 0], over[:, 2]) - np.minimum(over[:, 1], over[:, 3])
    widths = np.where(exists, widths, np.inf)
    second = widths[1] < widths[0]
    return np.where(second, slopes[1], slopes[0]), np.where(second, widths[1], widths[0])

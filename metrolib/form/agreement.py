"""The line that the longest part of a face agrees with, with everything else below it."""

import numpy as np

# Lines through pairs of this many stations, evenly spread, are tried; of fewer, all pairs.
_MOST_ANCHORS = 240
# This many of the best lines are refined.
_REFINED = 20


def multiple_for_all(k, n):
    """Return how many u the worst of n stations exceeds as seldom as a single one exceeds k u.

    Examples
    --------
    >>> round(multiple_for_all(2.0, 1), 3), round(multiple_for_all(2.0, 15), 3)
    (2.0, 2.964)
    """
    from scipy.special import ndtr, ndtri

    return float(-ndtri(ndtr(-k) / n))


def agreeing(x, z, allowed, outer):
    """Return which stations agree with the best possible line; see `metrolib.form.unworn.unworn`.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
        Stations, in ascending x, and heights [mm].
    allowed, outer : ndarray, shape (n,)
        What noise may do to one station, and to the worst of all [mm].

    Returns
    -------
    ndarray of bool, shape (n,)

    Examples
    --------
    >>> x, z = np.arange(5.0), np.array([0.0, 0.1, -0.1, -5.0, 0.0])
    >>> agreeing(x, z, np.full(5, 0.2), np.full(5, 0.2)).tolist()
    [True, True, True, False, True]
    """
    anchors = np.unique(np.linspace(0, x.size - 1, _MOST_ANCHORS).round().astype(int))
    best = []
    for p in anchors:
        others = anchors[x[anchors] > x[p]]
        slopes = (z[others] - z[p]) / (x[others] - x[p])
        over = (z - z[p]) - slopes[:, None] * (x - x[p])
        best += _ranked(x, over, allowed, outer)
        best = sorted(best, key=lambda one: one[0], reverse=True)[:_REFINED]
    for rank, agrees in list(best):
        while agrees.sum() >= 2 and np.ptp(x[agrees]) > 0:
            over = z - np.polyval(np.polyfit(x[agrees], z[agrees], 1), x)
            again = _ranked(x, over[None, :], allowed, outer)
            if not again or again[0][0] <= rank:
                break
            rank, agrees = again[0]
        best.append((rank, agrees))
    return max(best, key=lambda one: one[0])[1]


def _ranked(x, over, allowed, outer):
    """Return (rank, agreeing stations) of the possible ones among some lines, best few first.

    Parameters
    ----------
    x : ndarray, shape (n,)
        In ascending order.
    over : ndarray, shape (lines, n)
        Heights above each line.
    allowed, outer : ndarray, shape (n,)
        What noise may do to one station, and to the worst of all.
    """
    over = over[np.all(over <= outer, axis=1)]
    agree = over >= -allowed
    agree[:, 1:-1] |= agree[:, :-2] & agree[:, 2:] & (over >= -outer)[:, 1:-1]
    covered = np.where(agree[:, 1:] & agree[:, :-1], np.diff(x), 0.0).sum(axis=1)
    count = agree.sum(axis=1)
    scatter = -np.where(agree, over**2, 0.0).sum(axis=1) / np.maximum(count, 1)
    first = np.lexsort((scatter, count, covered))[::-1][:_REFINED]
    return [((covered[i], count[i], scatter[i]), agree[i]) for i in first]

"""Ordering: the unknowns of a long survey in a row along the ways, so that readings tie neighbours.

A level step, a carriage, a cross level tie heights that stand close together. What belongs to a
whole traverse or instrument, a zero, an offset, a scale, is tied to all of them: it stands aside.
"""

import numpy as np
from scipy import sparse


def lay_in_a_row(matrix, along):
    """Split the unknowns into a row along the ways and a border.

    Parameters
    ----------
    matrix : csr_array, shape (m, n)
    along : ndarray, shape (n,)
        Where each unknown stands [mm]; NaN for one that belongs to no place.

    Returns
    -------
    row : ndarray of int
        Unknowns in the order along the ways; one that belongs to no place, but is read over a
        short stretch only, stands in the middle of that.
    border : ndarray of int
        The others.
    reach : int
        How far apart in the row two unknowns of one reading stand at most.
    """
    placed = np.flatnonzero(~np.isnan(along))
    placed = placed[np.argsort(along[placed], kind="stable")]
    others = np.flatnonzero(np.isnan(along))
    low, high = _stretches(matrix, placed)  # of each reading, in places of the row
    first, last = _stretches_of_columns(matrix, others, low, high)
    wide = np.argsort(first - last, kind="stable")  # the widest first
    others, first, last = others[wide], first[wide], last[wide]
    aside = _aside(last - first, int((high - low).max(initial=0)), placed.size)
    border, inside = others[:aside], others[aside:]
    middle = (first[aside:] + last[aside:]) / 2
    order = np.argsort(np.concatenate([np.arange(placed.size), middle]), kind="stable")
    row = np.concatenate([placed, inside])[order]
    low, high = _stretches(matrix, row)
    return row, border, int((high - low).max(initial=0))


def _aside(spans, reach, placed):
    """Return how many unknowns, the widest first, stand aside at the least cost.

    A row of reach b beside a border of p unknowns costs about (b + p)² for each unknown. Taking in
    one that is read over a span of the row makes its reach at least half of that, and all that is
    taken in makes the row longer.
    """
    left, aside = np.append(spans, 0), np.arange(spans.size + 1)
    longer = 1 + (spans.size - aside) / max(placed, 1)
    return int(np.argmin(np.maximum(left / 2, reach) * longer + aside))


def _stretches(matrix, row):
    """Return the first and last place in the row that each reading touches; 0, 0 if none."""
    place = np.full(matrix.shape[1], -1)
    place[row] = np.arange(row.size)
    at, begins = np.append(place[matrix.indices], -1), matrix.indptr[:-1]
    touched = np.diff(matrix.indptr) > 0
    high = np.where(touched, np.maximum.reduceat(at, begins), -1)
    low = np.where(touched, np.minimum.reduceat(np.where(at < 0, row.size, at), begins), row.size)
    return np.where(high < 0, 0, low), np.maximum(high, 0)


def _stretches_of_columns(matrix, columns, low, high):
    """Return the first and last place in the row of the readings that touch each column."""
    turned = sparse.csc_array(matrix)[:, columns]
    column = np.repeat(np.arange(columns.size), np.diff(turned.indptr))
    first, last = np.full(columns.size, np.iinfo(int).max // 4), np.zeros(columns.size, int)
    np.minimum.at(first, column, low[turned.indices])
    np.maximum.at(last, column, high[turned.indices])
    return np.minimum(first, last), last

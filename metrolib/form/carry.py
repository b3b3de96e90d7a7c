"""How far the lines through the unworn parts of several faces carry, and whether they agree."""

import numpy as np

from metrolib.form import wording


def line_rows(found, parts, x, ends):
    """Return what each line's height at both ends, and its slope, depend on.

    Parameters
    ----------
    found : list of Unworn
        For each face.
    parts : list of ndarray of int
        Places of each face's heights among all n.
    x : ndarray, shape (n,)
    ends : (float, float)
        [mm]

    Returns
    -------
    at_ends : ndarray, shape (2 faces, n)
        The heights less those of the common frame: one tilt for all, each face's own height.
    slopes : ndarray, shape (faces, n)
        Slopes [mm/mm].
    """
    frame = np.zeros((x.size, len(parts) + 1))
    frame[:, -1] = x - x.mean()
    for number, part in enumerate(parts):
        frame[part, number] = 1.0
    common = np.linalg.pinv(frame)
    at_ends, slopes = [], np.zeros((len(parts), x.size))
    for number, (one, part) in enumerate(zip(found, parts, strict=True)):
        reference = one.deviations.reference
        mine = part[reference.stations]
        slopes[number, mine] = reference.weights[1]
        for end in ends:
            row = -common[number] - (end - x.mean()) * common[-1]
            row[mine] += reference.weights[0] + (end - one.x[0]) * reference.weights[1]
            at_ends.append(row)
    return np.array(at_ends), slopes


def leverage(one, ends):
    """Return the variance of the line at both ends, for independent stations of variance 1."""
    weights = one.deviations.reference.weights
    rows = weights[0] + (np.asarray(ends) - one.x[0])[:, None] * weights[1]
    return np.sum(rows**2, axis=1)


def directions(heights, slopes, found, form, k, tolerance, length, lift):
    """Compare the directions of all lines.

    Parameters
    ----------
    heights : Measured
        Of all faces.
    slopes : ndarray, shape (faces, n)
        What the slopes depend on, from `line_rows`.
    found : list of Unworn
    form : ndarray, shape (faces,)
        Standard deviation of the form of each face's unworn stations [mm].
    k, tolerance : float
        As in `metrolib.form.datums.rank_datums`.
    length : float
        [mm]
    lift : ndarray, shape (faces,)
        Vertical movement for 1 along the normal of each face; `slopes` and `form` hold it already.

    Returns
    -------
    against : list of dict of int to float or `uncertainties` number
        Slope of each line against each other one [mm/m].
    disagree : ndarray of bool, shape (faces, faces)
    """
    count = len(found)
    values = [one.deviations.coefficients[1] * lift[i] for i, one in enumerate(found)]
    spread = [
        np.sum(one.deviations.reference.weights[1] ** 2) * width**2
        for one, width in zip(found, form, strict=True)
    ]
    pairs = [(i, j) for i in range(count) for j in range(count) if i != j]
    rows = np.array([1000 * (slopes[i] - slopes[j]) for i, j in pairs])
    numbers = (
        heights.several(rows, [1000 * (values[i] - values[j]) for i, j in pairs]) if pairs else []
    )
    against = [{} for _ in found]
    disagree = np.zeros((count, count), dtype=bool)
    for (i, j), number in zip(pairs, numbers, strict=True):
        against[i][j] = number
        u = np.hypot((wording.uncertainty(number) or 0.0) / 1000, np.sqrt(spread[i] + spread[j]))
        off = abs(wording.nominal(number)) / 1000 * length
        disagree[i, j] = off > k * u * length + tolerance
    return against, disagree


def outvoted(disagree, i):
    """Tell whether more faces that agree with each other disagree with face i than agree with it.

    Examples
    --------
    >>> third_is_off = np.array([[False, False, True], [False, False, True], [True, True, False]])
    >>> [outvoted(third_is_off, i) for i in range(3)]
    [False, False, True]
    """
    against = np.flatnonzero(disagree[i])
    camps = [
        np.sum(~disagree[j, against]) for j in against
    ]  # j itself counts: it agrees with itself
    return bool(camps) and int(max(camps)) > int(np.sum(~disagree[i]))

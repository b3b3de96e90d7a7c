"""The frame that heights are seen in: what of them is mere lift, pitch, roll, shift and yaw.

Most surveys do not tie the machine to the horizon, and need not: a removal is decided against the
machine's own datum. So heights are seen less the rigid motion that best fits a datum.
"""

import numpy as np

from metrolib import checks


def rigid_columns(faces, face, x, y):
    """Return how the stations' heights answer to rigid motions of the machine.

    Parameters
    ----------
    faces : dict of str to Face
    face : ndarray of str, shape (n,)
    x, y : ndarray, shape (n,)
        Stations [mm].

    Returns
    -------
    ndarray, shape (n, 5)
        Height per unit of lift [mm], pitch [mm/m, the far end up], roll [mm/m, the +y side up],
        shift towards +y [mm] and yaw [mm/m].
    """
    up = np.array([faces[name].up for name in face])
    across = np.array([faces[name].across for name in face])
    return np.column_stack([up, up * x / 1e3, up * y / 1e3, across, across * x / 1e3])


def fit_motion(columns, first, then=None):
    """Return the linear law that fits motions to heights: to some stations first, then to others.

    Parameters
    ----------
    columns : ndarray, shape (n, p)
        Heights per unit of each motion, as from `rigid_columns`.
    first : ndarray of bool, shape (n,)
        Stations of the datum.
    then : ndarray of bool, shape (n,), optional
        Stations that settle by least squares what the datum leaves open.

    Returns
    -------
    ndarray, shape (p, n)
        F, so that the motions are F z; a motion that no station shows gets zeros. The heights less
        these motions are ``(I - columns @ F) z``.
    """
    scale = np.abs(columns).max(axis=0)
    scaled = columns / np.where(scale > 0, scale, 1.0)
    law = np.zeros(columns.shape[::-1])
    inverse, free = _inverse_and_null(scaled[first])
    law[:, first] = inverse
    if then is not None and free.size:
        rest, _ = _inverse_and_null(scaled[then] @ free)
        law[:, then] += free @ rest
        law[:, first] -= free @ rest @ scaled[then] @ inverse
    return law / np.where(scale > 0, scale, 1.0)[:, None]


def relative_to(heights, datum, then=()):
    """Return heights and covariance less the rigid motion that best fits the datum.

    Parameters
    ----------
    heights : Heights
    datum : sequence of str
        Faces that set the frame.
    then : sequence of str
        Faces that settle what the datum leaves open (a single flat leaves the roll open).

    Returns
    -------
    values : ndarray, shape (n,)
        Heights above the datum's frame, nominal height taken off [mm].
    cov : ndarray, shape (n, n)
        [mm²]

    Raises
    ------
    InputError
        If a face is unknown.
    """
    for name in (*datum, *then):
        checks.choice("datum", name, heights.faces)
    columns = rigid_columns(heights.faces, heights.face, heights.x, heights.y)
    law = fit_motion(columns, np.isin(heights.face, datum), np.isin(heights.face, then))
    project = np.eye(len(heights.face)) - columns @ law
    nominal = np.array([heights.faces[name].nominal_height for name in heights.face])
    return project @ (heights.values - nominal), project @ heights.cov @ project.T


def _inverse_and_null(matrix):
    """Return the pseudo-inverse and an orthonormal basis of the null space of a small matrix."""
    count = matrix.shape[1]
    padded = np.vstack([matrix, np.zeros((max(count - len(matrix), 0), count))])
    left, size, right = np.linalg.svd(padded, full_matrices=False)
    rank = int((size > 1e-9 * max(size.max(initial=0.0), 1e-300)).sum())
    inverse = right[:rank].T @ (left[: len(matrix), :rank].T / size[:rank, None])
    return inverse, right[rank:].T

"""How much of a face each station stands for."""

import numpy as np


def station_areas(face, x, y):
    """Return the area of the face that is nearer to each station than to any other.

    Parameters
    ----------
    face : Face
    x, y : ndarray, shape (n,)
        Stations that count, in any order [mm].

    Returns
    -------
    ndarray, shape (n,)
        Areas within the ends and the edges of the face, stretches that are left out taken off
        [mm²]; stations at one and the same place share theirs.

    Examples
    --------
    >>> import numpy as np
    >>> from metrolib.survey.machine import Face, LeftOut
    >>> hole = LeftOut(10, 30, "oil hole")
    >>> face = Face("flat", y=0, width=20, x_from=0, x_to=300, left_out=(hole,))
    >>> station_areas(face, np.array([50.0, 150.0, 250.0]), np.zeros(3)).tolist()
    [1600.0, 2000.0, 2000.0]
    """
    # The surface is measured along its slope: a flank's y shows it foreshortened, a side face's
    # y shows nothing of it.
    along = (y - face.y) / abs(face.up) if face.up else np.zeros_like(y)
    places, which, count = np.unique(
        np.column_stack([x, along]), axis=0, return_inverse=True, return_counts=True
    )
    line = np.ptp(places[:, 1]) == 0
    area = _strips(face, places[:, 0]) if line else _cells(face, places)
    return (area / count)[which.ravel()]


def _kept(face):
    """Return the stretches of the face that are not left out, as (from, to)."""
    kept, start = [], face.x_from
    for stretch in sorted(face.left_out, key=lambda stretch: stretch.x_from):
        if stretch.x_from > start:
            kept.append((start, min(stretch.x_from, face.x_to)))
        start = max(start, stretch.x_to)
    if start < face.x_to:
        kept.append((start, face.x_to))
    return kept


def _strips(face, x):
    """Return the areas of ascending stations along one line."""
    middle = (x[1:] + x[:-1]) / 2
    start, end = np.append(-np.inf, middle), np.append(middle, np.inf)
    length = np.zeros(len(x))
    for left, right in _kept(face):
        length += np.clip(np.minimum(end, right) - np.maximum(start, left), 0.0, None)
    return length * face.width


def _cells(face, places):
    """Return the areas of stations spread over a wide face: its rectangle cut by bisectors."""
    half = face.width / 2
    corners = [(face.x_from, -half), (face.x_to, -half), (face.x_to, half), (face.x_from, half)]
    kept, area = _kept(face), np.zeros(len(places))
    for i, place in enumerate(places):
        cell = _cell(np.array(corners, dtype=float), place, places)
        for left, right in kept:
            part = _clip(cell, np.array([-1.0, 0.0]), -left)
            area[i] += _polygon_area(_clip(part, np.array([1.0, 0.0]), right))
    return area


def _cell(cell, place, places):
    """Return what of the polygon `cell` is nearest to `place`."""
    distance = np.hypot(*(places - place).T)
    for j in np.argsort(distance, kind="stable")[1:]:
        # A neighbour further off than twice the farthest corner cuts nothing away any more.
        if not len(cell) or distance[j] / 2 > np.hypot(*(cell - place).T).max():
            break
        towards = places[j] - place
        cell = _clip(cell, towards, towards @ (places[j] + place) / 2)
    return cell


def _clip(polygon, direction, limit):
    """Return the part of a convex polygon where direction . p <= limit."""
    if not len(polygon):
        return polygon
    over = polygon @ direction - limit
    corners = []
    for i in range(len(polygon)):
        j = (i + 1) % len(polygon)
        if over[i] <= 0:
            corners.append(polygon[i])
        if (over[i] < 0 < over[j]) or (over[j] < 0 < over[i]):
            share = over[i] / (over[i] - over[j])
            corners.append(polygon[i] + share * (polygon[j] - polygon[i]))
    return np.array(corners).reshape(-1, 2)


def _polygon_area(polygon):
    """Return the area of a polygon."""
    if len(polygon) < 3:
        return 0.0
    x, y = (polygon - polygon[0]).T
    return abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2

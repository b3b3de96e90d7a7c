"""Where in a photograph the squares lie: the outline of the face, and the squares inside it."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks

#: How far a corner of a square may stick out of the outline [pixels]: clicking is no better.
_SLACK = 1.0


@dataclass(frozen=True, eq=False)
class Squares:
    """The whole squares that an outline has room for.

    Attributes
    ----------
    corner : ndarray, shape (2,)
        Of the first square: across and down [pixels].
    axes : ndarray, shape (2, 2)
        Unit vectors along the first side of the outline, and into it.
    side : float
        [pixels]
    index : ndarray of int, shape (n, 2)
        Place of each square, counted along the two axes.
    outline : ndarray, shape (m, 2)
        Corners of the outline [pixels].
    """

    corner: np.ndarray
    axes: np.ndarray
    side: float
    index: np.ndarray
    outline: np.ndarray

    def corners(self):
        """Return the four corners of each square, in turn, shape (n, 4, 2) [pixels]."""
        turn = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
        return self.corner + (self.index[:, None, :] + turn) * self.side @ self.axes

    def holding(self, points):
        """Return the number of the square that holds each point, or -1; shape (k,)."""
        place = np.floor((points - self.corner) @ self.axes.T / self.side).astype(int)
        span = self.index.max(axis=0) + 1
        numbers = np.full(span + 2, -1)  # a rim of nothing around the squares
        numbers[tuple(self.index.T + 1)] = np.arange(len(self.index))
        return numbers[tuple(np.clip(place + 1, 0, span + 1).T)]


def outline_of(area, shape):
    """Return the corners of the part of a photograph that is looked at, shape (m, 2) [pixels].

    Parameters
    ----------
    area : array_like, shape (m, 2), or None
        Corners in turn, each across and down from the upper left; None for the whole picture.
    shape : (int, int)
        Rows and columns of the picture.

    Raises
    ------
    InputError
        If there are fewer than three corners, one lies outside the picture, or the sides cross or
        turn inward.
    """
    rows, columns = shape
    if area is None:
        return np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], dtype=float)
    corners = checks.table("area", area, 2)
    if len(corners) < 3:
        raise checks.wrong("area", "three corners or more are needed", len(corners), "add corners")
    outside = ((corners < 0) | (corners > [columns, rows])).any(axis=1)
    if outside.any():
        raise checks.wrong(
            "area",
            f"a corner lies outside the picture of {columns} by {rows} pixels",
            tuple(corners[outside][0].tolist()),
            "give across and down from the upper left corner",
        )
    sides = np.roll(corners, -1, axis=0) - corners
    turns = _cross(sides, np.roll(sides, -1, axis=0))
    if not ((turns > 0).all() or (turns < 0).all()) or not np.isclose(
        np.abs(_turned(sides).sum()), 2 * np.pi
    ):
        raise checks.wrong(
            "area",
            "its sides cross or turn inward",
            corners.tolist(),
            "give the corners one after the other around the face",
        )
    return corners


def lay_squares(outline, side):
    """Return the most whole squares in rows and columns, centred in the outline; none may do.

    Parameters
    ----------
    outline : ndarray, shape (m, 2)
        Corners [pixels]; the rows run along its first side.
    side : float
        [pixels]
    """
    along = (outline[1] - outline[0]) / np.linalg.norm(outline[1] - outline[0])
    inward = np.array([-along[1], along[0]])
    if ((outline - outline[0]) @ inward).sum() < 0:
        inward = -inward
    axes = np.array([along, inward])
    placed = outline @ axes.T
    low, span = placed.min(axis=0), np.ptp(placed, axis=0)
    count = np.floor((span + _SLACK) / side).astype(int)
    corner = (low + (span - count * side) / 2) @ axes
    index = np.array([(i, j) for j in range(count[1]) for i in range(count[0])], dtype=int)
    squares = Squares(corner, axes, side, index.reshape(-1, 2), outline)
    if not len(index):
        return squares
    whole = inside(outline, squares.corners(), _SLACK).all(axis=1)
    return Squares(corner, axes, side, squares.index[whole], outline)


def inside(outline, points, slack=0.0):
    """Tell whether points, shape (..., 2), lie in a convex outline, or no further out than slack.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]])
    >>> inside(square, np.array([[1.0, 8.0], [1.0, 9.5]])).tolist()
    [True, False]
    """
    sides = np.roll(outline, -1, axis=0) - outline
    way = np.sign(_cross(sides[0], sides[1]))
    held = np.ones(points.shape[:-1], dtype=bool)
    for corner, side in zip(outline, sides, strict=True):
        held &= way * _cross(side, points - corner) >= -slack * np.linalg.norm(side)
    return held


def _cross(a, b):
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _turned(sides):
    """Return by how much each corner turns [rad]; once around a plain outline makes 2 pi."""
    after = np.roll(sides, -1, axis=0)
    return np.arctan2(_cross(sides, after), (sides * after).sum(axis=1))

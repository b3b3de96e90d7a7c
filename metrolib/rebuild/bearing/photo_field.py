"""The pixels of a photograph that are looked at: which lie in which square, which under glare."""

from dataclasses import dataclass

import numpy as np

from metrolib.rebuild.bearing.photo_outline import inside

#: Brightness from which a pixel is glare, not metal, of full white.
_GLARE = 0.98

#: A square with more glare than this is left out [share of its area].
_MOST_GLARE = 0.1

#: Pixels at the very edge of the outline hold something of what lies beyond; clicks err too.
_EDGE = 1.5


@dataclass(frozen=True, eq=False)
class Field:
    """The pixels that are looked at, and what belongs to each.

    Attributes
    ----------
    places : ndarray, shape (rows, columns, 2)
        Middle of each pixel: across and down in the picture.
    glare : ndarray of bool, shape (rows, columns)
    usable : ndarray of bool, same shape
        Inside the outline, and not under glare.
    ends : ndarray of bool, same shape
        Where the part ends though the picture goes on.
    cut : ndarray of bool, same shape
        Along the right and the lower end of the picture.
    square_of : ndarray of int, same shape
        Number of the square, -1 for none.
    counted : ndarray of bool, shape (m,)
        Squares that count.
    smallest : float
        Smallest spot [pixels].
    """

    places: np.ndarray
    glare: np.ndarray
    usable: np.ndarray
    ends: np.ndarray
    cut: np.ndarray
    square_of: np.ndarray
    counted: np.ndarray
    smallest: float


def lay_field(grey, squares, origin, step, smallest, *, dark, picture_ends):
    """Return the `Field` of a part of a photograph.

    Parameters
    ----------
    grey : ndarray, shape (rows, columns)
    squares : Squares
    origin : (float, float)
        Where the part begins in the picture [its pixels].
    step : int
        Size of a pixel of `grey` [pixels of the picture].
    smallest : float
        Smallest spot [pixels of `grey`].
    dark : bool
        Whether the spots are darker than the ground: only then can glare be told from them.
    picture_ends : (bool, bool, bool, bool)
        Whether the picture ends where the part does: at the left, top, right, bottom.
    """
    from scipy import ndimage

    rows, columns = grey.shape
    down, across = np.meshgrid(np.arange(rows) + 0.5, np.arange(columns) + 0.5, indexing="ij")
    places = np.stack([across, down], axis=-1) * step + np.array(origin)
    within = inside(squares.outline, places, -_EDGE * step)
    glare = np.zeros(grey.shape, dtype=bool)
    if dark:
        reach = max(int(np.sqrt(smallest)), 1)  # beside full white the picture is washed out too
        glare = ndimage.binary_dilation(
            ndimage.gaussian_filter(grey, reach / 4) >= _GLARE, iterations=reach
        )
    square_of = squares.holding(places.reshape(-1, 2)).reshape(grey.shape)
    square_of[~within] = -1
    usable = within & ~glare
    size = len(squares.index)
    whole, clear = (pixels_in(square_of, mask, size) for mask in (within, usable))
    counted = clear >= (1 - _MOST_GLARE) * np.maximum(whole, 1)
    rims = np.zeros((4, *grey.shape), dtype=bool)
    rims[0, :, 0] = rims[1, 0, :] = rims[2, :, -1] = rims[3, -1, :] = True
    ended = np.array(picture_ends)
    ends, cut = rims[~ended].any(axis=0), rims[2:][ended[2:]].any(axis=0)
    return Field(places, glare, usable, ends, cut, square_of, counted, smallest)


def pixels_in(square_of, mask, squares):
    """Return how many pixels of a mask lie in each square."""
    return np.bincount(square_of[mask & (square_of >= 0)], minlength=squares)

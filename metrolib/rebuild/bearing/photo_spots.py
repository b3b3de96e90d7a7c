"""Spots on an evened photograph: told apart, counted in their squares, and counted otherwise."""

from dataclasses import dataclass, field

import numpy as np

from metrolib.rebuild.bearing.photo_field import pixels_in
from metrolib.rebuild.bearing.photo_light import smoothed
from metrolib.rebuild.bearing.photo_outline import Squares

#: A waist narrower than this share of a spot's width may be where two spots meet.
_WAIST = 0.6

#: What is larger than so many usual spots lies around the face, and is none of its spots.
_MUCH = 10.0

#: How far the threshold may reasonably lie elsewhere [share of the contrast].
_SHIFT = 0.1


@dataclass(frozen=True, eq=False)
class BluedPhoto:
    """What was seen on a photograph, on pixels `step` times as large as the picture's own.

    Attributes
    ----------
    grey : ndarray, shape (rows, columns)
        The part looked at, as brightness.
    labels : ndarray of int, same shape
        Number of the spot that a pixel belongs to, from 1; 0 on the ground.
    centres : ndarray, shape (k, 2)
        Middle of each spot: across and down in the picture [its pixels].
    square_of : ndarray of int, shape (k,)
        Number of the square that counts each spot, -1 for none.
    squares : Squares
    counted : ndarray of bool, shape (m,)
        Squares that count; the others lie under glare.
    usable : ndarray of bool, shape (rows, columns)
        Pixels inside the outline that no glare covers.
    origin : (float, float)
        Where the part begins: across and down in the picture [its pixels].
    step : int
    mm_per_pixel : float
        Of the picture's own pixels [mm].
    smallest : float
        Smallest spot that counts [mm²].
    otherwise : dict of str to (float, float)
        Mean count and share as read, and by other choices that are as good.
    """

    grey: np.ndarray
    labels: np.ndarray
    centres: np.ndarray
    square_of: np.ndarray
    squares: Squares
    counted: np.ndarray
    usable: np.ndarray
    origin: tuple[float, float]
    step: int
    mm_per_pixel: float
    smallest: float
    otherwise: dict = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Spots:
    """Spots as one choice of threshold and smoothing shows them; see `BluedPhoto`."""

    labels: np.ndarray
    centres: np.ndarray
    square_of: np.ndarray
    counts: np.ndarray
    shares: np.ndarray


def count_spots(mask, field):
    """Count the spots of a mask.

    A spot counts in the square that holds its middle.

    Parameters
    ----------
    mask : ndarray of bool, shape (rows, columns)
    field : Field

    Returns
    -------
    Spots
        Counts and shares of the squares that count.
    """
    from scipy import ndimage

    labels, number = ndimage.label(mask & field.usable)
    size = np.bincount(labels.ravel(), minlength=number + 1)
    large = size >= field.smallest
    large[0] = False
    labels = np.where(large, np.cumsum(large), 0)[labels]
    size = size[large]
    squares = len(field.counted)
    centres = _middles(labels, size, field.places)
    at = _square_at(_true_middles(mask, labels, size, centres, field), field)
    counts = np.bincount(at[at >= 0], minlength=squares).astype(float)
    bears = pixels_in(field.square_of, labels > 0, squares)
    clear = pixels_in(field.square_of, field.usable, squares)
    shares = bears / np.maximum(clear, 1)
    return Spots(labels, centres, at, counts[field.counted], shares[field.counted])


def _middles(labels, size, places):
    """Return the middle of each of the labels from 1 on, shape (k, 2)."""
    flat = labels.ravel()
    return np.stack(
        [
            np.bincount(flat, places[..., axis].ravel(), size.size + 1)[1:] / np.maximum(size, 1)
            for axis in (0, 1)
        ],
        axis=1,
    )


def _true_middles(mask, labels, size, centres, field):
    """Return the middles of the spots, also of those that go on beyond the outline.

    What goes on and on there is no spot but what lies around the face: the spot ends at the face's
    edge. A spot that the picture itself cuts is counted at its left and upper end and not at its
    right and lower one, so that what is gained at the one is lost at the other (the unbiased frame
    of H. J. G. Gundersen, J. Microsc. 111, 219, 1977; from memory): NaN stands for it.
    """
    from scipy import ndimage

    if not size.size:
        return centres
    wholes, number = ndimage.label(mask & ~field.glare)
    whole_size = np.bincount(wholes.ravel(), minlength=number + 1)
    first = np.unique(labels, return_index=True)[1][-size.size :]
    of = wholes.ravel()[first]
    around = np.zeros(number + 1, dtype=bool)
    around[wholes[field.ends]] = True
    around |= whole_size > _MUCH * np.median(size)
    goes_on = (whole_size[of] > size) & ~around[of]
    middles = np.where(
        goes_on[:, None], _middles(wholes, whole_size[1:], field.places)[of - 1], centres
    )
    is_cut = np.zeros(number + 1, dtype=bool)
    is_cut[wholes[field.cut]] = True
    middles[is_cut[of] & ~around[of]] = np.nan
    return middles


def _square_at(middles, field):
    """Return the number of the square that counts each spot, or -1."""
    start = field.places[0, 0]
    step = field.places[0, 1, 0] - start[0]
    rows, columns = field.square_of.shape
    place = np.floor((middles - start) / step + 0.5)
    held = (place >= 0).all(axis=1) & (place < [columns, rows]).all(axis=1)  # NaN is not
    at = np.full(len(middles), -1)
    column, row = place[held].astype(int).T
    at[held] = field.square_of[row, column]
    at[~np.append(field.counted, False)[at]] = -1
    return at


def count_otherwise(evened, field, blur):
    """Return the spots as read, and the means that other choices would have given.

    Parameters
    ----------
    evened : Evened
    field : Field
    blur : float
        Standard deviation of the smoothing [pixels].

    Returns
    -------
    Spots
    dict of str to (float, float)
        Mean count and mean share of the squares, by choice.
    """
    from scipy import ndimage

    smooth = {by: smoothed(evened.ratio, field.usable, by * blur) for by in (0.5, 1.0, 2.0)}
    mask = evened.marked(smooth[1.0])
    disc = _disc(np.sqrt(field.smallest / np.pi))  # as wide as the smallest spot
    choices = {
        "as read": mask,
        "threshold nearer the spots": evened.marked(smooth[1.0], _SHIFT),
        "threshold nearer the ground": evened.marked(smooth[1.0], -_SHIFT),
        "smoothed half as much": evened.marked(smooth[0.5]),
        "smoothed twice as much": evened.marked(smooth[2.0]),
        "cut at their waists": _cut_at_waists(mask),
        "narrow gaps closed": ndimage.binary_closing(mask, disc),
    }
    seen = {name: count_spots(choice, field) for name, choice in choices.items()}
    means = {
        name: (float(spots.counts.mean()), float(spots.shares.mean()))
        for name, spots in seen.items()
    }
    return seen["as read"], means


def _cut_at_waists(mask):
    """Return a mask whose spots are cut where a waist is narrow against their own width.

    Where two meet that were grown back from what lies deep inside, there is a cut.
    """
    from scipy import ndimage

    labels, number = ndimage.label(mask)
    if number == 0:
        return mask
    depth = ndimage.distance_transform_edt(mask)
    deepest = np.append(0.0, ndimage.maximum(depth, labels, np.arange(1, number + 1)))
    core = mask & (depth > _WAIST * deepest[labels])
    nearest = tuple(
        ndimage.distance_transform_edt(~core, return_distances=False, return_indices=True)
    )
    piece = np.where(labels[nearest] == labels, ndimage.label(core)[0][nearest], 0)
    cut = mask.copy()
    for here, beyond in (
        ((slice(None), slice(1, None)), (slice(None), slice(-1))),
        ((slice(1, None), slice(None)), (slice(-1), slice(None))),
    ):
        meet = (piece[here] != piece[beyond]) & (piece[here] > 0) & (piece[beyond] > 0)
        cut[here] &= ~(meet & (labels[here] == labels[beyond]))
    return cut


def _disc(radius):
    reach = max(int(np.ceil(radius)), 1)
    span = np.arange(-reach, reach + 1)
    return np.hypot(*np.meshgrid(span, span)) <= max(radius, 1.0)

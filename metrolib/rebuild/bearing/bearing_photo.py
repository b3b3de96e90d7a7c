"""Bearing from a photograph of the blued face."""

import numpy as np

from metrolib import checks
from metrolib.rebuild.bearing.bearing import make_bearing
from metrolib.rebuild.bearing.photo_field import lay_field
from metrolib.rebuild.bearing.photo_file import brightness, made_coarser
from metrolib.rebuild.bearing.photo_light import even_light
from metrolib.rebuild.bearing.photo_outline import lay_squares, outline_of
from metrolib.rebuild.bearing.photo_spots import BluedPhoto, count_otherwise
from metrolib.rebuild.bearing.squares import USUAL

#: The smallest spot's diameter must be so many pixels; more than the second are not needed.
_LEAST_PIXELS, _ENOUGH_PIXELS = 3.0, 8.0

#: So much around the area is looked at, to see where spots end that cross its sides [mm].
_AROUND = 6.0

#: The smoothing, as a share of the smallest spot's diameter.
_BLUR = 0.25


def bearing_from_photo(
    photo,
    scale,
    area=None,
    *,
    square=USUAL,
    smallest=0.5,
    spots="dark",
    ink="blue",
    window=USUAL,
    u_click=2.0,
):
    """Find the bearing from a photograph of the blued face.

    Parameters
    ----------
    photo : str, Path or ndarray
        A picture file, or an array of shape (rows, columns) or (rows, columns, 3 or 4), whole
        numbers 0 to 255 or floats 0 to 1. Taken square to the face, from as far as the lens allows:
        a slanting view is not put right.
    scale : (point, point, float)
        Two points of the picture, each across and down from the upper left corner [pixels], such
        as two marks of a rule that lies on the face, and how far apart they are [mm].
    area : array_like, shape (m, 2), optional
        Corners of the face in turn [pixels]; the whole picture when not given. The squares run
        along its first side.
    square : float
        Side of the squares [mm]; less on a narrow face. The result is told for 25 mm.
    smallest : float
        Smallest spot that counts [mm²].
    spots : {"dark", "bright"}
        ``"dark"``: ink on bare metal; ``"bright"``: rubbed bright on a dull ground.
    ink : {"blue", "red", "black"}
        Its colour; it says which light shows it best. A grey picture is taken as it is.
    window : float
        Size of the pieces within which the light counts as nearly even and bare ground is looked
        for [mm]; larger than several spots.
    u_click : float
        Standard uncertainty of each point of `scale`, along the line between them [pixels].

    Returns
    -------
    Bearing
        With `photo`, so that `plot` draws the spots back on the picture.

    Raises
    ------
    InputError
        If the picture cannot be read or shows no contrast, the points of the scale coincide, the
        area lies outside the picture or has no room for a square, the picture is too coarse for the
        smallest spot, or glare covers too much.

    Notes
    -----
    The uncertainty holds the scatter between the squares, what other choices of threshold and
    smoothing, of cutting spots at their waists or closing gaps between them would have counted (as
    if any figure in their range were as likely), and the scale. It leaves out what the camera
    does to the picture, a slanting view, ink that is no contact, and whether the squares are
    typical of the face.

    Examples
    --------
    Discs of 4 mm each 8 mm, ten pixels to a millimetre:

    >>> import numpy as np
    >>> from metrolib.rebuild.bearing.bearing_photo import bearing_from_photo
    >>> down, across = np.mgrid[0:480, 0:960]
    >>> discs = np.hypot(down % 80 - 40, across % 80 - 40) < 20
    >>> bearing = bearing_from_photo(np.where(discs, 0.3, 0.7), [(0, 0), (960, 0), 96], square=24)
    >>> bearing.counts.tolist()
    [9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0, 9.0]
    """
    checks.choice("spots", spots, ("dark", "bright"))
    square = checks.number("square", square, above=0)
    smallest = checks.number("smallest", smallest, above=0)
    u_click = checks.number("u_click", u_click, at_least=0)
    window = checks.number("window", window, above=0)
    grey = brightness(photo, ink)
    per_mm, clicked = _scale(scale, grey.shape)
    outline = outline_of(area, grey.shape)
    squares = lay_squares(outline, square * per_mm)
    if not len(squares.index):
        raise _no_room(outline, square, per_mm)
    step = _step(2 * np.sqrt(smallest / np.pi) * per_mm, smallest)

    part, origin, ends = _cut_out(grey, outline, _AROUND * per_mm)
    part = made_coarser(part, step)
    per_mm_here, dark = per_mm / step, spots == "dark"
    field = lay_field(
        part,
        squares,
        origin,
        step,
        smallest * per_mm_here**2,
        dark=dark,
        picture_ends=ends,
    )
    _check_glare(field)
    blur = _BLUR * 2 * np.sqrt(field.smallest / np.pi)
    evened = even_light(part, field.usable, window * per_mm_here, dark=dark, blur=blur)
    seen, means = count_otherwise(evened, field, blur)

    told = [_spread(list(column)) for column in zip(*means.values(), strict=True)]
    to_usual = (USUAL / square) ** 2
    parts = {
        "what counts as a spot": told[0] * to_usual,
        # spots on a square go with the square of the scale; both ends are clicked
        "scale": float(seen.counts.mean() * to_usual * 2 * np.sqrt(2) * u_click / clicked),
    }
    drawn = BluedPhoto(
        grey=part,
        labels=seen.labels,
        centres=seen.centres,
        square_of=seen.square_of,
        squares=squares,
        counted=field.counted,
        usable=field.usable,
        origin=origin,
        step=step,
        mm_per_pixel=1 / per_mm,
        smallest=smallest,
        otherwise=means,
    )
    return make_bearing(seen.counts, seen.shares, square, parts, u_share=told[1], photo=drawn)


def _spread(means):
    """Return the standard uncertainty of the first of some means that are as good as each other.

    An even spread from the least to the most of them, its second moment about the first (JCGM
    100:2008, 4.3.7; in the middle of the range this is the range over sqrt(12)).
    """
    low, high = min(means), max(means)
    if high == low:
        return 0.0
    return float(np.sqrt(((high - means[0]) ** 3 + (means[0] - low) ** 3) / (3 * (high - low))))


def _scale(scale, shape):
    """Return pixels per mm, and how many pixels the two points lie apart."""
    try:
        first, second, apart = scale
    except (TypeError, ValueError):
        raise checks.wrong(
            "scale",
            "two points and their distance are needed",
            repr(scale)[:60],
            "give ((across, down), (across, down), mm)",
        ) from None
    points = checks.table("scale", [first, second], 2)
    apart = checks.number("scale", apart, above=0)
    if ((points < 0) | (points > [shape[1], shape[0]])).any():
        raise checks.wrong(
            "scale",
            f"a point lies outside the picture of {shape[1]} by {shape[0]} pixels",
            points.tolist(),
            "give across and down from the upper left corner",
        )
    clicked = float(np.hypot(*(points[1] - points[0])))
    if clicked == 0:
        raise checks.wrong(
            "scale", "both points are the same", points[0].tolist(), "click two marks far apart"
        )
    return clicked / apart, clicked


def _step(diameter, smallest):
    """Return how many pixels are taken together; `diameter` is the smallest spot's [pixels]."""
    if diameter < _LEAST_PIXELS:
        raise checks.wrong(
            "smallest",
            f"a spot must be {_LEAST_PIXELS:g} pixels across to be seen",
            f"{diameter:.1f} pixels for {smallest:g} mm²",
            "take the picture from nearer, or count larger spots only",
        )
    return max(int(diameter // _ENOUGH_PIXELS), 1)


def _cut_out(grey, outline, rim):
    """Return the part of a picture that holds an outline and a rim, and where it begins [pixels].

    Third, whether the picture ends where the part does: at the left, top, right, bottom.
    """
    whole = np.array(grey.shape[::-1])
    low = np.maximum(np.floor(outline.min(axis=0) - rim).astype(int), 0)
    high = np.minimum(np.ceil(outline.max(axis=0) + rim).astype(int), whole)
    part = grey[low[1] : high[1], low[0] : high[0]]
    return part, (float(low[0]), float(low[1])), (*(low == 0), *(high == whole))


def _check_glare(field):
    if not field.counted.any():
        raise checks.wrong(
            "photo",
            "full white covers too much of every square",
            f"{np.count_nonzero(field.glare & (field.square_of >= 0))} pixels of it",
            "move the lamp or shield it with tracing paper, and expose the picture less",
        )


def _no_room(outline, square, per_mm):
    sides = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1) / per_mm
    return checks.wrong(
        "area",
        f"no whole square of {square:g} mm fits in it",
        f"sides of {', '.join(f'{side:.0f}' for side in sides)} mm",
        "mark a larger area, or give a smaller square",
    )

"""Photographs as plain brightness: from a file or an array, in the light that shows the ink."""

import numpy as np

from metrolib import checks
from metrolib.errors import InputError

#: Which parts of red, green and blue light show an ink darkest against grey iron.
INKS = {"blue": (1.0, 0.0, 0.0), "red": (0.0, 0.5, 0.5), "black": (1 / 3, 1 / 3, 1 / 3)}


def brightness(photo, ink):
    """Return a photograph as brightness from 0 to 1, shape (rows, columns).

    Parameters
    ----------
    photo : str, Path or ndarray
        A picture file, turned the way the camera says; or an array of shape (rows, columns) or
        (rows, columns, 3 or 4), whole numbers 0 to 255 or floats 0 to 1.
    ink : str
        One of `INKS`.

    Raises
    ------
    InputError
        If the file cannot be read, or the array is no picture.
    """
    checks.choice("ink", ink, INKS)
    array = np.asarray(photo) if isinstance(photo, np.ndarray) else _read(photo)
    if array.ndim not in (2, 3) or array.ndim == 3 and array.shape[2] not in (3, 4):
        raise checks.wrong(
            "photo",
            "rows and columns of grey or colour are needed",
            f"shape {array.shape}",
            "give a picture file",
        )
    whole = np.issubdtype(array.dtype, np.integer)
    if not whole and not np.issubdtype(array.dtype, np.floating):
        raise checks.wrong("photo", "numbers are needed", array.dtype, "give a picture file")
    if array.size == 0:
        raise checks.wrong("photo", "the picture is empty", f"shape {array.shape}", "give another")
    if array.ndim == 3:
        array = array[:, :, :3] @ np.array(INKS[ink])
    grey = np.asarray(array, dtype=float) / (255.0 if whole else 1.0)
    if not (np.isfinite(grey).all() and grey.min() >= 0 and grey.max() <= 1):
        raise checks.wrong(
            "photo",
            "brightness lies outside its range",
            f"{np.min(grey):.3g} to {np.max(grey):.3g} of full white",
            "give whole numbers 0 to 255, or floats 0 to 1",
        )
    return grey


def _read(path):
    from PIL import Image, ImageOps

    try:
        with Image.open(path) as picture:
            return np.asarray(ImageOps.exif_transpose(picture).convert("RGB"))
    except (OSError, TypeError, ValueError, AttributeError) as error:
        raise InputError(
            f"photo: {str(path)[:60]!r} cannot be read as a picture ({error}); give a picture "
            "file such as a .jpg or .png, or an array"
        ) from None


def made_coarser(grey, step):
    """Return the means over blocks of `step` by `step` pixels; an incomplete rim is cut off."""
    rows, columns = (length // step * step for length in grey.shape)
    return grey[:rows, :columns].reshape(rows // step, step, columns // step, step).mean((1, 3))

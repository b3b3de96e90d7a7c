"""The frame of the growing picture: what stands still while readings come, limits above all."""

import math
from dataclasses import dataclass

import numpy as np

from metrolib.show.profiles import K
from metrolib.show.style import LEAST_SPAN, shown

#: Span of readings that is drawn at least, by their unit; 2 of any other, for a few hardly differ.
_LEAST_READINGS = {"mm": 0.02, "in": 0.001, "mm/m": 0.02, "in/ft": 0.0005}


@dataclass(frozen=True)
class Frame:
    """All that is drawn anew only where it changes.

    Attributes
    ----------
    title : str
    faces : tuple of str
        Whose profiles are drawn.
    unit : str
        Display unit of the heights.
    reading_sign : str
        Unit of the readings, as it is written.
    places : (float, float)
        Limits along the ways [mm].
    heights : (float, float) or None
        Limits of the heights [display unit]; None where none is known.
    readings : (float, float)
        Limits of the readings [unit of the instrument].
    """

    title: str
    faces: tuple[str, ...]
    unit: str
    reading_sign: str
    places: tuple[float, float]
    heights: tuple[float, float] | None
    readings: tuple[float, float]


def frame_of(view):
    """Return the frame of a view.

    Parameters
    ----------
    view : PictureView
    """
    heights = None
    if view.lines:
        low = float(min((one.z - K * one.u).min() for one in view.lines))
        high = float(max((one.z + K * one.u).max() for one in view.lines))
        heights = _steady(*_with_margin(low, high, float(shown(LEAST_SPAN, view.unit)), 0.08))
    readings = -0.5, 0.5
    if view.x.size:
        low, high = float(view.value.min()), float(view.value.max())
        least = _LEAST_READINGS.get(view.reading_sign, 2.0)
        readings = _steady(*_with_margin(low, high, least, 0.08))
    places = np.concatenate([view.x, view.planned, *(line.x for line in view.lines)])
    low, high = (places.min(), places.max()) if places.size else (0.0, 0.0)
    return Frame(
        view.title,
        tuple(line.face for line in view.lines),
        view.unit,
        view.reading_sign,
        _with_margin(float(low), float(high), 1.0, 0.03),
        heights,
        readings,
    )


def _with_margin(low, high, least, margin):
    """Return limits with some room around, and at least a span apart."""
    span = max(high - low, least)
    middle = (low + high) / 2
    return middle - span * (0.5 + margin), middle + span * (0.5 + margin)


def _steady(low, high):
    """Return limits that lie a little further out, so that one reading more seldom moves them."""
    part = (high - low) / 4
    power = 10.0 ** math.floor(math.log10(part))
    step = max(size * power for size in (1, 2, 5) if size * power <= part)
    return step * math.floor(low / step), step * math.ceil(high / step)

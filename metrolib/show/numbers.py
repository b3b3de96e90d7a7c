"""Numbers in a drawing: turned where it is narrow, left out where two would overlap."""

from dataclasses import dataclass

import numpy as np

from metrolib.show.style import INK, inches, plain, text_width

_SIZE = 7  # points
_MARGIN = 3  # points around a number, its white ground included


@dataclass(frozen=True)
class Number:
    """A number that is to be written.

    Attributes
    ----------
    text : str
    x, y : float
        Its middle, in data units.
    width, height : float
        Room of its cell, in data units; infinite where there is no cell.
    """

    text: str
    x: float
    y: float
    width: float = np.inf
    height: float = np.inf


def write_numbers(ax, numbers):
    """Write numbers, and leave out those that would overlap one before them.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        Its limits and its place in the figure must be final.
    numbers : sequence of Number
        Those that matter most first.

    Returns
    -------
    int
        How many had no room.
    """
    width, height = (
        72 * size / abs(np.diff(limits)[0])
        for size, limits in zip(inches(ax), (ax.get_xlim(), ax.get_ylim()), strict=True)
    )
    ends = np.sort(ax.get_xlim()) * width
    taken = np.zeros((0, 4))
    for number in numbers:
        long, tall = text_width(number.text, _SIZE) + _MARGIN, _SIZE + _MARGIN
        # turned in a narrow cell, if the cell is high enough for that
        upright = long <= number.width * width or long > number.height * height
        half = np.array([long, tall] if upright else [tall, long]) / 2
        middle = np.array([number.x * width, number.y * height])
        middle[0] = np.clip(middle[0], ends[0] + half[0], max(ends[1] - half[0], ends[0] + half[0]))
        box = np.concatenate([middle - half, middle + half])
        apart = (taken[:, :2] >= box[2:]) | (taken[:, 2:] <= box[:2])
        if not apart.any(axis=1).all():
            continue
        taken = np.vstack([taken, box])
        ax.text(
            middle[0] / width,
            number.y,
            plain(number.text),
            ha="center",
            va="center",
            fontsize=_SIZE,
            color=INK,
            rotation=0 if upright else 90,
            bbox={"boxstyle": "round,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85},
        )
    return len(numbers) - len(taken)

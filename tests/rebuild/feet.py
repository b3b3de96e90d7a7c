"""Beds on feet for the tests, and how their roll follows from the feet, by hand."""

import numpy as np

from metrolib.rebuild.support.feet import Foot

CORNERS = [
    Foot("front left", 0, 0, 1.5),
    Foot("rear left", 0, 400, 1.5),
    Foot("front right", 1500, 0, 1.5),
    Foot("rear right", 1500, 400, 1.5),
]
SIX = [
    *CORNERS,
    Foot("front middle", 700, 0, 2.0),
    Foot("rear middle", 700, 400, 2.0),
]


def rolls_of(feet, x, lift):
    """The roll and lengthwise slope that a bed on rows of two feet takes, written anew."""
    xs = sorted({foot.x for foot in feet})
    by_row, means = [], []
    for row in xs:
        pair = [(foot.y, lift[i]) for i, foot in enumerate(feet) if foot.x == row]
        (y0, z0), (y1, z1) = sorted(pair)
        by_row.append(1000 * (z1 - z0) / (y1 - y0))
        means.append((z0 + z1) / 2)
    slope = 1000 * np.diff(means) / np.diff(xs)
    return np.concatenate([np.interp(x, xs, by_row), slope])

"""One rectangular face of 800 x 600 mm along eight lines, the level on bases of three lengths."""

import math

from sample import Blunder, Leg, Sample, steps

#: Name, length and foot spacing of each line.
LINES = {
    "near edge": (800, 200),
    "middle lengthwise": (800, 200),
    "far edge": (800, 200),
    "left edge": (600, 150),
    "middle crosswise": (600, 150),
    "right edge": (600, 150),
    "rising diagonal": (1000, 250),
    "falling diagonal": (1000, 250),
}
GRID = [(200.0 * i, 150.0 * j) for i in range(5) for j in range(5)]


def _lost(x, y):
    """Return the wear: a bowl, deepest 18 µm a little off the middle."""
    return 0.018 * math.exp(-(((x - 430) / 260) ** 2) - ((y - 280) / 200) ** 2)


def _form(x, y):
    bowed = 0.004 * (x / 400 - 1) ** 2
    wound = 0.005 * (x / 400 - 1) * (y / 300 - 1)  # far right and near left corners high
    waves = 0.0006 * math.sin(x / 47) * math.cos(y / 61 + 0.4)
    return bowed + wound + waves - _lost(x, y)


def rectangular_face():
    """Return the sample."""
    legs = []
    for line, (length, spacing) in LINES.items():
        rear_feet = steps(0, length - spacing, spacing)
        legs += [Leg(line, rear_feet, "top"), Leg(f"{line} back", rear_feet[::-1], "top")]
    return Sample(
        name="rectangular_face",
        seed=800_600,
        form={"top": _form},
        lost={"top": _lost},
        stations={"top": GRID},
        legs=legs,
        blunder=Blunder("middle crosswise back", 300.0, "top", by=10.0),
        missing=(("falling diagonal back", "top", 750.0),),
        motion={"lift": 0.0, "pitch": 0.055, "roll": -0.038},
        hidden={
            "zero": {"base 200": 0.012, "base 150": -0.020, "base 250": 0.004},
            "scale": {"electronic level": 0.003},
        },
    )

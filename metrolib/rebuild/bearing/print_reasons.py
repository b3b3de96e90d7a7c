"""Why a print and the heights may contradict each other, in the words of the bench.

The reasons are common practice, no published source; the sign of heat is that of a bent beam.
"""

import numpy as np

#: How blue came off, by thirds of what was laid.
PATTERNS = ("all over", "ends", "middle", "in places", "nowhere")

_ALL, _SOME = 0.8, 0.05  # share of a third that took blue

_WHY = {
    ("all over", "hump"): (
        "a face that is high in the middle rocks under the edge and prints all over: nudge one "
        "end, and it pivots near the middle instead of a third from its ends"
    ),
    ("all over", "hollow"): (
        "the film was thicker than booked, the edge was pressed or sagged into the hollow, or its "
        "sole was warmer than its back and bowed down"
    ),
    ("ends", "hump"): (
        "the edge lay hollow on it, as when its back is warmer than its sole, or burrs stand at "
        "the ends"
    ),
    ("middle", "hollow"): (
        "the edge bulged down, as when its sole is warmer than its back, or a burr or dirt lifted "
        "it in the middle"
    ),
}
_WHY["ends", "straight"] = _WHY["ends", "hump"]
_WHY["middle", "straight"] = _WHY["middle", "hollow"]

_PRINTED = (
    "the film was thicker than booked or smeared, the edge was pressed, or a height there is "
    "wrong: read it again"
)
_BARE = (
    "a burr or dirt lifted the edge, the film had worn thin there, or a height there is wrong: "
    "read it again"
)


def pattern_of(entry):
    """Return how blue came off, one of `PATTERNS`.

    Parameters
    ----------
    entry : Print

    Examples
    --------
    >>> from metrolib.survey.prints import Print
    >>> pattern_of(Print("flat", (0, 600), ((0, 150), (500, 600))))
    'ends'
    """
    bounds = np.linspace(*entry.laid, 4)
    thirds = [
        sum(max(min(end, high) - max(start, low), 0.0) for start, end in entry.printed)
        / (high - low)
        for low, high in zip(bounds[:-1], bounds[1:], strict=True)
    ]
    first, middle, last = thirds
    if not any(thirds):
        return "nowhere"
    if min(thirds) >= _ALL:
        return "all over"
    if min(first, last) >= _SOME and middle < min(first, last) / 2:
        return "ends"
    if middle >= _SOME and max(first, last) < middle / 2:
        return "middle"
    return "in places"


def shape_of(laying):
    """Return the surveyed shape under it: ``"hump"``, ``"hollow"`` or ``"straight"``."""
    if abs(laying.rise) <= 2 * laying.rise_u or laying.rise == 0:
        return "straight"
    return "hump" if laying.rise > 0 else "hollow"


def why(entry, laying, *, printed):
    """Say what may be behind a contradiction.

    Parameters
    ----------
    entry : Print
    laying : Laying
    printed : bool
        Whether blue came off where the heights show a gap; else it did not where they show none.
    """
    found = _WHY.get((pattern_of(entry), shape_of(laying)))
    return found or (_PRINTED if printed else _BARE)

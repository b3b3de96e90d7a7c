"""Rounds of work for the tests, from heights given as arrays."""

import numpy as np

from metrolib.heights.result import given_heights
from metrolib.heights.rounds import AdjustedRounds
from tests.rebuild.beds import flat

#: A plan on these beds is held to the ledges, so that its target is easy to see.
HELD = {"faces": ["top"], "datum": ["ledge", "far ledge"], "tilt_along": 0.0, "tilt_across": 0.0}
LEDGES = {"ledge": 0.0, "far ledge": 100.0}


def bed_rounds(*tops, x=None, stations=None, u=0.0, shared=0.0, cut=("top",), length=500):
    """Return rounds of one top over two untouched ledges.

    Each of `tops` holds the heights of one round at `x`, or at its own `stations`; each height
    errs by `u` of its own, and by `shared`, an error that is one and the same in all of them.
    """
    x = np.linspace(0, length, len(tops[0])) if x is None else np.asarray(x, float)
    faces = [flat("top", length=length)]
    faces += [flat(name, y, length=length, normal=180) for name, y in LEDGES.items()]
    ends = np.array([0.0, length])
    count = sum(len(top) for top in tops)
    datum = np.arange(count, count + 4)
    heights, index, start = {}, {}, 0
    for k, top in enumerate(tops):
        at = x if stations is None else np.asarray(stations[k], float)
        points = {"top": (at, top)} | {name: (ends, np.zeros(2)) for name in LEDGES}
        spread = np.concatenate([np.full(len(top), np.hypot(u, shared)), np.zeros(4)])
        name = "start" if k == 0 else str(k)
        heights[name] = given_heights(faces, points, spread)
        index[name] = np.concatenate([np.arange(start, start + len(top)), datum])
        start += len(top)
    own = np.concatenate([np.full(count, 1.0), np.zeros(4)])
    cov = np.diag(u**2 * own) + shared**2 * np.outer(own, own)
    values = np.concatenate([*map(np.asarray, tops), np.zeros(4)])
    return AdjustedRounds(heights, index, values, cov, tuple(cut))

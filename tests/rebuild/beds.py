"""Small beds for the tests: faces and heights given as arrays."""

import numpy as np

from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.programme import Programme
from metrolib.survey.machine import Face


def flat(name, y=0.0, *, width=30, length=500, **more):
    """Return a face that runs from 0 to `length`."""
    return Face(name, y=y, width=width, x_from=0, x_to=length, **more)


def one_flat(z, *, length=500, u=None, **more):
    """Return the heights of one flat with stations evenly from end to end."""
    x = np.linspace(0, length, len(z))
    return given_heights([flat("flat", length=length, **more)], {"flat": (x, z)}, u)


def lathe_bed(front, rear, *, u=None, ledge_u=None):
    """Return two tops over two underside ledges, which show pitch and roll; 1400 mm long.

    The tops have the uncertainty `u`, the ledges `ledge_u`.
    """
    x = np.linspace(0, 1400, len(front))
    faces = [
        flat("front", 0, length=1400, width=40),
        flat("rear", 300, length=1400, width=40),
        flat("front ledge", 10, length=1400, width=12, normal=180),
        flat("rear ledge", 310, length=1400, width=12, normal=180),
    ]
    ends = ([0.0, 1400.0], [0.0, 0.0])
    points = {"front": (x, front), "rear": (x, rear), "front ledge": ends, "rear ledge": ends}
    spread = np.repeat([u or 0.0, ledge_u or 0.0], [2 * len(x), 4])
    return given_heights(faces, points, spread)


#: The conditions that hold a target to the ledges of `lathe_bed`.
HELD = {"datum": ["front ledge", "rear ledge"], "tilt_along": 0.0, "tilt_across": 0.0}


def lifted(n, **changes):
    """Return the programme of n level places of u = 2 um, of which only the lift is free."""
    given = {
        "motions": ("lift",),
        "columns": np.ones((n, 1)),
        "height": np.zeros(n),
        "area": np.ones(n),
        "least": np.zeros(n),
        "u": np.full(n, 0.002),
        "greatest": np.full(n, np.inf),
        "band": 0.0,
        "limit": np.array([np.inf]),
        "minimise": "volume",
    }
    return Programme(**{**given, **changes})

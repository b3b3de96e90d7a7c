"""Cross-sections solved without the library: circles that touch lines, by scipy's root finder."""

import numpy as np
from scipy.optimize import fsolve


def touching_circle(lines, radius, start):
    """Return the centre of a circle that touches two lines.

    `lines` holds (point, unit vector toward the side of the circle) of each.
    """

    def off(centre):
        return [(centre - point) @ toward - radius for point, toward in lines]

    centre = fsolve(off, start, xtol=1e-10)
    assert np.abs(off(centre)).max() < 1e-9
    return centre


def direction(degrees):
    """Return the unit vector at an angle from +y [deg]."""
    return np.array([np.cos(np.deg2rad(degrees)), np.sin(np.deg2rad(degrees))])

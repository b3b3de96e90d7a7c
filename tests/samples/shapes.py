"""Shapes that worn metal has: hollows, long bows, the waves that a scraper leaves, a bruise."""

import math


def wear(depth, begins, deepest, ends, *, sharpness=1.5):
    """Return a function of x (and of any y): the metal that has gone [mm], most at `deepest`.

    The hollow falls off to nothing at both ends, steeper on the shorter side.
    """
    peak = (deepest - begins) / (ends - begins)
    tail = sharpness * (1 - peak) / peak
    most = peak**sharpness * (1 - peak) ** tail

    def lost(x, y=None):
        share = (x - begins) / (ends - begins)
        if not 0 < share < 1:
            return 0.0
        return depth * share**sharpness * (1 - share) ** tail / most

    return lost


def no_wear(x, y=None):
    """Return the wear of a face that nothing ever rubbed."""
    return 0.0


def bow(height, low, high):
    """Return a parabola through zero at both ends that rises by `height` at mid-length."""
    return lambda x: 4 * height * (x - low) * (high - x) / (high - low) ** 2


def waves(amplitude, *lengths, phase=0.0):
    """Return a sum of sine waves, each of this amplitude."""
    return lambda x: (
        amplitude
        * sum(
            math.sin(2 * math.pi * x / length + phase + 1.7 * k) for k, length in enumerate(lengths)
        )
    )


def bruise(depth, low, high):
    """Return a dent of constant depth, stoned flush at its edges [mm], negative inside."""
    return lambda x: -depth if low <= x <= high else 0.0

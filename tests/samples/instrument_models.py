"""What instruments do by themselves: units, how a figure is booked, how an edge and a wire hang."""

import math

import numpy as np

#: One unit in mm or in mm/m, from the definitions of the inch and of the arc-second.
UNITS = {
    "mm": 1.0,
    "um": 0.001,
    "in": 25.4,
    "thou": 0.0254,
    "mm/m": 1.0,
    "um/m": 0.001,
    "arcsec": 1000 * math.pi / 648_000,
    "in/ft": 1000 / 12,
    "thou/ft": 1 / 12,
}

GRAVITY = 9.80665  # m/s², the standard value


def unit_in_base(instrument):
    """Return what one unit of the instrument's reading is in mm or in mm/m."""
    if instrument["unit"] == "division":
        return instrument["sensitivity"] * UNITS[instrument["sensitivity_unit"]]
    return UNITS[instrument["unit"]]


def decimals(step):
    """Return the digits after the point that a step such as 0.2 or 0.05 needs."""
    return len(f"{step:.6f}".rstrip("0").split(".")[1])


def booked_text(value, step, kind):
    """Return a reading as it is written down, rounded to the instrument's step.

    Of feelers the largest leaf that enters and the next one that does not are known: the middle
    between the two is booked.
    """
    if kind == "feeler gap":
        return f"{(math.floor(value / step) + 0.5) * step:.{decimals(step) + 1}f}"
    text = f"{round(value / step) * step:.{decimals(step)}f}"
    return text[1:] if text.startswith("-") and float(text) == 0 else text


def bending(edge, supports, along, *, pieces=4000):
    """Return how far a straightedge's own weight raises (+) or lowers (-) it [mm].

    The bending moment of a uniform beam on two knife edges is integrated twice by the trapezoidal
    rule; the deflection is zero over the supports.
    """
    place = np.linspace(0.0, edge["length"], pieces + 1)
    load = edge["density"] * 1e-9 * GRAVITY * edge["height"] * edge["width"]  # N/mm
    stiffness = edge["modulus"] * edge["width"] * edge["height"] ** 3 / 12  # N mm²
    left, right = supports
    total = load * edge["length"]
    force_right = total * (edge["length"] / 2 - left) / (right - left)
    force_left = total - force_right
    moment = -load * place**2 / 2
    moment += force_left * np.clip(place - left, 0, None)
    moment += force_right * np.clip(place - right, 0, None)
    slope = _integral(moment / stiffness, place)
    shape = _integral(slope, place)
    at_left, at_right = np.interp(supports, place, shape)
    shape -= at_left + (at_right - at_left) * (place - left) / (right - left)
    return float(np.interp(along, place, shape))


def wire_sag(weight, tension, low, high, x):
    """Return how far a stretched wire hangs below the line through its ends [mm].

    The catenary y = a cosh(s / a) with a = horizontal tension / weight per length, from mid-span.
    """
    scale = tension / weight * 1000  # mm
    half, from_middle = (high - low) / 2, x - (low + high) / 2
    return scale * (math.cosh(half / scale) - math.cosh(from_middle / scale))


def _integral(values, place):
    steps = np.diff(place) * (values[1:] + values[:-1]) / 2
    return np.concatenate([[0.0], np.cumsum(steps)])

"""The zones of a job sheet: stations joined until each has room for its figure."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.show.plan_view import edges
from metrolib.units import from_millimetres

#: Below this greatest depth a digit more is written, in the display unit; digits otherwise.
_FINE = {"um": 10.0, "thou": 1.0}
_DIGITS = {"um": 0, "thou": 1}

_SLACK = 1e-6  # of a step: a rounding error must not cost a whole one


@dataclass(frozen=True)
class Zone:
    """A stretch of a lane with one figure.

    Attributes
    ----------
    left, right : float
        Its ends along the ways [mm].
    stations : tuple of int
        Places in the arrays of the plan.
    depth : float
        The least that comes off them [mm].
    text : str
        That depth as it is written, rounded down; empty where the stations are left out.
    """

    left: float
    right: float
    stations: tuple[int, ...]
    depth: float
    text: str


@dataclass(frozen=True)
class Lane:
    """One line of stations of a face.

    Attributes
    ----------
    face : str
    y : float
        [mm]
    stations : ndarray of int, shape (m,)
        Places in the arrays of the plan, ascending along the ways.
    zones : tuple of Zone
    """

    face: str
    y: float
    stations: np.ndarray
    zones: tuple[Zone, ...]

    @property
    def widened(self):
        """Whether a zone holds more than one station."""
        return any(len(zone.stations) > 1 for zone in self.zones)


def digits_of(plan, unit):
    """Return the digits after the decimal point that the depths of a plan deserve."""
    greatest = from_millimetres(float(plan.depth[~plan.left_out].max(initial=0.0)), unit)
    return _DIGITS[unit] + (greatest < _FINE[unit])


def rounded_down(depth, unit, digits):
    """Write a depth so that nobody cuts deeper than it.

    Examples
    --------
    >>> rounded_down(0.1529, "um", 0), rounded_down(0.153, "um", 0), rounded_down(0.1, "thou", 1)
    ('152', '153', '3.9')
    """
    steps = np.floor(from_millimetres(depth, unit) * 10**digits + _SLACK)
    return f"{steps / 10**digits:.{digits}f}"


def lanes_of(plan, unit, width_of=None):
    """Return the lanes of a plan, the back one first, with zones wide enough for their figures.

    Parameters
    ----------
    plan : RemovalPlan
    unit : str
        Display unit.
    width_of : callable, optional
        The room that a figure needs along the ways, in mm of the machine; without it each
        station keeps its own zone.

    Returns
    -------
    list of Lane
    """
    digits, lanes = digits_of(plan, unit), []
    for name, face in plan.faces.items():
        for y in np.unique(plan.y[plan.face == name]):
            mine = np.flatnonzero((plan.face == name) & (plan.y == y))
            mine = mine[np.argsort(plan.x[mine], kind="stable")]
            share = edges(plan.x[mine], *_ends(plan.x[mine], face))
            zones = [_zone((int(i),), *share[float(plan.x[i])], plan, unit, digits) for i in mine]
            lanes.append(Lane(name, float(y), mine, tuple(zones)))
            if width_of is not None:
                lanes[-1] = replace(lanes[-1], zones=tuple(_widened(zones, width_of)))
    return sorted(lanes, key=lambda lane: -lane.y)


def _ends(x, face):
    """Return how far the outer zones reach: a station at the very end gets its room as well."""
    if x.size == 1:
        return face.x_from, face.x_to
    outward = (3 * x[0] - x[1]) / 2, (3 * x[-1] - x[-2]) / 2
    return min(face.x_from, outward[0]), max(face.x_to, outward[1])


def _zone(stations, left, right, plan, unit, digits):
    """Return the zone of one station."""
    out = plan.left_out[stations[0]]
    depth = 0.0 if out else float(plan.depth[list(stations)].min())
    return Zone(left, right, stations, depth, "" if out else rounded_down(depth, unit, digits))


def _widened(zones, width_of):
    """Join zones that are too narrow with the neighbour that is nearest in depth."""
    zones = list(zones)
    while True:
        narrow = [
            i
            for i, zone in enumerate(zones)
            if zone.right - zone.left < width_of(zone.text) and _neighbours(zones, i)
        ]
        if not narrow:
            return zones
        i = min(narrow, key=lambda place: zones[place].right - zones[place].left)
        j = min(_neighbours(zones, i), key=lambda place: abs(zones[place].depth - zones[i].depth))
        low, high = min(i, j), max(i, j)
        zones[low : high + 1] = [_joined(zones[low], zones[high])]


def _neighbours(zones, i):
    """Return the zones on either side that a zone may be joined with."""
    beside = [j for j in (i - 1, i + 1) if 0 <= j < len(zones)]
    return [j for j in beside if zones[i].text and zones[j].text]


def _joined(one, other):
    """Return two neighbouring zones as one, with the lesser depth of the two."""
    least = min(one, other, key=lambda zone: zone.depth)
    stations = (*one.stations, *other.stations)
    return replace(least, left=one.left, right=other.right, stations=stations)

"""Stations: the places at which heights are unknowns, collected from all readings."""

from dataclasses import dataclass

import numpy as np

#: Places closer than this are one station [mm].
MERGE = 0.01


@dataclass(frozen=True, eq=False)
class Stations:
    """The places at which heights are unknowns.

    Attributes
    ----------
    face : ndarray of int, shape (n,)
        Index of the face in the order of the survey.
    x, y : ndarray, shape (n,)
        Places [mm]: grouped by face, ascending in x, then in y.
    """

    face: np.ndarray
    x: np.ndarray
    y: np.ndarray


def lay_out(face, x, y, station):
    """Collect the stations that places on faces make, and express each place by them.

    Parameters
    ----------
    face : ndarray of int, shape (k,)
        Index of the face of each place.
    x, y : ndarray, shape (k,)
        [mm]
    station : ndarray of bool, shape (k,)
        False for a place that takes its height from the stations beside it. Where it lies beyond
        the first or last station of its face (at its y), it becomes a station all the same.

    Returns
    -------
    stations : Stations
    low, high : ndarray of int, shape (k,)
        Stations beside each place; equal where it is a station.
    share : ndarray, shape (k,)
        Height of the place = (1 - share) z[low] + share z[high].

    Examples
    --------
    >>> face, y = np.array([0, 0, 0]), np.zeros(3)
    >>> x, station = np.array([0.0, 200.0, 50.0]), np.array([True, True, False])
    >>> stations, low, high, share = lay_out(face, x, y, station)
    >>> stations.x.tolist(), share.tolist()
    ([0.0, 200.0], [0.0, 0.0, 0.25])
    """
    line = _groups(face, y)  # places on one face at one y
    if not station.all():
        station = station | _beyond(line, x, station)
    group = np.full(len(x), -1)
    group[station] = _groups(line[station], x[station])
    chosen = np.empty(group.max(initial=-1) + 1, dtype=int)
    members = np.flatnonzero(station)[::-1]
    chosen[group[members]] = members  # the first of each group is written last, and stays
    order = np.lexsort((y[chosen], x[chosen], face[chosen]))
    chosen = chosen[order]
    position = np.empty(len(order), dtype=int)
    position[order] = np.arange(len(order))
    low = np.where(station, position[group], 0)
    high, share = low.copy(), np.zeros(len(x))
    for this in np.unique(line[~station]):
        between = np.flatnonzero(~station & (line == this))
        on_line = np.flatnonzero(line[chosen] == this)
        place = np.searchsorted(x[chosen[on_line]], x[between]).clip(1, max(len(on_line) - 1, 1))
        low[between] = on_line[place - 1]
        high[between] = on_line[place] if len(on_line) > 1 else on_line[0]
        gap = x[chosen[high[between]]] - x[chosen[low[between]]]
        share[between] = (x[between] - x[chosen[low[between]]]) / np.where(gap > 0, gap, 1.0)
    return Stations(face[chosen], x[chosen], y[chosen]), low, high, share


def _groups(major, minor):
    """Give one number to all places of equal `major` whose `minor` agree to MERGE."""
    order = np.lexsort((minor, major))
    new = (np.diff(major[order]) != 0) | (np.diff(minor[order]) > MERGE)
    number = np.empty(len(order), dtype=int)
    number[order] = np.concatenate([[0], np.cumsum(new)]) if len(order) else []
    return number


def _beyond(line, x, station):
    """Tell which places lie outside the range of the stations of their line."""
    low = np.full(line.max(initial=-1) + 1, np.inf)
    high = np.full(len(low), -np.inf)
    np.minimum.at(low, line[station], x[station])
    np.maximum.at(high, line[station], x[station])
    return (x < low[line] - MERGE) | (x > high[line] + MERGE)

"""Exact zones of very many stations: of a sample first, then proven against all of them."""

from dataclasses import replace

import numpy as np

#: More stations than this are solved on a sample.
MANY = 12_000
_SAMPLE = 1_000
# Stations looked at in one go: their heights fit a core's cache.
_CHUNK = 65_536
_ROUNDING = 32 * np.finfo(float).eps


def sample_of(count):
    """Return one station, by chance, from each of many equal stretches of `count` in a row.

    They are in ascending order, and the same for the same count.
    """
    ends = np.arange(_SAMPLE + 1) * count // _SAMPLE
    return np.random.default_rng(0).integers(ends[:-1], ends[1:])


def ends_of(x):
    """Return the stations with the least and the greatest x.

    In chunks, since numpy copies what it may only read before it looks for the place.
    """
    starts = range(0, x.size, _CHUNK)
    lows = [start + int(x[start : start + _CHUNK].argmin()) for start in starts]
    highs = [start + int(x[start : start + _CHUNK].argmax()) for start in starts]
    return min(lows, key=x.item), max(highs, key=x.item)


def proven_zone(places, z, anchors, solve):
    """Find the narrowest zone of all stations: exact.

    Parameters
    ----------
    places : tuple of ndarray, shape (n,)
        Coordinates [mm], from some place near the stations: one for a line, two for a plane.
    z : ndarray, shape (n,)
        Heights, from any [mm].
    anchors : sequence of int
        Stations without which a sample might define no line or plane.
    solve : function
        Of the numbers of some stations, in ascending order; returns their zone as `Reference`,
        which counts the stations from the first of them.

    Returns
    -------
    Reference

    Notes
    -----
    The zone of a sample is no wider than that of all stations. Every station that lies outside it
    joins the sample, until none does: the zone then holds all, so it is theirs. Of n heights a
    random sample of r leaves no more than some (d + 1) n / r outside on average, d the number of
    coefficients, whatever the heights are (K. L. Clarkson, Las Vegas algorithms for linear and
    integer programming, J. ACM 42, 1995; from memory).

    All stations are looked at a chunk at a time, so they may come from a file that is mapped into
    memory (`numpy.memmap`) and larger than it.
    """
    chosen = _joined(sample_of(z.size), np.sort(anchors))
    while True:
        found = _renumbered(solve(chosen), chosen)
        more = _joined(chosen, _outside(found, places, z))
        if more.size == chosen.size:  # what was chosen is inside already, but for rounding
            return found
        chosen = more


def _joined(chosen, stations):
    """Return the chosen stations and some others, all in ascending order, each once."""
    at = np.searchsorted(chosen, stations)
    new = chosen.take(at, mode="clip") != stations
    return np.insert(chosen, at[new], stations[new])


def _renumbered(zone, chosen):
    """Return the zone of chosen stations with the numbers that these have among all."""
    return replace(
        zone,
        stations=chosen[zone.stations],
        contacts=tuple(int(chosen[contact]) for contact in zone.contacts),
        highest=int(chosen[zone.highest]),
        lowest=int(chosen[zone.lowest]),
    )


def _outside(zone, places, z):
    """Return the stations that lie outside a zone by more than rounding may do."""
    first = z[zone.stations[0]]
    middle, *slopes = zone.weights @ (z[zone.stations] - first)
    half, found = zone.width / 2, []
    for start in range(0, z.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        over = z[part] - first
        for slope, place in zip(slopes, places, strict=True):
            over -= slope * place[part]
        over -= middle
        if over.max() > half or over.min() < -half:
            found.append(start + np.flatnonzero(np.abs(over) > half))
    if not found:
        return np.empty(0, dtype=int)
    beyond = np.concatenate(found)
    terms = [slope * place[beyond] for slope, place in zip(slopes, places, strict=True)]
    above = z[beyond] - first
    size = np.abs(middle) + np.abs(above) + np.abs(terms).sum(axis=0)
    return beyond[np.abs(above - np.sum(terms, axis=0) - middle) > half + _ROUNDING * size]

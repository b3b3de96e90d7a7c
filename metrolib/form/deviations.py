"""Deviations from a line or plane that is itself a linear function of the heights."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from metrolib.uncertain.linear import Measured

#: A station is tied with a contact when they differ by less than this many u of the difference.
TIED = 2.0


@dataclass(frozen=True, eq=False)
class Reference:
    """A line or plane whose coefficients are linear in the heights of some stations.

    Attributes
    ----------
    stations : ndarray of int, shape (m,)
        Stations that carry it, each named once: a few contacts, or all of them.
    weights : ndarray, shape (p, m)
        ``coefficients = weights @ z[stations]``; the first is the height at the origin of `places`
        [mm], the others are slopes [mm/mm].
    contacts : tuple of int
        Stations that the zone rests on; empty where the reference alone does not tell.
    highest, lowest : int or None
        One contact on each side of the zone.
    width : float or None
        Width of the zone [mm].
    """

    stations: np.ndarray
    weights: np.ndarray
    contacts: tuple[int, ...] = ()
    highest: int | None = None
    lowest: int | None = None
    width: float | None = None


@dataclass(frozen=True, eq=False)
class Deviations:
    """Heights of stations above a reference, and how sure they are.

    Nothing of size n x n is made: uncertainties are computed when they are asked for, from the
    few weights of the reference.

    Attributes
    ----------
    heights : Measured
        The heights [mm]; the first n of them belong to the stations, any others (those of a
        datum) may carry the reference.
    places : tuple of ndarray, shape (n,)
        Coordinates of the stations from the origin of `reference` [mm]: one for a line, two for
        a plane.
    reference : Reference
    """

    heights: Measured
    places: tuple[np.ndarray, ...]
    reference: Reference

    @cached_property
    def coefficients(self):
        """Height at the origin, above the first height [mm], then slopes [mm/mm]; shape (p,)."""
        z = self.heights.values
        return self.reference.weights @ (z[self.reference.stations] - z[0])

    @cached_property
    def values(self):
        """Deviation of each station, shape (n,) [mm]."""
        z = self.heights.values
        first, *slopes = self.coefficients
        deviation = z[: self.places[0].size] - z[0]  # before all else: it is exact near z[0]
        for slope, place in zip(slopes, self.places, strict=True):
            deviation -= slope * place
        deviation -= first
        return deviation

    def combination(self, stations, shares):
        """Return how a sum of deviations, each times its share, depends on each height, (N,)."""
        g = np.zeros(self.heights.values.size)
        g[self.reference.stations] = -(shares @ self._design(stations)) @ self.reference.weights
        g[stations] += shares
        return g

    def sensitivity(self, station):
        """Return how a station's deviation depends on each height, shape (N,)."""
        return self.combination([station], np.ones(1))

    def range_sensitivity(self, highest, lowest):
        """Return how the difference of two deviations depends on each height, shape (N,)."""
        return self.sensitivity(highest) - self.sensitivity(lowest)

    @cached_property
    def u(self):
        """Standard uncertainty of each deviation, shape (n,), or None [mm]."""
        if self.heights.cov is None:
            return None
        return np.sqrt(np.maximum(self._variance, 0.0))

    def covariance(self):
        """Return the covariance of all deviations, shape (n, n), or None [mm²].

        This is for short lines: it takes n² numbers.
        """
        if self.heights.cov is None:
            return None
        rows = np.array([self.sensitivity(station) for station in range(self.places[0].size)])
        return self.heights.covariance(rows)

    def u_from(self, station):
        """Return the standard uncertainty of each deviation less that of `station` [mm]."""
        cov, g = self.heights.cov, self.sensitivity(station)
        shared = cov * g if cov.ndim == 1 else cov @ g
        design = self._design(slice(None))
        with_station = shared[: len(design)] - design @ (
            self.reference.weights @ shared[self.reference.stations]
        )
        variance = self._variance + self._variance[station] - 2 * with_station
        return np.sqrt(np.maximum(variance, 0.0))

    def tied(self, contacts):
        """Return the stations that cannot be told from a contact, in order.

        Noise may make any of them the true contact; the first-order uncertainty of a zone, which
        holds for one set of contacts, is then only a first estimate.
        """
        if self.heights.cov is None:
            return ()
        found = np.zeros(self.values.size, dtype=bool)
        for contact in contacts:
            apart = np.abs(self.values - self.values[contact])
            found |= apart < TIED * self.u_from(contact)
        found[list(contacts)] = False
        return tuple(int(station) for station in np.flatnonzero(found))

    def _design(self, stations):
        columns = [place[stations] for place in self.places]  # [1, x] or [1, x, y]
        return np.stack([np.ones_like(columns[0]), *columns], axis=-1)

    @cached_property
    def _variance(self):
        cov, reference = self.heights.cov, self.reference
        design = self._design(slice(None))
        n = len(design)
        if cov.ndim == 1:
            own = cov[:n]
            with_reference = np.zeros((cov.size, len(reference.weights)))
            with_reference[reference.stations] = (reference.weights * cov[reference.stations]).T
        else:
            own = np.diag(cov)[:n]
            with_reference = cov[:, reference.stations] @ reference.weights.T
        of_reference = reference.weights @ with_reference[reference.stations]
        return (
            own
            - 2 * np.sum(design * with_reference[:n], axis=1)
            + np.sum((design @ of_reference) * design, axis=1)
        )


def decided_by(deviations):
    """Return what decides the range of some deviations.

    Returns
    -------
    value : float
        The range: highest less lowest deviation [mm].
    sides : (int, int)
        A station on the upper side and one on the lower.
    contacts : tuple of int
        All stations that decide: those of a minimum zone, else the two sides.
    """
    reference = deviations.reference
    if reference.contacts:
        return reference.width, (reference.highest, reference.lowest), reference.contacts
    sides = int(deviations.values.argmax()), int(deviations.values.argmin())
    return float(deviations.values[sides[0]] - deviations.values[sides[1]]), sides, sides


def results(deviations, to_zero, decided):
    """Return the coefficients of the reference and a range, as numbers correlated as they are.

    Parameters
    ----------
    deviations : Deviations
    to_zero : ndarray, shape (p, p)
        What takes the coefficients to the caller's origin and units.
    decided : (float, (int, int))
        The range [mm], and the highest and lowest station.

    Returns
    -------
    list of p + 1 floats, or `uncertainties` numbers where the heights are uncertain
    """
    heights, reference = deviations.heights, deviations.reference
    coefficients = to_zero @ deviations.coefficients
    coefficients[0] += heights.values[0]
    values = [*map(float, coefficients), decided[0]]
    if heights.cov is None:
        return values
    rows = np.zeros((len(values), heights.values.size))
    rows[:-1, reference.stations] = to_zero @ reference.weights
    rows[-1] = deviations.range_sensitivity(*decided[1])
    return heights.several(rows, values)

"""The worst stretch: straightness within a window that may lie anywhere along a line."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.lines_batched import minimum_zones
from metrolib.form.straightness import straightness_of
from metrolib.form.tiles import tiles
from metrolib.uncertain.linear import Measured, measured


@dataclass(frozen=True, eq=False)
class WorstWindow:
    """Straightness within the worst stretch of a given length.

    Attributes
    ----------
    value : float or `uncertainties` number
        Width of the minimum zone of that stretch [mm].
    length : float
        Of the stretch [mm].
    start : float
        Where it begins, x [mm].
    x : ndarray, shape (n,)
        Stations, as given [mm].
    contacts : tuple of float
        The places that decide, x [mm]; an end of the stretch may lie between stations.
    drawn_from : Measured
        The heights that it came from [mm].
    """

    value: object
    length: float
    start: float
    x: np.ndarray
    contacts: tuple[float, ...]
    drawn_from: Measured

    @property
    def redo(self):
        """What finds the value again: a function of heights, shape (T, n) [mm], to T values."""
        return _Windows(self.x, self.length).widths

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return (
            f"straightness in the worst {self.length:.10g} mm, from {self.start:.5g} to "
            f"{self.start + self.length:.5g} mm: {wording.length(self.value, unit)}"
            f"{wording.expanded(self.value, unit)}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            f"Straightness in the worst {self.length:.10g} mm",
            [
                ("value", wording.measured_length(self.value)),
                ("from", f"{self.start:.5g} mm"),
                ("to", f"{self.start + self.length:.5g} mm"),
                ("contacts", f"{wording.listing(f'{x:.5g}' for x in self.contacts)} mm"),
            ],
        )


def worst_window(x, z, u=None, *, length):
    """Find the stretch of a given length in which a line is least straight.

    Parameters
    ----------
    x : array_like, shape (n,)
        Stations along the line, each once [mm]; n >= 2, in any order.
    z : array_like, shape (n,)
        Height at each station [mm]: floats or `uncertainties` numbers.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the heights [mm], or their covariance [mm²].
    length : float
        Of the stretch [mm]; it may lie anywhere between the first and the last station.

    Returns
    -------
    WorstWindow

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, two stations are at one place, the uncertainty
        does not fit, or the stretch is longer than the line.

    Notes
    -----
    Between stations the line is taken as straight from one to the next. The zone of each stretch
    is the exact minimum zone. Its width is the greatest height of a place above or below a chord
    of two others; as the stretch moves, a chord with one end fixed changes steadily, so only
    stretches that begin or end at a station can be worst, and those in which the chord from end to
    end, whose height is a quadratic of the place, is farthest from a station: both are tried, so
    the worst of all is found, not the worst of a grid.

    The value is the greatest of many figures, so where they are alike noise makes it too large,
    and its linear uncertainty is a first estimate.

    Examples
    --------
    A dip of 12 µm at 500 mm, of which a stretch of 300 mm sees half:

    >>> x = [0, 200, 400, 500, 600, 800, 1000]
    >>> z = [0, 0, -0.008, -0.012, -0.008, 0, 0]
    >>> print(worst_window(x, z, 0.001, length=300))
    straightness in the worst 300 mm, from 350 to 650 mm: 6.0 µm, U = 2.3 µm (k = 2)
    """
    x = checks.vector("x", x, least=2)
    heights = measured("z", z, u, least=2)
    checks.same_length(x=x, z=heights.values)
    length = checks.number("length", length, above=0)
    return worst_window_of(x, heights, length)


def worst_window_of(x, heights, length):
    """Find the worst stretch of heights that are read already; see `worst_window`."""
    if np.unique(x).size < x.size:
        raise checks.wrong("x", "two stations are at one place", x.tolist(), "average them first")
    if length > np.ptp(x) * (1 + 1e-9):
        raise checks.wrong(
            "length",
            f"the stretch is longer than the line, which is {np.ptp(x):.10g} mm",
            f"{length:.10g}",
            "give a shorter one",
        )
    return _Windows(x, length).worst(heights)


class _Windows:
    """All stretches of one length along the same stations."""

    def __init__(self, x, length):
        self.x, self.order = x, np.argsort(x)
        self.s, self.length = x[self.order], min(length, float(np.ptp(x)))
        self.starts = _breaks(self.s, self.length)

    def worst(self, heights):
        """Return the worst of them for one set of heights."""
        z = heights.values - heights.values[0]
        zones = [self._zone(start, z) for start in self.starts]
        best = max(zones, key=lambda found: found[0])
        chords = _extremes(*(rows @ z for rows in self._three_rows))
        if chords.size and (most := float(np.abs(chords).max())) > best[0] * (1 + 1e-12):
            best = self._chord(int(np.abs(chords).argmax()), z, most)
        value, start, contacts, row = best
        (number,) = heights.several(row[None, :], [value])
        return WorstWindow(number, self.length, float(start), self.x, contacts, heights)

    def widths(self, z):
        """Return the width in the worst stretch for each set of heights, shape (T,) [mm]."""
        z = checks.table("z", z, self.x.size)
        widths = np.empty(len(z))
        for part in tiles(z):
            widths[part] = self._worst_widths(z[part] - z[part, :1])
        return widths

    def _worst_widths(self, z):
        """Return the widths for one tile, looking only at stretches that can be worst.

        A zone is no wider than the deviations from the line of least squares, which are quickly
        found; so with the widest of those first, few zones are left to be found.
        """
        found = np.zeros(len(z))
        off = [z[:, near] @ weights for _, near, weights in self._stretches]
        most = np.array([np.ptp(each, axis=1) for each in off])
        for one in np.argsort(-most.mean(axis=1)):
            open_ = np.flatnonzero(most[one] > found)
            if open_.size:
                zones = minimum_zones(self._stretches[one][0], off[one][open_])[0]
                found[open_] = np.maximum(found[open_], zones)
        # between two breaks a chord passes no farther than at them, and what its quadratic adds
        most = np.maximum(most[:-1], most[1:]) + np.abs(self._bows @ z.T) / 4
        for first, most_here in zip(self.starts[:-1], most, strict=True):
            open_ = np.flatnonzero(most_here > found)
            rows = self._rows_from[first]
            if open_.size and len(rows[0]):
                farthest = np.abs(_extremes(*(z[open_] @ row.T for row in rows))).max(axis=1)
                found[open_] = np.maximum(found[open_], farthest)
        return found

    @cached_property
    def _stretches(self):
        """Places, stations seen, and their weights in what is off least squares, by stretch."""
        return [self._deviating(*self._stretch(start)) for start in self.starts]

    @staticmethod
    def _deviating(places, weights):
        near = np.flatnonzero(weights.any(axis=0))  # the stations that it sees, few of many
        basis = np.linalg.qr(np.column_stack([np.ones_like(places), places / places[-1]]))[0]
        return places, near, (weights - basis @ (basis.T @ weights)).T[near]

    def _stretch(self, start):
        """Return places from the start of a stretch, and the weights of the heights there."""
        end = start + self.length
        slack = 1e-9 * self.length
        inner = self.s[(self.s > start + slack) & (self.s < end - slack)]
        places = np.concatenate([[start], inner, [end]])
        return places - start, self._at(places)

    def _at(self, places):
        """Return the weights of the heights, as given, in the heights at some places, (m, n)."""
        weights = np.zeros((len(places), self.x.size))
        after = np.clip(np.searchsorted(self.s, places), 1, self.s.size - 1)
        share = (places - self.s[after - 1]) / (self.s[after] - self.s[after - 1])
        rows = np.arange(len(places))
        weights[rows, self.order[after - 1]] = 1 - share
        weights[rows, self.order[after]] = share
        return weights

    def _zone(self, start, z):
        """Return width, start, contacts and sensitivity (n,) of the zone of one stretch."""
        places, weights = self._stretch(start)
        zone = straightness_of(places, Measured(weights @ z, None, None), "minimum zone")
        reference = zone.deviations.reference
        row = zone.deviations.range_sensitivity(reference.highest, reference.lowest) @ weights
        at = tuple(float(start + places[i]) for i in zone.contacts)
        return float(zone.value), start, at, row

    @cached_property
    def _chords(self):
        """Starts between breaks and a station inside: (from, to, station's place), shape (c, 3)."""
        found = []
        for low, high in zip(self.starts[:-1], self.starts[1:], strict=True):
            inside = self.s[(self.s >= high) & (self.s <= low + self.length)]
            found += [(low, high, place) for place in inside]
        return np.array(found).reshape(-1, 3)

    def _chord_rows(self, start, place):
        """Return how high the chords from end to end pass over stations inside, (c, n)."""
        share = ((place - start) / self.length)[:, None]
        ends = (1 - share) * self._at(start) + share * self._at(start + self.length)
        return ends - self._at(place)

    @cached_property
    def _three_rows(self):
        low, high, place = self._chords.T
        return [self._chord_rows(start, place) for start in (low, (low + high) / 2, high)]

    @cached_property
    def _rows_from(self):
        """The same, of the chords that begin behind each break: a dict."""
        mine = {first: self._chords[:, 0] == first for first in self.starts[:-1]}
        return {first: [rows[at] for rows in self._three_rows] for first, at in mine.items()}

    @cached_property
    def _bows(self):
        """Weights of the quadratic's share in chords between two breaks, (breaks - 1, n)."""
        near, far = self._at(self.starts), self._at(self.starts + self.length)
        bend = np.diff(far, axis=0) - np.diff(near, axis=0)
        return bend * (np.diff(self.starts) / self.length)[:, None]

    def _chord(self, number, z, width):
        """Return what `_zone` does, for the extreme of one chord."""
        first, middle, last = (rows[number] @ z for rows in self._three_rows)
        at = _vertex(4 * middle - 3 * first - last, 2 * (first - 2 * middle + last))
        low, high, place = self._chords[number]
        start = float(low + at * (high - low))
        row = self._chord_rows(np.array([start]), np.array([place]))[0]
        contacts = (start, float(place), start + self.length)
        return width, start, contacts, row * np.sign(row @ z)


def _extremes(first, middle, last):
    """Return the extreme height of chords between two breaks, 0 where none, from three heights."""
    slope, bend = 4 * middle - 3 * first - last, 2 * (first - 2 * middle + last)
    at = _vertex(slope, bend)
    return np.where(at > 0, first + at * (slope + at * bend), 0.0)


def _vertex(slope, bend):
    """Return where slope t + bend t² is extreme; 0 where that is not between 0 and 1."""
    slope, bend = np.asarray(slope), np.asarray(bend)
    between = (slope * bend < 0) & (np.abs(slope) < 2 * np.abs(bend))
    return np.divide(-slope, 2 * bend, out=np.zeros(bend.shape), where=between)


def _breaks(s, length):
    """Return where a stretch begins that begins or ends at a station, ascending."""
    slack = 1e-9 * length
    starts = np.concatenate([s, s - length])
    starts = np.sort(starts[(starts >= s[0] - slack) & (starts <= s[-1] - length + slack)])
    starts = np.clip(starts, s[0], s[-1] - length)
    return starts[np.concatenate([[True], np.diff(starts) > slack])]

"""Neighbours: is a reading out of line with those beside it, more than wear makes a face bend."""

from dataclasses import dataclass

import numpy as np

#: A face may bend at one place so many times as sharply as anywhere else that was read.
_SHARPER = 2.5

#: So many other places must tell how sharply the face bends before one between two is judged.
_LEAST_BENDS = 3

#: How far the next reading may step where the face goes on beyond what is read: no wear that is
#: worth scraping steps so far within one setting (common practice, no published source) [mm/m, mm].
STEEPEST = {"slope": 0.8, "length": 0.2}


@dataclass(frozen=True)
class OutOfLine:
    """How one reading lies against its neighbours; all in the unit of the readings.

    Attributes
    ----------
    expected : float
        On the straight line through the nearest places: between them, or beyond the last two.
    off : float
        The reading less that.
    u : float
        Standard uncertainty of `off`, from the readings alone.
    allowed : float
        How far it may be off, by its uncertainty, the bends of the face elsewhere and, at an end,
        the step that wear can make.
    between : bool
        Whether there is a place on either side.
    """

    expected: float
    off: float
    u: float
    allowed: float
    between: bool

    @property
    def doubtful(self):
        """Whether it is off by more than is allowed."""
        return abs(self.off) > self.allowed


def against_neighbours(x, value, place, u, critical, step):
    """Compare the reading at one place with those beside it.

    Parameters
    ----------
    x, value : ndarray, shape (n,)
        Places in ascending order, each once [mm], and what was read there.
    place : int
        Which of them is looked at.
    u : float
        Standard uncertainty of one reading.
    critical : float
        As from `metrolib.heights.blunders.critical_value`.
    step : float
        How far a reading beyond the others may step, in the unit of the readings.

    Returns
    -------
    OutOfLine or None
        None where the others do not suffice to tell.

    Notes
    -----
    A worn hollow bends a face too, so the uncertainty alone is no measure. The others, with the
    place itself taken out, tell how far a reading of this face ever leaves the line through its
    two neighbours; one that leaves it much farther than any of them stands alone. Where a hollow
    begins, the readings on its slope are among the others, so they speak for each other.

    Beyond the last reading nothing tells a slip from the beginning of a hollow but the size of the
    step, against the line through the last two and against the last one alone. What passes is
    looked at again when the next place is read.

    Examples
    --------
    >>> x, value = np.arange(0.0, 700, 100), np.array([0.1, 0.3, 0.2, 2.3, 0.4, 0.4, 0.5])
    >>> against_neighbours(x, value, 3, u=0.1, critical=3.5, step=16.0).doubtful
    True
    """
    other_x, other = np.delete(x, place), np.delete(value, place)
    enough = other.size >= _LEAST_BENDS + 2
    if other.size < 2:
        return None
    bends = np.abs(_bends(other_x, other)).max() if enough else 0.0
    after = int(np.searchsorted(other_x, x[place]))
    if 0 < after < other.size:
        low, high = after - 1, after
    else:
        low, high = (0, 1) if after == 0 else (other.size - 2, other.size - 1)
    between = 0 < after < other.size
    if between and not enough:
        return None
    share = (other_x[high] - x[place]) / (other_x[high] - other_x[low])
    expected = share * other[low] + (1 - share) * other[high]
    off = value[place] - expected
    off_u = u * np.sqrt(1 + share**2 + (1 - share) ** 2)
    allowed = max(critical * off_u, _SHARPER * bends)
    if not between:
        last = value[place] - other[low if after == 0 else high]
        off = off if abs(off) < abs(last) else last
        expected = value[place] - off
        # a bend is half of what the line through two neighbours misses the next one by
        allowed = max(critical * off_u, 2 * _SHARPER * bends, step)
    return OutOfLine(float(expected), float(off), float(off_u), float(allowed), between)


def _bends(x, value):
    """Return how far each reading but the first and last leaves the line of its neighbours."""
    share = (x[2:] - x[1:-1]) / (x[2:] - x[:-2])
    return value[1:-1] - share * value[:-2] - (1 - share) * value[2:]

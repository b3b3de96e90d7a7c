"""Between stations: what may hide where nobody measured, from the curvature the survey shows."""

from dataclasses import dataclass

import numpy as np

_NEIGHBOURS = 2  # so many steps either way, changes of the curvature count for a gap
_ONE_SIDED = 2.0  # how much less is known of an end gap, whose curvature comes from one side


@dataclass(frozen=True, eq=False)
class Gaps:
    """The middles of the gaps between neighbouring stations of one face.

    Attributes
    ----------
    ends : ndarray of int, shape (g, 2)
        The stations on either side.
    weights : ndarray, shape (g, n)
        The estimated height of the face at each middle, as weights of the stations.
    spread : ndarray, shape (g,)
        Standard uncertainty of that estimate beside what the stations' own makes of it [mm].
    """

    ends: np.ndarray
    weights: np.ndarray
    spread: np.ndarray

    @property
    def dip_law(self):
        """How far the face lies below the straight line at each middle, as weights, (g, n)."""
        straight = np.zeros_like(self.weights)
        np.put_along_axis(straight, self.ends, 0.5, axis=1)
        return straight - self.weights


def find_gaps(x, y, z, cov):
    """Estimate the height of a face in the middle between neighbouring stations.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Stations of one face that count, in any order [mm].
    z : ndarray, shape (n,)
        Heights [mm].
    cov : ndarray, shape (n, n)
        Their covariance [mm²].

    Returns
    -------
    Gaps
        Along the ways; on a face surveyed in several rows also across, in columns of stations at
        one x. Rows and columns of fewer than three stations tell nothing and are missing.

    Notes
    -----
    Between two stations a pitch h apart the face lies below the straight line by c h² / 8, c the
    mean of the curvatures at the two stations (the sagitta of a parabola), each from the second
    difference of three neighbouring stations. The curvature between them may lie as far from that
    mean as the two do: half its change over the pitch. The mean square of the change is taken over
    the gap and two neighbours either way, less what the uncertainty of the heights alone makes of
    it; so no waviness is read out of noise. At the ends the curvature is carried over from one
    side, and twice the change is allowed for. On a row of three stations there is no change to see;
    there the curvature itself is taken for it.

    A wave shorter than some 2.5 pitches cannot be told from a longer one by any survey with these
    stations; it stays hidden, and so do scratches.

    Examples
    --------
    A face that is 0.02 mm hollow like a parabola over 800 mm, five stations:

    >>> x = np.array([0.0, 200.0, 400.0, 600.0, 800.0])
    >>> z = 0.02 * ((x / 400 - 1) ** 2 - 1)
    >>> gaps = find_gaps(x, np.zeros(5), z, np.zeros((5, 5)))
    >>> (gaps.dip_law @ z).round(6).tolist(), gaps.spread.round(6).tolist()
    ([0.00125, 0.00125, 0.00125, 0.00125], [0.0, 0.0, 0.0, 0.0])
    """
    found = []
    for line, at in _lines(x, y):
        found.append(_gaps_on(line, at, z, cov))
    if not found:
        return Gaps(np.zeros((0, 2), dtype=int), np.zeros((0, len(x))), np.zeros(0))
    return Gaps(*map(np.concatenate, zip(*found, strict=True)))


def _lines(x, y):
    """Yield the rows, and the columns, of at least three stations: stations, and where on it."""
    ways = [(y, x)]
    if np.unique(y.round(2)).size > 1:
        ways.append((x, y))
    for across, along in ways:
        for place in np.unique(across.round(2)):
            mine = np.flatnonzero(across.round(2) == place)
            at, first = np.unique(along[mine].round(2), return_index=True)
            if at.size >= 3:
                yield mine[first], at


def _gaps_on(line, at, z, cov):
    """Return ends, weights and spread of the gaps of one row of stations."""
    n, pitch = len(at), np.diff(at)
    rows = np.eye(len(z))[line]
    slope = np.diff(rows, axis=0) / pitch[:, None]
    curvature = np.diff(slope, axis=0) / ((pitch[1:] + pitch[:-1]) / 2)[:, None]
    beside = np.vstack([curvature[:1], (curvature[1:] + curvature[:-1]) / 2, curvature[-1:]])
    dip = beside * (pitch**2 / 8)[:, None]
    weights = (rows[1:] + rows[:-1]) / 2 - dip
    if n == 3:
        unknown = np.full(2, _mean_square(curvature, z, cov)) ** 0.5
    else:
        change = np.diff(curvature, axis=0) / pitch[1:-1, None]
        unknown = np.empty(n - 1)
        for gap in range(n - 1):
            middle = np.clip(gap - 1, 0, n - 4)
            near = change[max(middle - _NEIGHBOURS, 0) : middle + _NEIGHBOURS + 1]
            unknown[gap] = _mean_square(near, z, cov) ** 0.5 * pitch[gap] / 2
        unknown[[0, -1]] *= _ONE_SIDED
    return np.column_stack([line[:-1], line[1:]]), weights, unknown * pitch**2 / 8


def _mean_square(law, z, cov):
    """Return the mean square of what a law finds in heights, less that of their noise."""
    noise = np.einsum("ij,jk,ik->i", law, cov, law)
    return max(float(np.mean((law @ z) ** 2 - noise)), 0.0)

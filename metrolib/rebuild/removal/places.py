"""The places that a target must stay below: the stations, and by choice the gaps between them."""

from dataclasses import dataclass

import numpy as np

from metrolib.rebuild.removal.between import find_gaps


@dataclass(frozen=True, eq=False)
class Places:
    """Places, the stations that count first, then the middles of gaps.

    Attributes
    ----------
    face : ndarray of str, shape (q,)
    x, y : ndarray, shape (q,)
        [mm]
    ends : ndarray of int, shape (q, 2)
        The stations on either side, as places in the arrays of the group; a station's own twice.
    low : ndarray, shape (q, n)
        The height of each place, as weights of the n stations that count.
    dip_law : ndarray, shape (q, n)
        How far the face lies below the straight line between its neighbours, likewise.
    spread : ndarray, shape (q,)
        Standard uncertainty that is no station's [mm].
    cov : ndarray, shape (q, q)
        Covariance of the heights of the places [mm²].
    """

    face: np.ndarray
    x: np.ndarray
    y: np.ndarray
    ends: np.ndarray
    low: np.ndarray
    dip_law: np.ndarray
    spread: np.ndarray
    cov: np.ndarray

    @property
    def u(self):
        """Standard uncertainty of each height, shape (q,) [mm]."""
        return np.sqrt(np.clip(np.diag(self.cov), 0.0, None))


def make_places(group, decision, *, gaps):
    """Return the places of a group.

    Parameters
    ----------
    group : Group
    decision : Decision
    gaps : bool
        Whether the gaps of the faces that may be cut join the stations.

    Returns
    -------
    Places
    """
    counts = np.flatnonzero(~group.left_out)
    height = group.relative_height[counts]
    cov = group.cov[np.ix_(counts, counts)]
    face, n = group.face[counts], len(counts)
    ends, low, dips = [np.column_stack([counts, counts])], [np.eye(n)], [np.zeros((n, n))]
    spread = [np.zeros(n)]
    for name in [*decision.faces] if gaps else []:
        mine = np.flatnonzero(face == name)
        if name in decision.untouchable:
            continue
        x, y = group.x[counts[mine]], group.y[counts[mine]]
        found = find_gaps(x, y, height[mine], cov[np.ix_(mine, mine)])
        ends.append(counts[mine][found.ends])
        low.append(_spread_out(found.weights, mine, n))
        dips.append(_spread_out(found.dip_law, mine, n))
        spread.append(found.spread)
    ends, low, spread = np.concatenate(ends), np.vstack(low), np.concatenate(spread)
    return Places(
        group.face[ends[:, 0]],
        group.x[ends].mean(axis=1),
        group.y[ends].mean(axis=1),
        ends,
        low,
        np.vstack(dips),
        spread,
        low @ cov @ low.T + np.diag(spread**2),
    )


def _spread_out(weights, mine, n):
    """Return weights of the stations of one face as weights of all."""
    whole = np.zeros((len(weights), n))
    whole[:, mine] = weights
    return whole

"""The linear programme of a removal as numbers, and what solves it: where the target lies."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class Programme:
    """A removal as numbers.

    Attributes
    ----------
    motions : tuple of str
    columns : ndarray, shape (n, p)
        G: height of the target for one unit of each motion [mm, mm/m].
    height : ndarray, shape (n,)
        z, less the crown [mm].
    area : ndarray, shape (n,)
        Area that each station stands for [mm²].
    least : ndarray, shape (q,)
        Depth by which the target must stay below each place [mm].
    u : ndarray, shape (q,)
        Uncertainty that the guard multiplies; 0 where nothing has to clean up [mm].
    greatest : ndarray, shape (n,)
        Most that may come off; infinite where nothing limits it, 0 where nothing may [mm].
    band : float
        Band above the target within which a face may stay as it is [mm].
    limit : ndarray, shape (p,)
        How far each motion may go either way.
    minimise : str
        ``"volume"`` or ``"deepest cut"``.
    low : ndarray, shape (q, n), or None
        The places that the target must stay below, each as weights of the stations: the stations
        themselves come first, as places 0 to n - 1; None where there are no others.
    """

    motions: tuple[str, ...]
    columns: np.ndarray
    height: np.ndarray
    area: np.ndarray
    least: np.ndarray
    u: np.ndarray
    greatest: np.ndarray
    band: float
    limit: np.ndarray
    minimise: str
    low: np.ndarray | None = None

    def depth(self, motion):
        """Return what comes off each station down to the target of these motions [mm]."""
        return np.maximum(self.height - self.columns @ motion - self.band, 0.0)

    def cost(self, motion):
        """Return what is minimised: the mean depth over the faces, or the deepest cut [mm]."""
        depth = self.depth(motion)
        return float(depth.max() if self.minimise == "deepest cut" else self._mean(depth))

    def _mean(self, depth):
        """Return the mean over the faces of what comes off the stations [mm]."""
        return depth @ self.area / self.area.sum()

    def room(self, motion):
        """Return what more than asked for comes off each place, shape (q,) [mm]."""
        return self.at_places(self.height - self.columns @ motion) - self.least

    def at_places(self, values):
        """Return values of the stations, along the first axis, as they are at the places."""
        return values if self.low is None else self.low @ values


@dataclass(frozen=True, eq=False)
class Target:
    """Where the target lies.

    Attributes
    ----------
    motion : ndarray, shape (p,)
        [mm, mm/m]
    law : ndarray, shape (p, q)
        How the motions answer to the heights of the places that decide them.
    role : dict of int to str
        The places that decide the value asked for, with what they do: ``"low spot"``,
        ``"high spot"``, ``"greatest cut"``; the first n places are the stations.
    """

    motion: np.ndarray
    law: np.ndarray
    role: dict[int, str]

"""Contact: where a rigid body comes to rest on faces that were lowered a little."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from metrolib import checks

#: The small motions of a body, in the order of the columns of `contact_rows`.
MOTIONS = ("lift", "shift", "roll", "pitch", "yaw")

#: A foot nearer than this touches [mm].
TOUCHES = 1e-6

_NIL = 1e-12  # a share of a motion that is only rounding of a normal
_SHARE = 1e-9  # of its length, so much of a motion may lie outside what the feet hold


def point_rows(x, y, z):
    """Return how points of a body move with it.

    Parameters
    ----------
    x, y, z : array_like, shape (n,)
        The points, from the body's own reference [mm].

    Returns
    -------
    side, up : ndarray, shape (n, 5)
        Movement of each point towards +y and upward [mm] per unit of lift and shift [mm], roll
        (the +y side up), pitch (the far end up) and yaw (the far end towards +y) [mm/m].
    """
    x, y, z = (np.atleast_1d(np.asarray(part, dtype=float)) / 1e3 for part in (x, y, z))
    one, nil = np.ones_like(x), np.zeros_like(x)
    return np.column_stack([nil, one, -z, nil, x]), np.column_stack([one, nil, y, x, nil])


@dataclass(frozen=True, eq=False)
class Rest:
    """Where the body rests.

    Attributes
    ----------
    motion : ndarray, shape (5,)
        What it moved by; the part that the feet leave free is 0 [mm, mm/m].
    law : ndarray, shape (5, n)
        How this answers to what came off at each foot, while the same feet touch.
    gap : ndarray, shape (n,)
        Room left at each foot [mm].
    """

    motion: np.ndarray
    law: np.ndarray
    gap: np.ndarray


class Contact:
    """The feet of a body and what they hold.

    Parameters
    ----------
    rows : ndarray, shape (n, 5)
        Movement of each foot along the outward normal of its face, per unit of each motion.

    Notes
    -----
    With t what came off at the feet and m the motion, the room at the feet is rows m + t. No foot
    may enter the metal, so none of it is below 0; of all such places the body takes the one with
    the least sum of squares of the room. Where the feet fit the faces this is the only place
    without any room. Where they do not, the body rocks, and this is the middle of its rock.
    """

    def __init__(self, rows):
        self.rows = rows = np.where(np.abs(rows) < _NIL, 0.0, rows)
        size = np.abs(rows).max(axis=0, initial=0.0)
        self._scale = np.where(size > 0, size, 1.0)
        left, spread, right = np.linalg.svd(rows / self._scale, full_matrices=False)
        rank = int((spread > _SHARE * max(spread.max(initial=0.0), 1e-300)).sum())
        self._range = left[:, :rank]
        self._back = right[:rank].T / spread[:rank]
        self._held = right[:rank]

    def holds(self, row):
        """Tell whether the feet hold a movement (a row over the motions)."""
        scaled = row / self._scale
        free = scaled - self._held.T @ (self._held @ scaled)
        return bool(np.linalg.norm(free) <= _SHARE**0.5 * max(np.linalg.norm(scaled), 1e-300))

    def rest(self, taken):
        """Find where the body rests.

        Parameters
        ----------
        taken : ndarray, shape (n,)
            What came off at each foot, of its face and of the body together [mm].

        Returns
        -------
        Rest

        Raises
        ------
        InputError
            If there is no room for the body between the faces.

        Notes
        -----
        Least distance programming by non-negative least squares: C. L. Lawson and R. J. Hanson,
        Solving Least Squares Problems, chapter 23, problem LDP (from memory).
        """
        across = np.eye(len(taken)) - self._range @ self._range.T
        misfit = across @ taken
        touching = self._touching(misfit)
        # the shortest step from the least-squares place that brings these feet to touch
        law = -np.linalg.pinv(self._range[touching]) @ across[touching] - self._range.T
        law = self._back @ law / self._scale[:, None]
        motion = law @ taken
        gap = self.rows @ motion + taken
        return Rest(motion, law, np.where(np.abs(gap) < TOUCHES, 0.0, gap))

    def _touching(self, misfit):
        """Return the feet that keep the body from its least-squares place."""
        size = np.abs(misfit).max(initial=0.0)
        if size < TOUCHES:
            return np.zeros(0, dtype=int)  # every foot fits
        h = -misfit / size
        system = np.vstack([self._range.T, h])
        force, _ = nnls(system, np.append(np.zeros(len(system) - 1), 1.0))
        if 1 - h @ force < _SHARE:
            raise checks.wrong(
                "removed",
                "there is no room for the body between the faces that hold it",
                f"{size:.4g} mm too little",
                "take off more, or a thinner shim",
            )
        return np.flatnonzero(force > _SHARE * force.max(initial=0.0))

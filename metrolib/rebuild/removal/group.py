"""The group of faces that end together: its stations seen in their frame, and its target's freedom.

The target of a group is its nominal shape, with the crown on it, after one rigid motion
(`coplanar`), or after one tilt and an offset for each face (`parallel`). Its heights are seen less
the rigid motion that fits the datum, and less what of that motion the datum leaves open, fitted to
the group itself.
"""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import NotDeterminedError
from metrolib.heights.frame import fit_motion, rigid_columns
from metrolib.heights.result import DETERMINED, PRIOR_U
from metrolib.rebuild.removal.areas import station_areas
from metrolib.rebuild.removal.conditions import named
from metrolib.rebuild.removal.crown import crown_at

#: Motions in the order of the columns of `metrolib.heights.frame.rigid_columns`.
RIGID = ("lift", "pitch", "roll", "shift", "yaw")


@dataclass(frozen=True, eq=False)
class Group:
    """Stations of the faces that end together.

    Attributes
    ----------
    index : ndarray of int, shape (n,)
        Their places among the heights.
    face : ndarray of str, shape (n,)
    x, y : ndarray, shape (n,)
        [mm]
    left_out : ndarray of bool, shape (n,)
    nominal : ndarray, shape (n,)
        Nominal heights [mm].
    relative_height : ndarray, shape (n,)
        Heights above nominal in the frame of the datum [mm].
    crown : ndarray, shape (n,)
        How much higher than a plane the target is to stand [mm].
    law : ndarray, shape (n, N)
        How the heights answer to all N heights: relative_height = law (heights - nominal heights).
    error_law : ndarray, shape (n, N)
        How the errors of all N heights show against a target that is set out in this frame.
    cov : ndarray, shape (n, n)
        Covariance of the heights against a target that is set out in this frame; where faces are
        only to be parallel the uncertainty of each face's own height drops out [mm²].
    motions : tuple of str
        How the target may move.
    columns : ndarray, shape (n, p)
        Height of the target for one unit of each motion [mm, mm/m].
    limit : ndarray, shape (p,)
        How far each motion may go either way; infinite where it is free.
    area : ndarray, shape (n,)
        Area of face that each station stands for, 0 where it is left out [mm²].
    """

    index: np.ndarray
    face: np.ndarray
    x: np.ndarray
    y: np.ndarray
    left_out: np.ndarray
    nominal: np.ndarray
    relative_height: np.ndarray
    crown: np.ndarray
    law: np.ndarray
    error_law: np.ndarray
    cov: np.ndarray
    motions: tuple[str, ...]
    columns: np.ndarray
    limit: np.ndarray
    area: np.ndarray

    @property
    def over_crown(self):
        """Heights less the crown, shape (n,) [mm]: the target lies below them as a plane."""
        return self.relative_height - self.crown

    def mean(self, values):
        """Return the mean over the faces of values of the stations, along the first axis."""
        return self.area @ values / self.area.sum()


def make_group(heights, decision):
    """Return the group of a decision that was checked.

    Raises
    ------
    InputError
        If a tilt is held to a datum that does not show it.
    NotDeterminedError
        If the readings do not tie the stations of the group to its frame.
    """
    index = np.flatnonzero(np.isin(heights.face, decision.faces))
    rigid = rigid_columns(heights.faces, heights.face, heights.x, heights.y)
    motions, columns = _freedom(rigid[index], heights.face[index], decision)
    limit = _limits(heights, decision, motions, rigid)
    law, error_law, cov = _see(heights, decision, rigid, index, motions, columns, limit)
    nominal = np.array([heights.faces[name].nominal_height for name in heights.face])
    return Group(
        index,
        heights.face[index],
        heights.x[index],
        heights.y[index],
        heights.left_out[index],
        nominal[index],
        law @ (heights.values - nominal),
        crown_at(decision, heights.faces, heights.face[index], heights.x[index]),
        law,
        error_law,
        cov,
        motions,
        columns,
        limit,
        _areas(heights, index),
    )


def _areas(heights, index):
    """Return the area that each station stands for; 0 where it is left out."""
    area = np.zeros(len(heights.face))
    for name in dict.fromkeys(heights.face[index]):
        mine = np.flatnonzero((heights.face == name) & ~heights.left_out)
        area[mine] = station_areas(heights.faces[name], heights.x[mine], heights.y[mine])
    return area[index]


def _freedom(rigid, face, decision):
    """Return names and columns of the motions that tell targets of the group apart.

    The roll comes last: on the two flanks of a vee it is the same as a shift with a lift.
    """
    rigid = dict(zip(RIGID, rigid.T, strict=True))
    if decision.together == "coplanar":
        candidates = {name: rigid[name] for name in ("lift", "pitch", "shift", "yaw", "roll")}
    else:
        candidates = {f"offset of {name!r}": (face == name) * 1.0 for name in decision.faces}
        candidates |= {name: rigid[name] for name in ("pitch", "yaw", "roll")}
    motions, columns = [], np.zeros((len(face), 0))
    for name, column in candidates.items():
        known = columns / np.maximum(np.linalg.norm(columns, axis=0), 1e-300)
        rest = column - known @ np.linalg.lstsq(known, column, rcond=None)[0]
        if np.linalg.norm(rest) > 1e-9 * max(np.linalg.norm(column), 1e-300):
            motions.append(name)
            columns = np.column_stack([columns, column])
    return tuple(motions), columns


def _limits(heights, decision, motions, rigid):
    """Return how far each motion of the target may go against the datum."""
    limit = dict.fromkeys(motions, np.inf)
    datum = np.isin(heights.face, decision.datum) & ~heights.left_out
    shown = _shown_by(rigid, datum)
    along = [name for name in ("pitch", "yaw") if name in motions]
    if decision.tilt_along is not None and along:
        # A flat ledge shows no yaw: then a vee is held to it in the vertical plane only.
        if along[0] not in shown:
            raise _not_shown("tilt_along", decision, along[0])
        limit |= {name: decision.tilt_along for name in along if name in shown}
    if decision.tilt_across is not None:
        if "roll" not in shown:
            raise _not_shown("tilt_across", decision, "roll")
        limit |= {"roll": decision.tilt_across} if "roll" in motions else {}
    return np.array([float(limit[name]) for name in motions])


def _shown_by(rigid, datum):
    """Return the names of the motions that the datum alone settles."""
    scale = np.abs(rigid).max(axis=0)
    scaled = rigid / np.where(scale > 0, scale, 1.0)
    resolved = fit_motion(scaled, datum) @ scaled if datum.any() else np.zeros((5, 5))
    alone = np.abs(resolved - np.eye(5)).max(axis=1) < 1e-9
    return {name for name, settled in zip(RIGID, alone, strict=True) if settled}


def _not_shown(argument, decision, motion):
    """Return the error for a tilt that the datum does not show."""
    return checks.wrong(
        argument,
        f"the datum does not show the {motion}",
        named(decision.datum),
        "name datum faces that do (for the roll: two of them, or a wide one), or leave it out",
    )


def _see(heights, decision, rigid, index, motions, columns, limit):
    """Return the laws of the heights that are shown and of their errors, and these' covariance."""

    def look(names):
        """See the group less its own motions of these names as well."""
        own = np.zeros((len(heights.face), len(names)))
        own[index] = columns[:, [motions.index(name) for name in names]]
        all_columns = np.hstack([rigid, own])
        first = np.isin(heights.face, decision.datum) & ~heights.left_out
        then = np.isin(heights.face, decision.faces) & ~heights.left_out
        law = -(all_columns @ fit_motion(all_columns, first, then))[index]
        law[np.arange(len(index)), index] += 1.0
        return law, law @ heights.cov @ law.T

    def tied(cov):
        """Tell whether the readings tie every station that counts to the frame."""
        variance = np.diag(cov)[~heights.left_out[index]]
        return bool((variance <= (PRIOR_U * DETERMINED) ** 2).all())

    free = [name for name, most in zip(motions, limit, strict=True) if np.isinf(most)]
    offsets = [name for name in free if name.startswith("offset")]
    law, cov = look([])
    error_law = law
    if not tied(cov):
        # No reading ties the group to the datum in some motion. That costs nothing if the target
        # is free in it: the group is then seen less that motion of its own.
        law, cov = look(free)
        error_law = law
        if not tied(cov):
            raise _not_determined(heights, decision)
    elif offsets:
        error_law, cov = look(offsets)
    return law, error_law, cov


def _not_determined(heights, decision):
    """Return the error for a group that the readings do not tie to its frame."""
    faces = {*decision.faces, *decision.datum}
    missing = [str(item) for item in heights.not_determined if faces & set(item.faces)]
    whole = f"heights of {named(decision.faces)}" + (
        f" against {named(decision.datum)}" if decision.datum else " against each other"
    )
    if not missing:
        missing = ["no reading connects them; take a cross-level, bridge or micrometer reading"]
    return NotDeterminedError(
        "\n  ".join([f"{whole}: not determined, so no cut can be planned", *missing])
    )

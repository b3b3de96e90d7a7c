"""What a planned removal holds, and how it is read."""

from dataclasses import dataclass
from functools import cached_property, partial
from html import escape

import numpy as np

from metrolib.heights.result import Heights
from metrolib.rebuild import wording
from metrolib.rebuild.removal.group import Group
from metrolib.rebuild.removal.places import Places
from metrolib.rebuild.removal.programme import Programme
from metrolib.rebuild.removal.programme_batched import find_targets
from metrolib.survey.decision import Decision
from metrolib.survey.machine import Face
from metrolib.uncertain.linear import Measured


@dataclass(frozen=True)
class Governing:
    """A station that decides where the target lies.

    Attributes
    ----------
    station : int
        Its place in the arrays of the plan; of a gap, the station before it.
    face : str
    x, y : float
        [mm]
    role : str
        ``"low spot"``: the target must pass below it; ``"high spot"``: it limits how low the
        target may lie; ``"greatest cut"``: no more may come off it; ``"hollow between stations"``:
        the target must pass below what may hide in a gap, its middle at x, y.
    cost : float
        Volume that comes off more if the station is found 0.01 mm lower [mm³]; below zero where
        it is a higher station that costs metal.
    """

    station: int
    face: str
    x: float
    y: float
    role: str
    cost: float


@dataclass(frozen=True)
class FaceRemoval:
    """What comes off one face, at the stations that count.

    Attributes
    ----------
    face : str
    most, least : float
        Greatest and least depth [mm].
    most_at, least_at : float
        Where they are, x [mm].
    volume : float
        [mm³]
    untouched : tuple of (float, float)
        Stretches between the first and the last of neighbouring stations that lose nothing [mm].
    most_station, least_station : int
        Their places in the arrays of the plan.
    """

    face: str
    most: float
    most_at: float
    least: float
    least_at: float
    volume: float
    untouched: tuple[tuple[float, float], ...]
    most_station: int
    least_station: int


def _mean_targets(programme, law, shape, mean_columns, mean_crown, z):
    """Return the mean height of the target for each set of heights."""
    return find_targets(programme, z @ law.T - shape).motion @ mean_columns + mean_crown


def _given_target(height, z):
    """Return the mean height of a target set by hand, the same for each set of heights."""
    return np.full(len(z), height)


@dataclass(frozen=True, eq=False)
class RemovalPlan:
    """A removal, planned.

    Attributes
    ----------
    heights : Heights
        The heights it was planned from.
    decision : Decision
        The conditions it meets.
    faces : dict of str to Face
        The faces that end together.
    face : ndarray of str, shape (n,)
    x, y : ndarray, shape (n,)
        Stations of these faces [mm].
    left_out : ndarray of bool, shape (n,)
        Stations that do not count; the depth down to the target is shown there all the same.
    nominal : ndarray, shape (n,)
        Nominal height of the face, along its normal [mm].
    relative_height : ndarray, shape (n,)
        Measured height above nominal, in the frame of the datum; without a datum, in the frame
        that fits the faces themselves [mm].
    target : ndarray, shape (n,)
        Height of the target above nominal, in the same frame [mm].
    target_u : ndarray, shape (n,)
        Standard uncertainty of that height, while the same stations decide [mm]; where faces are
        nearly true others may, and `metrolib.rebuild.removal.study.study_plan` tells how often.
    depth : ndarray, shape (n,)
        What comes off, square to the face [mm].
    depth_u : ndarray, shape (n,)
        Standard uncertainty of it: how well the height is known against a target that stands
        fixed in the frame [mm].
    area : ndarray, shape (n,)
        Area that each station stands for, 0 where it is left out [mm²].
    motions : tuple of str
        How the target may move.
    motion_values : ndarray, shape (p,)
        How far it is moved from the nominal shape with its crown: lift and shift [mm], pitch, roll
        and yaw [mm/m] as in `metrolib.heights.frame.rigid_columns`, offsets along each normal [mm].
    motion_law : ndarray, shape (p, N)
        How these answer to all N heights, while the same stations decide.
    volume, volume_u : float
        Metal that comes off, and its standard uncertainty while the same stations decide [mm³].
    deepest : int
        Station with the deepest cut.
    governing : tuple of Governing
        The stations that decide where the target lies, the most costly first.
    guard : float
        Standard uncertainties that lie, at least, between the target and every place that must
        clean up; 0 without a guard, below 0 where a target set by hand leaves a place unclean.
    guard_depth : float
        Depth that the guard costs, mean over the faces [mm].
    guard_volume : float
        Metal that the guard costs [mm³].
    confidence : float
        Probability that every place cleans up if the target is cut exactly.
    group : Group
        The stations in their frame, with the law of their heights.
    places : Places
        What the target must stay below.
    programme : Programme
        The linear programme that the target solves, its guard in it.
    """

    heights: Heights
    decision: Decision
    faces: dict[str, Face]
    face: np.ndarray
    x: np.ndarray
    y: np.ndarray
    left_out: np.ndarray
    nominal: np.ndarray
    relative_height: np.ndarray
    target: np.ndarray
    target_u: np.ndarray
    depth: np.ndarray
    depth_u: np.ndarray
    area: np.ndarray
    motions: tuple[str, ...]
    motion_values: np.ndarray
    motion_law: np.ndarray
    volume: float
    volume_u: float
    deepest: int
    governing: tuple[Governing, ...]
    guard: float
    guard_depth: float
    guard_volume: float
    confidence: float
    group: Group
    places: Places
    programme: Programme

    @cached_property
    def motion(self):
        """The motions of the target by name, correlated with the heights [mm, mm/m].

        Plain floats where the heights are exact.
        """
        values = self.motion_values.tolist()
        if not self.heights.cov.any():
            return dict(zip(self.motions, values, strict=True))
        error = self.heights.z - self.heights.values
        return {
            name: value + sum((law[i] * error[i] for i in np.flatnonzero(law)), start=0 * error[0])
            for name, value, law in zip(self.motions, values, self.motion_law, strict=True)
        }

    @property
    def value(self):
        """Mean height of the target over the faces, correlated with the heights [mm].

        Above nominal, in the frame of the datum. A plain float where the heights are exact.
        """
        moved = zip(self.group.mean(self.group.columns), self.motion.values(), strict=True)
        crown = float(self.group.mean(self.group.crown))
        return sum((share * motion for share, motion in moved), start=crown)

    @property
    def drawn_from(self):
        """The heights it came from, as `metrolib.uncertain.linear.Measured`."""
        cov = self.heights.cov if self.heights.cov.any() else None
        return Measured(self.heights.values, cov, None)

    @property
    def redo(self):
        """What finds `value` again: a function of all heights, shape (T, N) [mm], to T values.

        The guard keeps the room that it gives now. NaN where heights leave no target that meets
        the conditions. With a band it takes some milliseconds for each set of heights.
        """
        if self.decision.target_height is not None:
            return partial(_given_target, self.decision.target_height)
        nominal = np.array([self.heights.faces[name].nominal_height for name in self.heights.face])
        group, counts = self.group, ~self.left_out
        law = group.law[counts]
        shape = law @ nominal + group.crown[counts]
        means = group.mean(group.columns), group.mean(group.crown)
        return partial(_mean_targets, self.programme, law, shape, *means)

    @property
    def deviation_left(self):
        """Height above the target after the cut, at each station, shape (n,) [mm]."""
        return self.relative_height - self.depth - self.target

    @property
    def lacking(self):
        """Metal that lacks at each station as measured, shape (n,) [mm].

        How much lower the target would have to lie for the station to clean up; 0 where it does,
        and where it is left out. With a band it is how far the face ends below the target.
        """
        asked = np.where(np.isin(self.face, self.decision.untouchable), 0, self.decision.clean_up)
        lack = self.target + asked - self.relative_height
        return np.where(self.left_out | (lack < 1e-10), 0.0, lack)

    @property
    def per_face(self):
        """What comes off each face, a tuple of `FaceRemoval`."""
        return tuple(self._on(name) for name in self.faces)

    def _on(self, name):
        """Return what comes off one face."""
        mine = np.flatnonzero((self.face == name) & ~self.left_out)
        depth, x = self.depth[mine], self.x[mine]
        most, least = int(depth.argmax()), int(depth.argmin())
        nothing = np.concatenate([[False], depth == 0, [False]]).astype(int)
        start, end = np.flatnonzero(np.diff(nothing) > 0), np.flatnonzero(np.diff(nothing) < 0)
        return FaceRemoval(
            name,
            float(depth[most]),
            float(x[most]),
            float(depth[least]),
            float(x[least]),
            float(depth @ self.area[mine]),
            tuple((float(x[i]), float(x[j - 1])) for i, j in zip(start, end, strict=True)),
            int(mine[most]),
            int(mine[least]),
        )

    def in_words(self, unit="um"):
        """Say what to do at the bench, in one paragraph.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return wording.in_words(self, unit)

    def to_dataframe(self, unit="um"):
        """Return the depths as a pandas table, one station a row.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``; heights stay in mm, nominal included.
        """
        return wording.depth_table(self, unit)

    def to_text(self, unit="um"):
        """Return the depths in plain text: a place along the ways a line, a face a column."""
        grid = wording.depth_grid(self, unit)
        return f"{wording.grid_key(unit)}\n{grid.to_string()}"

    def to_html(self, unit="um"):
        """Return the depths as an HTML table: a place along the ways a row, a face a column."""
        grid = wording.depth_grid(self, unit).to_html(border=0, classes="depths")
        return f"<p>{escape(wording.grid_key(unit))}</p>{grid}"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return f"<p>{escape(self.in_words())}</p>{wording.face_table(self)}"

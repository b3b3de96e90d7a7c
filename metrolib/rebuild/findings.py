"""Findings: the form of every face, and of the faces together, from one set of heights."""

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise

import numpy as np

from metrolib import checks
from metrolib.form.coplanarity import coplanarity
from metrolib.form.datums import rank_datums
from metrolib.form.flatness import flatness
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.form.vee import FLATTEST, SHARPEST, half_angle_of, vee
from metrolib.heights.result import DETERMINED, PRIOR_U, Heights
from metrolib.survey.decision import Decision

#: Heights whose standard uncertainty reaches this are not determined by the readings [mm].
UNKNOWN = PRIOR_U * DETERMINED


@dataclass(frozen=True, eq=False)
class Findings:
    """The form of the machine, as far as the readings determine it.

    Each form is found when it is first asked for.

    Attributes
    ----------
    heights : Heights
    decision : Decision
    form : float
        What the last scraping left on stretches that never wore [mm].
    """

    heights: Heights
    decision: Decision
    form: float = 0.0

    @cached_property
    def straightness(self):
        """By face, for faces surveyed along one line."""
        return {n: straightness(line.x, line.z) for n, line in self._shaped.items()}

    @cached_property
    def flatness(self):
        """By face, for faces surveyed at several y."""
        return {
            n: flatness(line.x, line.y, line.z)
            for n, line in self._wide.items()
            if _known(self.heights, [line], _plane)
        }

    @cached_property
    def parallelism(self):
        """By (face, datum)."""
        return _parallelisms(self.heights, self._shaped, self._group, self.decision.datum)

    @cached_property
    def twist(self):
        """By pair of faces, the one at smaller y first."""
        group = {n: self._shaped[n] for n in self._group if n in self._shaped}
        return _twists(self.heights, group)

    @cached_property
    def vee(self):
        """By pair of flanks that lean apart and lie side by side, the one at smaller y first."""
        return _vees(self.heights, self._shaped)

    @cached_property
    def coplanarity(self):
        """Of the faces that are to end coplanar, or None."""
        group = [(name, self._lines[name]) for name in self._group]
        return _coplanarity(self.heights, group, self.decision)

    @cached_property
    def datums(self):
        """How well each face can serve as a datum, as `DatumRanking`, or None.

        Of those whose shape and direction to each other are determined; None where all heights
        are exact, for nothing tells then how near to a line is near enough.
        """
        upright = {n: line for n, line in self._shaped.items() if line.up}
        return _datums(self.heights, upright, self.form)

    @cached_property
    def _lines(self):
        heights = self.heights
        lines = {name: _line(heights, name) for name in heights.faces if name in heights.face}
        return {name: line for name, line in lines.items() if line.x.size}

    @cached_property
    def _wide(self):
        return {n: line for n, line in self._lines.items() if np.unique(line.y).size > 1}

    @cached_property
    def _shaped(self):
        """The narrow faces whose shape is determined."""
        narrow = {n: line for n, line in self._lines.items() if n not in self._wide}
        return {
            n: line
            for n, line in narrow.items()
            if line.x.size > 2 and _known(self.heights, [line], _tilted)
        }

    @property
    def _group(self):
        return [name for name in self.decision.faces if name in self._lines]


@dataclass(frozen=True, eq=False)
class _Line:
    """The stations of a face that count, heights less the nominal one; `at` is their place."""

    at: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    up: float


def findings(heights, decision, *, form=0.0):
    """Evaluate every form that the readings determine.

    Parameters
    ----------
    heights : Heights
    decision : Decision
        Its faces are compared with each other and with its datum.
    form : float
        What the last scraping left on stretches that never wore; a station so much lower than
        the unworn line still counts as unworn when datums are ranked [mm].

    Returns
    -------
    Findings
        Stations that are left out of the decision do not count. A form that the readings do not
        determine is missing; ``heights.not_determined`` says why.

    Examples
    --------
    >>> from metrolib import Decision, Face, given_heights
    >>> front = Face("front", y=0, width=30, x_from=0, x_to=400)
    >>> heights = given_heights([front], {"front": ([0, 200, 400], [0.0, -0.03, 0.0])}, u=0.001)
    >>> found = findings(heights, Decision(faces=("front",)))
    >>> round(found.straightness["front"].value.nominal_value, 4)
    0.03
    """
    return Findings(heights, decision, checks.number("form", form, at_least=0))


def _line(heights, name):
    """Return the stations of a face that count."""
    at = np.flatnonzero((heights.face == name) & ~heights.left_out)
    face = heights.faces[name]
    z = heights.z[at] - face.nominal_height
    return _Line(at, heights.x[at], heights.y[at], z, face.up)


def _known(heights, lines, motions):
    """Tell whether the readings determine every station of some faces, but for some motions.

    A form is decided by a few stations, so its own uncertainty does not tell: others that nobody
    knows may decide as well.
    """
    at = np.concatenate([line.at for line in lines])
    columns = motions(lines)
    rest = np.eye(at.size) - columns @ np.linalg.pinv(columns)
    cov = heights.cov[np.ix_(at, at)]
    return bool(np.einsum("ij,jk,ik->i", rest, cov, rest).max() < UNKNOWN**2)


def _tilted(lines):
    """Return the motions that leave straightness and parallelism: own heights, one tilt along."""
    own = np.zeros((sum(line.x.size for line in lines), len(lines)))
    start = 0
    for number, line in enumerate(lines):
        own[start : start + line.x.size, number] = 1.0
        start += line.x.size
    tilt = np.concatenate([line.up * line.x if line.up else line.x for line in lines]) / 1e3
    return np.column_stack([own, tilt])


def _plane(lines):
    """Return the motions that leave flatness and coplanarity: height, tilt along and across."""
    x, y = (np.concatenate([getattr(line, k) for line in lines]) / 1e3 for k in ("x", "y"))
    return np.column_stack([np.ones(x.size), x, y])


def _parallelisms(heights, lines, group, datums):
    """Compare each face of the group with each datum, seen as rising along the face's normal."""
    pairs = {}
    for datum in datums:
        for name in group:
            if name == datum or not {name, datum} <= lines.keys():
                continue
            line, other = lines[name], lines[datum]
            if line.up and other.up and _known(heights, [line, other], _tilted):
                seen = other.z * (line.up / other.up)
                pairs[name, datum] = parallelism(line.x, line.z, other.x, seen)
    return pairs


def _twists(heights, lines):
    """Return the twist of each pair of upward faces that share at least three stations."""
    found = {}
    upward = sorted((n for n, line in lines.items() if line.up == 1), key=lambda n: lines[n].y[0])
    for a, b in combinations(upward, 2):
        front, back = lines[a], lines[b]
        distance = heights.faces[b].y - heights.faces[a].y
        x, at_a, at_b = _shared(front, back)
        if distance == 0 or x.size < 3 or not _known(heights, [front, back], _tilted):
            continue
        found[a, b] = twist(x, front.z[at_a], back.z[at_b], distance)
    return found


def _vees(heights, lines):
    """Return the saddle's path on each vee: flanks whose own shapes are known are enough.

    How high and how tilted a flank lies only tilts the path.
    """
    found = {}
    slanting = [name for name, line in lines.items() if 0 < line.up < 1]
    for a, b in pairwise(sorted(slanting, key=lambda n: lines[n].y[0])):
        front, back = heights.faces[a], heights.faces[b]
        normals = front.normal, back.normal
        apart = front.across * back.across < 0 and back.y - front.y <= front.width + back.width
        x, at_a, at_b = _shared(lines[a], lines[b])
        if apart and x.size > 2 and SHARPEST <= half_angle_of(normals) <= FLATTEST:
            found[a, b] = vee(x, lines[a].z[at_a], lines[b].z[at_b], normals)
    return found


def _shared(front, back):
    """Return the x that two faces share, and where it stands on each."""
    return np.intersect1d(front.x.round(2), back.x.round(2), return_indices=True)


def _coplanarity(heights, group, decision):
    """Return the coplanarity of the group, where it is to end coplanar and all faces look up."""
    lines = [line for _, line in group]
    if decision.together != "coplanar" or len(group) < 2 or any(line.up != 1 for line in lines):
        return None
    if not _known(heights, lines, _plane):
        return None
    return coplanarity({name: (line.x, line.y, line.z) for name, line in group})


def _datums(heights, lines, form):
    """Rank the faces as datums, each seen as the vertical movement of what rides on it.

    Only faces whose directions are tied to each other can be compared: the largest such set.
    """
    lines = {n: line for n, line in lines.items() if heights.cov[np.ix_(line.at, line.at)].any()}
    best = []
    for first in lines:
        tied = [first]
        for name in lines:
            if name not in tied and _known(heights, [lines[n] for n in (*tied, name)], _tilted):
                tied.append(name)
        best = max(best, tied, key=len)
    ridden = {n: (line.x, line.z) for n, line in lines.items() if n in best}
    if not ridden:
        return None
    return rank_datums(ridden, up={n: lines[n].up for n in ridden}, tolerance=form)

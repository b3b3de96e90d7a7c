"""Findings: the form of every face, and of the faces together, from one set of heights."""

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from metrolib.form.coplanarity import coplanarity
from metrolib.form.datums import rank_datums
from metrolib.form.flatness import flatness
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.heights.result import DETERMINED, PRIOR_U

#: A form whose standard uncertainty reaches this is not determined by the readings [mm].
UNKNOWN = PRIOR_U * DETERMINED


@dataclass(frozen=True, eq=False)
class Findings:
    """The form of the machine, as far as the readings determine it.

    Attributes
    ----------
    straightness : dict of str to Straightness
        By face, for faces surveyed along one line.
    flatness : dict of str to Flatness
        By face, for faces surveyed at several y.
    parallelism : dict of (str, str) to Parallelism
        By (face, datum).
    twist : dict of (str, str) to Twist
        By pair of faces, the one at smaller y first.
    coplanarity : Coplanarity or None
        Of the faces that are to end coplanar.
    datums : DatumRanking or None
        How well each face can serve as a datum.
    """

    straightness: dict = field(default_factory=dict)
    flatness: dict = field(default_factory=dict)
    parallelism: dict = field(default_factory=dict)
    twist: dict = field(default_factory=dict)
    coplanarity: object = None
    datums: object = None


@dataclass(frozen=True, eq=False)
class _Line:
    """The stations of a face that count, heights less the nominal one."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray


def findings(heights, decision):
    """Evaluate every form that the readings determine.

    Parameters
    ----------
    heights : Heights
    decision : Decision
        Its faces are compared with each other and with its datum.

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
    lines = {name: _line(heights, name) for name in heights.faces if name in heights.face}
    wide = {name: line for name, line in lines.items() if np.unique(line.y).size > 1}
    narrow = {n: line for n, line in lines.items() if n not in wide and line.x.size > 2}
    group = [name for name in decision.faces if name in lines]
    return Findings(
        straightness=_determined({n: straightness(line.x, line.z) for n, line in narrow.items()}),
        flatness=_determined({n: flatness(line.x, line.y, line.z) for n, line in wide.items()}),
        parallelism=_determined(_parallelisms(heights.faces, narrow, group, decision.datum)),
        twist=_twists(heights.faces, {n: narrow[n] for n in group if n in narrow}),
        coplanarity=_coplanarity(heights.faces, lines, group, decision),
        datums=_datums(heights.faces, narrow),
    )


def _line(heights, name):
    """Return the stations of a face that count."""
    face = heights.on(name)
    kept = ~face.left_out
    return _Line(face.x[kept], face.y[kept], face.z[kept] - heights.faces[name].nominal_height)


def _parallelisms(faces, lines, group, datums):
    """Compare each face of the group with each datum, seen as rising along the face's normal."""
    pairs = {}
    for datum in datums:
        for name in group:
            if name == datum or not {name, datum} <= lines.keys():
                continue
            if faces[name].up and faces[datum].up:
                line, seen = lines[name], lines[datum].z * (faces[name].up / faces[datum].up)
                pairs[name, datum] = parallelism(line.x, line.z, lines[datum].x, seen)
    return pairs


def _twists(faces, lines):
    """Return the twist of each pair of upward faces that share at least three stations."""
    found = {}
    upward = sorted((name for name in lines if faces[name].up == 1), key=lambda n: faces[n].y)
    for a, b in combinations(upward, 2):
        distance = faces[b].y - faces[a].y
        x, at_a, at_b = np.intersect1d(
            lines[a].x.round(2), lines[b].x.round(2), return_indices=True
        )
        if distance == 0 or x.size < 3:
            continue
        result = twist(x, lines[a].z[at_a], lines[b].z[at_b], distance)
        if result.value.std_dev * distance / 1e3 < UNKNOWN:
            found[a, b] = result
    return found


def _coplanarity(faces, lines, group, decision):
    """Return the coplanarity of the group, where it is to end coplanar and all faces look up."""
    if decision.together != "coplanar" or len(group) < 2:
        return None
    if any(faces[name].up != 1 for name in group):
        return None
    result = coplanarity({name: (lines[name].x, lines[name].y, lines[name].z) for name in group})
    return result if result.value.std_dev < UNKNOWN else None


def _datums(faces, lines):
    """Rank the faces as datums, each seen as the vertical movement of what rides on it."""
    ridden = {
        name: (line.x, line.z / faces[name].up) for name, line in lines.items() if faces[name].up
    }
    return rank_datums(ridden) if ridden else None


def _determined(results):
    """Keep the results that the readings determine."""
    return {key: result for key, result in results.items() if result.value.std_dev < UNKNOWN}

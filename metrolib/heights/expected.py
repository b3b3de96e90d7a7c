"""Expected: how sure each result of a survey will be, from the rows of its readings alone.

What is looked at does not depend on the shape that will be found: the height of each station above
the line of best fit, a bow, and how faces lie against each other.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from metrolib.heights.ties import run_of, tied

#: What is looked at, each with its unit.
KINDS = {
    "straightness": "mm",
    "flatness": "mm",
    "bow": "mm",
    "height": "mm",
    "slope": "mm",
    "twist": "mm/m",
}


@dataclass(frozen=True, eq=False)
class Question:
    """A result that a survey is asked for, as linear functions of the heights.

    Attributes
    ----------
    kind : str
        ``"straightness"``: height of each station above the least-squares line of its face;
        ``"flatness"``: the same with a plane, for a face surveyed at several places across;
        ``"bow"``: the middle above the line through the ends;
        ``"height"``: one face against another in the middle of the length that both share;
        ``"slope"``: by how much their distance changes over that length;
        ``"twist"``: the same across the ways, as change of roll.
    faces : tuple of str
    x : ndarray, shape (k,)
        Where it is looked at; a slope or a twist, the length that it covers [mm].
    laws : ndarray, shape (m, n)
        The functions; one each place, or one in all.
    """

    kind: str
    faces: tuple[str, ...]
    x: np.ndarray
    laws: np.ndarray

    @property
    def name(self):
        """What it is called, e.g. ``"bow of 'front flat'"``."""
        joint = {"height": "against", "slope": "against", "twist": "and"}.get(self.kind, "")
        word = "between" if self.kind == "twist" else "of"
        return f"{self.kind} {word} " + f" {joint} ".join(repr(face) for face in self.faces)

    @property
    def unit(self):
        """``"mm"`` or ``"mm/m"``."""
        return KINDS[self.kind]


def questions(faces, stations, cov):
    """List what a survey will answer.

    Parameters
    ----------
    faces : sequence of Face
        Their order is that which `stations` counts in.
    stations : Stations
    cov : ndarray, shape (n, n)
        Covariance of the heights [mm²].

    Returns
    -------
    list of Question
        Those that the readings determine. Stations in stretches that are left out do not count.
        Faces are compared where they look the same way or opposite ways.
    """
    found, runs = [], {}
    for i, face in enumerate(faces):
        on_it = np.flatnonzero(stations.face == i)
        members = on_it[~face.is_left_out(stations.x[on_it])]
        if not members.size:
            continue
        runs[face.name] = run_of(stations.x, stations.y, members, len(cov))
        found += _of_one(face.name, stations, members, len(cov))
    named = {face.name: face for face in faces}
    for one, other in combinations(runs, 2):
        found += _of_two(named[one], named[other], runs)
    return [each for each in found if tied(each.laws, cov).all()]


def _of_one(name, stations, members, count):
    """Return what is asked of the shape of one face."""
    x, y = stations.x[members], stations.y[members]
    wide = np.ptp(y) > 0
    columns = [np.ones(x.size), (x - x.mean()) / 1e3, *([(y - y.mean()) / 1e3] if wide else [])]
    columns = np.column_stack(columns)
    if np.linalg.matrix_rank(columns) < columns.shape[1] or x.size <= columns.shape[1]:
        return []
    above = np.zeros((x.size, count))
    above[:, members] = np.eye(x.size) - columns @ np.linalg.pinv(columns)
    if wide:
        bears = np.abs(above).max(axis=1) > 1e-6  # one that holds the plane alone has no height
        return [Question("flatness", (name,), x[bears], above[bears])]
    bow, middle = np.zeros((1, count)), (x[0] + x[-1]) / 2
    high = int(np.searchsorted(x, middle).clip(1, x.size - 1))
    share = (middle - x[high - 1]) / (x[high] - x[high - 1])
    bow[0, members[high - 1 : high + 1]] = 1 - share, share
    bow[0, members[[0, -1]]] -= 0.5
    return [
        Question("straightness", (name,), x, above),
        Question("bow", (name,), np.array([middle]), bow),
    ]


def _of_two(one, other, runs):
    """Return what is asked of how two faces lie against each other."""
    facing = one.up * other.up + one.across * other.across
    if abs(facing) < 0.999:
        return []
    a, b = runs[one.name], runs[other.name]
    low, high = max(a.low, b.low), min(a.high, b.high)
    if low > high:
        return []
    names, same = (one.name, other.name), np.sign(facing)

    def apart(x):
        return b.at(x) - same * a.at(x)

    middle = (low + high) / 2
    found = [Question("height", names, np.array([middle]), apart(middle)[None])]
    if a.slope is None or b.slope is None or low == high:
        return found
    span, change = np.array([low, high]), (apart(high) - apart(low))[None]
    found.append(Question("slope", names, span, change))
    width = other.y - one.y
    if width != 0 and abs(one.up) > 0.999:
        found.append(Question("twist", names, span, 1e3 / width * change))
    return found

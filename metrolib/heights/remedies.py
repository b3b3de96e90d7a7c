"""Remedies: the usual readings that may tie what is not determined, the easiest first."""

from itertools import pairwise, product

import numpy as np

from metrolib.heights.result import PRIOR_U
from metrolib.heights.ties import Candidate

#: What is assumed of a reading that is not taken yet.
_U_LENGTH, _U_SLOPE = 0.005, 0.01  # mm, mm/m

OTHERWISE = "no single usual reading ties it; take readings that join its parts"


def for_whole_shape(face, x):
    """Return candidates for a face whose shape is open at every station."""
    eye = np.eye(len(x))
    candidates = []
    if abs(face.up) > 0.99:
        steps = _slopes(eye, x, np.arange(len(x) - 1), np.arange(1, len(x)))
        words = f"step a level along {face.name!r}, over all its stations"
        candidates.append(Candidate(words, steps, _one_level(len(steps))))
    words = (
        f"run an indicator along {face.name!r} against a straightedge, "
        "or compare it with a surface plate, over all its stations"
    )
    return [*candidates, Candidate(words, eye, _lying(x))]


def for_gaps(face, x, pieces):
    """Return candidates for a face that falls into pieces: bridge the gaps between them."""
    eye = np.eye(len(x))
    known = list(pieces[0][:2])  # a step whose slope is known, in the largest piece
    pieces = sorted(pieces, key=lambda piece: x[piece[0]])
    gaps = [(a[-1], b[0]) for a, b in pairwise(pieces)]
    candidates = []
    if abs(face.up) > 0.99 and all(x[a] < x[b] for a, b in gaps):
        steps = _slopes(eye, x, *zip(*gaps, known, strict=True))
        words = (
            f"take a level step from {_spans(x, gaps)} on {face.name!r} "
            "with the same level, not reset"
        )
        candidates.append(Candidate(words, steps, _one_level(len(steps))))
        around = [
            step
            for (a, b), (low, high) in zip(gaps, pairwise(pieces), strict=True)
            for step in (*pairwise(low[-2:]), (a, b), *pairwise(high[:2]))
        ]
        around = list(dict.fromkeys((int(i), int(j)) for i, j in around))
        steps = _slopes(eye, x, *zip(*around, strict=True))
        words = f"step one level over {_spans(x, around)} on {face.name!r}, without resetting it"
        candidates.append(Candidate(words, steps, _one_level(len(steps))))
    words = (
        f"run an indicator along {face.name!r} against a straightedge that reaches over "
        f"{x[0]:g} to {x[-1]:g} mm, or compare it with a surface plate"
    )
    return [*candidates, Candidate(words, eye, _lying(x))]


def for_flatness(face, x, y):
    """Return candidates for a wide face whose stations are not all tied together."""
    plane = np.column_stack([np.ones(len(x)), x / 1e3, y / 1e3])
    noise = _noise(len(x), _U_LENGTH) + PRIOR_U**2 * plane @ plane.T
    words = (
        f"run further lines of level readings over {face.name!r} that cross the others at their "
        "stations, or compare it with a surface plate"
    )
    return [Candidate(words, np.eye(len(x)), noise)]


def for_relation(members, partners, aspects, faces, runs):
    """Return candidates that tie faces to others: across, over, along, or all on one plate."""
    ends = "slope" in aspects
    candidates = []
    for one, other in product(partners, members):
        places = _places(runs[one], runs[other], ends)
        where = "at both ends" if ends else "at one place"
        same = _cosine(faces[one], faces[other])
        names = f"{one!r} and {other!r}"
        if (
            same > 0.999
            and abs(faces[one].up) > 0.99
            and faces[one].up > 0
            and faces[one].y != faces[other].y
        ):
            rows = [
                1e3 / _apart(faces, one, other) * (runs[other].at(x) - runs[one].at(x))
                for x in places
            ]
            readings = "level readings" if ends else "a level reading"
            words = f"take {readings} across {names} {where}, both ways round"
            candidates.append(Candidate(words, np.array(rows), _noise(len(rows), _U_SLOPE)))
        if same < -0.999:
            rows = [runs[other].at(x) + runs[one].at(x) for x in places]
            words = f"measure across {names} with a micrometer {where}"
            candidates.append(Candidate(words, np.array(rows), _noise(len(rows), _U_LENGTH)))
        if ends and abs(same) > 0.1:
            rows = [runs[other].at(x) - same * runs[one].at(x) for x in places]
            offset = np.full((len(rows), len(rows)), PRIOR_U**2)
            words = (
                f"run an indicator over {other!r} from a carriage that rides {one!r}, end to end"
            )
            candidates.append(
                Candidate(words, np.array(rows), _noise(len(rows), _U_LENGTH) + offset)
            )
    return [*candidates, _on_one_plate([*partners, *members], faces, runs)]


def _on_one_plate(names, faces, runs):
    """Return the candidate of comparing faces with one plate, which lies in its own plane."""
    rows, moves = [], []
    for name in names:
        up, across, y = faces[name].up, faces[name].across, faces[name].y / 1e3
        for x in dict.fromkeys((runs[name].low, runs[name].high)):
            rows.append(runs[name].at(x))
            moves.append([up, up * x / 1e3, up * y, across, across * x / 1e3])
    moves = np.array(moves)
    listed = " and ".join(repr(name) for name in names)
    words = f"compare {listed} with one surface plate, or on a coordinate machine, in one set-up"
    noise = _noise(len(rows), _U_LENGTH) + PRIOR_U**2 * moves @ moves.T
    return Candidate(words, np.array(rows), noise)


def _places(one, other, ends):
    """Return where to read: at both ends of what two faces share, or in its middle."""
    low, high = sorted((max(one.low, other.low), min(one.high, other.high)))
    return [low, high] if ends else [(low + high) / 2]


def _spans(x, steps):
    return " and ".join(f"{x[i]:g} to {x[j]:g} mm" for i, j in steps)


def _apart(faces, one, other):
    return faces[other].y - faces[one].y


def _cosine(one, other):
    return one.up * other.up + one.across * other.across


def _slopes(eye, x, a, b):
    a, b = list(a), list(b)
    return 1e3 * (eye[b] - eye[a]) / (x[b] - x[a])[:, None]


def _noise(count, u):
    return u**2 * np.eye(count)


def _one_level(count):
    """Return the noise of level readings that share an unknown zero."""
    return _noise(count, _U_SLOPE) + PRIOR_U**2


def _lying(x):
    """Return the noise of readings against something straight that lies anyhow."""
    lie = np.column_stack([np.ones(len(x)), x / 1e3])
    return _noise(len(x), _U_LENGTH) + PRIOR_U**2 * lie @ lie.T

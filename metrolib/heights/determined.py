"""Determined: which shapes and which relations between faces the readings do not tie down."""

from dataclasses import replace

import numpy as np

from metrolib.heights import remedies
from metrolib.heights.result import DETERMINED, PRIOR_U, NotDetermined
from metrolib.heights.ties import first_that_ties, pieces_of, run_of, tied


def not_determined(faces, stations, cov):
    """List what the readings leave open, each with the reading that would tie it.

    How the machine as a whole stands in space is left out: no decision depends on it.

    Parameters
    ----------
    faces : sequence of Face
    stations : Stations
        Their `face` counts in the order of `faces`.
    cov : Given or Adjusted
        Covariance of the heights [mm²].

    Returns
    -------
    tuple of NotDetermined
        First the faces whose own shape is open, then how faces lie against each other. The list
        is short: one entry for a face, one for each group of faces that hangs loose.

    Notes
    -----
    A quantity g'z is determined when the readings shrink its standard deviation to less than
    DETERMINED times that of the prior. Remedies are found by trial: each usual reading is added to
    the covariance until one determines the quantity.
    """
    found, runs = [], {}
    for i, face in enumerate(faces):
        members = np.flatnonzero(stations.face == i)
        if not members.size:
            continue
        x, y = stations.x[members], stations.y[members]
        look = _wide_shape if np.ptp(y) > 0 else _narrow_shape
        open_shape, main = look(face, x, y, cov.part(members))
        found += open_shape
        runs[face.name] = run_of(stations.x, stations.y, members[main], len(stations.x))
    named = {face.name: face for face in faces}
    return tuple(found + _relations(named, *_among_runs(runs, cov)))


def _narrow_shape(face, x, y, cov):
    """Look at a face surveyed along one line; return what is open, and its largest piece."""
    every = np.arange(len(x))
    pieces = pieces_of(x, cov)
    if len(x) < 3 or len(pieces) == 1:
        return [], every
    if len(pieces[0]) == 1:
        what = f"shape of {face.name!r} along its length"
        candidates = remedies.for_whole_shape(face, x)
        main = every
    else:
        runs = sorted(([x[piece[0]], x[piece[-1]]] for piece in pieces), key=lambda run: run[0])
        parts = " and ".join(_stretch(*run) for run in runs[:4]) + (
            " and more" if len(runs) > 4 else ""
        )
        what = (
            f"shape of {face.name!r} as a whole (the parts {parts} hang together each for itself)"
        )
        candidates = remedies.for_gaps(face, x, pieces)
        main = pieces[0]
    remedy = first_that_ties(candidates, _above_line(x, main), cov.whole(), remedies.OTHERWISE)
    return [NotDetermined(what, (face.name,), remedy)], main


def _wide_shape(face, x, y, cov):
    """Look at a face surveyed at several y: each station against the plane of them all."""
    every = np.arange(len(x))
    columns = np.column_stack([np.ones(len(x)), x - x.mean(), y - y.mean()])
    fit = np.linalg.pinv(columns)
    shared = cov.times(fit.T)
    variance = cov.variances - 2 * (columns * shared).sum(axis=1)
    variance += ((columns @ (fit @ shared)) * columns).sum(axis=1)
    own = 1 - (columns * fit.T).sum(axis=1)  # squares of its law, summed up
    bears = own > 1e-12  # a station that fixes the plane alone is no test
    loose = np.flatnonzero(bears & ~(variance < (DETERMINED * PRIOR_U) ** 2 * own))
    if not loose.size:
        return [], every
    stretch = _stretch(x[loose].min(), x[loose].max())
    what = f"flatness of {face.name!r} ({loose.size} of {len(x)} stations, {stretch})"
    laws = (np.eye(len(x)) - columns @ fit)[bears]
    candidates = remedies.for_flatness(face, x, y)
    remedy = first_that_ties(candidates, laws, cov.whole(), remedies.OTHERWISE)
    return [NotDetermined(what, (face.name,), remedy)], every


def _above_line(x, main):
    """Return the height of each station above the line through the ends of the main piece."""
    a, b = main[0], main[-1]
    t = (x - x[a]) / (x[b] - x[a])
    laws = np.eye(len(x))
    laws[:, a] -= 1 - t
    laws[:, b] -= t
    return np.delete(laws, (a, b), axis=0)


def _stretch(low, high):
    return f"{low:g} mm" if low == high else f"{low:g} to {high:g} mm"


def _among_runs(runs, cov):
    """Return the runs as functions of all means and slopes, and the covariances of these.

    How faces lie against each other is a matter of few numbers, however many stations there are.
    """
    laws, own = [], {}
    for name, run in runs.items():
        own[name] = [len(laws), None if run.slope is None else len(laws) + 1]
        laws += [run.mean] if run.slope is None else [run.mean, run.slope]
    laws, eye = np.array(laws), np.eye(len(laws))
    found = {
        name: replace(run, mean=eye[own[name][0]], slope=_row(eye, own[name][1]))
        for name, run in runs.items()
    }
    return found, cov.of(laws), PRIOR_U**2 * laws @ laws.T


def _row(matrix, i):
    return None if i is None else matrix[i]


def _relations(faces, runs, cov, prior):
    """Look at how the faces lie against each other, in height and in slope."""
    loose = {}
    for aspect in ("height", "slope"):
        for members, basis, laws in _clusters(aspect, faces, runs, cov, prior)[1:]:
            key = (tuple(members), tuple(basis))
            loose.setdefault(key, {})[aspect] = laws
    found = []
    for (members, partners), laws in loose.items():
        every = np.vstack(list(laws.values()))
        what = _words(members, partners, list(laws), faces)
        candidates = remedies.for_relation(members, partners, list(laws), faces, runs)
        remedy = first_that_ties(candidates, every, cov, remedies.OTHERWISE, prior)
        found.append(NotDetermined(what, (*partners, *members), remedy))
    return found


def _clusters(aspect, faces, runs, cov, prior):
    """Group the faces that are tied to each other in one aspect.

    Returns
    -------
    list of (members, basis, laws)
        For each group its faces; for the second and later ones also the faces of the first group
        that it was compared with, and what was found open.

    Notes
    -----
    The heights of a face of normal n answer to a motion of the machine by n . (shift, lift). So a
    face is compared with one face of the same or opposite normal, or with two that span its
    normal: the difference is free of any motion.
    """
    groups = []
    for name, run in runs.items():
        if aspect == "slope" and run.slope is None:
            continue
        open_group = None
        against = []
        for group in groups:
            basis = _spanning(faces[name], [faces[each] for each in group["basis"]])
            if basis is None:
                open_group = open_group or group
                continue
            law = _difference(aspect, name, basis, runs, cov)
            if tied(law[None], cov, prior)[0]:
                group["members"].append(name)
                break
            against.append((list(basis), law))
        else:
            if open_group is not None and not against:
                open_group["members"].append(name)
                open_group["basis"].append(name)
                continue
            basis, law = against[0] if against else ([], None)
            laws = np.zeros((0, len(cov))) if law is None else law[None]
            groups.append({"members": [name], "basis": [name], "against": basis, "laws": laws})
    return [(group["members"], group["against"], group["laws"]) for group in groups]


def _spanning(face, basis):
    """Return the share of each basis face whose normals add up to the face's, or None."""
    if not basis:
        return None
    normals = np.array([[each.across, each.up] for each in basis]).T
    own = np.array([face.across, face.up])
    for i, each in enumerate(basis):  # one parallel face says it more plainly than two
        share = float(own @ normals[:, i])
        if np.allclose(normals[:, i] * share, own, atol=1e-6):
            return {each.name: share}
    if len(basis) < 2:
        return None
    shares = np.linalg.lstsq(normals, own, rcond=None)[0]
    if not np.allclose(normals @ shares, own, atol=1e-6):
        return None
    return {each.name: float(share) for each, share in zip(basis, shares, strict=True)}


def _difference(aspect, name, basis, runs, cov):
    """Return how far a face is from what its basis makes of it, as a function of all runs.

    A height is compared at the place where it is best known: where one cross-level reading ties
    two faces, their height is determined there, whatever the twist between them.
    """
    shares = {name: 1.0, **{each: -share for each, share in basis.items()}}
    slopes = [
        share * runs[each].slope for each, share in shares.items() if runs[each].slope is not None
    ]
    if aspect == "slope":
        return sum(slopes)
    low = max(runs[each].low for each in shares)
    high = min(runs[each].high for each in shares)

    def at(x):
        return sum(share * runs[each].at(x) for each, share in shares.items())

    middle = (low + high) / 2
    law, turn = at(middle), sum(slopes) / 1e3 if slopes else None
    if turn is None or not (spread := turn @ cov @ turn) > 0:
        return law
    best = middle - (law @ cov @ turn) / spread
    return at(float(np.clip(best, min(low, high), max(low, high))))


def _words(members, partners, aspects, faces):
    """Name a relation that is open as a rebuilder would."""
    names = " and ".join(repr(name) for name in members)
    others = " and ".join(repr(name) for name in partners)
    apart = any(faces[a].y != faces[b].y for a in members for b in partners)
    turning = "twist" if apart else "parallelism"
    if aspects == ["slope"]:
        return f"{turning} between {others} and {names}"
    also = f", and the {turning} between them," if len(aspects) == 2 else ""
    return f"height of {names} against {others}{also}"

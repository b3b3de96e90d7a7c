"""Equations: all readings of a survey as one linear system, whitened by their uncertainties."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse

from metrolib.errors import InputError
from metrolib.heights.kinds import one_of_each, terms_of
from metrolib.heights.result import PRIOR_U
from metrolib.heights.rows import At, Extra, Known
from metrolib.heights.stations import Stations, lay_out
from metrolib.survey.readings import numbered


@dataclass(frozen=True, eq=False)
class Equations:
    """``observed = matrix @ unknowns + noise``, with a prior for every unknown.

    Attributes
    ----------
    stations : Stations
        The first unknowns are their heights [mm].
    extras : tuple of str
        Names of the further unknowns.
    matrix : csr_array, shape (m, n)
    observed : ndarray, shape (m,)
        Readings less what is known beforehand [mm or mm/m].
    u : ndarray, shape (m,)
        Their standard uncertainties [mm or mm/m].
    prior, prior_u : ndarray, shape (n,)
        What is known of the unknowns beforehand.
    traverse, face : ndarray of str, shape (m,)
    x : ndarray, shape (m,)
    line : ndarray of int, shape (m,)
    measures : ndarray of str, shape (m,)
        ``"length"`` or ``"slope"``.
    reading : ndarray, shape (m,)
        As read [mm or mm/m].
    alike : ndarray of int, shape (m,)
        Numbers from 0 on, equal ones for readings whose rows are equal.
    """

    stations: Stations
    extras: tuple[str, ...]
    matrix: sparse.csr_array
    observed: np.ndarray
    u: np.ndarray
    prior: np.ndarray
    prior_u: np.ndarray
    traverse: np.ndarray
    face: np.ndarray
    x: np.ndarray
    line: np.ndarray
    measures: np.ndarray
    reading: np.ndarray
    alike: np.ndarray

    @property
    def weak(self):
        """Which priors say nothing and only keep the system solvable; shape (n,)."""
        return self.prior_u >= PRIOR_U

    @property
    def along(self):
        """Where each unknown stands [mm]; NaN for one that belongs to no place; shape (n,)."""
        return np.concatenate([self.stations.x, np.full(len(self.extras), np.nan)])

    def whitened(self, rows=slice(None)):
        """Return matrix and target of some readings, divided by their standard uncertainties."""
        matrix = self.matrix[rows]
        target = (self.observed[rows] - matrix @ self.prior) / self.u[rows]
        matrix.data = matrix.data / np.repeat(self.u[rows], np.diff(matrix.indptr))
        return matrix, target


def equations(survey, traverses, row_functions=None, readings=None):
    """Write the readings of some traverses as equations.

    Parameters
    ----------
    survey : Survey
    traverses : sequence of Traverse
    row_functions : dict of str to function, optional
    readings : Readings, optional
        To be written instead of the survey's own.

    Returns
    -------
    Equations

    Raises
    ------
    InputError
        As `terms_of`; also if an instrument is given no uncertainty, or two terms give one
        unknown different priors.
    """
    readings = survey.readings if readings is None else readings
    parts, terms, first, alike = _written(survey, traverses, row_functions, readings)
    column = _columns(survey, traverses, parts)
    faces = list(survey.machine.faces.values())
    places = places_of(terms, faces)
    stations, low, high, share = lay_out(*(places[key] for key in ("face", "x", "y", "station")))
    nominal = np.array([face.nominal_height for face in faces])[stations.face]
    extras = _extras([each for each in terms if isinstance(each[0], Extra)])
    weight, row, between = places["coefficient"], places["row"], np.flatnonzero(share)
    entries = (
        (weight * (1 - share), row, low),
        ((weight * share)[between], row[between], high[between]),
        (extras["coefficient"], extras["row"], extras["column"] + len(nominal)),
    )
    value, row, unknown = (np.concatenate(part) for part in zip(*entries, strict=True))
    matrix = sparse.csr_array(
        (value, (row, unknown)), shape=(len(first), len(nominal) + len(extras["names"]))
    )
    matrix.eliminate_zeros()
    amount = np.zeros(len(first))
    for term, rows in terms:
        if isinstance(term, Known):
            amount[rows] += term.amount
    observed = column["reading"] - amount[alike]
    known = np.concatenate([nominal, np.zeros(len(extras["names"]))])
    start_at = _centred(extras, observed[first] - matrix @ known)
    return Equations(
        stations,
        tuple(extras["names"]),
        matrix[alike],
        observed,
        prior=np.concatenate([nominal, start_at]),
        prior_u=np.concatenate([np.full(len(nominal), PRIOR_U), extras["prior_u"]]),
        alike=alike,
        **column,
    )


def _written(survey, traverses, row_functions, readings):
    """Return what the traverses read, and the terms of one reading of those that are alike.

    Returns
    -------
    parts : list of Readings
        Of each traverse, converted.
    terms : list of (At, Extra or Known, ndarray of int)
        Each with the rows that it stands in.
    first : ndarray of int, shape (k,)
        The first reading of each row.
    alike : ndarray of int, shape (m,)
        The row of each reading.
    """
    parts, terms, firsts, alike, row, reading = [], [], [], [], 0, 0
    readings_of, none = readings.by_traverse(), readings.select(slice(0, 0))
    for traverse in traverses:
        own = _converted(survey, traverse, readings_of.get(traverse.name, none))
        first, like = one_of_each(traverse, own, survey)
        found = terms_of(traverse, own.select(first), survey, row_functions)
        terms += [(term, np.arange(row, row + len(first))) for term in found]
        parts.append(own)
        firsts.append(reading + first)
        alike.append(row + like)
        row, reading = row + len(first), reading + len(own)
    return parts, terms, np.concatenate(firsts), np.concatenate(alike)


def _converted(survey, traverse, readings):
    """Return the readings of a traverse in mm or mm/m."""
    if traverse.instrument not in survey.instruments:
        raise InputError(
            f"traverse {traverse.name!r}: unknown instrument {traverse.instrument!r}; describe it"
        )
    instrument = survey.instruments[traverse.instrument]
    if not instrument.u > 0:
        raise InputError(
            f"instrument {instrument.name!r}: resolution and repeatability are both 0; "
            "nothing reads without an uncertainty, give one of them"
        )
    readings = replace(readings, value=readings.value * instrument.factor)
    for what in ("x", "value"):
        bad = ~np.isfinite(getattr(readings, what))
        if bad.any():
            raise InputError(
                f"readings of {traverse.name!r}: {what} is {getattr(readings, what)[bad][0]} in "
                f"line {readings.line[bad][0]}; leave the reading out instead"
            )
    return readings


def _columns(survey, traverses, parts):
    """Return what every row carries, from the converted readings of each traverse."""
    count = [len(part) for part in parts]
    instruments = [survey.instruments[traverse.instrument] for traverse in traverses]
    faces = [traverse.settings.get("face") or "" for traverse in traverses]
    own = [face if isinstance(face, str) else " + ".join(face) for face in faces]
    named = np.concatenate([part.face for part in parts]).astype(object)

    def spread(values, kind=object):
        return np.repeat(np.array(values, dtype=kind), count)

    return {
        "traverse": spread([traverse.name for traverse in traverses]),
        "face": np.where(named == "", spread(own), named),
        "x": np.concatenate([part.x for part in parts]),
        "line": np.concatenate([part.line for part in parts]),
        "measures": spread([instrument.measures for instrument in instruments]),
        "reading": np.concatenate([part.value for part in parts]),
        "u": spread([instrument.u for instrument in instruments], float),
    }


def places_of(terms, faces):
    """Return all heights that terms name, as columns.

    Parameters
    ----------
    terms : sequence of (At, Extra or Known, ndarray of int)
        Each with the rows that it stands in.
    faces : sequence of Face

    Returns
    -------
    dict of str to ndarray
        ``row``, ``face`` (its number), ``x``, ``y``, ``coefficient``, ``station``.
    """
    number = {face.name: i for i, face in enumerate(faces)}
    y_of = np.array([face.y for face in faces])
    found = {key: [] for key in ("row", "face", "x", "y", "coefficient", "station")}
    for term, rows in terms:
        if not isinstance(term, At):
            continue
        own, names = _numbered(term.face, rows)
        face = np.array([number[name] for name in names])[own]
        found["row"].append(rows)
        found["face"].append(face)
        found["x"].append(_spread(term.x, rows))
        found["y"].append(y_of[face] if term.y is None else _spread(term.y, rows))
        found["coefficient"].append(_spread(term.coefficient, rows))
        found["station"].append(_spread(term.station, rows, bool))
    return {key: np.concatenate(parts) for key, parts in found.items()}


def _extras(terms):
    """Return the further unknowns, and where they stand in the rows as columns."""
    index, prior, prior_u = {}, [], []
    found = {"row": [np.zeros(0, int)], "column": [np.zeros(0, int)], "coefficient": [np.zeros(0)]}
    for term, rows in terms:
        own, names = _numbered(term.name, rows)
        for name in names:
            if name not in index:
                index[name] = len(index)
                prior.append(term.prior)
                prior_u.append(term.prior_u)
            elif term.prior_u != prior_u[index[name]]:
                raise InputError(
                    f"{name!r}: two terms give it different priors, {prior_u[index[name]]} and "
                    f"{term.prior_u}; give it one"
                )
        found["row"].append(rows)
        found["column"].append(np.array([index[name] for name in names])[own])
        found["coefficient"].append(_spread(term.coefficient, rows))
    place = {key: np.concatenate(parts) for key, parts in found.items()}
    return {
        "names": list(index),
        "prior": prior,
        "prior_u": np.array(prior_u, dtype=float),
        **place,
    }


def _numbered(name, rows):
    """Return a number for the name in each row, and the names by number."""
    if isinstance(name, str) and len(rows):
        return np.zeros(len(rows), dtype=int), [name]
    return numbered(_spread(name, rows, object))


def _spread(value, rows, kind=float):
    """Return a value for each row."""
    return np.broadcast_to(np.asarray(value, dtype=kind), len(rows))


def _centred(extras, rest):
    """Return the priors; one left open is what makes its first reading fit the nominal heights."""
    rest = rest.copy()
    found = np.zeros(len(extras["names"]))
    order = np.argsort(extras["column"], kind="stable")
    ends = np.searchsorted(extras["column"][order], np.arange(len(found) + 1))
    for i, prior in enumerate(extras["prior"]):
        mine = order[ends[i] : ends[i + 1]]
        row, coefficient = extras["row"][mine], extras["coefficient"][mine]
        if prior is None:
            first = int(np.argmax(np.abs(coefficient) > 0.5 * np.abs(coefficient).max()))
            prior = rest[row[first]] / coefficient[first] if coefficient[first] else 0.0
        found[i] = prior
        np.subtract.at(rest, row, coefficient * prior)
    return found

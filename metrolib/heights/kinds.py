"""Kinds: which row function serves which kind of traverse, and what every kind shares."""

import numpy as np

from metrolib.errors import InputError
from metrolib.heights import contact_rows, edge_rows, level_rows
from metrolib.heights.rows import At, Extra, Known
from metrolib.survey.readings import OWN, numbered

#: The row function of each kind, and what its instrument must measure.
ROW_FUNCTIONS = {
    "level along": (level_rows.level_along, "slope"),
    "level across": (level_rows.level_across, "slope"),
    "straightedge": (edge_rows.straightedge, "length"),
    "feeler gap": (edge_rows.feeler_gap, "length"),
    "wire": (edge_rows.wire, "length"),
    "carriage": (contact_rows.carriage, "length"),
    "micrometer": (contact_rows.micrometer, "length"),
    "gauge": (contact_rows.gauge, "length"),
    "comparison": (contact_rows.comparison, "length"),
}


def terms_of(traverse, readings, survey, row_functions=None):
    """Return all terms of a traverse: those of its kind, of its instrument's scale, and of drift.

    Parameters
    ----------
    traverse : Traverse
    readings : Readings
        With ``value`` in mm or mm/m.
    survey : Survey
    row_functions : dict of str to function, optional
        For kinds of the user's own.

    Returns
    -------
    list of At, Extra and Known

    Raises
    ------
    InputError
        If the kind is unknown, its row function is missing, fails, or returns what cannot be
        used, or the instrument does not suit the kind.

    Notes
    -----
    A scale error s makes ``reading = true + s reading``, with the reading itself as coefficient.
    A drift grows linearly in reading order, from 0 at the first reading to its full size at the
    last.
    """
    instrument = survey.instruments[traverse.instrument]
    if traverse.kind.startswith(OWN):
        terms = _own_terms(traverse, readings, survey, row_functions or {})
    else:
        terms = _usual_terms(traverse, readings, survey, instrument)
    _check(traverse, terms, len(readings), survey)
    if instrument.sensitivity_uncertainty > 0:
        name = f"scale of {instrument.name}"
        terms = [*terms, Extra(name, readings.value, instrument.sensitivity_uncertainty)]
    span = np.ptp(readings.order)
    if traverse.drift_uncertainty > 0 and span > 0:
        share = (readings.order - readings.order.min()) / span
        drift = instrument.factor * traverse.drift_uncertainty
        terms = [*terms, Extra(f"drift of {traverse.name}", share, drift)]
    return terms


def one_of_each(traverse, readings, survey):
    """Return one reading of those that have the same terms, and which of these each is like.

    The terms of our own kinds follow from the face and x; so repeats have the same, unless the
    instrument's scale or a drift brings in the reading itself or its time.

    Returns
    -------
    first : ndarray of int, shape (k,)
        In the order in which they come.
    like : ndarray of int, shape (m,)
        Of each reading, the place in `first`.
    """
    every = np.arange(len(readings))
    scaled = survey.instruments[traverse.instrument].sensitivity_uncertainty > 0
    if traverse.kind.startswith(OWN) or scaled or traverse.drift_uncertainty > 0:
        return every, every
    face, names = numbered(readings.face)
    x = np.unique(readings.x, return_inverse=True)[1]
    place = x * len(names) + face
    _, first, like = np.unique(place, return_index=True, return_inverse=True)
    rank = np.argsort(np.argsort(first))
    return np.sort(first), rank[like]


def _usual_terms(traverse, readings, survey, instrument):
    if traverse.kind not in ROW_FUNCTIONS:
        known = ", ".join(repr(kind) for kind in ROW_FUNCTIONS)
        raise InputError(
            f"traverse {traverse.name!r}: unknown kind {traverse.kind!r}; use one of {known}, "
            f'or "{OWN} NAME" with a row function of your own'
        )
    function, measures = ROW_FUNCTIONS[traverse.kind]
    if instrument.measures != measures:
        raise InputError(
            f"traverse {traverse.name!r}: kind {traverse.kind!r} reads a {measures}, but "
            f"{instrument.name!r} measures a {instrument.measures}; correct the unit or the kind"
        )
    return function(traverse, readings, survey)


def _own_terms(traverse, readings, survey, row_functions):
    name = traverse.kind.removeprefix(OWN).strip()
    if name not in row_functions:
        given = ", ".join(repr(key) for key in row_functions) or "none"
        raise InputError(
            f"traverse {traverse.name!r}: no row function for its kind {traverse.kind!r}, "
            f"got {given}; give adjust(survey, row_functions={{{name!r}: function}})"
        )
    try:
        terms = list(row_functions[name](traverse, readings, survey))
    except InputError:
        raise
    except Exception as error:
        raise InputError(
            f"row function {name!r}: it failed on traverse {traverse.name!r} with "
            f"{type(error).__name__}: {error}; correct it"
        ) from error
    return terms


def _check(traverse, terms, count, survey):
    """Refuse terms that are none, do not fit the readings, or name unknown faces."""
    where = f"terms of traverse {traverse.name!r}"
    if not any(isinstance(term, At) for term in terms):
        raise InputError(
            f"{where}: no height of a face is among them, got {terms}; return At(...) terms"
        )
    for term in terms:
        if not isinstance(term, At | Extra | Known):
            raise InputError(
                f"{where}: At, Extra or Known is needed, got {type(term).__name__}; return terms"
            )
        for key, value in vars(term).items():
            if value is None or key == "station":
                continue
            shape = np.shape(value)
            if shape not in ((), (count,)):
                raise InputError(
                    f"{where}: {key} of {type(term).__name__} has shape {shape}; "
                    f"give one value, or one for each of the {count} readings"
                )
            if key not in ("face", "name"):
                _check_numbers(f"{where}: {key} of {type(term).__name__}", value)
        if isinstance(term, Extra) and not term.prior_u > 0:
            raise InputError(
                f"{where}: prior_u of {term.name!r} must be above 0, got {term.prior_u}; correct it"
            )
        if isinstance(term, At):
            named = np.atleast_1d(np.asarray(term.face, dtype=object))
            unknown = set(numbered(named)[1]) - set(survey.machine.faces)
            if unknown:
                known = ", ".join(repr(face) for face in survey.machine.faces)
                raise InputError(
                    f"{where}: unknown face {sorted(unknown)[0]!r}; use one of {known}"
                )


def _check_numbers(what, value):
    try:
        finite = np.isfinite(np.asarray(value, dtype=float)).all()
    except (TypeError, ValueError):
        finite = False
    if not finite:
        raise InputError(
            f"{what}: finite numbers are needed, got {str(value)[:60]}; correct the row function"
        )

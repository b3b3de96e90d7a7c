"""What can be wrong with the conditions of a removal, before anything is computed."""

from dataclasses import fields, replace

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey.decision import Decision

#: Conditions that name faces.
_LISTS = ("faces", "datum", "untouchable")


def checked_decision(heights, decision, conditions):
    """Return the decision with the given conditions in place of its own, checked.

    Parameters
    ----------
    heights : Heights
    decision : Decision or None
    conditions : dict
        Fields of `Decision` that override it.

    Returns
    -------
    Decision

    Raises
    ------
    InputError
        If a condition is unknown or makes no sense, alone or with the others.
    """
    for name in conditions:
        checks.choice("conditions", name, [field.name for field in fields(Decision)])
    decision = replace(Decision() if decision is None else decision, **conditions)
    _check_faces(heights, decision)
    _check_amounts(decision)
    lists = {name: tuple(getattr(decision, name)) for name in _LISTS}
    crown = _checked_crown(heights, decision)
    return replace(decision, greatest_cut=dict(decision.greatest_cut), crown=crown, **lists)


def _check_faces(heights, decision):
    """Refuse faces that are unknown, not measured, or named where they mean nothing."""
    for argument in _LISTS:
        named = getattr(decision, argument)
        if isinstance(named, str):
            raise checks.wrong(
                argument, "a list of faces is needed", repr(named), "put it in brackets"
            )
        for name in named:
            checks.choice(argument, name, heights.faces)
            if not ((heights.face == name) & ~heights.left_out).any():
                raise checks.wrong(
                    argument,
                    "no station of this face counts, for it is not measured or wholly left out",
                    repr(name),
                    "measure it, or leave less of it out",
                )
    if not decision.faces:
        raise InputError("faces: no face is to be cut, got none; name the faces that end together")
    for argument in ("untouchable", "greatest_cut"):
        for name in getattr(decision, argument):
            checks.choice(argument, name, decision.faces)
    if set(decision.faces) == set(decision.untouchable):
        raise checks.wrong(
            "untouchable", "no face is left to cut", list(decision.faces), "free one of them"
        )
    if not decision.datum and (decision.tilt_along, decision.tilt_across) != (None, None):
        raise checks.wrong(
            "datum",
            "a tilt can be held only against a datum",
            "none",
            "name the datum faces, or leave tilt_along and tilt_across out",
        )


def _check_amounts(decision):
    """Refuse words and numbers outside their range."""
    checks.choice("together", decision.together, ("coplanar", "parallel"))
    checks.choice("minimise", decision.minimise, ("volume", "deepest cut"))
    for argument in ("clean_up", "band"):
        checks.number(argument, getattr(decision, argument), at_least=0)
    for argument in ("tilt_along", "tilt_across"):
        if getattr(decision, argument) is not None:
            checks.number(argument, getattr(decision, argument), at_least=0)
    if decision.target_height is not None:
        checks.number("target_height", decision.target_height)
    for name, cut in decision.greatest_cut.items():
        checks.number(f"greatest_cut of {name!r}", cut, at_least=0)
    if not isinstance(decision.between_stations, bool):
        raise checks.wrong(
            "between_stations",
            "this is neither True nor False",
            repr(decision.between_stations),
            "say whether the guard covers what may hide between the stations",
        )
    if decision.confidence is not None:
        confidence = checks.number("confidence", decision.confidence, above=0)
        if confidence >= 1:
            raise checks.wrong(
                "confidence", "it must be below 1", confidence, "give a probability such as 0.95"
            )
    if decision.band > 0 and decision.clean_up > 0:
        raise checks.wrong(
            "clean_up",
            "a face may stay as it is within a band, so no depth can be promised everywhere",
            f"clean_up {decision.clean_up:g} mm with band {decision.band:g} mm",
            "set one of them to 0",
        )


def _checked_crown(heights, decision):
    """Return the crown; refuse one that is no height, or that no face of the group would show."""
    crown = checks.number("crown", decision.crown)
    if crown != 0 and not any(heights.faces[name].up for name in decision.faces):
        sideways = "these faces look sideways, so none of them rises with it"
        raise checks.wrong("crown", sideways, crown, "leave it out")
    return crown


def named(faces):
    """Write names of faces in a row.

    Examples
    --------
    >>> named(["front flat", "rear flat"])
    "'front flat' and 'rear flat'"
    """
    words = [repr(str(name)) for name in np.atleast_1d(faces)]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)

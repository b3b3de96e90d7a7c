"""Rows of readings that compare faces: carriage, micrometer, gauge, comparison with a plate.

Readings are lengths in mm, rising with the metal of the face that is read (sign +1).
"""

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights import seats
from metrolib.heights.result import PRIOR_U
from metrolib.heights.rows import At, Extra


def carriage(traverse, readings, survey):
    """Return the terms of an indicator on a carriage that rides one face, its stylus on another.

    Parameters
    ----------
    traverse : Traverse
        ``riding``, a face or the two flanks of a vee; ``feet``, x of its two feet against the
        stylus, e.g. [-100, 100] [mm].
    readings : Readings
        ``x`` is the place of the stylus.
    survey : Survey

    Returns
    -------
    list of At and Extra
        ``sign * (z_B(x) - n_B . m(x)) + offset``: n_B is the normal of the face under the stylus,
        m the motion of the carriage, on the straight line through its feet. Feet between two
        stations stand on the straight line between them. On a flat, m is upward; in a vee it has
        a sideways part too. The offset is that of the set-up, one for each face it reads.

    Raises
    ------
    InputError
        If a face is unknown or the feet stand at one place.
    """
    names = seats.faces_read(traverse, readings, survey)
    across, up = seats.parts(survey, names)
    rear, front = seats.pair_of_numbers(traverse, "feet")
    if rear == front:
        raise checks.wrong(
            f"traverse {traverse.name!r}: feet", "they stand at one place", rear, "correct them"
        )
    shares = ((rear, front / (front - rear)), (front, -rear / (front - rear)))
    terms = [At(names, readings.x, traverse.sign)]
    for name, aside, rise in seats.seat(traverse, seats.setting(traverse, "riding"), survey):
        carried = -traverse.sign * (across * aside + up * rise)
        if np.any(carried):
            terms += [
                At(name, readings.x + foot, carried * share, station=False)
                for foot, share in shares
            ]
    return [*terms, _offset(traverse, names)]


def micrometer(traverse, readings, survey):
    """Return the terms of a micrometer across a face and the one opposite to it.

    Parameters
    ----------
    traverse : Traverse
        ``opposite_face``.
    readings : Readings
        ``value``: the size across [mm].
    survey : Survey

    Returns
    -------
    list of At and Extra
        ``sign * (z_A(x) + z_U(x))``, absolute: the nominal heights carry the size. Plus the zero
        of the instrument where its calibration uncertainty is above 0.

    Raises
    ------
    InputError
        If a face is unknown, or the two do not face opposite ways.
    """
    names = seats.faces_read(traverse, readings, survey)
    opposite = seats.face_of(traverse, seats.setting(traverse, "opposite_face"), survey)
    across, up = seats.parts(survey, names)
    crooked = np.hypot(across + opposite.across, up + opposite.up) > 0.02
    if crooked.any():
        raise InputError(
            f"traverse {traverse.name!r}: {names[crooked][0]!r} and {opposite.name!r} do not face "
            "opposite ways; name the face that the other anvil touches"
        )
    terms = [At(names, readings.x, traverse.sign), At(opposite.name, readings.x, traverse.sign)]
    instrument = survey.instruments[traverse.instrument]
    zero = instrument.factor * instrument.calibration_uncertainty
    return terms if zero == 0 else [*terms, Extra(f"zero of {traverse.instrument}", 1.0, zero)]


def gauge(traverse, readings, survey):
    """Return the terms of a gauge that rests on two faces and indicates a third.

    Parameters
    ----------
    traverse : Traverse
        ``resting_on`` [A, B], each a flat or the two flanks of a vee; ``weights`` of the two at
        the stylus, by default from the places across.
    readings : Readings
    survey : Survey

    Returns
    -------
    list of At and Extra
        ``sign * (z_C(x) - up_C (w_A v_A + w_B v_B)) + offset``: v the vertical height of what it
        rests on, up_C the vertical part of the normal of the face that is read. That the gauge
        leans, and so shifts its stylus sideways, is left out. The offset is that of the set-up,
        one for each face it reads.

    Raises
    ------
    InputError
        If a face is unknown, an inclined face is named alone, or both rest at one place across
        and no weights are given.
    """
    names = seats.faces_read(traverse, readings, survey)
    up = seats.parts(survey, names)[1]
    resting = seats.setting(traverse, "resting_on")
    if isinstance(resting, str) or len(resting) != 2:
        raise checks.wrong(
            f"traverse {traverse.name!r}: resting_on", "two are needed", resting, "name two"
        )
    terms = [At(names, readings.x, traverse.sign)]
    for on, weight in zip(resting, _weights(traverse, names, resting, survey), strict=True):
        seats.flat(traverse, on, survey)
        for name, _, rise in seats.seat(traverse, on, survey):
            terms.append(At(name, readings.x, -traverse.sign * up * weight * rise))
    return [*terms, _offset(traverse, names)]


def comparison(traverse, readings, survey):
    """Return the terms of heights compared with a surface plate or taken on a coordinate machine.

    Parameters
    ----------
    traverse : Traverse
    readings : Readings
        ``value``: height along the face's own normal, against the plate or the machine [mm].
    survey : Survey

    Returns
    -------
    list of At and Extra
        ``sign * z(x) + up (offset + tilt x + tilt across y) + across (shift + yaw x)``: the plate
        lies in its own plane, common to all faces of the set-up. A zero error of the instrument
        is part of the offset.

    Raises
    ------
    InputError
        If a face is unknown.
    """
    names = seats.faces_read(traverse, readings, survey)
    across, up = seats.parts(survey, names)
    y = np.array([survey.machine.faces[name].y for name in names])
    of = f"of {traverse.setup_name}"
    terms = [At(names, readings.x, traverse.sign)]
    if up.any():
        terms += [
            Extra(f"offset {of}", up, PRIOR_U, None),
            Extra(f"tilt {of}", up * readings.x / 1e3, PRIOR_U),
            Extra(f"tilt across {of}", up * y / 1e3, PRIOR_U),
        ]
    if across.any():
        terms += [
            Extra(f"shift {of}", across, PRIOR_U, None),
            Extra(f"yaw {of}", across * readings.x / 1e3, PRIOR_U),
        ]
    return terms


def _offset(traverse, names):
    """Return the offset of an indicator: it is set anew for each face that it reads."""
    own = np.array([f"offset of {traverse.setup_name} on {name}" for name in names], dtype=object)
    return Extra(own, 1.0, PRIOR_U, None)


def _weights(traverse, names, resting, survey):
    """Return the weight of each rest at each reading: given, or from the places across."""
    if traverse.settings.get("weights") is not None:
        return seats.pair_of_numbers(traverse, "weights")
    low, high = (seats.middle(traverse, on, survey) for on in resting)
    if low == high:
        raise InputError(
            f"traverse {traverse.name!r}: both rests lie at one place across; give weights"
        )
    y = np.array([survey.machine.faces[name].y for name in names])
    share = (y - low) / (high - low)
    return 1 - share, share

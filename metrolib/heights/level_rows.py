"""Rows of levels, and of autocollimators with a stepped mirror carriage.

Readings are slopes in mm/m, positive where the way rises toward +x (or along the traverse's line)
and, across, where the +y side is higher.
"""

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights import seats
from metrolib.heights.result import PRIOR_U
from metrolib.heights.rows import At, Extra


def level_along(traverse, readings, survey):
    """Return the terms of a level stepped along a face, a vee, or a line on a wide face.

    Parameters
    ----------
    traverse : Traverse
        ``foot_spacing`` [mm]; ``face`` may be the two flanks of a vee; ``turned`` says that the
        level lay end for end; ``line`` gives x along a line on the face, from its ``from``.
    readings : Readings
        ``x`` is the place of the rear foot, the one at lower x [mm]; ``value`` in mm/m.
    survey : Survey

    Returns
    -------
    list of At and Extra
        ``sign * 1000 (v(x + L) - v(x)) / L  +-  zero``, v the vertical height of the seat. The
        zero is the instrument's, or that of the set-up where the traverse names one.

    Raises
    ------
    InputError
        If the foot spacing is missing or not above 0, or a face is unknown.
    """
    spacing = checks.number(
        f"traverse {traverse.name!r}: foot_spacing",
        seats.setting(traverse, "foot_spacing"),
        above=0,
    )
    rear, front = (_place(traverse, readings.x + step) for step in (0.0, spacing))
    terms = []
    for names, up in seats.rests(traverse, readings, survey):
        slope = traverse.sign * 1e3 / spacing * up
        terms += [At(names, front[0], slope, front[1]), At(names, rear[0], -slope, rear[1])]
    own = traverse.setup
    name = f"zero of {traverse.instrument}" if own is None else f"zero of set-up {own}"
    return [*terms, _zero(traverse, survey, name)]


def level_across(traverse, readings, survey):
    """Return the terms of a level bridged across two faces.

    Parameters
    ----------
    traverse : Traverse
        ``face`` and ``other_face``, each a face or the two flanks of a vee; ``distance`` between
        the feet, by default that of the faces [mm]; ``turned``.
    readings : Readings
        ``value`` in mm/m, positive where the +y side is higher, whichever face is named first.
    survey : Survey

    Returns
    -------
    list of At and Extra
        ``sign * 1000 (v_B(x) - v_A(x)) / w  +-  zero``, B the face at larger y. The zero is that
        of the bridge: of the set-up where the traverse names one, else of this instrument over
        these two faces.

    Raises
    ------
    InputError
        If the faces lie at one y and no distance is given, or a foot stands on one flank alone.
    """
    faces = [seats.setting(traverse, key) for key in ("face", "other_face")]
    seats.only_own_face(traverse, readings)
    places = [seats.middle(traverse, face, survey) for face in faces]
    if places[1] < places[0]:
        faces, places = faces[::-1], places[::-1]
    width = checks.number(
        f"traverse {traverse.name!r}: distance",
        traverse.settings.get("distance", places[1] - places[0]),
        at_least=0,
    )
    if width == 0:
        raise InputError(
            f"traverse {traverse.name!r}: both feet stand at one place across; give its distance"
        )
    terms = []
    for face, side in zip(faces, (-1, 1), strict=True):
        seats.flat(traverse, face, survey)
        slope = side * traverse.sign * 1e3 / width
        terms += [
            At(name, readings.x, slope * up) for name, _, up in seats.seat(traverse, face, survey)
        ]
    own = traverse.setup
    over = " and ".join(face if isinstance(face, str) else "+".join(face) for face in faces)
    name = f"zero of {traverse.instrument} over {over}" if own is None else f"zero of set-up {own}"
    return [*terms, _zero(traverse, survey, name)]


def _place(traverse, along):
    """Return x and y of places on the traverse's line; y is None where it runs along the face."""
    line = traverse.settings.get("line")
    if line is None:
        return along, None
    start, end = np.asarray(line["from"], dtype=float), np.asarray(line["to"], dtype=float)
    length = float(np.hypot(*(end - start)))
    if length == 0:
        raise InputError(
            f"traverse {traverse.name!r}: its line ends where it begins, at {start}; correct it"
        )
    step = (end - start) / length
    return start[0] + along * step[0], start[1] + along * step[1]


def _zero(traverse, survey, name):
    """Return the zero error of a level: calibrated, or free where no calibration is given."""
    instrument = survey.instruments[traverse.instrument]
    calibrated = instrument.factor * instrument.calibration_uncertainty
    free = calibrated == 0 or traverse.setup is not None
    return Extra(
        name, -1.0 if traverse.settings.get("turned") else 1.0, PRIOR_U if free else calibrated
    )

"""Seats: which face a reading stands on, and how a part that rests there moves with the metal."""

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey.readings import numbered


def setting(traverse, key, default=None):
    """Return a setting of a traverse; without a default it is needed.

    Raises
    ------
    InputError
        If it is needed and missing.
    """
    value = traverse.settings.get(key, default)
    if value is None:
        raise InputError(
            f"traverse {traverse.name!r}: {key} is missing; add it, kind {traverse.kind!r} needs it"
        )
    return value


def face_of(traverse, name, survey):
    """Return the `Face` of that name.

    Raises
    ------
    InputError
        If the machine has none.
    """
    if name not in survey.machine.faces:
        known = ", ".join(repr(face) for face in survey.machine.faces)
        raise InputError(f"traverse {traverse.name!r}: unknown face {name!r}; use one of {known}")
    return survey.machine.faces[name]


def faces_read(traverse, readings, survey):
    """Return the face that each reading names, or else the traverse's own; ndarray of str (m,).

    Raises
    ------
    InputError
        If neither names one, or the machine has none of that name.
    """
    default = traverse.settings.get("face")
    names = np.asarray(readings.face, dtype=object)
    if (names == "").any():
        if not isinstance(default, str):
            raise InputError(
                f"traverse {traverse.name!r}: a reading names no face, got {default!r} as the "
                "traverse's own; name one in readings.csv or in survey.toml"
            )
        names = np.where(names == "", default, names)
    for name in numbered(names)[1]:
        face_of(traverse, name, survey)
    return names


def parts(survey, names):
    """Return the parts of the faces' normals: towards +y and upward; ndarrays of shape (m,)."""
    faces = survey.machine.faces
    own, known = numbered(names)
    across_up = np.array([(faces[name].across, faces[name].up) for name in known])[own]
    return across_up[:, 0], across_up[:, 1]


def seat(traverse, on, survey):
    """Return how a part that rests on a face, or in a vee, moves with the metal.

    Parameters
    ----------
    traverse : Traverse
        For the error messages.
    on : str or pair of str
        One face, or the two flanks of a vee.
    survey : Survey

    Returns
    -------
    list of (str, float, float)
        Face, and how far the part moves towards +y and upward for each mm that the face rises
        along its normal [mm/mm].

    Raises
    ------
    InputError
        If a face is unknown, or two faces do not make a vee.

    Notes
    -----
    On one face the part moves along the normal. In a vee the motion (h, v) keeps both flanks
    touching: n_i . (h, v) = height change of flank i, two equations for two unknowns.
    """
    if isinstance(on, str):
        face = face_of(traverse, on, survey)
        return [(on, face.across, face.up)]
    flanks = [face_of(traverse, name, survey) for name in on]
    normals = np.array([[flank.across, flank.up] for flank in flanks])
    if len(flanks) != 2 or abs(np.linalg.det(normals)) < 1e-3:
        raise InputError(
            f"traverse {traverse.name!r}: a vee needs two flanks that lean differently, "
            f"got {list(on)}; name the two, or one flat face"
        )
    motion = np.linalg.inv(normals)
    return [(flank.name, *motion[:, i]) for i, flank in enumerate(flanks)]


def rests(traverse, readings, survey):
    """Return where each reading of a traverse rests: its own face, or the traverse's vee.

    Returns
    -------
    list of (ndarray of str, ndarray), each of shape (m,)
        Faces, and how far a part resting there rises for each mm that the face rises along its
        normal [mm/mm].
    """
    default = traverse.settings.get("face")
    if default is None or isinstance(default, str):
        names = faces_read(traverse, readings, survey)
        return [(names, parts(survey, names)[1])]
    only_own_face(traverse, readings)
    count = len(readings)
    return [
        (np.full(count, name, dtype=object), np.full(count, up))
        for name, _, up in seat(traverse, default, survey)
    ]


def only_own_face(traverse, readings):
    """Refuse readings that name another face than the traverse's own."""
    own = traverse.settings.get("face")
    allowed = {"", own} if isinstance(own, str) else {"", *own}
    for name in numbered(readings.face)[1]:
        if name not in allowed:
            raise InputError(
                f"traverse {traverse.name!r}: a reading names the face {name!r}, but the traverse "
                f"rests on {own!r}; leave the face of its readings empty"
            )


def middle(traverse, on, survey):
    """Return the place across of a face, or of the middle of a vee [mm]."""
    names = [on] if isinstance(on, str) else on
    return float(np.mean([face_of(traverse, name, survey).y for name in names]))


def flat(traverse, on, survey):
    """Refuse a single inclined face, on which nothing can stand by itself."""
    if isinstance(on, str) and not abs(face_of(traverse, on, survey).up) > 0.99:
        raise InputError(
            f"traverse {traverse.name!r}: nothing stands on the inclined face {on!r} alone; "
            "name both flanks of the vee, [A, B]"
        )


def pair_of_numbers(traverse, key):
    """Return a setting of two numbers.

    Raises
    ------
    InputError
        If it is missing or not two finite numbers.
    """
    return checks.pair(f"traverse {traverse.name!r}: {key}", setting(traverse, key))

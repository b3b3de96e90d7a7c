"""Rows of readings against a straight thing: straightedge, feeler gap, stretched wire.

Readings are lengths in mm. The straight thing lies at an unknown height and tilt, which the
set-up adds; so only the form of the face follows from it.
"""

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights import seats
from metrolib.heights.beam_section import BeamSection
from metrolib.heights.result import PRIOR_U
from metrolib.heights.rows import At, Extra, Known
from metrolib.heights.sag import straightedge_sag, wire_sag


def straightedge(traverse, readings, survey):
    """Return the terms of an indicator run along a straightedge with its stylus on the face.

    Parameters
    ----------
    traverse : Traverse
        ``straightedge``; ``start``, the x of its zero end when it is not turned (0 by default)
        [mm]; ``end_for_end``, its zero end lies at the far end instead; ``sole_up``, its sole
        faces away from the face; ``supports_at``, two places along it from its zero end [mm].
    readings : Readings
        ``value`` in mm, rising with the metal (sign +1).
    survey : Survey

    Returns
    -------
    list of At, Extra and Known
        ``sign * (z(x) - p e(u) + d(u) up) + offset + tilt x``. e is the profile of the sole, along
        the outward normal of the straightedge's own metal, at u along it; p = +1 with the sole
        up, -1 with the sole down, so that turning it over separates e from z. The sag d is
        downward in both positions: turning over does not cancel it. It is counted only where
        supports and section are given. up is the vertical part of the face's normal.

    Raises
    ------
    InputError
        If the straightedge is unknown, or a reading lies beyond its ends.
    """
    return _against_edge(traverse, readings, survey, 1)


def feeler_gap(traverse, readings, survey):
    """Return the terms of a gap measured with feelers between a straightedge and the face.

    As `straightedge`, but the gap falls where the metal rises: the geometry has the other sign.
    The feeler step belongs in the instrument's resolution.
    """
    return _against_edge(traverse, readings, survey, -1)


def wire(traverse, readings, survey):
    """Return the terms of a microscope that sights a stretched wire.

    Parameters
    ----------
    traverse : Traverse
        ``wire_ends`` [mm], ``wire_weight`` [N/m], ``wire_tension`` [N].
    readings : Readings
        ``value`` in mm: how far the face stands above the wire along its normal (sign +1).
    survey : Survey

    Returns
    -------
    list of At, Extra and Known
        ``sign * (z(x) + d(x) up) + offset + tilt x``, d the sag of the wire. On a side face up is
        zero: its straightness is free of sag.

    Raises
    ------
    InputError
        If a reading lies beyond the wire, or weight or tension is not above 0.
    """
    names = seats.faces_read(traverse, readings, survey)
    hang = wire_sag(
        readings.x,
        ends=seats.pair_of_numbers(traverse, "wire_ends"),
        weight=seats.setting(traverse, "wire_weight"),
        tension=seats.setting(traverse, "wire_tension"),
    )
    height = At(names, readings.x, traverse.sign)
    return [
        height,
        Known(traverse.sign * hang * seats.parts(survey, names)[1]),
        *_lie(traverse, readings),
    ]


def _against_edge(traverse, readings, survey, rises):
    name = seats.setting(traverse, "straightedge")
    checks.choice(f"traverse {traverse.name!r}: straightedge", name, survey.straightedges)
    edge = survey.straightedges[name]
    names = seats.faces_read(traverse, readings, survey)
    u = _along(traverse, readings, edge)
    geometry = traverse.sign * rises
    facing = 1 if traverse.settings.get("sole_up") else -1
    terms = [At(names, readings.x, geometry), *_lie(traverse, readings)]
    if edge.profile_uncertainty > 0:
        terms.append(Extra(_profile_names(edge, u), -geometry * facing, edge.profile_uncertainty))
    if traverse.settings.get("supports_at") is not None and BeamSection.of(edge) is not None:
        hang = straightedge_sag(u, edge, seats.pair_of_numbers(traverse, "supports_at"))
        terms.append(Known(geometry * hang * seats.parts(survey, names)[1]))
    return terms


def _along(traverse, readings, edge):
    """Return where along the straightedge each reading stands, from its zero end [mm]."""
    start = checks.number(f"traverse {traverse.name!r}: start", traverse.settings.get("start", 0.0))
    u = readings.x - start
    beyond = (u < -0.01) | (u > edge.length + 0.01)
    if beyond.any():
        raise InputError(
            f"traverse {traverse.name!r}: {edge.name!r} lies from {start:g} to "
            f"{start + edge.length:g} mm, but there is a reading at "
            f"x = {readings.x[beyond][0]:g}; correct start or the place"
        )
    u = np.clip(u, 0.0, edge.length)
    return edge.length - u if traverse.settings.get("end_for_end") else u


def _profile_names(edge, u):
    """Name the profile at each place; places that agree to 0.01 mm get one name."""
    # Stations in inches often end in 5 in the third digit, where two sums of one place may round
    # apart. The odd shift moves the rounding edge to where no station is.
    return np.array(
        [f"profile of {edge.name} at {place + 1.234e-4:.2f} mm" for place in u], dtype=object
    )


def _lie(traverse, readings):
    """Return the unknown offset and tilt with which a straight thing lies."""
    return [
        Extra(f"offset of {traverse.setup_name}", 1.0, PRIOR_U, None),
        Extra(f"tilt of {traverse.setup_name}", readings.x / 1e3, PRIOR_U),
    ]

"""Sag: how far a straightedge or a stretched wire hangs below the line through its supports."""

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.heights.beam_section import BeamSection


def beam_sag(u, *, length, supports, load=1.0, stiffness=1.0):
    """Return how far a uniform beam on two supports hangs below the line through them.

    Parameters
    ----------
    u : float or array_like, shape (m,)
        Places along the beam, from one end.
    length : float
        Of the beam.
    supports : (float, float)
        Where it is supported, from the same end, with any overhang.
    load : float
        Weight per length.
    stiffness : float
        Young's modulus times second moment of area. With mm and N throughout, N/mm for the load
        and N mm² for the stiffness, the sag is in mm; left at 1 it is in units of load / stiffness.

    Returns
    -------
    ndarray, shape (m,)
        Downward positive; an end that overhangs may rise, which is negative.

    Raises
    ------
    InputError
        If the supports coincide or lie beyond an end, if the beam would tip over, or if a place
        lies beyond an end.

    Notes
    -----
    Euler-Bernoulli beam, the bending moment integrated twice with Macaulay brackets <s>:

        EI y'' = R_1 <u - a> + R_2 <u - b> - w u² / 2

    and y = 0 at both supports. Shear is left out: of a plain steel bar of height h it adds
    2.5 (h / l)² of the sag when held at its ends, and 37 (h / l)² of the little by which the middle
    hangs on the best supports; of an I-section more, for there the web alone resists it.

    Examples
    --------
    Held at its ends, a beam sags by 5/384 in its middle:

    >>> float(beam_sag(0.5, length=1, supports=(0, 1)).round(8)), round(5 / 384, 8)
    (0.01302083, 0.01302083)
    """
    a, b, u = _held(u, length, supports)
    first, second = _reactions(length, a, b)

    def bent(s):
        left, right = np.maximum(s - a, 0.0), np.maximum(s - b, 0.0)
        return (first * left**3 + second * right**3) / 6 - s**4 / 24

    at_a, at_b = bent(a), bent(b)
    line = at_a + (at_b - at_a) * (u - a) / (b - a)
    return (line - bent(u)) * (load / stiffness)


def beam_slope(u, *, length, supports):
    """Return the slope of the sag of a uniform beam on two supports, toward rising u.

    Parameters
    ----------
    u, length, supports
        As for `beam_sag`.

    Returns
    -------
    ndarray, shape (m,)
        In units of load / stiffness.

    Raises
    ------
    InputError
        As for `beam_sag`.

    Examples
    --------
    Held at its ends, a beam leaves each with a slope of 1/24:

    >>> beam_slope([0.0, 1.0], length=1, supports=(0, 1)).round(6).tolist()
    [0.041667, -0.041667]
    """
    a, b, u = _held(u, length, supports)
    first, second = _reactions(length, a, b)

    def turned(s):
        left, right = np.maximum(s - a, 0.0), np.maximum(s - b, 0.0)
        return (first * left**2 + second * right**2) / 2 - s**3 / 6

    # the line through the supports, as in `beam_sag`: there the brackets of both are zero or one
    rise = (first * (b - a) ** 3 / 6 - (b**4 - a**4) / 24) / (b - a)
    return rise - turned(u)


def _held(u, length, supports):
    """Return the supports in order and the places, checked."""
    a, b = sorted(checks.pair("supports", supports))
    if not 0 <= a < b <= length:
        raise checks.wrong(
            "supports",
            f"two different places from 0 to {length:.10g} are needed",
            (float(a), float(b)),
            "correct them",
        )
    if not a <= length / 2 <= b:
        raise checks.wrong(
            "supports",
            f"the middle at {length / 2:.10g} lies outside them, so it tips",
            (float(a), float(b)),
            "correct them",
        )
    u = np.asarray(u, dtype=float)
    if ((u < 0) | (u > length)).any():
        raise InputError(f"u: places from 0 to {length:.10g} are needed, got {u}; correct them")
    return a, b, u


def _reactions(length, a, b):
    """Return what the two supports carry, for a unit load per length."""
    first = length * (b - length / 2) / (b - a)
    return first, length - first


def straightedge_sag(u, straightedge, supports):
    """Return the sag of a straightedge under its own weight.

    Parameters
    ----------
    u : float or array_like, shape (m,)
        Places along it, from its zero end [mm].
    straightedge : Straightedge
        With what is told of its section, of `BeamSection`.
    supports : (float, float)
        Where it is supported, from its zero end [mm].

    Returns
    -------
    ndarray, shape (m,)
        Downward positive [mm].

    Raises
    ------
    InputError
        As for `beam_sag`; or if nothing is told of its section.

    Notes
    -----
    A tapered or pierced casting is not uniform: give the area and second moment of its middle, and
    read its sag once to see whether that holds. Of the sag no uncertainty is told.

    Examples
    --------
    A plain steel bar 1 m long and 60 mm high bows 16 um when held at its ends:

    >>> from metrolib.survey.instruments import Straightedge
    >>> bar = Straightedge("bar", 1000, 0.004, height=60, width=12)
    >>> print(straightedge_sag(500, bar, (0, 1000)).round(3))
    0.016
    """
    section = BeamSection.of(straightedge)
    if section is None:
        raise checks.wrong(
            f"straightedge {straightedge.name!r}", "its section is needed", "none", "give its sizes"
        )
    return beam_sag(
        u,
        length=straightedge.length,
        supports=supports,
        load=section.load,
        stiffness=section.stiffness,
    )


def wire_sag(x, *, ends, weight, tension):
    """Return how far a stretched wire hangs below the line through its ends.

    Parameters
    ----------
    x : float or array_like, shape (m,)
        Places [mm].
    ends : (float, float)
        Where the wire is held, both at one height [mm].
    weight : float
        Weight per length [N/m].
    tension : float
        Its horizontal pull [N].

    Returns
    -------
    ndarray, shape (m,)
        Downward positive [mm].

    Raises
    ------
    InputError
        If the ends coincide, a place lies beyond them, or weight or tension is not positive.

    Notes
    -----
    The catenary y = a cosh(s / a) with a = tension / weight. The difference of the two cosh is
    written as a product, which keeps its digits where a is kilometres and the sag micrometres.

    Examples
    --------
    A thin steel wire of 0.0102 N/m pulled by 133 N sags 9.6 um at mid-span of one metre:

    >>> print(wire_sag(500, ends=(0, 1000), weight=0.0102, tension=133).round(4))
    0.0096
    """
    low, high = sorted(checks.pair("wire_ends", ends))
    if low == high:
        raise checks.wrong(
            "wire_ends", "two different places are needed", (low, high), "correct them"
        )
    x = np.asarray(x, dtype=float)
    if ((x < low) | (x > high)).any():
        raise InputError(f"x: the wire runs from {low} to {high} mm, got {x}; correct the places")
    tension = checks.number("wire_tension", tension, above=0)
    scale = tension / checks.number("wire_weight", weight, above=0) * 1e3  # mm
    half, place = (high - low) / 2, x - (low + high) / 2
    return 2 * scale * np.sinh((half + place) / (2 * scale)) * np.sinh((half - place) / (2 * scale))

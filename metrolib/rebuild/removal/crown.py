"""The crown: how much higher than a plane the target stands in the middle of the ways."""

import numpy as np


def crown_ends(decision, faces):
    """Return where the crown of a decision begins and ends along the ways [mm].

    Parameters
    ----------
    decision : Decision
    faces : dict of str to Face

    Returns
    -------
    start, end : float
        The ends of the ways: the least `x_from` and the greatest `x_to` of the faces that end
        together.
    """
    ways = [faces[name] for name in decision.faces]
    return min(face.x_from for face in ways), max(face.x_to for face in ways)


def crown_at(decision, faces, face, x):
    """Return how much higher than a plane the target stands at some places, for its crown.

    Parameters
    ----------
    decision : Decision
    faces : dict of str to Face
    face : ndarray of str, shape (n,)
        The face of each place.
    x : ndarray, shape (n,)
        [mm]

    Returns
    -------
    ndarray, shape (n,)
        Along the outward normal of each face; nothing at the ends of the ways, below zero where
        the target is hollow, or the face looks down [mm].

    Notes
    -----
    A parabola: c (1 - t²) upward, c the crown, t from -1 at one end of the ways to 1 at the other.
    It has the same curvature everywhere (so small a parabola is as good as an arc of radius
    L² / (8 c)), and one for all faces, so what rides on them neither rolls nor goes sideways. Along
    a normal that leans by phi it is cos(phi) of that: a vee's flanks follow the flats, a side face
    stays straight, and an underside sinks into the metal as the top rises out of it, so that what
    is held between them keeps its play.

    Examples
    --------
    >>> from metrolib import Decision, Face
    >>> ways = {"flat": Face("flat", y=0, width=30, x_from=0, x_to=1000)}
    >>> decision = Decision(faces=("flat",), crown=0.01)
    >>> crown_at(decision, ways, np.array(["flat"] * 3), np.array([0, 250, 500])).tolist()
    [0.0, 0.0075, 0.01]
    """
    start, end = crown_ends(decision, faces)
    t = (2 * np.asarray(x) - start - end) / (end - start)
    up = np.array([faces[name].up for name in face])
    return decision.crown * (1 - t**2) * up

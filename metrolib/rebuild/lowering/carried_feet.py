"""Feet: where a carried body touches its faces, two feet on each."""

import numpy as np

from metrolib import checks
from metrolib.form.wording import nominal
from metrolib.rebuild.lowering.contact import Contact, point_rows


def holds(face):
    """Tell whether a face carries or guides a body; an underside only keeps it from rising."""
    return face.up >= 0 or face.across != 0


class Feet:
    """The feet of a body, two on each face, in the order of its faces.

    Parameters
    ----------
    body : Carried
    faces : dict of str to Face
        Those that it rides on.
    """

    def __init__(self, body, faces):
        self.body, self.faces = body, faces
        self.names = np.repeat(list(faces), 2)
        self.x = np.array([foot for name in faces for foot in body.feet_of(name)])
        y = np.array([body.y.get(name, faces[name].y) for name in self.names])
        z = np.array([body.z.get(name, 0.0) for name in self.names])
        up = np.array([faces[name].up for name in self.names])
        across = np.array([faces[name].across for name in self.names])
        self.carry = np.flatnonzero([holds(faces[name]) for name in self.names])
        self.y_middle = float(np.mean(y[self.carry]))
        sideways, upward = point_rows(self.x, y - self.y_middle, z)
        self.rows = across[:, None] * sideways + up[:, None] * upward
        self.contact = Contact(self.rows[self.carry])

    def of(self, name):
        """Return the places of the two feet on a face."""
        return np.flatnonzero(self.names == name)

    def stand(self, place):
        """Yield face and place along the ways of each foot."""
        return zip(self.names, self.x + place, strict=True)

    def own(self, own):
        """Return what came off the body at each foot, a list of floats or numbers."""
        depths = [0.0] * len(self.names)
        if own is not None:
            checks.kind("own", own, dict, "give {face: depth}")
        for name, given in (own or {}).items():
            checks.choice(f"own of {self.body.name!r}", name, self.faces)
            pair = given if isinstance(given, tuple | list | np.ndarray) else (given, given)
            if len(pair) != 2:
                raise checks.wrong(
                    "own", f"{name!r} has two feet", len(pair), "give one depth, or one at each"
                )
            for foot, depth in zip(self.of(name), pair, strict=True):
                checks.quantity(f"own of {name!r}", depth)
                depths[foot] = depth
        return depths


def plain(own):
    """Return depths as floats, shape (n,)."""
    return np.array([nominal(depth) for depth in own])

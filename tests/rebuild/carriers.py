"""Beds and bodies for the tests of what a lowering does."""

from metrolib.survey.carried import Carried
from metrolib.survey.machine import Face

LENGTH = {"width": 20, "x_from": 0, "x_to": 1000}


def faces(**places):
    """Return faces by name, each given as y or (y, normal)."""
    found = {}
    for name, place in places.items():
        y, normal = place if isinstance(place, tuple) else (place, 0.0)
        found[name] = Face(name, y, normal=normal, **LENGTH)
    return found


#: Two flats 200 mm apart, and the side face that guides.
FLATS = faces(front=0, rear=200, guide=(-10, -90))

#: An inverted vee of 90 degrees whose flanks meet at y 40, and a flat behind.
VEE = faces(near=(40, -45), far=(40, 45), flat=240)


def saddle(bed, **given):
    """Return a body that rides on all faces of a bed."""
    shape = {"feet": (-100, 100), "travel": (100, 900), **given}
    return Carried("saddle", tuple(bed), **shape)

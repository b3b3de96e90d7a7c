"""Layouts: the faces of some usual machines, to begin a description with."""

from metrolib.survey.machine import Face


def _flat(name, y, width, **keys):
    return Face(name, y=y, width=width, x_from=0, x_to=1000, **keys)


def _flank(name, y, normal):
    """Return a flank of a vee, of which a sled on the flat beside it reaches both ends."""
    return Face(name, y=y, width=30, x_from=100, x_to=900, normal=normal)


#: Faces by what the machine looks like in cross-section.
LAYOUTS = {
    "two flats and a ledge": (
        _flat("front flat", 0, 40),
        _flat("rear flat", 180, 40),
        _flat("front ledge", 0, 20, normal=180, nominal_height=25),
    ),
    "an inverted vee and a flat": (
        _flank("front flank", -11, -45),
        _flank("rear flank", 11, 45),
        _flat("flat", 200, 50),
    ),
    "a hollow vee and a flat": (
        _flank("front flank", -11, 45),
        _flank("rear flank", 11, -45),
        _flat("flat", 200, 50),
    ),
    "a flat table, read along three strips": (
        _flat("front strip", 25, 50),
        _flat("middle strip", 150, 50),
        _flat("rear strip", 275, 50),
    ),
    "one way by itself": (_flat("way", 0, 50),),
}

"""Faces: the tables of faces in survey.toml."""

from metrolib.survey.machine import NORMALS, Face, LeftOut
from metrolib.survey.sections import Section, suggest

#: Keys of a face that say nothing of where its stations can be.
APART = frozenset({"normal", "nominal_height", "left_out", "note"})


def take_face(section):
    """Return the `Face` of one table."""
    y = section.number("y")
    width = section.number("width", above=0)
    x_from, x_to = section.number("x_from"), section.number("x_to")
    if x_from is not None and x_to is not None and x_from >= x_to:
        wrong = f"x_to {x_to:g} is not beyond x_from {x_from:g}"
        section.fault("x_to", wrong, "write the lower as x_from")
    face = Face(
        name=section.path[-1],
        y=y,
        width=width,
        x_from=x_from,
        x_to=x_to,
        normal=_take_normal(section),
        nominal_height=section.number("nominal_height", 0.0),
        left_out=_take_left_out(section, x_from, x_to),
        note=section.text("note", ""),
    )
    section.finish()
    return face


def _take_normal(section):
    if not isinstance(section.table.get("normal", "up"), str):
        return section.number("normal")
    word = section.text("normal", "up")
    if word is None or word in NORMALS:
        return NORMALS.get(word)
    words = ", ".join(map(repr, NORMALS))
    remedy = suggest(word, NORMALS, otherwise=f"use one of {words}, or degrees without quotes")
    return section.fault("normal", f"normal names the unknown direction {word!r}", remedy)


def _take_left_out(face, x_from, x_to):
    rows = face.raw("left_out", [])
    if not isinstance(rows, list):
        remedy = 'write [{ x_from = 1, x_to = 2, reason = "..." }]'
        face.fault("left_out", "left_out is no list", remedy)
        return ()
    on_the_face = None if None in (x_from, x_to) else (x_from, x_to)
    return tuple(_take_stretch(face, place, row, on_the_face) for place, row in enumerate(rows))


def _take_stretch(face, place, row, on_the_face):
    path = (*face.path, "left_out", place)
    section = Section(face.book, path, row, f"{face.title}, left_out")
    start, end = section.number("x_from"), section.number("x_to")
    stretch = LeftOut(start, end, section.text("reason"))
    section.finish()
    if section.sound and start > end:
        wrong = f"x_to {end:g} is below x_from {start:g}"
        section.fault("x_to", wrong, "write the lower as x_from")
    if section.sound and on_the_face and (end < on_the_face[0] or start > on_the_face[1]):
        wrong = f"{start:g} to {end:g} is not on the face"
        remedy = f"the face runs from {on_the_face[0]:g} to {on_the_face[1]:g}"
        section.fault("x_from", wrong, remedy)
    face.sound &= section.sound
    return stretch

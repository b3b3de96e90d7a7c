"""Placement: whether the stations of a traverse lie where its faces, feet and tools can be."""

import numpy as np

#: Places closer than this are the same station [mm].
SAME_PLACE = 0.01

#: Keys that name faces which a reading touches at its own x.
_TOUCHED = ("face", "other_face", "opposite_face", "resting_on")


def place_faults(context):
    """Return a fault for each row whose station is not on the faces that it touches."""
    if "line" in context.traverse.settings:
        return _line_faults(context)
    reach = _reach(context)
    # a face that the rows name concerns those rows, one that the traverse names concerns all
    every = dict.fromkeys(_touched(context), np.arange(len(context.rows)))
    faults = []
    for name, mine in (context.on_face | every).items():
        face = context.faces.get(name)
        if face is None:
            continue
        x = context.rows.x[mine]
        beyond = (x < face.x_from - SAME_PLACE) | (x + reach > face.x_to + SAME_PLACE)
        faults += [_outside(context, place, face, reach) for place in mine[beyond]]
    return faults


def _touched(context):
    """Return the faces that every reading of the traverse touches."""
    keys = _TOUCHED[1:] if len(context.face_names("face")) < 2 else _TOUCHED
    return [name for key in keys for name in context.face_names(key)]


def _reach(context):
    """Return how far beyond x the reading touches its face: to the front foot of a level [mm]."""
    return (
        context.traverse.settings.get("foot_spacing", 0.0)
        if context.traverse.kind == "level along"
        else 0.0
    )


def _outside(context, place, face, reach):
    x = context.rows.x[place]
    where = f"x = {x:g}"
    if face.x_from <= x <= face.x_to:
        where = f"x = {x:g}: the front foot at {x + reach:g}"
    extent = f"which runs from {face.x_from:g} to {face.x_to:g}"
    wrong = f"{where} is outside the face {face.name!r}, {extent}"
    remedy = "correct x, or x_from and x_to of the face"
    return context.at_row(place, wrong, remedy + (" (x is the rear foot)" if reach else ""))


def _line_faults(context):
    """Return a fault for each row that a line of a wide face does not carry."""
    rows = context.rows
    line = context.traverse.settings["line"]
    start, end = np.array(line["from"]), np.array(line["to"])
    length = float(np.hypot(*(end - start)))
    along = rows.x[:, None] + np.array([0.0, _reach(context)])
    points = start + along[..., None] / length * (end - start)
    beyond = ((along < -SAME_PLACE) | (along > length + SAME_PLACE)).any(axis=1)
    faults = [
        context.at_row(
            place,
            f"x = {rows.x[place]:g} is outside the line of {context.traverse.name!r},"
            f" which runs from 0 to {length:g}",
            "correct x, or the line in survey.toml",
        )
        for place in np.flatnonzero(beyond)
    ]
    for name, mine in context.on_face.items():
        face = context.faces.get(name)
        if face is None:
            continue
        low = np.array([face.x_from, face.y - face.width / 2]) - SAME_PLACE
        high = np.array([face.x_to, face.y + face.width / 2]) + SAME_PLACE
        off = ((points < low) | (points > high)).any(axis=(1, 2))
        for place in mine[(off & ~beyond)[mine]]:
            x, y = points[place, 0]
            at = f"x = {rows.x[place]:g} along the line is at ({x:g}, {y:g})"
            remedy = "correct the line, or the face and its width"
            faults.append(context.at_row(place, f"{at}, outside the face {name!r}", remedy))
    return faults


def edge_faults(context):
    """Return a fault for each row whose station the straightedge does not reach."""
    edge = context.settings.straightedges.get(context.traverse.settings.get("straightedge"))
    if edge is None:
        return []
    start = context.traverse.settings.get("start", 0.0)
    x = context.rows.x
    beyond = (x < start - SAME_PLACE) | (x > start + edge.length + SAME_PLACE)
    wrong = f"beyond {edge.name!r}, which lies from {start:g} to {start + edge.length:g}"
    remedy = "correct x, or start of the traverse"
    places = np.flatnonzero(beyond)
    return [context.at_row(place, f"x = {x[place]:g} is {wrong}", remedy) for place in places]


def foot_spacing_faults(context):
    """Return a fault where the steps of a level do not end where other steps begin.

    Notes
    -----
    One station left out makes one step end in the air, which is no fault; a wrong foot spacing
    makes most of them do so. Only readings with a later station count.
    """
    spacing = context.traverse.settings.get("foot_spacing")
    if context.traverse.kind != "level along" or spacing is None:
        return []
    faults = []
    for mine in context.on_face.values():
        stations = np.unique(np.round(context.rows.x[mine], 2))
        steps = stations[:-1]
        if not len(steps):
            continue
        # compared in whole hundredths: 0.1 + 0.2 must be 0.3
        ends = np.round((steps + spacing) / SAME_PLACE)
        loose = steps[~np.isin(ends, np.round(stations / SAME_PLACE))]
        if 2 * len(loose) > len(steps):
            at = loose[0]
            following = stations[stations > at][0]
            wrong = (
                f"foot_spacing {spacing:g} does not match the stations:"
                f" {len(loose)} of {len(steps)}"
                f" steps end where no other begins, e.g. from x = {at:g} to {at + spacing:g},"
                f" the next station is {following:g}"
            )
            remedy = "write the distance between the feet, or correct x in readings.csv"
            faults.append(context.at_key("foot_spacing", wrong, remedy))
    return faults

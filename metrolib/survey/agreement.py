"""Agreement: whether the readings fit the machine, instruments and set-ups they name."""

import numpy as np

from metrolib.errors import Fault
from metrolib.survey.placement import edge_faults, foot_spacing_faults, place_faults
from metrolib.survey.readings import KINDS, OWN, numbered, rows_of
from metrolib.survey.sections import suggest

#: Kinds whose instrument shows a slope; all others show a length.
SLOPE_KINDS = ("level along", "level across")

#: Normals of two faces that a micrometer spans may differ from opposite by this much [deg].
_OPPOSITE = 0.01


def check_agreement(settings, columns, file, toml_file):
    """Return the faults that show only when both files are read together.

    Parameters
    ----------
    settings : Settings
    columns : Columns
        All rows, planned ones too.
    file, toml_file : str
        Names of the readings file and of the settings file.

    Returns
    -------
    list of Fault
    """
    rows = columns.rows
    read = rows.select(~np.isnan(rows.value))
    faults = _unknown_names(rows, rows.traverse, settings.names["traverses"], "traverse", file)
    faults += _unknown_names(rows, rows.face, settings.names["faces"], "face", file)
    faults += _duplicates(read, file)
    places, none = rows_of(rows.traverse), np.zeros(0, dtype=int)
    for name, traverse in settings.traverses.items():
        mine = rows.select(places.get(name, none))
        context = _Context(settings, traverse, mine, file, toml_file)
        faults += _instrument_faults(context)
        faults += _normal_faults(context)
        faults += _bridge_faults(context)
        if len(mine):
            faults += _face_faults(context)
            faults += place_faults(context)
            faults += edge_faults(context)
            if name not in columns.incomplete:
                faults += _count_faults(context)
                faults += foot_spacing_faults(context)
    return faults


class _Context:
    """One traverse with its rows, and how its faults are written."""

    def __init__(self, settings, traverse, rows, file, toml_file):
        self.settings, self.traverse, self.rows = settings, traverse, rows
        self.faces = settings.machine.faces
        self.file, self.toml_file = file, toml_file
        self.on_face = rows_of(rows.face)

    def at_row(self, place, wrong, remedy):
        """Return a fault at one of the rows."""
        return Fault(self.file, int(self.rows.line[place]), wrong, remedy)

    def at_key(self, key, wrong, remedy):
        """Return a fault at a key of the traverse."""
        name = self.traverse.name
        line = self.settings.places.line("traverses", name, key)
        return Fault(self.toml_file, line, f"traverse {name!r}: {wrong}", remedy)

    def face_names(self, key):
        """Return the faces that a key of the traverse names."""
        return tuple(_flattened(self.traverse.settings.get(key, ())))


def _flattened(names):
    """Return the names in a name, or in a list of names and of lists."""
    if isinstance(names, str):
        return [names]
    return [one for name in names for one in _flattened(name)]


def _unknown_names(rows, names, known, what, file):
    """Note each unknown name once, with the lines in which it stands."""
    faults = []
    for name, places in rows_of(names).items():
        if not known or name in known or not name:  # none known at all is told already
            continue
        lines = rows.line[places].tolist()
        also = "" if len(lines) == 1 else f" ({len(lines)} rows: lines {_some(lines)})"
        remedy = suggest(
            name, known, otherwise=f"name one of the {what}s of survey.toml, or describe it there"
        )
        faults.append(Fault(file, lines[0], f"unknown {what} {name!r}{also}", remedy))
    return faults


def _some(lines):
    return ", ".join(map(str, lines[:8])) + (", ..." if len(lines) > 8 else "")


def _duplicates(read, file):
    """Note readings of the same traverse, face, place and repeat number."""
    (traverse, _), (face, faces) = numbered(read.traverse), numbered(read.face)
    keys = (read.repeat, np.round(read.x * 100), traverse * len(faces) + face)
    order = np.lexsort(keys)  # equal ones stay in the order of their lines
    same = np.ones(max(len(read) - 1, 0), dtype=bool)
    for key in keys:
        same &= key[order][1:] == key[order][:-1]
    faults = []
    for place in np.flatnonzero(same):
        first, second = order[place], order[place + 1]
        wrong = (
            f"a second reading of {str(read.traverse[second])!r} at x = {read.x[second]:g}"
            f" with repeat {read.repeat[second]}, the first is in line {read.line[first]}"
        )
        remedy = "number repeats 1, 2, ... in the column repeat, or correct x"
        faults.append(Fault(file, int(read.line[second]), wrong, remedy))
    return faults


def _instrument_faults(context):
    instrument = context.settings.instruments.get(context.traverse.instrument)
    kind = context.traverse.kind
    if instrument is None or kind.startswith(OWN):
        return []
    needed = "slope" if kind in SLOPE_KINDS else "length"
    if instrument.measures != needed:
        return [
            context.at_key(
                "instrument",
                f"{kind!r} needs a {needed}, the instrument {instrument.name!r} shows"
                f" a {instrument.measures}",
                "name another instrument, or correct its unit (or sensitivity_unit)",
            )
        ]
    return _range_faults(context, instrument)


def _range_faults(context, instrument):
    if instrument.reading_range is None:
        return []
    beyond = np.abs(np.nan_to_num(context.rows.value)) > instrument.reading_range
    return [
        context.at_row(
            place,
            f"reading {context.rows.value[place]:g} is beyond the range"
            f" {instrument.reading_range:g} of {instrument.name!r}",
            "correct the reading, or the range in survey.toml",
        )
        for place in np.flatnonzero(beyond)
    ]


def _normal_faults(context):
    """Note a micrometer across faces that do not look away from each other."""
    if context.traverse.kind != "micrometer":
        return []
    opposite = context.faces.get(context.traverse.settings["opposite_face"])
    faults = []
    for name in dict.fromkeys([*context.face_names("face"), *context.rows.face.tolist()]):
        face = context.faces.get(name)
        if face is None or opposite is None or None in (face.normal, opposite.normal):
            continue
        angle = (face.normal - opposite.normal) % 360
        if abs(angle - 180) > _OPPOSITE:
            wrong = (
                f"a micrometer spans opposite faces, {face.name!r} (normal {face.normal:g} deg)"
                f" and {opposite.name!r} ({opposite.normal:g} deg) are not"
            )
            faults.append(context.at_key("opposite_face", wrong, "correct the face or its normal"))
    return faults


def _bridge_faults(context):
    """Note a cross-level whose faces lie at one place across, with no distance given."""
    traverse = context.traverse
    if traverse.kind != "level across" or "distance" in traverse.settings:
        return []
    middles = []
    for key in ("face", "other_face"):
        faces = [context.faces.get(name) for name in context.face_names(key)]
        if None in faces:
            return []
        middles.append(sum(face.y for face in faces) / len(faces))
    if middles[0] != middles[1]:
        return []
    wrong = f"face and other_face both lie at y = {middles[0]:g}, so the level bridges no distance"
    return [context.at_key("other_face", wrong, "correct the faces, or give the distance in mm")]


def _count_faults(context):
    """Note a traverse with a single station, planned ones counted."""
    rows = context.rows
    x = np.round(rows.x, 2)
    if (x != x[0]).any() or (rows.face != rows.face[0]).any():
        return []
    wrong = (
        f"traverse {context.traverse.name!r} has fewer than two stations, only x = {rows.x[0]:g}"
    )
    return [context.at_row(0, wrong, "read at least one more station, or leave the traverse out")]


def _face_faults(context):
    """Note rows without a face, and rows of a cross-level that name another one."""
    traverse, rows = context.traverse, context.rows
    if traverse.kind not in KINDS:
        return []
    of_traverse = context.face_names("face")
    faults = []
    if not of_traverse:
        faults = [
            context.at_row(
                place,
                f"no face: neither the row nor traverse {traverse.name!r} names one",
                "fill the column face, or write face = ... in the traverse",
            )
            for place in np.flatnonzero(rows.face == "")
        ]
    if traverse.kind == "level across":
        number, names = numbered(rows.face)
        known = context.settings.names["faces"] - {"", *of_traverse}
        other = np.array([name in known for name in names])[number]
        faults += [
            context.at_row(
                place,
                f"face {str(rows.face[place])!r}, but the traverse {traverse.name!r} bridges"
                f" {' and '.join(of_traverse)} and its other_face",
                "name the face of the traverse, or leave the cell empty",
            )
            for place in np.flatnonzero(other)
        ]
    return faults

"""Sheets: for each reading kind, the set-ups and stations that a blank survey begins with."""

from dataclasses import dataclass
from math import ceil, floor

from metrolib.errors import InputError
from metrolib.survey.readings import OWN
from metrolib.survey.rests import FLAT, Vee, rest_cell, rest_toml
from metrolib.survey.wording import STRAIGHTEDGE_NAME, quoted

#: Supports of a straightedge for the least sag, from each end, as a share of its length: the
#: spacing of 0.5594 of the length that Bessel gives for a bar of constant section.
_SUPPORT = (1 - 0.5594) / 2


#: Kinds that are read between a straightedge and the face.
UNDER_AN_EDGE = ("straightedge", "feeler gap")


@dataclass(frozen=True)
class Sheet:
    """One traverse of a blank survey.

    Attributes
    ----------
    name, kind, instrument : str
    keys : tuple of str
        Further lines of its table in survey.toml.
    stations : tuple of (str, float)
        Face and x of each reading to be taken [mm]; the face is empty on a vee.
    y : float
        Of the middle of that on which its stations lie [mm]; 0 where each names its face.
    """

    name: str
    kind: str
    instrument: str
    keys: tuple[str, ...]
    stations: tuple[tuple[str, float], ...]
    y: float = 0.0


@dataclass(frozen=True)
class Spacing:
    """Lengths that a sheet takes instead of its usual ones; None leaves the usual one.

    Attributes
    ----------
    pitch : float or None
        Between stations; of a level along a face also between its feet [mm].
    foot : float or None
        From the stylus to each foot of the carriage that bears it [mm].
    edge : float or None
        Length of the straightedge [mm].
    """

    pitch: float | None = None
    foot: float | None = None
    edge: float | None = None


#: Leaves the usual lengths.
USUAL = Spacing()


def plan_sheets(kind, faces, spacing=USUAL):
    """Return the sheets of one reading kind for a machine.

    Parameters
    ----------
    kind : str
        One of `KINDS`, or ``"own: NAME"``.
    faces : list of Face or Vee
        A carriage rides on the first that looks up, a gauge rests on the first two.
    spacing : Spacing

    Raises
    ------
    InputError
        If the machine lacks the faces that the kind needs, or the pitch leaves no two stations.
    """
    if kind.startswith(OWN):
        return _own(kind, faces, spacing)
    return _PLANS[kind](kind, faces, spacing)


def straightedge_length(faces):
    """Return a length that covers every face, in whole hundreds [mm]."""
    return 100 * ceil(max(face.x_to - face.x_from for face in faces) / 100)


def _level_along(kind, faces, spacing):
    sheets = []
    for face in _upward(kind, faces, least=1):
        pitch = _pitch(face, spacing)
        count = floor((face.x_to - face.x_from) / pitch + 1e-6)
        if count < 2:
            raise _lacking(kind, f"room for two steps of {pitch:g} mm on {face.name!r}")
        cell = rest_cell(face)
        out = tuple((cell, round(face.x_from + step * pitch, 2)) for step in range(count))
        keys = (
            f"face = {rest_toml(face)}",
            f"foot_spacing = {pitch:.12g}    # between the feet; step by exactly this much",
        )
        if isinstance(face, Vee):
            keys += ('setup = "block on the vee"    # level and block have one zero together',)
        name = f"level along {face.name}"
        there = (*keys, "turned = false        # true when the level stands end for end")
        back = (*keys, "turned = true         # end for end on the way back: each step is checked")
        sheets.append(Sheet(name, kind, "block level", there, out, face.y))
        sheets.append(Sheet(f"{name} turned", kind, "block level", back, out[::-1], face.y))
    return sheets


def _level_across(kind, faces, spacing):
    first, *others = _upward(kind, faces, least=2, flat=True)
    sheets = []
    for other in others:
        if other.y == first.y:
            names = f"{first.name!r} and {other.name!r}"
            raise _lacking(kind, f"faces side by side, {names} have one y")
        low, high = sorted((first, other), key=lambda face: face.y)
        stations = _common_stations(kind, spacing, low, high)
        keys = (f"face = {rest_toml(low)}", f"other_face = {rest_toml(high)}")
        name = f"level across {low.name} and {high.name}"
        there = (*keys, "turned = false    # read once more turned: both ways round free its zero")
        back = (*keys, "turned = true     # the level and its bridge end for end")
        sheets.append(Sheet(name, kind, "block level", there, stations, low.y))
        sheets.append(Sheet(f"{name} turned", kind, "block level", back, stations, low.y))
    return sheets


def _straightedge(kind, faces, spacing):
    edge = spacing.edge or straightedge_length(faces)
    sheets = []
    for face in _upward(kind, faces, least=1):
        for words, sole_up in (("sole down", "false"), ("sole up", "true")):
            keys = (
                f"face = {rest_toml(face)}",
                f"straightedge = {quoted(STRAIGHTEDGE_NAME)}",
                f"start = {face.x_from:g}             # x of its zero end",
                f"sole_up = {sole_up}       # both ways up part its own shape from the face's",
                f"supports_at = [{edge * _SUPPORT:.0f}, {edge * (1 - _SUPPORT):.0f}]    # along it",
            )
            name = f"{kind} on {face.name}, {words}"
            instrument = "feelers" if kind == "feeler gap" else "dial indicator"
            high = min(face.x_to, face.x_from + edge)
            stations = _between(kind, spacing, face, face.x_from, high)
            sheets.append(Sheet(name, kind, instrument, keys, stations))
    return sheets


def _carriage(kind, faces, spacing):
    riding, *others = _upward(kind, faces, least=2)
    foot = spacing.foot or round(min(100.0, (riding.x_to - riding.x_from) / 8), 2)
    sheets = []
    for face in others:
        low = max(riding.x_from + foot, face.x_from)
        high = min(riding.x_to - foot, face.x_to)
        keys = (
            f"face = {rest_toml(face)}    # under the stylus",
            f"riding = {rest_toml(riding)}    # under the feet; of a vee both flanks [A, B]",
            f"feet = [{-foot:.12g}, {foot:.12g}]    # x of the feet against the stylus",
        )
        stations = _between(kind, spacing, face, low, high)
        sheets.append(Sheet(f"carriage, {face.name}", kind, "dial indicator", keys, stations))
    return sheets


def _micrometer(kind, faces, spacing):
    sheets = []
    for place, face in enumerate(faces):
        for other in faces[place + 1 :]:
            if abs((face.normal - other.normal) % 360 - 180) < 1e-6:
                keys = (f"face = {quoted(face.name)}", f"opposite_face = {quoted(other.name)}")
                name = f"thickness, {face.name} to {other.name}"
                stations = _common_stations(kind, spacing, face, other)
                sheets.append(Sheet(name, kind, "micrometer", keys, stations))
    if not sheets:
        raise _lacking(kind, 'two faces with opposite normals, such as "up" and "down"')
    return sheets


def _gauge(kind, faces, spacing):
    if len(faces) < 3:
        raise _lacking(kind, "three faces: two to rest on and one to indicate")
    first, second = _upward(kind, faces, least=2, flat=True)[:2]
    face = next(face for face in faces if face not in (first, second))
    keys = (
        f"face = {quoted(face.name)}    # indicated",
        f"resting_on = [{rest_toml(first)}, {rest_toml(second)}]",
    )
    stations = _common_stations(kind, spacing, face, first, second)
    return [Sheet(f"gauge on {face.name}", kind, "dial indicator", keys, stations)]


def _wire(kind, faces, spacing):
    face = _upward(kind, faces, least=1)[0]
    keys = (
        f"face = {quoted(face.name)}",
        f"wire_ends = [{face.x_from - 50:g}, {face.x_to + 50:g}]    # x of its two supports",
        "wire_weight = 0.0024    # N/m; steel of 0.2 mm: 0.0314 mm2 x 7850 kg/m3 x 9.81 m/s2",
        "wire_tension = 20       # N",
    )
    stations = _stations(face, spacing)
    return [Sheet(f"wire over {face.name}", kind, "wire microscope", keys, stations)]


def _comparison(kind, faces, spacing):
    stations = tuple(station for face in faces for station in _stations(face, spacing))
    return [Sheet("comparison", kind, "dial indicator", (), stations)]


def _own(kind, faces, spacing):
    own = (
        f"face = {quoted(faces[0].name)}"
        if len(faces) == 1
        else "# face: each row of readings.csv names its own; take out faces that it does not read"
    )
    keys = (
        own,
        "# its reach is not known here: the rows leave out both ends of a face, add them if it can",
        "# any further keys: your row function finds them",
    )
    name = kind.removeprefix(OWN).strip()
    stations = tuple(station for face in faces for station in _stations(face, spacing)[1:-1])
    return [Sheet(name, kind, "dial indicator", keys, stations)]


_PLANS = {
    "level along": _level_along,
    "level across": _level_across,
    "straightedge": _straightedge,
    "feeler gap": _straightedge,
    "carriage": _carriage,
    "micrometer": _micrometer,
    "gauge": _gauge,
    "wire": _wire,
    "comparison": _comparison,
}


def _upward(kind, faces, *, least, flat=False):
    """Return the faces that look upward, on which something can stand; by itself where `flat`."""
    found = [face for face in faces if face.up > (FLAT if flat else 1e-9)]
    if len(found) < least:
        what = f"{least} {'flat ' * flat}faces that look upward, there are {len(found)}"
        vee = any(0 < face.up <= FLAT for face in faces)
        hint = "; to stand on a vee, write a traverse with both flanks, [A, B]" * (flat and vee)
        raise _lacking(kind, what + hint)
    return found


def _lacking(kind, what):
    return InputError(f"kinds: {kind!r} needs {what}; describe the faces, or leave the kind out")


def _pitch(face, spacing):
    """Return a step along a face: a usual foot spacing, or a quarter of a short face [mm]."""
    if spacing.pitch is not None:
        return spacing.pitch
    length = face.x_to - face.x_from
    return next((step for step in (200.0, 100.0, 50.0) if length >= 6 * step), round(length / 4, 2))


def _stations(face, spacing):
    return _between("", spacing, face, face.x_from, face.x_to)


def _common_stations(kind, spacing, face, *others):
    """Return stations on `face` where the other faces are too."""
    low = max(one.x_from for one in (face, *others))
    high = min(one.x_to for one in (face, *others))
    return _between(kind, spacing, face, low, high)


def _between(kind, spacing, face, low, high):
    """Return stations a pitch apart, with one at either end."""
    if high <= low:
        raise _lacking(kind, f"faces that lie beside each other somewhere, {face.name!r} does not")
    pitch = _pitch(face, spacing)
    places = [low + step * pitch for step in range(ceil((high - low) / pitch - 1e-6))]
    return tuple((rest_cell(face), round(x, 2)) for x in [*places, high])

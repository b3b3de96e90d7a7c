"""Carried: what rides or stands on the faces, and what stays where it is when they are lowered."""

from dataclasses import dataclass, field

from metrolib.survey.sections import Section, suggest
from metrolib.survey.syntax import TOLD

PINIONS = ("under the rack", "over the rack")
HALF_NUTS = ("up and down", "sideways")


@dataclass(frozen=True)
class Carried:
    """A part that rides or stands on faces: saddle, tailstock, headstock.

    Attributes
    ----------
    name : str
    rides_on : tuple of str
        Faces that it touches; an underside is where a keep plate runs.
    feet : tuple of float
        The two ends of its bearing length along x, from its own middle [mm].
    travel : tuple of float
        Lowest and highest place of its middle along the ways [mm]; twice the same where it is
        bolted down.
    feet_on : dict of str to tuple of float
        Faces with a bearing length of their own [mm].
    y : dict of str to float
        Faces that it touches elsewhere than in their middle [mm].
    z : dict of str to float
        Height of the contact above the common level of the flats; faces not named lie at 0 [mm].
    """

    name: str
    rides_on: tuple[str, ...]
    feet: tuple[float, float]
    travel: tuple[float, float]
    feet_on: dict[str, tuple[float, float]] = field(default_factory=dict)
    y: dict[str, float] = field(default_factory=dict)
    z: dict[str, float] = field(default_factory=dict)

    def feet_of(self, face):
        """Return where its two feet on a face stand, from its middle [mm]."""
        return self.feet_on.get(face, self.feet)

    def off(self, faces, at):
        """Return the first foot that is off its face, as (face, x), or None.

        Parameters
        ----------
        faces : dict of str to Face
        at : iterable of float
            Places of its middle [mm].
        """
        for middle in at:
            for name in self.rides_on:
                for foot in self.feet_of(name):
                    if not faces[name].x_from <= middle + foot <= faces[name].x_to:
                        return name, middle + foot
        return None


@dataclass(frozen=True)
class Drive:
    """What is fixed to the bed and does not sink with the saddle: screw, rod, rack, spindle line.

    Places are (y, z) [mm], z above the common level of the flats; None where there is none.

    Attributes
    ----------
    lead_screw, feed_rod : tuple of float or None
        Axes.
    rack : tuple of float or None
        Pitch line.
    pinion : str
        ``"under the rack"`` or ``"over the rack"``.
    pressure_angle : float
        Of rack and pinion [deg].
    half_nut : str
        How the half-nut closes: ``"up and down"`` or ``"sideways"``.
    thread_depth : float or None
        Depth to which a half-nut engages [mm].
    thread_flank : float
        Angle of the thread's flank against the plane square to the screw [deg].
    spindle : tuple of float or None
        Line of centres.
    spindle_nose : float or None
        Where along x the headstock's centre stands [mm].
    """

    lead_screw: tuple[float, float] | None = None
    feed_rod: tuple[float, float] | None = None
    rack: tuple[float, float] | None = None
    pinion: str = PINIONS[0]
    pressure_angle: float = 20.0
    half_nut: str = HALF_NUTS[0]
    thread_depth: float | None = None
    thread_flank: float = 15.0
    spindle: tuple[float, float] | None = None
    spindle_nose: float | None = None


def take_carried(book, entries, names, faces):
    """Return the carried parts by name: those that are in order.

    Parameters
    ----------
    book : Book
    entries : list of (str, dict)
    names : set of str
        All names of faces that the file gives.
    faces : dict of str to Face
        Those of them that are in order.
    """
    found = {}
    for name, table in entries:
        if table == TOLD:
            continue
        section = Section(book, ("carried", name), table, f"carried {name!r}")
        part = _take_part(section, names) if section.sound else None
        if section.sound and _on_the_faces(section, part, faces):
            found[name] = part
    return found


def _take_part(section, names):
    rides_on = section.names("rides_on", names)
    if rides_on == ():
        section.fault("rides_on", "rides_on is empty", 'write ["face name"]')
    part = Carried(
        name=section.path[-1],
        rides_on=rides_on,
        feet=section.numbers("feet", ascending=True),
        travel=_take_travel(section),
        feet_on=_take_by_face(
            section, "feet_on", rides_on, lambda s, k: s.numbers(k, ascending=True)
        ),
        y=_take_by_face(section, "y", rides_on, lambda s, k: s.number(k)),
        z=_take_by_face(section, "z", rides_on, lambda s, k: s.number(k)),
    )
    section.finish()
    return part


def _take_travel(section):
    """Take `travel`, or `stands_at` of a part that is bolted down."""
    travel = section.numbers("travel", None, ascending=True)
    place = section.number("stands_at", None)
    if section.given("travel") == section.given("stands_at"):
        section.fault(
            "stands_at" if section.given("stands_at") else None,
            "where it stands along the ways needs either travel or stands_at",
            "write travel = [lowest, highest] of its middle, or stands_at = number if bolted down",
        )
    return travel if place is None else (place, place)


def _take_by_face(section, key, rides_on, take):
    """Take a table whose keys are faces that the part rides on."""
    table = section.raw(key, {})
    inner = Section(section.book, (*section.path, key), table, f"{section.title}, {key}")
    values = {}
    for name in inner.table:
        if rides_on is None or name in rides_on:
            values[name] = take(inner, name)
        else:
            remedy = suggest(name, rides_on, otherwise="name a face of rides_on")
            inner.fault(name, f"it does not ride on {name!r}", remedy)
    section.sound &= inner.sound
    return values


def _on_the_faces(section, part, faces):
    """Note a foot that runs off its face at an end of the travel."""
    if not set(part.rides_on) <= faces.keys():
        return True  # the fault of that face is told at its own place
    off = part.off(faces, part.travel)
    if off is None:
        return True
    name, x = off
    face = faces[name]
    section.fault(
        "stands_at" if section.given("stands_at") else "travel",
        f"a foot stands at {x:g} mm, off {name!r}",
        f"that face runs from {face.x_from:g} to {face.x_to:g}",
    )
    return False


def take_drive(book, table):
    """Return the `Drive` of the table [drive]; None where there is no such table."""
    if table is None or table == TOLD:
        return None
    section = Section(book, ("drive",), table, "drive")
    drive = Drive(
        lead_screw=section.numbers("lead_screw", None),
        feed_rod=section.numbers("feed_rod", None),
        rack=section.numbers("rack", None),
        pinion=section.choice("pinion", PINIONS, Drive.pinion),
        pressure_angle=section.number("pressure_angle", Drive.pressure_angle, above=0),
        half_nut=section.choice("half_nut", HALF_NUTS, Drive.half_nut),
        thread_depth=section.number("thread_depth", None, above=0),
        thread_flank=section.number("thread_flank", Drive.thread_flank, at_least=0),
        spindle=section.numbers("spindle", None),
        spindle_nose=section.number("spindle_nose", None),
    )
    for key in ("pressure_angle", "thread_flank"):
        angle = getattr(drive, key)
        if angle is not None and angle >= 45:
            section.fault(key, f"{key} is {angle:g}", "it must be below 45 degrees")
    section.finish()
    return drive if section.sound else None

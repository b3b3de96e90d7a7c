"""Rests: what an instrument stands on, a face by itself or a vee by both its flanks."""

from dataclasses import dataclass

from metrolib.survey.machine import Face
from metrolib.survey.wording import quoted

#: A face looks up this much where a foot stands on it by itself; on a flank it would slide.
FLAT = 0.99


@dataclass(frozen=True)
class Vee:
    """A vee, hollow or inverted, as a rest: a block that seats on both its flanks.

    Attributes
    ----------
    first, second : Face
        Its flanks.
    """

    first: Face
    second: Face

    up = 1.0  # what stands on both flanks cannot slide off
    normal = 0.0

    @property
    def name(self):
        """How a rebuilder would call it."""
        return f"vee of {self.first.name} and {self.second.name}"

    @property
    def y(self):
        """Place of its middle across the ways [mm]."""
        return (self.first.y + self.second.y) / 2

    @property
    def x_from(self):
        """Where both flanks begin to be there [mm]."""
        return max(self.first.x_from, self.second.x_from)

    @property
    def x_to(self):
        """Where one of them ends [mm]."""
        return min(self.first.x_to, self.second.x_to)


def vees(faces):
    """Return the vees of a machine: flanks next to each other that lean opposite ways.

    Parameters
    ----------
    faces : iterable of Face

    Returns
    -------
    list of Vee

    Examples
    --------
    >>> left = Face("left flank", y=-10, width=20, x_from=0, x_to=800, normal=-45)
    >>> right = Face("right flank", y=10, width=20, x_from=0, x_to=800, normal=45)
    >>> [vee.name for vee in vees([left, right])]
    ['vee of left flank and right flank']
    """
    flanks = sorted((face for face in faces if 1e-9 < face.up <= FLAT), key=lambda face: face.y)
    found, waiting = [], None
    for flank in flanks:
        if waiting is not None and waiting.across * flank.across < 0:
            found.append(Vee(waiting, flank))
            waiting = None
        else:
            waiting = flank
    return found


def rest_toml(rest):
    """Return a rest as survey.toml names it."""
    if isinstance(rest, Vee):
        return f"[{quoted(rest.first.name)}, {quoted(rest.second.name)}]"
    return quoted(rest.name)


def rest_cell(rest):
    """Return what the column `face` of readings.csv says of a rest: nothing of a vee."""
    return "" if isinstance(rest, Vee) else rest.name

"""The machine: its faces, and the places on them that are left out of the decision."""

from dataclasses import dataclass, field

import numpy as np

#: Words for the outward normal of a face, as an angle in the cross-section [deg].
NORMALS = {"up": 0.0, "down": 180.0, "plus y": 90.0, "minus y": -90.0}


@dataclass(frozen=True)
class LeftOut:
    """A stretch of a face that the decision leaves out: an oil hole, a dent, a repair.

    Attributes
    ----------
    x_from, x_to : float
        Where it begins and ends along the ways [mm].
    reason : str
        What it is.
    """

    x_from: float
    x_to: float
    reason: str


@dataclass(frozen=True)
class Face:
    """One narrow surface of the machine: a flat top, a vee flank, an underside, a side face.

    Attributes
    ----------
    name : str
    y : float
        Place of its middle across the ways [mm].
    width : float
        Width square to x, along the face [mm].
    x_from, x_to : float
        Where it begins and ends along the ways [mm].
    normal : float
        Direction of its outward normal in the cross-section [deg]: 0 up, 90 towards +y, 180 down,
        -90 towards -y; a vee flank at 45 deg has 45 or -45.
    nominal_height : float
        Height that the drawing gives it along its own normal [mm].
    left_out : tuple of LeftOut
    note : str
    """

    name: str
    y: float
    width: float
    x_from: float
    x_to: float
    normal: float = 0.0
    nominal_height: float = 0.0
    left_out: tuple[LeftOut, ...] = ()
    note: str = ""

    @property
    def up(self):
        """Upward part of the unit normal: cos(normal)."""
        return float(np.round(np.cos(np.deg2rad(self.normal)), 15))

    @property
    def across(self):
        """Part of the unit normal towards +y: sin(normal)."""
        return float(np.round(np.sin(np.deg2rad(self.normal)), 15))

    def is_left_out(self, x):
        """Tell for each x whether it lies in a stretch that is left out; shape of `x`."""
        x = np.asarray(x, dtype=float)
        out = np.zeros(x.shape, dtype=bool)
        for stretch in self.left_out:
            out |= (x >= stretch.x_from) & (x <= stretch.x_to)
        return out


@dataclass(frozen=True)
class Machine:
    """What is rebuilt.

    Attributes
    ----------
    name : str
    note : str
        Its story, in the owner's words.
    faces : dict of str to Face
    """

    name: str
    note: str = ""
    faces: dict[str, Face] = field(default_factory=dict)

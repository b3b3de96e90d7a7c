"""Physical simulation of a survey: from the true metal to the figure that is booked.

Nothing here knows how metrolib turns readings into equations. Every reading comes from points in
space: where the feet stand, where the stylus or the wire is, which way the bubble runs. So a wrong
sign on either side shows as a contradiction.

Lengths are in mm, slopes in mm/m, angles of normals in degrees.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np
from instrument_models import bending, booked_text, unit_in_base, wire_sag

NORMALS = {"up": 0.0, "down": 180.0, "plus y": 90.0, "minus y": -90.0}


class Noise:
    """Normal noise from Python's own generator, whose stream is the same in every version."""

    def __init__(self, seed):
        self._source = random.Random(seed)

    def normal(self):
        """Return one draw of mean 0 and standard deviation 1."""
        return NormalDist().inv_cdf(self._source.uniform(1e-12, 1 - 1e-12))

    def between(self, low, high):
        """Return one draw spread evenly."""
        return self._source.uniform(low, high)


@dataclass(frozen=True)
class TrueMachine:
    """Where the metal really is.

    `form` gives for each face its departure along the outward normal from its nominal height, as a
    function of x and y. The machine stands in space with some lift, pitch (far end up), and roll
    (+y side up).
    """

    faces: dict
    form: dict[str, Callable]
    lift: float = 0.0
    pitch: float = 0.0
    roll: float = 0.0

    def normal(self, face):
        """Return the outward unit normal in the cross-section: its parts along +y and up."""
        angle = self.faces[face].get("normal", "up")
        angle = math.radians(NORMALS.get(angle, angle))
        return np.array([math.sin(angle), math.cos(angle)])

    def height(self, face, x, y=None):
        """Return the height of the metal along the face's outward normal."""
        here = self.faces[face]["y"] if y is None else y
        rise = self.lift + (self.pitch * x + self.roll * here) / 1000
        nominal = self.faces[face].get("nominal_height", 0.0)
        return nominal + self.form[face](x, here) + self.normal(face) @ (0.0, rise)

    def seat(self, on, x, y=None):
        """Return where a part comes to rest: sideways and upward, from its nominal place.

        On one face the part is guided sideways by a true guide; on two flanks it settles until it
        touches both.
        """
        if isinstance(on, str):
            return np.array([0.0, self.normal(on)[1] * self.height(on, x, y)])
        return np.linalg.solve(
            [self.normal(flank) for flank in on], [self.height(flank, x) for flank in on]
        )


@dataclass
class Bench:
    """Instruments with their hidden errors, and the readings they give on a machine.

    `hidden` holds what no sheet tells: ``zero`` of each level or set-up [mm/m], or of a micrometer
    [mm]; ``scale``, relative error of an instrument; ``profile`` of each straightedge's sole as a
    function of the place along it, outward from its metal; ``stands``, how far it stands above the
    face [mm] (0 where a dial was set to zero on it); ``drift`` of a traverse over its length
    [unit of the instrument].
    """

    survey: dict
    machine: TrueMachine
    noise: Noise
    hidden: dict
    settings: dict = field(default_factory=dict)

    def read(self, traverse, face, x, progress):
        """Return the text that is booked; `progress` runs from 0 to 1 over the traverse."""
        sheet = self.survey["traverses"][traverse]
        instrument = self.survey["instruments"][sheet["instrument"]]
        face = sheet.get("face") if face is None else face
        seen = getattr(self, "_" + sheet["kind"].replace(" ", "_"))(traverse, sheet, face, x)
        seen *= sheet.get("sign", 1)
        seen += self._own_zero(sheet)
        scale = self.hidden.get("scale", {}).get(sheet["instrument"], 0.0)
        shown = seen / (1 + scale) / unit_in_base(instrument)
        shown += self.hidden.get("drift", {}).get(traverse, 0.0) * progress
        shown += instrument["repeatability"] * self.noise.normal()
        return booked_text(shown, instrument["resolution"], sheet["kind"])

    def _own_zero(self, sheet):
        """Return what a level's vial or a micrometer's zero adds, whatever it stands on."""
        zeros = self.hidden.get("zero", {})
        zero = zeros.get(sheet.get("setup", sheet["instrument"]), 0.0)
        if sheet["kind"] == "micrometer":
            zero = zeros.get(sheet["instrument"], 0.0)
        # The bubble is booked toward the same end of the machine however the level lies, so
        # turning it end for end turns the error of the vial and nothing else.
        return -zero if sheet.get("turned") else zero

    def _level_along(self, traverse, sheet, face, x):
        spacing = sheet["foot_spacing"]
        if "line" in sheet:
            start, end = np.array(sheet["line"]["from"]), np.array(sheet["line"]["to"])
            along = (end - start) / math.dist(start, end)
            rear, front = start + x * along, start + (x + spacing) * along
        else:
            rear, front = (x, None), (x + spacing, None)
        rise = self.machine.seat(face, *front)[1] - self.machine.seat(face, *rear)[1]
        return 1000 * rise / spacing

    def _level_across(self, traverse, sheet, face, x):
        other = sheet["other_face"]
        width = self.machine.faces[other]["y"] - self.machine.faces[face]["y"]
        rise = self.machine.seat(other, x)[1] - self.machine.seat(face, x)[1]
        # Positive when the +y side is higher, whichever face is named first.
        return 1000 * rise / width

    def _carriage(self, traverse, sheet, face, x):
        first, second = (self.machine.seat(sheet["riding"], x + foot) for foot in sheet["feet"])
        share = -sheet["feet"][0] / (sheet["feet"][1] - sheet["feet"][0])
        sled = first + share * (second - first)
        return self._dial(traverse, face, x, self.machine.normal(face) @ sled)

    def _gauge(self, traverse, sheet, face, x):
        first, second = (self.machine.seat(rest, x)[1] for rest in sheet["resting_on"])
        y_first, y_second = (self.machine.faces[rest]["y"] for rest in sheet["resting_on"])
        share = (self.machine.faces[face]["y"] - y_first) / (y_second - y_first)
        bridge = (0.0, first + share * (second - first))
        return self._dial(traverse, face, x, self.machine.normal(face) @ bridge)

    def _dial(self, traverse, face, x, mount):
        """Return a dial's reading; it was turned to nearly zero at the first place."""
        span = self.machine.height(face, x) - mount
        if (traverse, face) not in self.settings:
            self.settings[traverse, face] = span + self.noise.between(-0.003, 0.003)
        return span - self.settings[traverse, face]

    def _micrometer(self, traverse, sheet, face, x):
        normal, anvil = self.machine.normal(face), sheet["opposite_face"]
        upper = self.machine.height(face, x) * normal
        lower = self.machine.height(anvil, x) * self.machine.normal(anvil)
        return normal @ (upper - lower)

    def _comparison(self, traverse, sheet, face, x):
        """Return a height in the frame of a measuring arm, which stands as it was put down."""
        if traverse not in self.settings:
            self.settings[traverse] = [self.noise.between(0.1, 0.3) for _ in range(5)]
        shift, lift, yaw, pitch, roll = self.settings[traverse]
        y = self.machine.faces[face]["y"]
        frame = (shift + yaw * x / 1000, lift + (pitch * x + roll * y) / 1000)
        return self.machine.height(face, x) - self.machine.normal(face) @ frame

    def _straightedge(self, traverse, sheet, face, x):
        return self.machine.seat(face, x)[1] - self._sole(traverse, sheet, face, x)

    def _feeler_gap(self, traverse, sheet, face, x):
        return self._sole(traverse, sheet, face, x) - self.machine.seat(face, x)[1]

    def _sole(self, traverse, sheet, face, x):
        """Return how high the sole of the straightedge is at x."""
        edge = self.survey["straightedges"][sheet["straightedge"]]
        from_start = x - sheet["start"]
        along = edge["length"] - from_start if sheet.get("end_for_end") else from_start
        outward = self.hidden["profile"][sheet["straightedge"]](along)
        droop = bending(edge, sheet["supports_at"], along)
        if traverse not in self.settings:
            stands = [self.machine.seat(face, sheet["start"] + at)[1] for at in (0, edge["length"])]
            self.settings[traverse] = [
                stand + self.hidden["stands"].get(traverse, 0.0) + self.noise.between(-0.02, 0.02)
                for stand in stands
            ]
        low, high = self.settings[traverse]
        line = low + (high - low) * from_start / edge["length"]
        # A bump of the sole points down when the sole is down and up when it is up; gravity bends
        # the edge downward either way.
        return line + (outward if sheet.get("sole_up") else -outward) + droop

    def _wire(self, traverse, sheet, face, x):
        low, high = sheet["wire_ends"]
        fall = wire_sag(sheet["wire_weight"], sheet["wire_tension"], low, high, x)
        if traverse not in self.settings:
            self.settings[traverse] = [
                self.machine.height(face, at) + self.noise.between(-0.05, 0.05)
                for at in (low, high)
            ]
        near, far = self.settings[traverse]
        chord = near + (far - near) * (x - low) / (high - low)
        wire = chord + self.machine.normal(face) @ (0.0, -fall)
        return self.machine.height(face, x) - wire

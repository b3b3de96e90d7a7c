"""The spacer-stopped cut: a tool that bridges from a ground spacer to a padded rest."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.wording import nominal
from metrolib.rebuild.stages.section import Bridge, CrossSection
from metrolib.units import show_length

#: Rounding, not metal [mm].
_NOTHING = 1e-9


@dataclass(frozen=True, eq=False)
class SpacerCut:
    """A face cut by a tool that can go no lower than a spacer and a padded rest.

    Attributes
    ----------
    value : float or `uncertainties` number
        Height of the spacer over its seat [mm].
    section : CrossSection
        The faces when this one is cut.
    face : str
    bridge : Bridge
    pad : float or `uncertainties` number
        Thickness of the pad under load [mm].
    allowance : float or `uncertainties` number
        Metal left above the target in the middle of the face [mm].
    edges : tuple of two floats or `uncertainties` numbers
        Metal left above the target at the face's edges, the one at smaller y first [mm].
    tilt : float or `uncertainties` number
        Tilt of the cut against the target, the +y side up [mm/m].
    across : float or `uncertainties` number
        The same over the width of the face [mm].
    lies_on : str or None
        A face between spacer and rest that stands higher than the tool's line.
    """

    value: object
    section: CrossSection
    face: str
    bridge: Bridge
    pad: object
    allowance: object
    edges: tuple
    tilt: object
    across: object
    lies_on: str | None

    @property
    def lowest(self):
        """Metal left at the lower edge [mm]; a plain number, below 0 where the cut is too deep."""
        return min(map(nominal, self.edges))

    @property
    def stands(self):
        """How high the face stands above the target before the cut [mm]; a plain number."""
        one = self.section.faces[self.face]
        return nominal(one.height) - one.target

    @property
    def misses(self):
        """The face's edges that the tool does not come down to, as places across the ways [mm]."""
        one = self.section.faces[self.face]
        places = (one.y - one.width / 2, one.y + one.width / 2)
        both = zip(places, self.edges, strict=True)
        return tuple(y for y, edge in both if nominal(edge) > self.stands + _NOTHING)

    @property
    def fault(self):
        """Why it cannot be done, in words; ``""`` where it can."""
        if self.lies_on is not None:
            return f"the tool lies on {self.lies_on!r}"
        if nominal(self.value) <= 0:
            return "there is no room for a spacer"
        if len(self.misses) == 2:
            return "nothing comes off, it lies lower already"
        return "" if self.lowest > 0 else "an edge ends below the target"

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        low, high = (wording.length(edge, unit) for edge in self.edges)
        size = nominal(self.value)
        spacer = f"{size:.3f} mm" if unit == "um" else f"{size / 25.4:.4f} in"
        short = "".join(
            f"; at its edge y {y:g} mm it lies lower already, and stays so" for y in self.misses
        )
        return (
            f"spacer {spacer} at y {self.bridge.spacer_y:g}, pad on {self.bridge.rest!r}: "
            f"{self.face!r} keeps {wording.measured_length(self.allowance, unit)} in its middle, "
            f"{low} and {high} at its edges; tilt {wording.slope(self.tilt)}, "
            f"{show_length(nominal(self.across), unit, sign=True)} across{short}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [
            ("spacer over its seat", f"{nominal(self.value):.3f} mm"),
            ("left in the middle", wording.measured_length(self.allowance)),
            ("left at the edges", " and ".join(wording.length(edge, "um") for edge in self.edges)),
            ("tilt against the target", wording.slope(self.tilt)),
        ]
        return wording.table(f"Spacer-stopped cut of {self.face}", rows)


def spacer_cut(section, face, bridge, *, allowance=None, height=None, pad=0.0, division=None):
    """Find the spacer that leaves an allowance, or what a given spacer leaves, and the tilt.

    Parameters
    ----------
    section : CrossSection
        The faces as they stand when this one is cut: use `CrossSection.cut` for those cut before.
    face : str
        The face that is cut; it lies between the spacer and the rest.
    bridge : Bridge
    allowance : float, optional
        Metal to be left above the target in the middle of the face [mm].
    height : float or `uncertainties` number, optional
        Height of the spacer over its seat, in place of `allowance` [mm].
    pad : float or `uncertainties` number
        Thickness of the pad under the weight of the tool and the hand [mm]; how far it may give is
        its uncertainty.
    division : float, optional
        Step to which the spacer is ground; it is rounded up, to leave more rather than less [mm].

    Returns
    -------
    SpacerCut

    Raises
    ------
    InputError
        If not exactly one of `allowance` and `height` is given, the face does not lie between
        spacer and rest, the tool would lie on a face between them or not come down to the face, or
        the cut leaves no metal at an edge or no room for a spacer.

    Notes
    -----
    A straight tool ends on the line through the spacer's top and the pad's. Counted from the
    target, with E the height of the pad's top, a the allowance in the middle of the face and D from
    there to the rest, the tilt is (E - a) / D wherever the spacer stands: it tells how much higher
    than this cut the other face still is. Left out: how the tool bends, and whatever stands between
    that is no face of the section, such as a vee.

    Examples
    --------
    A rest 0.12 mm above the target, 200 mm from the middle of a face 20 mm wide:

    >>> from metrolib.rebuild.stages.section import Bridge, CrossSection, FaceAcross
    >>> front = FaceAcross("front", y=0, width=20, height=10.1, target=10.0)
    >>> rear = FaceAcross("rear", y=200, width=30, height=10.12, target=10.0)
    >>> section = CrossSection(300, {"front": front, "rear": rear})
    >>> cut = spacer_cut(section, "front", Bridge("rear", spacer_y=-50, seat=0), allowance=0.02)
    >>> print(cut)
    spacer 9.995 mm at y -50, pad on 'rear': 'front' keeps 20.0 µm in its middle, 15.0 µm and \
25.0 µm at its edges; tilt +0.5000 mm/m, +10.0 µm across
    """
    checks.kind("section", section, CrossSection, "cross_section gives it for a plan")
    checks.kind("bridge", bridge, Bridge, "say where the tool lies")
    if (allowance is None) == (height is None):
        raise checks.wrong(
            "allowance and height", "exactly one is needed", (allowance, height), "give one"
        )
    _check(section, face, bridge)
    pad = checks.quantity("pad", pad, at_least=0)
    if allowance is None:
        height = checks.quantity("height", height)
    else:
        allowance = checks.number("allowance", allowance)
        height = size_for(section, face, bridge, allowance, pad)
        if division is not None:
            division = checks.number("division", division, above=0)
            height = float(np.ceil(height / division - 1e-7) * division)
    cut = bridged(section, face, bridge, height, pad)
    if cut.lies_on is not None:
        raise checks.wrong(
            "bridge",
            f"over {face!r} the tool would lie on {cut.lies_on!r}, which is still higher than its "
            "line",
            f"pad on {bridge.rest!r}",
            f"cut {cut.lies_on!r} first, or rest on it",
        )
    if len(cut.misses) == 2:
        raise _too_high(cut, allowance)
    if cut.fault:
        raise _too_deep(cut, allowance)
    return cut


def _check(section, face, bridge):
    """Refuse a bridge that does not span the face."""
    checks.choice("face", face, section.faces)
    checks.choice("rest", bridge.rest, section.faces)
    checks.number("spacer_y", bridge.spacer_y)
    checks.quantity("seat", bridge.seat)
    one, rest = section.faces[face], section.faces[bridge.rest].y
    low, high = sorted([bridge.spacer_y, rest])
    if not low <= one.y - one.width / 2 < one.y + one.width / 2 <= high:
        raise checks.wrong(
            "bridge",
            f"{face!r} lies from y {one.y - one.width / 2:g} to {one.y + one.width / 2:g} mm, not "
            "between spacer and rest",
            f"{bridge.spacer_y:g} and {rest:g} mm",
            "put them on either side of the face",
        )


def _over_target(section, face, bridge, pad):
    """Return, counted from the plane of the face's target: seat, pad's top; and their places."""
    one, rest = section.faces[face], section.faces[bridge.rest]
    spacer_y, rest_y = bridge.spacer_y - one.y, rest.y - one.y
    tilt = section.tilt / 1e3
    seat = bridge.seat - one.target - tilt * spacer_y
    top = rest.height + pad - one.target - tilt * rest_y
    return seat, top, spacer_y, rest_y


def size_for(section, face, bridge, allowance, pad):
    """Return the spacer that leaves an allowance in the middle of a face [mm]."""
    seat, top, spacer_y, rest_y = _over_target(section, face, bridge, pad)
    return allowance + (nominal(top) - allowance) * spacer_y / rest_y - nominal(seat)


def bridged(section, face, bridge, height, pad):
    """Return the cut that a spacer of this height makes, possible or not."""
    seat, top, spacer_y, rest_y = _over_target(section, face, bridge, pad)
    slope = (top - seat - height) / (rest_y - spacer_y)
    middle = seat + height - slope * spacer_y
    half, width = section.faces[face].width / 2, section.faces[face].width
    edges = (middle - slope * half, middle + slope * half)
    return SpacerCut(
        height,
        section,
        face,
        bridge,
        pad,
        middle,
        edges,
        1e3 * slope,
        slope * width,
        _in_the_way(section, face, bridge, nominal(middle), nominal(slope)),
    )


def _in_the_way(section, face, bridge, middle, slope):
    """Return the face between spacer and rest that stands highest over the tool's line, or None."""
    one = section.faces[face]
    low, high = sorted([bridge.spacer_y, section.faces[bridge.rest].y])
    found, most = None, 0.0
    for name, other in section.faces.items():
        if name in (face, bridge.rest):
            continue
        for y in (other.y - other.width / 2, other.y + other.width / 2):
            plane = one.target + section.tilt / 1e3 * (y - one.y)
            over = nominal(other.height) - plane - middle - slope * (y - one.y)
            if low <= y <= high and over > most:
                found, most = name, over
    return found


def _too_high(cut, allowance):
    """Return the error for a cut that takes nothing off."""
    stands = show_length(cut.stands, "um")
    fault = f"the tool does not come down to {cut.face!r}, which stands {stands} above its target"
    if allowance is not None:
        got = f"{1e3 * allowance:.1f} µm"
        return checks.wrong("allowance", fault, got, "leave less than that, or leave the face out")
    got = f"{nominal(cut.value):.3f} mm"
    return checks.wrong("height", fault, got, "grind the spacer down, or leave the face out")


def _too_deep(cut, allowance):
    """Return the error for a cut that leaves no metal or no room for a spacer, with the limit."""
    section, bridge = cut.section, cut.bridge
    seat, top, spacer_y, rest_y = _over_target(section, cut.face, bridge, cut.pad)
    seat, top, half = nominal(seat), nominal(top), section.faces[cut.face].width / 2
    # both edges lie on straight lines over the allowance, and so does the spacer
    least = max(0.0, *(-top * at / (rest_y - at) for at in (-half, half)))
    room = (seat * rest_y - top * spacer_y) / (rest_y - spacer_y)
    limit = max(least, room)
    if nominal(cut.value) <= 0 and room >= least:
        fault = f"there is no room for a spacer under this cut of {cut.face!r}"
    else:
        deep = show_length(max(-cut.lowest, 0.0), "um")
        fault = f"the lower edge of {cut.face!r} would end {deep} below the target or on it"
    remedy = f"leave more than {1e3 * limit:.1f} µm in the middle"
    if allowance is not None:
        return checks.wrong("allowance", fault, f"{1e3 * allowance:.1f} µm", remedy)
    size = size_for(section, cut.face, bridge, limit, cut.pad)
    got = f"{nominal(cut.value):.3f} mm"
    return checks.wrong("height", fault, got, f"{remedy}, by a spacer above {size:.3f} mm")

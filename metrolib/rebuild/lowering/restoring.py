"""Restoring: the shim or bonded strip on each face that brings a lowered body back."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form.wording import nominal
from metrolib.rebuild.lowering.carried_feet import holds
from metrolib.rebuild.lowering.lowering import Lowering
from metrolib.rebuild.lowering.lowering_words import measured_length, with_factor
from metrolib.units import from_millimetres, show_length, unit_sign

#: Heights to restore that differ less than this are alike [mm].
_ALIKE = 5e-5

#: A change of the height along the travel above this is told [mm].
_UNEVEN = 2e-3


@dataclass(frozen=True, eq=False)
class Restored:
    """What goes under a body at one foot.

    Attributes
    ----------
    face : str
    foot : float
        Where the foot stands, from the body's middle [mm].
    height : float or `uncertainties` number
        To restore, square to the face [mm]; below zero where metal must come off instead.
    machine : float or `uncertainties` number, or None
        Depth to machine into the seat for the strip; below zero where it cannot be machined.
        None without a strip [mm].
    shim : float or `uncertainties` number
        What goes under the strip, or, without a strip, under the body; 0 where none does [mm].
    strip_needed : float or `uncertainties` number, or None
        Least stock of strip that needs no shim [mm].
    """

    face: str
    foot: float
    height: object
    machine: object
    shim: object
    strip_needed: object


@dataclass(frozen=True, eq=False)
class Restoring:
    """What brings a lowered body back.

    Attributes
    ----------
    lowering : Lowering
    feet : tuple of Restored
        Two on each face that carries, the one at the smaller x first.
    strip, glue_line, scraped_off, least : float or None
        [mm]
    varies : float
        How much the height to restore changes along the travel, the most of all feet: no strip
        follows that [mm].
    left : float or None
        Strip left after scraping [mm].
    """

    lowering: Lowering
    feet: tuple[Restored, ...]
    strip: object
    glue_line: object
    scraped_off: object
    least: object
    left: object
    varies: float

    @property
    def value(self):
        """Height to restore by face, square to it, mean of the two feet [mm], a dict."""
        faces = dict.fromkeys(foot.face for foot in self.feet)
        return {
            name: sum(foot.height for foot in self.feet if foot.face == name) / 2 for name in faces
        }

    def in_words(self, unit="um"):
        """Say what goes under each face.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        said = [f"{name!r}: {self._say_pair(pair, unit)}" for name, pair in self._pairs().items()]
        if self.strip is not None:
            left = show_length(nominal(self.left), unit)
            said.append(f"strip of {show_length(nominal(self.strip), unit)}, {left} after scraping")
        if self.varies > _UNEVEN:
            varies = show_length(self.varies, unit)
            said.append(f"the height varies by {varies} along the travel, which nothing here mends")
        who = f"under {self.lowering.body.name!r}, square to each face: "
        return with_factor(who + "; ".join(said))

    def _pairs(self):
        pairs = {}
        for foot in self.feet:
            pairs.setdefault(foot.face, []).append(foot)
        return pairs

    def _say_pair(self, pair, unit):
        """Say what goes under the two feet on a face; once where they are alike."""
        first, second = pair
        if abs(nominal(first.height) - nominal(second.height)) < _ALIKE:
            return self._say(first, unit)
        return "; ".join(f"at {foot.foot:+g} mm {self._say(foot, unit)}" for foot in pair)

    def _say(self, foot, unit):
        if self.strip is not None:
            if nominal(foot.machine) >= 0:
                return f"machine {measured_length(foot.machine, unit)} into the seat"
            needed = show_length(nominal(foot.strip_needed), unit)
            return (
                f"machine nothing, a shim of {measured_length(foot.shim, unit)} under the strip, "
                f"or a strip of {needed}"
            )
        if nominal(foot.height) < -_ALIKE:
            return f"take off {measured_length(-foot.height, unit)}"
        if nominal(foot.height) < _ALIKE:
            return "nothing"
        return f"a shim of {measured_length(foot.shim, unit)}"

    def to_dataframe(self, unit="um"):
        """Return the feet as a pandas table."""
        from pandas import DataFrame

        sign = unit_sign(unit)
        rows = []
        for foot in self.feet:
            row = {"face": foot.face, "foot [mm]": foot.foot}
            for head in ("height", "machine", "shim"):
                value = getattr(foot, head)
                if value is not None:
                    row[f"{head} [{sign}]"] = from_millimetres(nominal(value), unit)
                    u = getattr(value, "std_dev", None)
                    if u is not None:
                        row[f"u({head}) [{sign}]"] = from_millimetres(u, unit)
            rows.append(row)
        return DataFrame(rows)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return self.to_dataframe().to_html(index=False, border=0, float_format="%.1f")


def restoring(
    lowering,
    *,
    high=0.0,
    strip=None,
    glue_line=0.08,
    scraped_off=0.1,
    least=None,
    seat_most=None,
):
    """Find the shim or the bonded strip on each face that brings a lowered body back.

    Parameters
    ----------
    lowering : Lowering
        Ask it with ``since="new"`` of a worn machine, so that the wear is in it; what came off the
        body's own faces belongs in it too (`own`).
    high : float
        How much higher than before the body shall stand [mm]; a tailstock likes some.
    strip : float or `uncertainties` number, optional
        Stock thickness of a bonded strip [mm]; without it, shims.
    glue_line : float or `uncertainties` number
        Thickness of the glue under the strip [mm]; 0.05 to 0.13 gives the best joint: common
        practice.
    scraped_off : float or `uncertainties` number
        What scraping to fit takes off the strip [mm]; 0.05 to 0.15 is common practice.
    least : float, optional
        Least thickness of strip after scraping, by its supplier [mm].
    seat_most : float, optional
        Most that the seat can lose [mm].

    Returns
    -------
    Restoring

    Raises
    ------
    InputError
        If the strip ends below its least thickness, a seat would lose more than it can, or a
        thickness makes no sense.

    Notes
    -----
    The body is back where it was, and bears everywhere, when each foot gets what came off there,
    of the face and of the body, as a mean over the places asked for: of a pure drop d, d on a flat
    and d sin(theta) on the flank of a vee of half angle theta. Then, all square to the face,

        machine into the seat = strip + glue line - scraped off - height to restore.

    Below zero nothing is machined: a shim goes under the strip, or a thicker strip. A strip needs
    a flat, untwisted seat first, and no shim can mend a bed that is not straight.

    Examples
    --------
    A saddle on two flats dropped 0.2 mm; strip of 0.8 mm:

    >>> from metrolib import Carried, Face, lowering, restoring
    >>> shape = {"width": 20, "x_from": 0, "x_to": 900}
    >>> faces = {name: Face(name, y, **shape) for name, y in (("front", 0), ("rear", 200))}
    >>> saddle = Carried("saddle", tuple(faces), feet=(-100, 100), travel=(100, 800))
    >>> lower = lowering(saddle, faces, {"front": 0.2, "rear": 0.2}, at=300)
    >>> print(restoring(lower, strip=0.8, least=0.6))
    under 'saddle', square to each face: 'front': machine 580.0 µm into the seat; 'rear':
    machine 580.0 µm into the seat; strip of 800.0 µm, 700.0 µm after scraping
    """
    checks.kind("lowering", lowering, Lowering, "give what lowering returns")
    high = checks.number("high", high)
    left = _left(strip, glue_line, scraped_off, least)
    seat_most = None if seat_most is None else checks.number("seat_most", seat_most, at_least=0)
    feet, varies = [], 0.0
    for name, face in lowering.faces.items():
        if not holds(face):
            continue
        varies = max(varies, float(np.ptp(lowering.taken[name], axis=0).max()))
        stands = lowering.body.feet_of(name)
        for foot, taken in zip(stands, lowering.mean_taken[name], strict=True):
            height = taken + high * face.up
            feet.append(_restored(name, foot, height, strip, glue_line, scraped_off, seat_most))
    given = (strip, glue_line, scraped_off) if strip is not None else (None, None, None)
    return Restoring(lowering, tuple(feet), *given, least, left, varies)


def _left(strip, glue_line, scraped_off, least):
    """Return the strip left after scraping; refuse one that ends too thin."""
    if strip is None:
        if least is not None:
            raise checks.wrong("least", "only a strip has one", least, "give strip= too")
        return None
    checks.quantity("strip", strip, above=0)
    checks.quantity("glue_line", glue_line, at_least=0)
    checks.quantity("scraped_off", scraped_off, at_least=0)
    left = strip - scraped_off
    limit = 0.0 if least is None else checks.number("least", least, at_least=0)
    if nominal(left) < limit or nominal(left) <= 0:
        raise checks.wrong(
            "strip",
            f"{nominal(left):.3g} mm is left after {nominal(scraped_off):.3g} mm are scraped off, "
            f"the least is {limit:.3g}",
            f"{nominal(strip):.3g}",
            f"take a strip of at least {nominal(scraped_off) + limit:.3g} mm",
        )
    return left


def _restored(name, foot, height, strip, glue_line, scraped_off, seat_most):
    """Return what goes under one foot."""
    if strip is None:
        return Restored(name, foot, height, None, height if nominal(height) > 0 else 0.0, None)
    needed = height + scraped_off - glue_line
    machine = strip - needed
    if seat_most is not None and nominal(machine) > seat_most:
        raise InputError(
            f"strip: the seat on {name!r} would lose {nominal(machine):.3g} mm, more than "
            f"seat_most, got {nominal(strip):.3g}; take a strip of at most "
            f"{nominal(needed) + seat_most:.3g} mm"
        )
    shim = 0.0 if nominal(machine) >= 0 else -machine
    return Restored(name, foot, height, machine, shim, needed)

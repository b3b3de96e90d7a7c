"""A straightedge on two supports: its sag, and what that does to the way it measures."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.heights.beam_section import BeamSection
from metrolib.heights.sag import beam_sag
from metrolib.units import from_millimetres, unit_sign

_PLACES = 201

#: The sign rule, said beside every sag.
SIGN_RULE = (
    "sole up or sole down alike, a sole that hangs low in the middle makes the way look more "
    "convex than it is; turning the straightedge over does not cancel it"
)


@dataclass(frozen=True, eq=False)
class SagOnSupports:
    """The sag of a straightedge on two supports.

    Attributes
    ----------
    value : float or `uncertainties` number
        Peak to valley of the sag over the whole length [mm].
    error : float or `uncertainties` number
        What is read too high of a way in the middle of the straightedge, against its ends, when
        the sole is taken as straight [mm]: above zero, the way looks more convex than it is.
    length : float
        [mm]
    supports : (float, float)
        From one end [mm].
    x : ndarray, shape (n,)
        Places from the same end, both ends and both supports among them [mm].
    sag : ndarray, shape (n,)
        How far it hangs below the line through its supports; below zero, it stands above [mm].
    """

    value: object
    error: object
    length: float
    supports: tuple[float, float]
    x: np.ndarray
    sag: np.ndarray

    @property
    def false_height(self):
        """What is read too high of a way, against the ends, shape (n,) [mm].

        Against the line through the two ends of the straightedge.
        """
        ends = self.sag[0] + (self.sag[-1] - self.sag[0]) * self.x / self.length
        return self.sag - ends

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        looks = "convex" if wording.nominal(self.error) > 0 else "hollow"
        size = wording.measured_length(wording.magnitude(self.error), unit)
        return (
            f"on supports at {wording.places(self.supports)} of {self.length:.10g} mm the "
            f"straightedge sags {wording.measured_length(self.value, unit)} peak to valley; taken "
            f"as straight it makes a way look {size} more {looks} than it is, middle against ends "
            f"({SIGN_RULE})"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Sag on two supports",
            [
                ("supports", wording.places(self.supports)),
                ("sag, peak to valley", wording.measured_length(self.value)),
                ("way read too high in the middle", wording.measured_length(self.error)),
                ("sign", SIGN_RULE),
            ],
        )

    def to_dataframe(self, unit="um"):
        """Return place, sag and false height as a pandas table.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        return DataFrame(
            {
                "x [mm]": self.x,
                f"sag [{unit_sign(unit)}]": from_millimetres(self.sag, unit),
                f"way read too high [{unit_sign(unit)}]": from_millimetres(self.false_height, unit),
            }
        )


def sag_on_supports(length, supports, section):
    """Find how a straightedge hangs on two supports, and what that does to the way it measures.

    Parameters
    ----------
    length : float
        Of the straightedge [mm].
    supports : (float, float)
        Where it is held, from one end, with any overhang [mm].
    section : BeamSection
        Uniform along it.

    Returns
    -------
    SagOnSupports

    Raises
    ------
    InputError
        If the length is not above zero, the section is none, or the supports coincide, lie beyond
        an end or let it tip.

    Notes
    -----
    `metrolib.heights.sag.beam_sag` tells the formula. Sole down on end blocks: the sole hangs low
    in mid-span, the gap reads small, so the way looks high there. Sole up under an indicator that
    the carriage bears: the sole hangs low, the indicator's reading says that the carriage ran
    high. Laid all along on the way a straightedge follows the way, and nothing of this holds.

    A tapered or pierced casting is not uniform: measure it, on the supports that it is used on.
    Of the uncertainty that of the section is told; that of where the supports stand is not.

    Examples
    --------
    >>> from metrolib import BeamSection
    >>> bar = BeamSection.rectangle(60, 12)
    >>> print(sag_on_supports(1000, (0, 1000), bar).in_words().split(";")[0])
    on supports at 0 and 1000 mm of 1000 mm the straightedge sags 16.2 µm, U = 0.5 µm (k = 2) \
peak to valley
    """
    length = checks.number("length", length, above=0)
    if not isinstance(section, BeamSection):
        raise checks.wrong(
            "section", "a BeamSection is needed", repr(section)[:60], "make one of its sizes"
        )
    places = np.linspace(0, length, _PLACES)
    a, b = np.clip(sorted(checks.pair("supports", supports)), 0, length)
    x = np.union1d(places, [a, b])
    shape = beam_sag(x, length=length, supports=supports)
    factor = section.load / section.stiffness
    end = (shape[0] + shape[-1]) / 2
    middle = float(beam_sag(length / 2, length=length, supports=supports))
    return SagOnSupports(
        value=float(np.ptp(shape)) * factor,
        error=(middle - end) * factor,
        length=length,
        supports=(float(a), float(b)),
        x=x,
        sag=shape * wording.nominal(factor),
    )

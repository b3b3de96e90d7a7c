"""Where to support a straightedge: found, not looked up."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from metrolib import checks
from metrolib.form import wording
from metrolib.heights.sag import beam_sag, beam_slope
from metrolib.rebuild.support.support import SagOnSupports, sag_on_supports
from metrolib.units import from_millimetres, unit_sign


@dataclass(frozen=True, eq=False)
class SupportPair:
    """One pair of supports that is best in some way.

    Attributes
    ----------
    name : str
    purpose : str
        What it is best at.
    spacing : float
        Share of the length that lies between the supports.
    sag : SagOnSupports
    """

    name: str
    purpose: str
    spacing: float
    sag: SagOnSupports


@dataclass(frozen=True, eq=False)
class BestSupports:
    """Where to support a straightedge.

    Attributes
    ----------
    pairs : tuple of SupportPair
        Least bow, Bessel, Airy, and at the ends for comparison.
    """

    pairs: tuple[SupportPair, ...]

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        best, *others = self.pairs
        sags = "; ".join(
            f"{pair.name} ({pair.spacing:.4f} of the length apart) "
            f"{wording.length(pair.sag.value, unit)}"
            for pair in others
        )
        return (
            f"support the straightedge {best.sag.supports[0]:.0f} mm from each end, "
            f"{best.spacing:.4f} of its length apart: it sags "
            f"{wording.measured_length(best.sag.value, unit)} peak to valley, the least there is; "
            f"{sags}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return self.to_dataframe().to_html(index=False, border=0, float_format="%.4g")

    def to_dataframe(self, unit="um"):
        """Return the pairs as a pandas table.

        Parameters
        ----------
        unit : str
            Unit of the sag, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        return DataFrame(
            [
                {
                    "supports": pair.name,
                    "what for": pair.purpose,
                    "apart / length": pair.spacing,
                    "from each end [mm]": pair.sag.supports[0],
                    f"sag [{unit_sign(unit)}]": from_millimetres(
                        wording.nominal(pair.sag.value), unit
                    ),
                }
                for pair in self.pairs
            ]
        )


def best_supports(length, section):
    """Find the pairs of supports that leave a straightedge straightest, shortest or level-ended.

    Parameters
    ----------
    length : float
        [mm]
    section : BeamSection
        It decides the sag, not the places.

    Returns
    -------
    BestSupports

    Raises
    ------
    InputError
        If the length is not above zero.

    Notes
    -----
    On a beam of unit length, s between its supports: the Airy points are the root of the slope at
    the ends; the Bessel points make the integral of the slope squared, which is twice what the
    neutral line loses in length, least; the least bow is where the middle and the ends hang
    equally low, for one side of that root the middle and on the other the ends hang lowest.

    Examples
    --------
    >>> from metrolib import BeamSection
    >>> found = best_supports(1000, BeamSection.rectangle(60, 12))
    >>> [(pair.name, round(pair.spacing, 5)) for pair in found.pairs]
    [('least bow', 0.5537), ('Bessel', 0.55938), ('Airy', 0.57735), ('at the ends', 1.0)]
    """
    length = checks.number("length", length, above=0)
    spacings = (
        ("least bow", "straightest sole", brentq(_middle_under_ends, 0.5, 0.6, xtol=1e-13)),
        ("Bessel", "least change of length", _least_shortening()),
        ("Airy", "level end faces", brentq(_slope_at_the_end, 0.5, 0.65, xtol=1e-13)),
        ("at the ends", "for comparison", 1.0),
    )
    return BestSupports(
        tuple(
            SupportPair(name, what, s, sag_on_supports(length, _pair(s, length), section))
            for name, what, s in spacings
        )
    )


def _pair(spacing, length=1.0):
    """Return two supports alike from both ends."""
    return length * (1 - spacing) / 2, length * (1 + spacing) / 2


def _middle_under_ends(spacing):
    """Return how much lower the middle hangs than the ends."""
    middle, end = beam_sag([0.5, 0.0], length=1, supports=_pair(spacing))
    return middle - end


def _slope_at_the_end(spacing):
    return float(beam_slope(0.0, length=1, supports=_pair(spacing)))


def _least_shortening():
    """Return the spacing of least shortening; the slope is a cubic on each of three pieces."""
    nodes, weights = np.polynomial.legendre.leggauss(4)  # exact to the seventh power

    def shortening(spacing):
        a, b = _pair(spacing)
        total = 0.0
        for low, high in ((0, a), (a, b), (b, 1)):
            u = (low + high) / 2 + nodes * (high - low) / 2
            slope = beam_slope(u, length=1, supports=(a, b))
            total += weights @ slope**2 * (high - low) / 2
        return total * 1e6  # of the order of one, so that the search sees its end

    found = minimize_scalar(
        shortening, bounds=(0.5, 0.65), method="bounded", options={"xatol": 1e-11}
    )
    return float(found.x)

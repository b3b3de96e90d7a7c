"""Instruments: what one unit of their reading means, and how sure it is."""

from dataclasses import dataclass

import numpy as np

from metrolib.units import LENGTHS, SLOPES


@dataclass(frozen=True)
class Instrument:
    """One instrument or artefact as it is used in the survey.

    Attributes
    ----------
    name : str
    unit : str
        Unit of the numbers in readings.csv: a length, a slope, or ``"division"``.
    resolution : float
        Smallest step that is read [unit].
    repeatability : float
        Standard uncertainty of setting and reading once [unit].
    calibration_uncertainty : float
        Standard uncertainty of a zero error common to all its readings [unit].
    sensitivity : float or None
        What one division means [sensitivity_unit]; only with the unit ``"division"``.
    sensitivity_unit : str or None
    sensitivity_uncertainty : float
        Relative standard uncertainty of the scale: 0.03 is 3 %.
    reading_range : float or None
        Largest magnitude the instrument can show [unit].
    note : str
    """

    name: str
    unit: str
    resolution: float
    repeatability: float
    calibration_uncertainty: float = 0.0
    sensitivity: float | None = None
    sensitivity_unit: str | None = None
    sensitivity_uncertainty: float = 0.0
    reading_range: float | None = None
    note: str = ""

    @property
    def measures(self):
        """``"length"`` or ``"slope"``."""
        return "slope" if self._base_unit in SLOPES else "length"

    @property
    def factor(self):
        """What one unit of the reading is in mm, or in mm/m."""
        base = {**LENGTHS, **SLOPES}[self._base_unit]
        return base if self.sensitivity is None else base * self.sensitivity

    @property
    def u(self):
        """Standard uncertainty of one reading [mm or mm/m].

        Notes
        -----
        Rounding to the resolution d spreads a reading evenly over +-d/2, a standard uncertainty
        of d / sqrt(12) (JCGM 100:2008, 4.3.7); it adds to the repeatability in quadrature.
        """
        return self.factor * float(np.hypot(self.repeatability, self.resolution / np.sqrt(12)))

    @property
    def _base_unit(self):
        return self.sensitivity_unit if self.unit == "division" else self.unit


@dataclass(frozen=True)
class Straightedge:
    """A straightedge as a reference: its own profile is an unknown of the adjustment.

    Attributes
    ----------
    name : str
    length : float
        [mm]
    profile_uncertainty : float
        Standard uncertainty of its sole's departure from a line: its grade or calibration [mm].
    height, width : float or None
        Of its section over all, for the sag on two supports [mm]; without these and those below
        sag is left out.
    web, flange : float or None
        Of an I-section, the thickness of the upright and of each level part [mm]; None for a plain
        rectangle.
    area, second_moment : float or None
        Of any other section, instead of the four sizes [mm², mm⁴].
    modulus : float
        Young's modulus [N/mm²].
    density : float
        [kg/m³]
    note : str
    """

    name: str
    length: float
    profile_uncertainty: float
    height: float | None = None
    width: float | None = None
    modulus: float = 206_000.0
    density: float = 7_850.0
    note: str = ""
    web: float | None = None
    flange: float | None = None
    area: float | None = None
    second_moment: float | None = None

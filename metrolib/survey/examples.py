"""Examples: the instruments that a blank survey begins with, until their owner gives his own."""

from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.survey.wording import STRAIGHTEDGE_NAME

#: Of a level by display unit: what one division means, and in which unit.
_LEVEL = {"um": (0.02, "mm/m"), "thou": (0.0005, "in/ft")}

#: Of the others by display unit: unit, resolution, repeatability, calibration uncertainty.
_PLAIN = {
    "dial indicator": {"um": ("um", 1, 0.8, 0), "thou": ("thou", 0.1, 0.05, 0)},
    "micrometer": {"um": ("mm", 0.001, 0.002, 0.002), "thou": ("in", 0.0001, 0.0001, 0.0001)},
    "feelers": {"um": ("mm", 0.01, 0.005, 0), "thou": ("thou", 0.5, 0.2, 0)},
    "wire microscope": {"um": ("um", 2, 4, 0), "thou": ("thou", 0.1, 0.2, 0)},
}

#: Names of the instruments that there are examples of.
INSTRUMENTS = ("block level", *_PLAIN)


def example_instrument(name, display):
    """Return one of `INSTRUMENTS` with values that are usual for it.

    Parameters
    ----------
    name : str
    display : str
        ``"um"`` or ``"thou"``; it chooses the units.
    """
    if name == "block level":
        sensitivity, unit = _LEVEL[display]
        return Instrument(
            name,
            unit="division",
            resolution=0.2,
            repeatability=0.15,
            sensitivity=sensitivity,
            sensitivity_unit=unit,
            sensitivity_uncertainty=0.03,
        )
    return Instrument(name, *_PLAIN[name][display])


def example_straightedge(length):
    """Return a straightedge of a plain section [mm]."""
    return Straightedge(STRAIGHTEDGE_NAME, length, 0.005, height=60, width=12)

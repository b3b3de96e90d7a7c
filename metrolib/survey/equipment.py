"""Equipment: the tables of instruments and straightedges in survey.toml."""

from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.units import LENGTHS, SLOPES

DIVISION = "division"


def take_instrument(section):
    """Return the `Instrument` of one table."""
    unit = section.choice("unit", (*LENGTHS, *SLOPES, DIVISION), what="unit")
    sensitivity, sensitivity_unit = _take_sensitivity(section, unit)
    instrument = Instrument(
        name=section.path[-1],
        unit=unit,
        resolution=section.number("resolution", at_least=0),
        repeatability=section.number("repeatability", at_least=0),
        calibration_uncertainty=section.number("calibration_uncertainty", 0.0, at_least=0),
        sensitivity=sensitivity,
        sensitivity_unit=sensitivity_unit,
        sensitivity_uncertainty=section.number("sensitivity_uncertainty", 0.0, at_least=0),
        reading_range=section.number("range", None, above=0),
        note=section.text("note", ""),
    )
    if instrument.resolution == 0 and instrument.repeatability == 0:
        section.fault(
            "repeatability",
            "resolution and repeatability are both 0, which no instrument reaches",
            "give the standard uncertainty of reading it once",
        )
    if instrument.sensitivity_uncertainty is not None and instrument.sensitivity_uncertainty >= 1:
        section.fault(
            "sensitivity_uncertainty",
            f"sensitivity_uncertainty is {instrument.sensitivity_uncertainty:g}",
            "write it as a share: 0.03 is 3 %",
        )
    section.finish()
    return instrument


def _take_sensitivity(section, unit):
    """Return what a division means, and in which unit."""
    if unit == DIVISION:
        return (
            section.number("sensitivity", above=0),
            section.choice("sensitivity_unit", (*LENGTHS, *SLOPES), what="unit"),
        )
    for key in ("sensitivity", "sensitivity_unit"):
        if section.raw(key) is not None and unit is not None:
            section.fault(
                key,
                f"{key} goes only with the unit 'division', the unit is {unit!r}",
                f'write unit = "division", or leave {key} out',
            )
    return None, None


def take_straightedge(section):
    """Return the `Straightedge` of one table."""
    edge = Straightedge(
        name=section.path[-1],
        length=section.number("length", above=0),
        profile_uncertainty=section.number("profile_uncertainty", at_least=0),
        height=section.number("height", None, above=0),
        width=section.number("width", None, above=0),
        modulus=section.number("modulus", 206_000.0, above=0),
        density=section.number("density", 7_850.0, above=0),
        note=section.text("note", ""),
    )
    if section.given("height") != section.given("width"):
        section.fault(
            "height" if section.given("height") else "width",
            "its section needs both height and width",
            "give both, or neither to leave the sag out",
        )
    section.finish()
    return edge

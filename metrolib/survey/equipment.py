"""Equipment: the tables of instruments and straightedges in survey.toml."""

from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.survey.materials import MATERIALS
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
    made_of = MATERIALS.get(section.choice("material", tuple(MATERIALS), "steel"))
    made_of = made_of or MATERIALS["steel"]
    edge = Straightedge(
        name=section.path[-1],
        length=section.number("length", above=0),
        profile_uncertainty=section.number("profile_uncertainty", at_least=0),
        height=section.number("height", None, above=0),
        width=section.number("width", None, above=0),
        modulus=section.number("modulus", made_of.modulus, above=0),
        density=section.number("density", made_of.density, above=0),
        note=section.text("note", ""),
        **{key: section.number(key, None, above=0) for key in ("web", "flange", *_OWN)},
    )
    _check_shape(section, edge)
    section.finish()
    return edge


_OWN = "area", "second_moment"

#: Numbers of a section that go together, and what to do where one is alone.
_TOGETHER = (
    ("height", "width", "give both, or neither to leave the sag out"),
    ("web", "flange", "give both, or neither for a plain rectangle"),
    (*_OWN, "give both, or height and width instead"),
)


def _check_shape(section, edge):
    """Note what is missing, or does not go together, in the section of a straightedge."""
    for first, second, remedy in _TOGETHER:
        if section.given(first) != section.given(second):
            alone = first if section.given(first) else second
            section.fault(alone, f"its section needs both {first} and {second}", remedy)
    if section.given("web") and not section.given("height"):
        section.fault(
            "web", "web and flange go only with height and width", "give all four of an I-section"
        )
    if section.given("area") and section.given("height"):
        section.fault(
            "area", "its section is told twice, by height and by area", "leave one of the two out"
        )
    if None not in (edge.web, edge.width) and edge.web > edge.width:
        section.fault(
            "web", f"web is {edge.web:g}", f"it must be at most the width, {edge.width:g}"
        )
    if None not in (edge.flange, edge.height) and 2 * edge.flange >= edge.height:
        section.fault(
            "flange",
            f"flange is {edge.flange:g}",
            f"it must be below half of the height, {edge.height / 2:g}",
        )

"""What was measured, for the record: every reading as it was booked, and the words beside it."""

from dataclasses import dataclass

#: How a reading that stands out is marked, and one that was taken again at its place.
SUSPECT = "?"

#: A record with more readings than this names their file instead of printing pages of them.
_MOST = 5000


@dataclass(frozen=True)
class Booked:
    """One reading.

    Attributes
    ----------
    x : str
        Its place [mm].
    reading : str
        In the unit of its instrument.
    mark : str
        `SUSPECT` where it stands out of the adjustment, ``""`` elsewhere.
    """

    x: str
    reading: str
    mark: str


@dataclass(frozen=True)
class Sheet:
    """The readings of one traverse on one face, in the order in which they were taken.

    Attributes
    ----------
    traverse, face, unit : str
    booked : tuple of Booked
    notes : tuple of str
        What was noted, each with its place.
    """

    traverse: str
    face: str
    unit: str
    booked: tuple[Booked, ...]
    notes: tuple[str, ...]


def booked_sheets(survey, heights):
    """Return every reading of a survey; none where they are too many to print.

    Parameters
    ----------
    survey : Survey
    heights : Heights

    Returns
    -------
    list of Sheet
    """
    if len(survey.readings) > _MOST:
        return []
    suspects = set()
    if heights.checks is not None:
        suspects = set(heights.checks.line[heights.checks.suspects].tolist())
    sheets = []
    for name, traverse in survey.traverses.items():
        readings = survey.readings.of(name)
        unit = _unit(survey.instruments[traverse.instrument])
        for face in dict.fromkeys(readings.face.tolist()):
            mine = readings.select(readings.face == face)
            sheets.append(_sheet(name, face, unit, mine, suspects))
    return sheets


def _sheet(traverse, face, unit, readings, suspects):
    places = [f"{x:g}" for x in readings.x]
    booked = tuple(
        Booked(place, value, SUSPECT if line in suspects else "")
        for place, value, line in zip(
            places, _figures(readings.value), readings.line.tolist(), strict=True
        )
    )
    notes = tuple(
        f"{place} mm: {note}" for place, note in zip(places, readings.note, strict=True) if note
    )
    return Sheet(traverse, face, unit, booked, notes)


def _figures(values):
    """Write readings with as many decimals as the finest of them has."""
    decimals = max(len(f"{value:.10g}".partition(".")[2]) for value in values)
    return [f"{value:.{decimals}f}".replace("-", "−") for value in values]


def _unit(instrument):
    """Return the unit of a reading in words, e.g. ``"divisions of 0.05 mm/m"``."""
    if instrument.sensitivity is None:
        return {"um": "µm"}.get(instrument.unit, instrument.unit)
    return f"{instrument.unit}s of {instrument.sensitivity:g} {instrument.sensitivity_unit}"

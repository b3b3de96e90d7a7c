"""Taken: a reading that was just taken, and what is odd about it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from metrolib.show.worksheet.course import Prompt
from metrolib.show.worksheet.doubts import doubt_about
from metrolib.show.worksheet.history import key_of


@dataclass(frozen=True)
class Taken:
    """A reading that was taken.

    Attributes
    ----------
    prompt : Prompt
        Where.
    value : float
        In the unit of the instrument.
    text : str
        As typed.
    token : str
        The unique name of the event.
    on_disk : bool
        Whether it is on disk; False where nothing could be written.
    """

    prompt: Prompt
    value: float
    text: str
    token: str
    on_disk: bool
    judge: Callable = field(repr=False)

    @cached_property
    def doubt(self):
        """What is odd about it, a `Doubt`, or None; found out when it is first asked for."""
        return self.judge()


def judged(survey, place, heights, row_functions, asked):
    """Return what is odd about the reading at a place, or None.

    Parameters
    ----------
    survey : Survey
    place : Place
    heights : Heights or None
    row_functions : dict of str to function or None
    asked : set of Place
        Doubts that were told before; the new one is added.
    """
    readings = survey.readings
    columns = (readings.traverse, readings.face, readings.x, readings.repeat)
    places = [key_of(*one) for one in zip(*(column.tolist() for column in columns), strict=True)]
    if place not in places:
        return None
    row = places.index(place)
    doubt = doubt_about(survey, row, heights, row_functions=row_functions, asked=asked)
    if doubt is not None:
        asked.add(doubt.place)
    return doubt

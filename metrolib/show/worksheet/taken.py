"""Taken: a reading that was just taken, and what is odd about it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from metrolib.show.worksheet.course import Prompt


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

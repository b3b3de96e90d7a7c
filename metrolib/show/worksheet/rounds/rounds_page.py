"""Rounds page: what is added to the taking of readings where the folder is a round of work."""

from html import escape

import ipywidgets as widgets

from metrolib.show.worksheet.screen.look import column, heading, paragraph, say

_HINT = "From the first survey's decision and methods, and the rounds before this one."


_NAMED = 4  # so many places are named; more would push the picture down


class RoundPanel:
    """The stop reading beside the prompt, and how near the target the last reading is.

    Parameters
    ----------
    sheet : Worksheet
        Of a round: its `work` is not None.

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, sheet):
        self._sheet, self._work = sheet, sheet.work
        self._warned = {}  # places within reach by face and x, the last one last
        self._stop = paragraph(name="metro-stop")
        self._reach = widgets.HTML()
        self._reach.add_class("metro-reach")
        self._before = paragraph(name="metro-warned-before")
        title = heading(f"Round {sheet.work.name}", _HINT)
        parts = (title, self._stop, self._reach, self._before)
        self.widget = column(*parts, name="metro-round")

    def show(self):
        """Say what the instrument reads at the prompt when the present method is done there."""
        say(self._stop, self._work.told_stop(self._sheet.survey, self._sheet.prompt))

    def taken(self, prompt, value):
        """Say how near the target a reading shows the place to be, as a warning where it is near.

        Whoever types ahead may have missed a warning: its place stays named until it is read anew.

        Parameters
        ----------
        prompt : Prompt
            Where it was taken.
        value : float
            [unit of the instrument]
        """
        found = self._work.told_reach(self._sheet.survey, prompt, value)
        if found is not None:
            self._warned.pop((found.face, found.x), None)
        before = [f"{x:g} mm on {face!r}" for face, x in reversed(self._warned)]
        if len(before) > _NAMED:
            before[_NAMED:] = [f"{len(before) - _NAMED} more"]
        say(self._before, f"Warned of before: {', '.join(before)}." if before else "")
        self._reach.value = "" if found is None else _told(found)
        if found is not None and found.near:
            self._warned[found.face, found.x] = True

    def left(self, survey, traverse):
        """Return what is left at the place last read, by all readings of the round; a list.

        It takes up to a second: ask when the hand has paused.
        """
        readings = survey.readings.of(traverse)
        if not len(readings):
            return []
        words = self._work.standing(survey, str(readings.face[-1]), float(readings.x[-1]))
        return [words] if words else []


def _told(reach):
    """Return what a reading shows, in a frame of its own where it is a warning."""
    words = escape(str(reach))
    if not reach.near:
        return f"<p>{words}</p>"
    return f'<div class="metro-message metro-alarm" role="alert"><b>Look here:</b>{words}</div>'

"""Rounds page: what is added to the taking of readings where the folder is a round of work."""

from metrolib.show.worksheet.screen.look import column, heading, paragraph, say

_HINT = "From the first survey's decision and methods, and the rounds before this one."


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
        self._stop = paragraph(name="metro-stop")
        self._reach = paragraph(name="metro-reach")
        title = heading(f"Round {sheet.work.name}", _HINT)
        self.widget = column(title, self._stop, self._reach, name="metro-round")

    def show(self):
        """Say what the instrument reads at the prompt when the present method is done there."""
        say(self._stop, self._work.told_stop(self._sheet.survey, self._sheet.prompt))

    def taken(self, prompt, value):
        """Say how near the target a reading shows the place to be.

        Parameters
        ----------
        prompt : Prompt
            Where it was taken.
        value : float
            [unit of the instrument]

        Returns
        -------
        str or None
            The warning, where the target is within reach.
        """
        found = self._work.told_reach(self._sheet.survey, prompt, value)
        say(self._reach, "" if found is None else str(found))
        return None if found is None or not found.near else str(found)

    def left(self, survey, traverse):
        """Return what is left at the place last read, by all readings of the round; a list.

        It takes up to a second: ask when the hand has paused.
        """
        readings = survey.readings.of(traverse)
        if not len(readings):
            return []
        words = self._work.standing(survey, str(readings.face[-1]), float(readings.x[-1]))
        return [words] if words else []

"""Rounds page: what is added to the taking of readings where the folder is a round of work."""

from metrolib.errors import MetrolibError
from metrolib.show.worksheet.look import column, heading, paragraph, say
from metrolib.show.worksheet.round_stop import round_work

_HINT = "From the first survey's decision and methods, and the rounds before this one."


def round_panel(sheet):
    """Return the panel of a round's worksheet, or None where the folder is no round.

    Parameters
    ----------
    sheet : Worksheet

    Raises
    ------
    SurveyError
        With the faults of the first survey and of the rounds.
    """
    work = round_work(sheet.folder, row_functions=sheet.row_functions)
    return None if work is None else RoundPanel(sheet, work)


class RoundPanel:
    """The stop reading beside the prompt, and how near the target the last reading is.

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, sheet, work):
        self._sheet, self._work = sheet, work
        self._stop = paragraph(name="metro-stop")
        self._reach = paragraph(name="metro-reach")
        title = heading(f"Round {work.name}", _HINT)
        self.widget = column(title, self._stop, self._reach, name="metro-round")

    def show(self):
        """Say what the instrument reads at the prompt when the present method is done there."""
        prompt = self._sheet.prompt
        if prompt is None:
            say(self._stop, "")
            return
        say(self._stop, self._asked(self._work.stop, prompt.traverse, prompt.face, prompt.x) or "")

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
        found = self._asked(self._work.reach, prompt.traverse, prompt.face, prompt.x, value)
        say(self._reach, "" if found is None else str(found))
        return str(found) if getattr(found, "near", False) else None

    def left(self, survey, traverse):
        """Return what is left at the place last read, by all readings of the round; a list.

        It takes up to a second: ask when the hand has paused.
        """
        readings = survey.readings.of(traverse)
        if not len(readings):
            return []
        words = self._work.standing(survey, str(readings.face[-1]), float(readings.x[-1]))
        return [words] if words else []

    def _asked(self, question, *about):
        """Return the answer, or why there is none."""
        try:
            return question(self._sheet.survey, *about)
        except MetrolibError as error:
            return f"The first survey tells no stop readings: {error}"

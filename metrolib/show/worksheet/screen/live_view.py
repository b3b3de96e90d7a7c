"""Live view: beside the entry field, the growing picture and what the readings tell so far."""

from threading import Timer

import ipywidgets as widgets

from metrolib.show.worksheet.judged.closure import closure
from metrolib.show.worksheet.judged.known import known
from metrolib.show.worksheet.judged.picture import Picture
from metrolib.show.worksheet.judged.picture_view import view_of
from metrolib.show.worksheet.rounds.rounds_page import RoundPanel
from metrolib.show.worksheet.screen.look import column, paragraph, say

#: What takes longer than a reading waits until the hand has paused for so long [s].
_PAUSE = 1.5


class LiveView:
    """What is shown of a traverse while it is read.

    Parameters
    ----------
    sheet : Worksheet
    lock : RLock
        Of the screen; held by who calls these methods.

    Attributes
    ----------
    widget : ipywidgets.Widget
        Picture and words.
    beside : tuple of ipywidgets.Widget
        What stands beside the prompt, where the eye is; empty where the folder is no round.
    """

    def __init__(self, sheet, lock):
        self._sheet, self._lock = sheet, lock
        self._doubts = {}  # those that still stand, by the key of their prompt
        self._pause = None
        self._picture = Picture()
        self._image = widgets.Image(format="png")
        self._image.add_class("metro-picture")
        self._words = paragraph(name="metro-picture-words")
        self._known = paragraph(name="metro-known")
        self._round = None if sheet.work is None else RoundPanel(sheet)
        self.beside = () if self._round is None else (self._round.widget,)
        self.widget = column(self._image, self._words, self._known, name="metro-live")

    def doubt(self, key, doubt):
        """Mark a reading as doubtful from the next picture on."""
        self._doubts[key] = doubt

    def settle(self, key):
        """Forget a doubt, since the reading was kept or taken once more; return it, or None."""
        return self._doubts.pop(key, None)

    def taken(self, prompt, value):
        """Say how near the target a reading of a round shows the place to be."""
        if self._round is not None:
            self._round.taken(prompt, value)

    def show(self):
        """Draw the picture anew, say how the traverse closes, and the rest after a pause."""
        sheet = self._sheet
        view = view_of(
            sheet.survey,
            sheet.heights,
            sheet.traverse,
            next_x=sheet.prompt.x if sheet.prompt is not None else None,
            doubtful=self._doubts.values(),
        )
        self._image.value = self._picture.png(view)
        if self._round is not None:
            self._round.show()
        say(self._words, view.alt_text)
        closed = closure(sheet.survey, sheet.traverse)
        say(self._known, "" if closed is None else str(closed))
        self._look_after_a_pause()

    def _look_after_a_pause(self):
        if self._pause is not None:
            self._pause.cancel()
        given = self._sheet.survey, self._sheet.heights, self._sheet.traverse
        self._pause = Timer(_PAUSE, self._look, given)
        self._pause.daemon = True
        self._pause.start()

    def _look(self, survey, heights, traverse):
        """Say what is known and what to read next; without the lock, for it may take seconds."""
        sheet = self._sheet
        try:
            found = known(survey, heights, traverse, row_functions=sheet.row_functions).sentences
            if self._round is not None:
                found = [*self._round.left(survey, traverse), *found]
        except Exception as error:  # nobody else would see it, on a thread of its own
            found = [f"What is known could not be told ({type(error).__name__}: {error})."]
        with self._lock:
            if survey is sheet.survey and traverse == sheet.traverse:
                say(self._known, found)

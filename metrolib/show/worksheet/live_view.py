"""Live view: beside the entry field, the growing picture and what the readings tell so far."""

import ipywidgets as widgets

from metrolib.show.worksheet.closure import closure
from metrolib.show.worksheet.look import column, paragraph, say
from metrolib.show.worksheet.picture import Picture
from metrolib.show.worksheet.picture_view import view_of


class LiveView:
    """What is shown of a traverse while it is read.

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, sheet):
        self.sheet = sheet
        self._doubts = {}  # those that still stand, by the key of their prompt
        self._picture = Picture()
        self._image = widgets.Image(format="png")
        self._image.add_class("metro-picture")
        self._words = paragraph(name="metro-picture-words")
        self._closure = paragraph(name="metro-closure")
        self.widget = column(self._image, self._words, self._closure)

    def doubt(self, key, doubt):
        """Mark a reading as doubtful from the next picture on."""
        self._doubts[key] = doubt

    def settle(self, key):
        """Forget a doubt: the reading was kept, or taken once more."""
        self._doubts.pop(key, None)

    def show(self):
        """Draw the picture anew and say what is known."""
        sheet = self.sheet
        view = view_of(
            sheet.survey,
            sheet.heights,
            sheet.traverse,
            next_x=sheet.prompt.x if sheet.prompt is not None else None,
            doubtful=self._doubts.values(),
        )
        self._image.value = self._picture.png(view)
        say(self._words, view.alt_text)
        closed = closure(sheet.survey, sheet.traverse)
        say(self._closure, "" if closed is None else str(closed))

"""One row of the table on screen: its field, its marks, and its history when that is open."""

from html import escape

import ipywidgets as widgets

from metrolib.show.worksheet.screen.look import (
    button,
    column,
    field,
    paragraph,
    row,
    say,
    shown_errors,
)
from metrolib.show.worksheet.table.table import history_of
from metrolib.show.worksheet.typed import unit_sign
from metrolib.survey.columns import number

#: Of field, button, words and the whole row, for the style sheet and the tests.
_CLASSES = (
    ("metro-field", "metro-cell"),
    ("metro-button", "metro-more"),
    ("metro-marks",),
    ("metro-row", "metro-table-line"),
)


class RowView:
    """The widgets of one reading; never of another one, for what is typed may be on its way.

    Parameters
    ----------
    page : object
        What does it: ``write(line, text)``, ``leave_out(line, reason)``, ``bring_back(line)`` and
        ``open_more(key)``.
    screen : Screen
    like : RowView, optional
        Another row, whose looks it shares: each look of its own would cost the browser time.

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, page, screen, like=None):
        self._page, self._screen = page, screen
        self._line, self._quiet, self._history, self._wrong = None, False, None, ""
        guard = shown_errors(screen)
        looks = [{}] * 4 if like is None else [_look(part) for part in like._parts]
        self._field = widgets.Text(continuous_update=False, **looks[0])
        self._more = widgets.Button(**looks[1])
        self._words = widgets.HTML(**looks[2])
        self.widget = widgets.HBox([self._field, self._more, self._words], **looks[3])
        self._parts = self._field, self._more, self._words, self.widget
        for part, names in zip(self._parts, _CLASSES, strict=True):
            part._dom_classes = names
        self._field.observe(lambda _: guard(self._typed)(), "value")
        self._more.on_click(lambda _: guard(self._open)())

    def show(self, line, *, with_traverse, more):
        """Show a reading."""
        if self._line is None or self._line.row.digits != line.row.digits:
            self._wrong = ""
            if not _is_same(self._field.value, line.row.digits):
                self._put(line.row.digits)
        self._line = line
        place = _place(line.row, with_traverse=with_traverse)
        self._field.description = f"{place} [{unit_sign(line.row.unit)}]"
        self._say(self._wrong)  # a text that is refused stays in the field, and so do the words
        self._more.description = "▾ Less" if more else "▸ More"
        self._more.tooltip = f"history of {place}; leave out, bring back"
        if more and self._history is None:
            self._history = _History(self._page, self._screen)
        if more:
            self._history.show(line)
        history = (self._history.widget,) if more else ()
        self.widget.children = (*self._parts[:3], *history)

    def _say(self, wrong):
        """Show the marks of the reading, and what is wrong with what was typed."""
        self._wrong = wrong
        marks = [f"<p>{escape(mark)}</p>" for mark in self._line.marks]
        fault = f'<p class="metro-fault" role="alert">✗ {escape(wrong)}</p>' if wrong else ""
        self._words.value = "".join([*marks, fault])

    def _put(self, text):
        self._quiet = True
        self._field.value = text
        self._quiet = False

    def _typed(self):
        """Write what was typed; a wrong number stays in the field, with what is wrong beside it."""
        text = self._field.value
        if self._quiet:
            return
        if _is_same(text, self._line.row.digits) or text == self._line.row.digits:
            self._say("")
        elif not text.strip():
            self._say("nothing is typed; to leave a reading out, open More and say why")
        elif wrong := self._page.write(self._line, text):
            self._say(wrong)

    def _open(self):
        self._page.open_more(self._line.row.key)


def _is_same(text, digits):
    """Tell whether a text that was typed is the number that stands: it is left as it is then."""
    return bool(digits) and number(text.strip(), None) == float(digits)


def _look(part):
    """Return what a widget of another row can share with this one."""
    return {key: getattr(part, key) for key in ("layout", "style") if part.has_trait(key)}


class _History:
    """What happened to a reading, and what can be done to it."""

    def __init__(self, page, screen):
        self._page, self._line = page, None
        self._events = paragraph(name="metro-row-history")
        self._reason = field("Why it is left out", name="metro-reason")
        self._wrong = paragraph(name="metro-fault")
        self._out = button("Leave out", self._leave_out, screen, name="metro-leave-out")
        self._back = button("Bring back", self._bring_back, screen, name="metro-bring-back")
        self.widget = column(
            self._events,
            row(self._reason, self._out, self._back),
            self._wrong,
            name="metro-more-of",
        )

    def show(self, line):
        """Show the history of a reading."""
        if self._line is None or self._line.state != line.state:
            self._reason.value = ""
        self._line = line
        say(self._events, history_of(line.row))
        say(self._wrong, "")
        gone = line.state in ("left out", "skipped")
        self._reason.layout.display = self._out.layout.display = "none" if gone else ""
        self._back.layout.display = "" if gone else "none"

    def _leave_out(self):
        if not self._reason.value.strip():
            say(self._wrong, "✗ say why it is left out: the reason stays with the reading")
            return
        self._page.leave_out(self._line, self._reason.value)

    def _bring_back(self):
        self._page.bring_back(self._line)


def _place(reading, *, with_traverse):
    """Return where a reading was taken, in a few words."""
    words = f"{reading.x:g} mm"
    if reading.face and reading.face not in reading.traverse:
        words = f"{reading.face} {words}"
    if reading.repeat > 1:
        words += f", no. {reading.repeat}"
    return f"{reading.traverse}: {words}" if with_traverse else words

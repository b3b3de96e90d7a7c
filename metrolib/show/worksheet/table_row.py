"""One row of the table on screen: its field, its marks, and its history when that is open."""

from metrolib.show.worksheet.look import button, column, field, paragraph, row, say, shown_errors
from metrolib.show.worksheet.table import history_of
from metrolib.show.worksheet.typed import unit_sign


class RowView:
    """The widgets of one row; they show another reading when the page turns.

    Parameters
    ----------
    page : object
        What does it: ``write(line, text)``, ``leave_out(line, reason)``, ``bring_back(line)`` and
        ``open_more(key)``.
    screen : Screen

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, page, screen):
        self._page, self._screen = page, screen
        self._line, self._quiet, self._history = None, False, None
        self._field = field("reading", name="metro-cell")
        self._field.observe(lambda _: shown_errors(screen)(self._typed)(), "value")
        self._marks = paragraph(name="metro-marks")
        self._wrong = paragraph(name="metro-wrong")
        self._more = button("More", self._open, screen, name="metro-more")
        self._slot = column()
        line = row(self._field, self._more, self._marks, self._wrong)
        line.add_class("metro-table-line")
        self.widget = column(line, self._slot)

    def show(self, line, *, with_traverse, more):
        """Show a reading."""
        other = self._line is None or self._line.row.key != line.row.key
        changed = other or self._line.row.digits != line.row.digits
        self._line = line
        place = _place(line.row, with_traverse=with_traverse)
        self._field.description = f"{place} [{unit_sign(line.row.unit)}]"
        if changed:
            self._put(line.row.digits)
            say(self._wrong, "")
        say(self._marks, ["; ".join(line.marks)])
        self._more.description = "▾ Less" if more else "▸ More"
        self._more.tooltip = f"history of {place}; leave out, bring back"
        if more and self._history is None:
            self._history = _History(self._page, self._screen)
        if more:
            self._history.show(line)
        self._slot.children = (self._history.widget,) if more else ()

    def _put(self, text):
        self._quiet = True
        self._field.value = text
        self._quiet = False

    def _typed(self):
        """Write what was typed; a wrong number stays in the field, with what is wrong beside it."""
        text = self._field.value
        if self._quiet or text.strip() == self._line.row.digits:
            say(self._wrong, "")
        elif not text.strip():
            say(self._wrong, "✗ nothing is typed; to leave a reading out, open More and say why")
        else:
            wrong = self._page.write(self._line, text)
            say(self._wrong, f"✗ {wrong}" if wrong else "")

    def _open(self):
        self._page.open_more(self._line.row.key)


class _History:
    """What happened to a reading, and what can be done to it."""

    def __init__(self, page, screen):
        self._page, self._line = page, None
        self._events = paragraph(name="metro-row-history")
        self._reason = field("Why it is left out", name="metro-reason")
        self._wrong = paragraph(name="metro-wrong")
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
        if self._line is None or self._line.row.key != line.row.key:
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

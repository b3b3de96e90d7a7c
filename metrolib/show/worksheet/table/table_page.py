"""All readings on screen: corrected in place, left out and brought back, with their history."""

from metrolib.errors import MetrolibError
from metrolib.show.worksheet.screen.look import (
    button,
    column,
    field,
    heading,
    paragraph,
    row,
    say,
    shown_errors,
)
from metrolib.show.worksheet.table.table import ALL, SHOWN, lines_of, suspects_of
from metrolib.show.worksheet.table.table_row import RowView

#: More fields at a time would make the browser slow.
_ROWS = 40

_HINT = (
    "Type another number over a reading and press Enter: the old one stays in its history. More"
    " shows the history, and leaves a reading out or brings it back."
)


def page(sheet, screen):
    """Return the page that shows all readings."""
    return _TablePage(sheet, screen).widget


class _TablePage:
    """The page's pieces."""

    def __init__(self, sheet, screen):
        self.sheet, self.screen = sheet, screen
        guard = shown_errors(screen)
        self._from, self._more = 0, None
        self._traverse = field("Traverse", choices=[("all", "")], name="metro-table-traverse")
        self._shown = field("Show", ALL, choices=SHOWN, name="metro-table-shown")
        for one in (self._traverse, self._shown):
            one.observe(lambda _: guard(self._begin)(), "value")
        self._told = paragraph(name="metro-table-told")
        self._views = {}
        self._rows = column(name="metro-table-rows")
        undo = button("Undo the last change", self._undo, screen, name="metro-table-undo")
        self._earlier = button("Earlier rows", lambda: self._turn(-1), screen, name="metro-earlier")
        self._later = button("Later rows", lambda: self._turn(1), screen, name="metro-later")
        self.widget = column(
            heading("All readings", _HINT),
            row(self._traverse, self._shown, undo),
            self._told,
            self._rows,
            row(self._earlier, self._later),
            name="metro-table",
        )
        screen.when_shown(self._catch_up)

    # --- what is done ----------------------------------------------------------------------------

    def write(self, line, text):
        """Take or correct a reading; return what is wrong with it, or nothing."""
        try:
            if line.state == "read":
                self.sheet.correct(line.row, text)
            else:
                self.sheet.take(text, key=line.row.key)
        except MetrolibError as error:
            return str(error).removeprefix("reading: ")
        self.show()
        return ""

    def leave_out(self, line, reason):
        """Leave a reading or a station out."""
        if line.state == "read":
            self.sheet.take_back(line.row, reason)
        else:
            self.sheet.skip(reason, key=line.row.key)
        self.show()

    def bring_back(self, line):
        """Bring back a reading, or open a station that was skipped."""
        if line.state == "skipped":
            self.sheet.unskip(key=line.row.key)
        else:
            self.sheet.bring_back(line.row)
        self.show()

    def open_more(self, key):
        """Open or close the history of a reading."""
        self._more = None if self._more == key else key
        self.show()

    def _undo(self):
        event = self.sheet.undo()
        self.screen.tell(f"Undone: {event.action}, {event.traverse} at {event.x:g} mm.")
        self.show()

    # --- what is shown ---------------------------------------------------------------------------

    def _catch_up(self):
        names = [("all", ""), *((name, name) for name in self.sheet.traverses)]
        if list(self._traverse.options) != names:
            self._traverse.options = names
            self._traverse.value = self.sheet.traverse
        self.show()

    def _begin(self):
        self._from = 0
        self.show()

    def _turn(self, way):
        self._from += way * _ROWS
        self.show()

    def show(self):
        """Show the readings as they stand now."""
        sheet = self.sheet
        self.screen.tell_news()
        suspects = suspects_of(sheet.heights)
        lines = lines_of(sheet.rows, sheet.history, suspects, self._traverse.value or None)
        lines = [line for line in lines if line.is_shown(self._shown.value)]
        self._from = max(0, min(self._from, (len(lines) - 1) // _ROWS * _ROWS))
        here = lines[self._from : self._from + _ROWS]
        say(self._told, self._told_of(lines, here))
        with_traverse = not self._traverse.value
        views = [self._view(line.row.key) for line in here]
        for view, line in zip(views, here, strict=True):
            view.show(line, with_traverse=with_traverse, more=line.row.key == self._more)
        self._rows.children = tuple(view.widget for view in views)
        self._earlier.disabled = self._from == 0
        self._later.disabled = self._from + _ROWS >= len(lines)

    def _view(self, key):
        """Return the row of a reading, always the same one."""
        if key not in self._views:
            like = next(iter(self._views.values()), None)
            self._views[key] = RowView(self, self.screen, like)
        return self._views[key]

    def _told_of(self, lines, here):
        if not lines:
            return "No reading is of this kind."
        count = {state: sum(line.state == state for line in lines) for state in _COUNTED}
        told = ", ".join(f"{number} {state}" for state, number in count.items() if number)
        return f"Rows {self._from + 1} to {self._from + len(here)} of {len(lines)}: {told}."


_COUNTED = ("read", "open", "left out", "skipped")

"""The frame of the worksheet: page buttons, messages, and the pages, built when first opened."""

from html import escape
from importlib import import_module
from threading import RLock

import ipywidgets as widgets

from metrolib.show.worksheet.look import STYLE, button, column, row, shown_errors

#: The pages in the order of the job: what stands on the button, and the module that builds it.
PAGES = {
    "Set up": "setting_up_page",
    "Take readings": "taking_page",
    "All readings": "table_page",
    "Decide": "deciding_page",
}

_KEPT_MESSAGES = 3  # more would push the work off the screen


def screen(sheet):
    """Return the screen of a worksheet, a widget."""
    return Screen(sheet).widget


class Screen:
    """What a worksheet looks like in Jupyter.

    A page is a module with a function ``page(sheet, screen)`` that returns a widget. It is built
    when it is first opened; `when_shown` lets it catch up each time it is opened again.

    Attributes
    ----------
    sheet : Worksheet
    widget : ipywidgets.Widget
        The whole screen.
    lock : RLock
        Held by each callback.
    """

    def __init__(self, sheet, first="Take readings"):
        self.sheet = sheet
        self.lock = RLock()
        self._built, self._catch_up, self._open = {}, {}, None
        self._messages = []
        self._said = widgets.HTML()
        self._seen = button("Seen", self._clear_messages, self, name="metro-seen")
        self._message_row = row(self._said, self._seen)
        self._message_row.add_class("metro-messages")
        self._tabs = {
            name: button(name, lambda name=name: self.show(name), self, name="metro-page")
            for name in PAGES
        }
        self._page = column(name="metro-open-page")
        style = widgets.HTML(f"<style>{STYLE}</style>")
        style.layout.display = "none"
        self.widget = column(style, row(*self._tabs.values()), self._message_row, self._page)
        self.widget.add_class("metro-sheet")
        self._show_messages()
        shown_errors(self)(self.show)(first)

    def show(self, name):
        """Open a page; it is built the first time."""
        if name not in self._built:
            self._open = name  # a page that is being built registers what it catches up with
            module = import_module(f"metrolib.show.worksheet.{PAGES[name]}")
            self._built[name] = module.page(self.sheet, self)
        self._open = name
        self._page.children = (self._built[name],)
        for other, tab in self._tabs.items():
            tab.description = f"▸ {other}" if other == name else other
            (tab.add_class if other == name else tab.remove_class)("metro-current")
        for do in self._catch_up.get(name, ()):
            do()

    def when_shown(self, do):
        """Have `do()` called each time the page that is being built is opened, also at first."""
        self._catch_up.setdefault(self._open, []).append(shown_errors(self)(do))

    def tell(self, words):
        """Show a message."""
        self._add("metro-message", "Note", words)

    def alarm(self, words):
        """Show that something went wrong or needs care at once."""
        self._add("metro-message metro-alarm", "Look here", words)

    def _add(self, kind, head, words):
        line = (kind, head, str(words))
        self._messages = [line, *(one for one in self._messages if one != line)][:_KEPT_MESSAGES]
        self._show_messages()

    def _clear_messages(self):
        self._messages = []
        self._show_messages()

    def _show_messages(self):
        self._said.value = "".join(
            f'<div class="{kind}" role="{"alert" if "alarm" in kind else "status"}">'
            f"<b>{head}:</b>{escape(words).replace(chr(10), '<br>')}</div>"
            for kind, head, words in self._messages
        )
        self._message_row.layout.display = "" if self._messages else "none"

"""The frame of the worksheet: page buttons, messages, and the pages, built when first opened."""

import re
from html import escape
from importlib import import_module
from pathlib import Path
from threading import RLock

import ipywidgets as widgets

from metrolib.errors import InputError
from metrolib.show.worksheet.beginning import Beginning
from metrolib.show.worksheet.rounds.states import states_of
from metrolib.show.worksheet.screen.look import STYLE, button, column, field, row, shown_errors

#: The pages in the order of the job: what stands on the button, and the module that builds it.
PAGES = {
    "Set up": "setting_up.setting_up_page",
    "Take readings": "screen.taking_page",
    "All readings": "table.table_page",
    "Decide": "deciding.deciding_page",
}

_KEPT_MESSAGES = 2  # more would push the work off the screen

_COUNTED = re.compile(r"\d+ (change is|changes are)\b")


def screen(sheet):
    """Return the screen of a worksheet, a widget."""
    return Screen(sheet).widget


class Screen:
    """What a worksheet looks like in Jupyter.

    A page is a module with a function ``page(sheet, screen)`` that returns a widget. It is built
    when it is first opened; what it gives to `when_shown` is called each time it is opened.

    Attributes
    ----------
    sheet : Worksheet
        The one that is worked in: before work, or in a round.
    widget : ipywidgets.Widget
        The whole screen.
    lock : RLock
        Held by each callback.
    """

    def __init__(self, sheet):
        self.sheet, self.lock = sheet, RLock()
        self._sheets = {sheet.folder: sheet}
        self._pages, self._catching_up, self._name = {}, {}, None
        self._messages, self._unsaved = [], False
        self._said = widgets.HTML()
        seen = button("Seen", self.clear, self, name="metro-seen")
        self._message_row = row(self._said, seen)
        self._message_row.add_class("metro-messages")
        self._tabs = {
            name: button(name, lambda name=name: self.show(name), self, name="metro-page")
            for name in PAGES
        }
        self._state = field("State of the work", choices=[("", "")], name="metro-work-state")
        self._state.observe(lambda _: shown_errors(self)(self._change_state)(), "value")
        self._listing = False  # while the states are listed, nobody has chosen one
        head = row(*self._tabs.values(), self._state)
        head.add_class("metro-head")
        self._page = column(name="metro-open-page")
        style = widgets.HTML(f"<style>{STYLE}</style>")
        style.layout.display = "none"
        self.widget = column(style, head, self._message_row, self._page)
        self.widget.add_class("metro-sheet")
        self._show_messages()
        shown_errors(self)(self._show_states)()
        first = "Set up" if sheet.survey is None else "Take readings"
        shown_errors(self)(self.show)(first)

    def open(self, folder, name="Take readings"):
        """Work in another folder: that of a round, or a survey that was just set up."""
        folder = Path(folder)
        if folder not in self._sheets:
            self._sheets[folder] = self.sheet.another(folder)
        elif isinstance(self._sheets[folder], Beginning):
            self._sheets[folder] = self._sheets[folder].begun
            del self._pages[folder, "Set up"]
        self.sheet = self._sheets[folder]
        self._show_states()
        self.show(name)

    def show(self, name):
        """Open a page; it is built the first time."""
        if self.sheet.survey is None and name != "Set up":
            raise InputError(f"{name}: {self.sheet}")
        at = self.sheet.folder, name
        if at not in self._pages:
            self._catching_up[at] = []
            self._at = at  # what the page registers while it is built belongs to it
            module = import_module(f"metrolib.show.worksheet.{PAGES[name]}")
            self._pages[at] = module.page(self.sheet, self)
        self._page.children = (self._pages[at],)
        self._mark(name)
        for do in self._catching_up[at]:
            do()

    def _mark(self, name):
        """Mark the button of the page that is open; the old one first, so that two never are."""
        if self._name not in (None, name):
            self._tabs[self._name].description = self._name
            self._tabs[self._name].remove_class("metro-current")
        self._name = name
        self._tabs[name].description = f"▸ {name}"
        self._tabs[name].add_class("metro-current")

    def when_shown(self, do):
        """Have `do()` called each time the page that is being built is opened, also at first."""
        self._catching_up[self._at].append(shown_errors(self)(do))

    def tell(self, words):
        """Show a message."""
        self._add("metro-message", "Note", words)

    def alarm(self, words):
        """Show that something went wrong, or needs care at once."""
        self._add("metro-message metro-alarm", "Look here", words)

    def tell_news(self):
        """Show what the worksheet has to tell, as an alarm while anything is on no disk."""
        news = self.sheet.news  # it looks at the disk, and writes what could not be written before
        was, self._unsaved = self._unsaved, bool(self.sheet.unsaved)
        if was and not self._unsaved:
            self.clear()  # what was told of it no longer holds
        for words in news:
            (self.alarm if self._unsaved else self.tell)(words)

    def _change_state(self):
        if not self._listing and self._state.value != str(self.sheet.folder):
            self.open(self._state.value, self._name)

    def _show_states(self):
        states = states_of(self.sheet.folder)
        self._listing = True
        self._state.options = [(name, str(folder)) for name, folder in states.items()]
        self._state.value = str(self.sheet.folder)
        self._listing = False
        self._state.layout.display = "" if len(states) > 1 else "none"

    def _add(self, kind, head, words):
        line = (kind, head, str(words))
        others = (one for one in self._messages if not _is_the_same(one, line))
        self._messages = [line, *others][:_KEPT_MESSAGES]
        self._show_messages()

    def clear(self):
        """Take all messages away."""
        self._messages = []
        self._show_messages()

    def _show_messages(self):
        self._said.value = "".join(
            f'<div class="{kind}" role="{"alert" if "alarm" in kind else "status"}">'
            f"<b>{head}:</b>{escape(words).replace(chr(10), '<br>')}</div>"
            for kind, head, words in self._messages
        )
        self._message_row.layout.display = "" if self._messages else "none"


def _is_the_same(one, other):
    """Tell whether a message says what another does: only its numbers may have gone on."""
    plain, other_plain = ([_COUNTED.sub("", words) for words in line] for line in (one, other))
    return plain == other_plain

"""Form: the fields of one face, instrument or set of readings, faults beside each of them."""

from metrolib.show.worksheet.screen.look import column, field, paragraph, row, say, shown_errors


class Form:
    """The fields of one entry.

    Parameters
    ----------
    entry : Entry
        What is typed goes into it.
    fields : iterable of Field
    screen : Screen
    changed : callable
        Called without arguments after a field was left or Enter was pressed.

    Attributes
    ----------
    widget : ipywidgets.Widget
    """

    def __init__(self, entry, fields, screen, changed):
        self._entry, self._changed = entry, changed
        self._guard = shown_errors(screen)
        self._quiet = False
        self._boxes = {each.key: self._box(each) for each in fields}
        self._whole = paragraph(name="metro-fault")
        fields_row = row(*self._boxes.values())
        fields_row.add_class("metro-form")
        self.widget = column(fields_row, self._whole)

    def _box(self, asked):
        """Return one field above the place for what is wrong with it."""
        name = f"metro-field-{asked.key.replace('_', '-').replace(' ', '-')}"
        typed = self._entry.typed.get(asked.key, "")
        if asked.choices is None:
            given = field(asked.label, typed, unit=asked.hint, name=name)
        else:
            given = field(asked.label, choices=asked.choices, name=name)
            self._choose(given, asked.key)
        given.observe(lambda change: self._guard(self._typed)(asked.key, change["new"]), "value")
        wrong = paragraph(name="metro-fault")
        box = column(given, wrong)
        if asked.wide:
            box.add_class("metro-wide")
        return box

    def _choose(self, given, key):
        """Let a choice show what holds; nothing where that cannot be chosen now."""
        value = self._entry.text(key)
        given.value = value if value in [one for _, one in given.options] else None

    def _typed(self, key, text):
        if not self._quiet:  # what is offered changed, nobody chose anything
            self._entry.typed[key] = text or ""
            self._changed()

    def show(self, said, asked):
        """Show faults and defaults, and only the fields that are asked for now.

        Parameters
        ----------
        said : Described
        asked : iterable of str
            Keys of the fields that are asked for.
        """
        asked = set(asked)
        mine = {
            key: words for (entry, key), words in said.faults.items() if entry == self._entry.key
        }
        for key, box in self._boxes.items():
            given, wrong = box.children
            box.layout.display = "" if key in asked else "none"
            fault = mine.get(key, "")
            say(wrong, f"✗ {fault}" if fault else "")
            if hasattr(given, "placeholder"):
                default = self._entry.default.get(key, "")
                given.placeholder = f"{default} if left empty" if default else ""

        say(self._whole, [f"✗ {words}" for key, words in mine.items() if key not in self._boxes])

    def choose_from(self, key, options):
        """Offer other choices in a field; what was chosen stays where it can."""
        given = self._boxes[key].children[0]
        self._quiet = True
        try:
            if tuple(given.options) != tuple(options):
                given.options = tuple(options)
            self._choose(given, key)
        finally:
            self._quiet = False

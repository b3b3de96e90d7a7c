"""Form: the fields of one face, instrument or set of readings, each with what is wrong beside it."""

from metrolib.show.worksheet.look import column, field, paragraph, row, say, shown_errors


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
        self._boxes = {each.key: self._box(each) for each in fields}
        self.widget = row(*self._boxes.values())
        self.widget.add_class("metro-form")

    def _box(self, asked):
        """Return one field above the place for what is wrong with it."""
        entry, name = self._entry, f"metro-field-{asked.key.replace('_', '-').replace(' ', '-')}"
        if asked.choices:
            given = field(
                asked.label,
                entry.text(asked.key),
                hint=asked.hint,
                choices=asked.choices,
                name=name,
            )
        else:
            given = field(asked.label, entry.typed.get(asked.key, ""), unit=asked.hint, name=name)
        given.observe(lambda change: self._guard(self._typed)(asked.key, change["new"]), "value")
        wrong = paragraph(name="metro-wrong")
        box = column(given, wrong)
        if asked.wide:
            box.add_class("metro-wide")
        return box

    def _typed(self, key, text):
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
        for key, box in self._boxes.items():
            given, wrong = box.children
            box.layout.display = "" if key in asked else "none"
            fault = said.faults.get((self._entry.key, key), "")
            say(wrong, f"✗ {fault}" if fault else "")
            if hasattr(given, "placeholder"):
                default = self._entry.default.get(key, "")
                given.placeholder = f"{default} if left empty" if default else ""

    def choose_from(self, key, options):
        """Offer other choices in a field; what was chosen stays where it can."""
        given = self._boxes[key].children[0]
        value = self._entry.text(key)
        options = tuple(options)
        if tuple(given.options) == options:
            return
        values = [one for _, one in options]
        with given.hold_trait_notifications():
            given.options = options
            given.value = value if value in values else None

    def fault_count(self, said):
        """Return how many fields of it are at fault."""
        return sum((self._entry.key, key) in said.faults for key in self._boxes)

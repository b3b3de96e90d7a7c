"""Row text: one row of readings.csv as it stands in the file, of which single cells are written."""


class RowText:
    r"""The text of one row, cell by cell, nothing taken off.

    Parameters
    ----------
    text : str
        Of the whole file.
    start : int
        Where the row begins in it.
    separator : str

    Attributes
    ----------
    start, end : int
        Where the row begins and ends in the text of the file, its line end left out.

    Examples
    --------
    >>> row = RowText('level; 0 ; ;"a; b"\r\n', 0, ";")
    >>> row.value(0), row.value(3)
    ('level', 'a; b')
    >>> row.write(2, "0,5")
    >>> row.text()
    'level; 0 ; 0,5;"a; b"'
    """

    def __init__(self, text, start, separator):
        self.start = start
        self._separator = separator
        self._cells = []
        at = start
        while True:
            end = _cell_end(text, at, separator)
            self._cells.append(text[at:end])
            if not text.startswith(separator, end):
                break
            at = end + 1
        self.end = end

    def value(self, place):
        """Return what a cell says, blanks taken off; empty where the row ends earlier."""
        if place >= len(self._cells):
            return ""
        raw = self._cells[place]
        if raw.startswith('"'):
            closing = _closing_quote(raw, 0)
            raw = raw[1:closing].replace('""', '"') + raw[closing + 1 :]
        return raw.strip()

    def write(self, place, cell):
        """Write into an empty cell; its quotes and blanks stay, a row too short is made longer."""
        self._cells += [""] * (place + 1 - len(self._cells))
        raw, quoted = self._cells[place], cell_text(cell, self._separator)
        if raw.startswith('"'):
            self._cells[place] = '"' + cell.replace('"', '""') + raw[1:]
        elif quoted != cell:
            self._cells[place] = quoted + raw  # a quote counts only where it begins the cell
        else:
            middle = (len(raw) + 1) // 2
            self._cells[place] = raw[:middle] + cell + raw[middle:]

    def replace(self, place, cell):
        """Write into a cell instead of what it says; an empty cell empties it."""
        self._cells += [""] * (place + 1 - len(self._cells))
        self._cells[place] = cell_text(cell, self._separator)

    def text(self):
        """Return the row as it is to stand in the file."""
        return self._separator.join(self._cells)


def cell_text(cell, separator):
    """Return a cell as the file writes it: in quotes only where it needs them.

    Examples
    --------
    >>> cell_text("0,5", ","), cell_text("0,5", ";")
    ('"0,5"', '0,5')
    """
    if any(sign in cell for sign in (separator, '"', "\n", "\r")):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _cell_end(text, at, separator):
    """Return where the cell that begins at `at` ends: at its separator or at the line end."""
    if text.startswith('"', at):
        at = _closing_quote(text, at) + 1
    while at < len(text) and text[at] not in (separator, "\n", "\r"):
        at += 1
    return at


def _closing_quote(text, opening):
    """Return where the quote opened at `opening` is closed; a doubled one belongs to the cell."""
    at = opening + 1
    while at < len(text):
        if text[at] == '"':
            if not text.startswith('"', at + 1):
                return at
            at += 1
        at += 1
    return at

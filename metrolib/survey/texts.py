"""Texts: the cells of a column as its different texts, and which of them stands in each row.

Names, stations and readings of a finite resolution come again and again: what a text says is found
out once, however many rows there are.
"""

from collections.abc import Sequence

import numpy as np

from metrolib.survey.readings import numbered

#: How a text is written as bytes; half a character, as UTF-16 may hold, is kept too.
_ENCODING = ("utf-8", "surrogatepass")

#: So many bytes are compared at once, as one number.
_WORD = 8

#: What of a word belongs to a text that has 0 to 8 bytes left.
_OWN = np.array([(1 << 8 * left) - 1 for left in range(_WORD + 1)], dtype="<u8")


class Texts(Sequence):
    """The cells of a column, blanks taken off.

    Parameters
    ----------
    which : ndarray of int, shape (m,)
        The number of the text in each row.
    texts : sequence of str
        By number.

    Examples
    --------
    >>> cells = Texts.of(["0.5", " 0.5 ", "-1"])
    >>> cells[1], cells.each(float, float).tolist()
    ('0.5', [0.5, 0.5, -1.0])
    """

    def __init__(self, which, texts):
        self._which, self._texts = which, [text.strip() for text in texts]

    @classmethod
    def of(cls, cells):
        """Return the texts of a sequence of str."""
        return cls(*numbered(cells))

    def __len__(self):
        return len(self._which)

    def __getitem__(self, row):
        return self._texts[self._which[row]]

    def each(self, function, kind):
        """Return what a function makes of the text in each row, as an array."""
        return np.array([function(text) for text in self._texts], dtype=kind)[self._which]

    @property
    def different(self):
        """The different texts, list of str."""
        return self._texts

    @property
    def filled(self):
        """Which rows have a text, ndarray of bool."""
        return self.each(bool, bool)


def cut(text, separator, is_row):
    r"""Cut a table into its columns, without a string for each line or cell.

    Parameters
    ----------
    text : str
        Lines of cells without quotes and NUL.
    separator : str
    is_row : function
        Tells of a line, a str, whether it is a row of the table. It is asked only where a line
        begins with a blank, a separator or the sign of a comment.

    Returns
    -------
    headings : list of str
        The cells of the first row.
    columns : list of Texts
        The cells below each of them.
    lines : ndarray of int
        The line of each row, from 1, the first row included.
        All are None where the rows are not equally wide, or there are none.

    Examples
    --------
    >>> headings, columns, lines = cut("traverse,x\n\nlevel,0\nlevel,200", ",", bool)
    >>> headings, [list(column) for column in columns], lines.tolist()
    (['traverse', 'x'], [['level', 'level'], ['0', '200']], [1, 3, 4])
    """
    raw = f"{text}\n".encode(*_ENCODING)
    codes = np.frombuffer(raw, dtype=np.uint8)
    ends = np.flatnonzero((codes == ord(separator)) | (codes == ord("\n")))
    starts = np.concatenate([[0], ends[:-1] + 1])
    last = np.flatnonzero(codes[ends] == ord("\n"))  # cell of each line
    cells = np.diff(last, prepend=-1)  # in each line
    first = last - cells + 1
    rows = np.ones(len(last), dtype=bool)
    doubtful = f"\n{separator} \t\N{NO-BREAK SPACE}#{'s' * ('sep=' in text)}".encode()
    for at in np.flatnonzero(np.isin(codes[starts[first]], np.frombuffer(doubtful, np.uint8))):
        rows[at] = is_row(raw[starts[first[at]] : ends[last[at]]].decode(*_ENCODING))
    if np.unique(cells[rows]).size != 1:
        return None, None, None
    own = np.repeat(rows, cells)
    width = cells[rows][0]
    start, stop = (place[own].reshape(-1, width) for place in (starts, ends))
    padded = raw + bytes(_WORD)  # so that a word may begin anywhere
    words = np.ndarray(len(raw) + 1, dtype="<u8", buffer=padded, strides=(1,))
    headings = [raw[a:b].decode(*_ENCODING) for a, b in zip(start[0], stop[0], strict=True)]
    below = zip(start[1:].T, stop[1:].T, strict=True)
    columns = [_texts(raw, words, *column) for column in below]
    return headings, columns, np.flatnonzero(rows) + 1


def _texts(raw, words, start, stop):
    """Return the texts between some places of the bytes; `words` begin at each of these."""
    size = stop - start
    if size.max(initial=0) <= _WORD:
        found, which = np.unique(words[start] & _OWN[size], return_inverse=True)
        texts = found.view(f"S{_WORD}").tolist()
    else:
        first = _first_of_runs(words, start, size)
        runs = zip(start[first].tolist(), stop[first].tolist(), strict=True)
        number, texts = numbered([raw[begin:end] for begin, end in runs])
        which = number[np.cumsum(first) - 1]
    return Texts(which, [text.decode(*_ENCODING) for text in texts])


def _first_of_runs(words, start, size):
    """Tell which texts differ from the one before, as names of traverses seldom do."""
    first = np.concatenate([[True], size[1:] != size[:-1]])
    alike, at = np.flatnonzero(~first), 0
    while alike.size:
        own = _OWN[np.minimum(size[alike] - at, _WORD)]
        differs = ((words[start[alike] + at] ^ words[start[alike - 1] + at]) & own) != 0
        first[alike[differs]] = True
        at += _WORD
        alike = alike[~differs & (size[alike] > at)]
    return first

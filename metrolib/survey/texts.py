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


def cut(text, separator):
    r"""Cut a table into the columns below its headings, without a string for each cell.

    Parameters
    ----------
    text : str
        Rows of cells without quotes and NUL.
    separator : str

    Returns
    -------
    list of Texts, or None
        None where the rows are not equally wide.

    Examples
    --------
    >>> [list(column) for column in cut("traverse,x\nlevel,0\nlevel,200", ",")]
    [['level', 'level'], ['0', '200']]
    """
    raw = f"{text}\n".encode(*_ENCODING)
    codes = np.frombuffer(raw, dtype=np.uint8)
    ends = np.flatnonzero((codes == ord(separator)) | (codes == ord("\n")))
    last = np.flatnonzero(codes[ends] == ord("\n"))  # of each row
    width = last[0] + 1
    if (np.diff(last) != width).any():
        return None
    start, stop = (ends[:-1] + 1)[width - 1 :], ends[width:]
    padded = raw + bytes(_WORD)  # so that a word may begin anywhere
    words = np.ndarray(len(raw) + 1, dtype="<u8", buffer=padded, strides=(1,))
    columns = [slice(place, None, width) for place in range(width)]
    return [_texts(raw, words, start[column], stop[column]) for column in columns]


def _texts(raw, words, start, stop):
    """Return the texts between some places of the bytes; `words` begin at each of these."""
    size = stop - start
    if size.max(initial=0) <= _WORD:
        found, which = np.unique(words[start] & _OWN[size], return_inverse=True)
        texts = [word.to_bytes(_WORD, "little").rstrip(b"\0") for word in found.tolist()]
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

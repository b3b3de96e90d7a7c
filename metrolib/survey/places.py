"""Places: in which line of a TOML text each key stands.

`tomllib` reads values but forgets where they stood. This scanner remembers the lines and ignores
the values; it expects a text that `tomllib` has accepted.
"""

import re
import tomllib

_TOKEN = re.compile(
    r'''"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?'{3,5}'''  # texts over several lines
    r"""|"(?:\\.|[^"\\\n])*"|'[^'\n]*\'"""  # texts in one line
    r"""|\#[^\n]*|\n|[\[\]{}=,.]|[^\s\[\]{}=,."'#]+""",
    re.DOTALL,
)


class Places:
    r"""Lines of the keys of a TOML text.

    Parameters
    ----------
    text : str
        TOML with any kind of line ends.

    Examples
    --------
    >>> places = Places('[faces."front flat"]\ny = 0.0\nwidth = 40')
    >>> places.line("faces", "front flat", "width")
    3

    A key that is missing is looked for in the table where it should stand:

    >>> places.line("faces", "front flat", "normal")
    1
    """

    def __init__(self, text):
        self._lines = {}
        self._tokens = list(_tokens(text))
        self._at = 0
        self._lists = {}
        self._document()

    def line(self, *path):
        """Return the line of a key, counted from 1, or that of the nearest table around it."""
        for length in range(len(path), 0, -1):
            if path[:length] in self._lines:
                return self._lines[path[:length]]
        return None

    def _document(self):
        table = ()
        while (token := self._peek()) is not None:
            if _is_space(token):
                self._at += 1
            elif token == "[":
                table = self._header()
            else:
                self._pair(table)

    def _header(self):
        """Read ``[table]`` or ``[[list]]`` and return its path."""
        self._at += 1
        is_list = self._peek() == "["
        self._at += is_list
        line = self._line_here()
        *tables, last = self._dotted_key()
        self._at += 1 + is_list
        path = ()
        for key in tables:
            path = self._newest((*path, key), line)
        path = (*path, last)
        if is_list:
            self._lists[path] = self._lists.get(path, -1) + 1
        path = self._newest(path, line)
        self._lines.setdefault(path, line)
        return path

    def _newest(self, path, line):
        """Return the path itself or, where it is a list of tables, that of its newest item."""
        self._lines.setdefault(path, line)
        return (*path, self._lists[path]) if path in self._lists else path

    def _pair(self, table):
        """Read ``key = value`` below the path `table`."""
        line = self._line_here()
        path = table
        for key in self._dotted_key():
            path += (key,)
            self._lines.setdefault(path, line)
        self._at += 1  # the equals sign
        self._value(path)

    def _value(self, path):
        token = self._peek()
        if token == "{":
            self._inside("}", lambda count: self._pair(path))
        elif token == "[":
            self._inside("]", lambda count: self._item((*path, count)))
        else:
            while (token := self._peek()) is not None and not (_is_space(token) or token in ",]}"):
                self._at += 1

    def _item(self, path):
        self._lines[path] = self._line_here()
        self._value(path)

    def _inside(self, closing, read_one):
        """Read what stands between brackets, one item after another."""
        self._at += 1
        count = 0
        while (token := self._peek()) is not None and token != closing:
            if token == "," or _is_space(token):
                self._at += 1
            else:
                read_one(count)
                count += 1
        self._at += 1

    def _dotted_key(self):
        """Read ``a."b c".d`` and return its parts."""
        keys = [self._key()]
        while self._peek() == ".":
            self._at += 1
            keys.append(self._key())
        return keys

    def _key(self):
        token = self._peek()
        self._at += 1
        if token[0] in "\"'":
            return tomllib.loads(f"key = {token}")["key"]
        return token

    def _peek(self):
        return self._tokens[self._at][0] if self._at < len(self._tokens) else None

    def _line_here(self):
        return self._tokens[self._at][1]


def _is_space(token):
    return token == "\n" or token.startswith("#")


def _tokens(text):
    """Yield each token with its line."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").removeprefix("\ufeff")
    line = 1
    for match in _TOKEN.finditer(text):
        token = match.group()
        yield token, line
        line += token.count("\n")

"""Edits: changes to the two texts of a survey that leave everything else as it stands."""

import re
from dataclasses import fields
from numbers import Integral, Real

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey.columns import read_columns
from metrolib.survey.decision import Decision
from metrolib.survey.sections import suggest
from metrolib.survey.table import COLUMNS, read_table

_NUMBERS = ("x", "reading", "repeat", "order")


def append_rows(text, rows, file):
    r"""Return the text of a readings file with more rows, in its own dialect.

    Parameters
    ----------
    text : str
    rows : iterable of dict, or DataFrame
    file : str
        Name of the file, for the faults.

    Raises
    ------
    InputError
        If a key is no column, or a number is missing or not finite.

    Examples
    --------
    >>> text = "traverse;x;reading\r\nlevel;0;0,5\r\n"
    >>> append_rows(text, [{"traverse": "level", "x": 200, "reading": -1.25}], "readings.csv")
    'traverse;x;reading\r\nlevel;0;0,5\r\nlevel;200;-1,25\r\n'
    """
    rows = rows.to_dict("records") if hasattr(rows, "to_dict") else list(rows)
    table = read_table(text, file)
    places = {heading: place for place, heading in enumerate(table.headings) if heading}
    places |= {name: table.place(name) for name in COLUMNS if table.place(name) is not None}
    new = _new_columns(rows, places)
    mark = read_columns(table, {}).decimal_mark or ("," if table.separator == ";" else ".")
    if new:
        text = _widen_headings(text, table, new)
        places |= {name: len(table.headings) + at for at, name in enumerate(new)}
    width = len(table.headings) + len(new)
    lines = []
    for number, row in enumerate(rows):
        cells = [""] * width
        for name, value in row.items():
            if name in places:
                cells[places[name]] = _cell(f"rows[{number}][{name!r}]", name, value, mark)
        if cells[0].startswith(("#", "sep=")):
            wrong = f"rows[{number}]: the first cell {cells[0]!r} would make the line a comment"
            raise InputError(f"{wrong}; begin it with a letter")
        lines.append(
            table.separator.join(_quoted(cell, table.separator) for cell in cells) + table.line_end
        )
    open_end = "" if not text or text[-1] in "\r\n" else table.line_end
    return text + open_end + "".join(lines) if lines else text


def change_decision(text, changes):
    r"""Return the text of survey.toml with changed keys in ``[decision]``.

    Parameters
    ----------
    text : str
    changes : dict of str to object
        Attributes of `Decision`; None takes a tilt's bound or the confidence off.

    Raises
    ------
    InputError
        If `Decision` has no such attribute.

    Examples
    --------
    >>> print(change_decision("[decision]\nband = 0.0  # to begin with", {"band": 0.02}))
    [decision]
    band = 0.02  # to begin with
    """
    import tomlkit

    known = [field.name for field in fields(Decision)]
    for name in changes:
        if name not in known:
            remedy = suggest(name, known, otherwise=f"it has {', '.join(known)}")
            raise InputError(f"with_decision: a decision has no {name!r}; {remedy}")
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    bare, restore = _with_plain_line_ends(text.removeprefix(mark))
    document = tomlkit.parse(bare)
    if "decision" not in document:
        document["decision"] = tomlkit.table()
    table = document["decision"]
    for name, value in changes.items():
        if name == "confidence" and value is None:
            table[name] = "none"
        elif value is None:
            table.pop(name, None)
        else:
            table[name] = _toml_value(name, value)
    return mark + restore(tomlkit.dumps(document))


def _with_plain_line_ends(text):
    r"""Return the text with ``\n`` as its line end, and a function that puts its own back.

    A text with a mixture keeps it: TOML allows ``\n`` and ``\r\n`` side by side.
    """
    found = set(re.findall("\r\n|\n|\r", text))
    if "\r" in found and len(found) > 1:  # TOML knows no such line end
        return text.replace("\r\n", "\n").replace("\r", "\n"), lambda changed: changed
    if len(found) != 1:
        return text, lambda changed: changed
    (own,) = found
    return text.replace(own, "\n"), lambda changed: changed.replace("\n", own)


def _toml_value(name, value):
    """Return a value as TOML knows it."""
    if isinstance(value, str | bool | int | float):
        return value
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return float(value)
    if isinstance(value, dict):
        import tomlkit

        table = tomlkit.inline_table()
        table.update({key: _toml_value(name, item) for key, item in value.items()})
        return table
    if isinstance(value, list | tuple | set | frozenset):
        return [_toml_value(name, item) for item in value]
    raise checks.wrong(
        name, "this cannot stand in survey.toml", repr(value)[:60], "give text, numbers or lists"
    )


def _new_columns(rows, places):
    """Return the optional columns that the rows fill and the file lacks; refuse unknown ones."""
    new = {}
    for number, row in enumerate(rows):
        argument = f"rows[{number}]"
        if not isinstance(row, dict):
            raise checks.wrong(
                argument, "a dict is needed", repr(row)[:60], 'give {"traverse": ..., "x": ...}'
            )
        for name, value in row.items():
            if name in places:
                continue
            if name not in COLUMNS:
                remedy = suggest(
                    name, [*places, *COLUMNS], otherwise="add its heading to the file first"
                )
                raise InputError(f"{argument}: the readings file has no column {name!r}; {remedy}")
            if not _is_missing(value):
                new[name] = None
        for name in ("traverse", "x", "reading"):
            if name not in row:
                raise InputError(
                    f"{argument}: {name!r} is missing, got {sorted(map(str, row))}; give it"
                )
    return list(new)


def _widen_headings(text, table, new):
    """Return the text with further headings; rows that end earlier have empty cells there."""
    parts = re.split("(\r\n|\n|\r)", text)  # line, line end, line, ...
    parts[2 * (table.heading_line - 1)] += "".join(table.separator + name for name in new)
    return "".join(parts)


def _is_missing(value):
    return value is None or (not isinstance(value, str) and str(value) in ("nan", "<NA>", "NaT"))


def _cell(argument, name, value, mark):
    """Return a value as the file writes it."""
    if value is None and name in ("traverse", "x"):
        raise checks.wrong(argument, "it is needed", value, "say where the reading belongs")
    if value is None or (name not in ("traverse", "x", "reading") and _is_missing(value)):
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, Integral) and not isinstance(value, bool):
        return str(int(value))
    if isinstance(value, Real) and not isinstance(value, bool):
        shown = repr(checks.number(argument, value)).removesuffix(".0")
        return shown.replace(".", mark)
    if name in _NUMBERS:
        raise checks.wrong(
            argument, "a number is needed", repr(value)[:60], "give one plain number"
        )
    return str(value)


def _quoted(cell, separator):
    if any(sign in cell for sign in (separator, '"', "\n", "\r")):
        return '"' + cell.replace('"', '""') + '"'
    return cell

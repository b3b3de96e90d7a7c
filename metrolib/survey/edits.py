"""Edits: changed keys in the text of survey.toml, everything else left as it stands."""

import re
from dataclasses import fields
from numbers import Integral, Real

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey.conditions import OPEN
from metrolib.survey.decision import Decision
from metrolib.survey.sections import suggest


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
    document, written = _opened(text)
    if "decision" not in document:
        document["decision"] = tomlkit.table()
    table = document["decision"]
    for name, value in changes.items():
        if name == "confidence" and value is None:
            table[name] = OPEN[name]
        elif value is None:
            table.pop(name, None)
        else:
            table[name] = _toml_value(name, value)
    return written(document)


def add_option(text, name, decision):
    r"""Return the text of survey.toml with one more table ``[options."NAME"]``.

    Parameters
    ----------
    text : str
    name : str
        No option of the file has it.
    decision : Decision
        All of it is written, so that the option stays what it is when ``[decision]`` changes.

    Raises
    ------
    InputError
        If an option has the name already.

    Examples
    --------
    >>> text = add_option("[decision]", "gentle", Decision(("flat",), band=0.02))
    >>> print("\n".join(text.splitlines()[:4]))
    [decision]
    <BLANKLINE>
    [options.gentle]
    faces = ["flat"]
    """
    import tomlkit

    document, written = _opened(text)
    if name in document.get("options", {}):
        raise checks.wrong("option", "there is one of this name", repr(name), "give it another")
    table = tomlkit.table()
    for field in fields(Decision):
        value = getattr(decision, field.name)
        table[field.name] = OPEN[field.name] if value is None else _toml_value(field.name, value)
    options = tomlkit.table(is_super_table=True)
    options[name] = table
    # at the end of the text, for a comment above the next table must stay where it is
    added = tomlkit.dumps({"options": options})
    return written(tomlkit.parse(f"{tomlkit.dumps(document).rstrip()}\n\n{added}"))


def drop_option(text, name):
    r"""Return the text of survey.toml without one of its options, where it has that.

    Parameters
    ----------
    text : str
    name : str

    Examples
    --------
    >>> drop_option("[options.gentle]\nband = 0.02\n", "gentle")
    ''
    """
    document, written = _opened(text)
    if name not in document.get("options", {}):
        return text
    del document["options"][name]
    return written(document)


def add_traverses(text, tables):
    r"""Return the text of survey.toml with further traverses.

    Parameters
    ----------
    text : str
    tables : str
        Their tables as TOML text, comments included.

    Examples
    --------
    >>> print(add_traverses('[traverses.a]\nkind = "wire"', '[traverses.b]\nkind = "wire"  # new'))
    [traverses.a]
    kind = "wire"
    <BLANKLINE>
    [traverses.b]
    kind = "wire"  # new
    """
    import tomlkit

    document, written = _opened(text)
    # at the end of the text, for a comment above the next table must stay where it is
    added = tables.strip("\n")
    return written(tomlkit.parse(f"{tomlkit.dumps(document).rstrip()}\n\n{added}\n"))


def keep_traverses(text, names):
    r"""Return the text of survey.toml with no traverses but these, and without a print log.

    Parameters
    ----------
    text : str
    names : iterable of str
        In any order.

    Examples
    --------
    >>> text = '[traverses.a]\nkind = "wire"\n[traverses.b]\nkind = "wire"\n[[prints]]'
    >>> print(keep_traverses(text, ["b"]))
    [traverses.b]
    kind = "wire"
    """
    document, written = _opened(text)
    for name in set(document["traverses"]) - set(names):
        del document["traverses"][name]
    document.pop("prints", None)
    return written(document)


def _opened(text):
    """Return the document in a text, and a function that writes it as the text was written."""
    import tomlkit

    mark = "\ufeff" if text.startswith("\ufeff") else ""
    bare, restore = _with_plain_line_ends(text.removeprefix(mark))
    return tomlkit.parse(bare), lambda document: mark + restore(tomlkit.dumps(document))


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

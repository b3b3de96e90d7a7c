"""Slips: what is wrong with a line that is no TOML, and what to do, in a rebuilder's words."""

import re

_NUMBER = r"[+-]?\d+(?:\.\d*)?"


def syntax_fault(line, message, *, left_open=False):
    r"""Return what is wrong with a line of survey.toml and what to do.

    Parameters
    ----------
    line : str
    message : str
        Of the TOML reader.
    left_open : bool
        Whether the brackets that are opened in this line are not closed where others begin.

    Returns
    -------
    wrong, remedy : str

    Examples
    --------
    >>> syntax_fault("width = 40 mm", "Expected newline or end of document")
    ('this is no TOML: width = 40 mm', 'write the number alone, without a unit')
    """
    shown = re.sub(r"""\s+#[^"']*$""", "", line).strip()
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    if left_open:
        return f"this is no TOML: {shown}", "close the brackets that are opened here"
    key, _, value = line.partition("=")
    key, value = key.strip(), re.sub(r"\s+#.*$", "", value).strip()
    if "twice" in message or "overwrite" in message or "mutate" in message:
        if shown.startswith("["):
            wrong = f"this is no TOML: the table {shown} stands twice"
            return wrong, "give each table a name of its own"
        return f"this is no TOML: {key} stands twice in its table", "keep one of the two lines"
    reason = re.sub(r"\s*\(at [^()]*\)$", "", message)
    remedy = _heading_remedy(shown) or _value_remedy(key, value, reason)
    if remedy is not None:
        return f"this is no TOML: {shown}", remedy
    remedy = "correct it there: texts in quotes, one key = value in a line, brackets closed"
    return f"this is no TOML: {shown} ({reason})" if shown else f"this is no TOML: {reason}", remedy


def _heading_remedy(shown):
    if not shown.startswith("["):
        return None
    kind = re.match(r"\[+\s*(\w*)", shown)[1]
    pattern = f'[{kind}."NAME"]' if "." in shown else f"[{kind}]"
    return f"write it as {pattern}, the name in quotes and the brackets closed"


def _value_remedy(key, value, reason):
    """Return what to do about the value of a key; None where nothing better is known."""
    if not value:
        return None
    if comma := re.search(r"(?:^|=\s*)([+-]?\d+),(\d+)", value):
        return f"write decimals with a point: {comma[1]}.{comma[2]}"
    if re.fullmatch(rf"{_NUMBER}\s*[^\d\s,.\]}}][^,=]*", value):
        return "write the number alone, without a unit"
    if value in ("True", "False"):
        return f"write {value.lower()}, in small letters"
    if re.fullmatch(r"[^\W\d][\w .-]*", value) and value not in ("true", "false"):
        return f'put the text in quotes: {key} = "{value}"'
    if reason.startswith("Illegal character '\\n'") or reason.startswith("Unterminated string"):
        return "close the quotes of the text"
    return None

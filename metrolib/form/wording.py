"""How results of form are said: one phrase for each part, in words and as a small table."""

from html import escape

from metrolib.units import show_length


def nominal(number):
    """Return the plain number of a float or `uncertainties` number."""
    return float(getattr(number, "nominal_value", number))


def uncertainty(number):
    """Return the standard uncertainty of a number, or None where nothing is known of it."""
    u = getattr(number, "std_dev", None)
    return None if u is None else float(u)


def length(number, unit):
    """Say a length [mm] in a display unit: ``"12.3 µm"``."""
    return show_length(nominal(number), unit)


def expanded(number, unit):
    """Say the expanded uncertainty of a length: ``", U = 2.1 µm (k = 2)"``, or nothing.

    Examples
    --------
    >>> from uncertainties import ufloat
    >>> expanded(ufloat(0.0123, 0.001), "um"), expanded(0.0123, "um")
    (', U = 2.0 µm (k = 2)', '')
    """
    u = uncertainty(number)
    return "" if u is None else f", U = {show_length(2 * u, unit)} (k = 2)"


def slope(number, unit="mm/m"):
    """Say a slope with its sign, and its expanded uncertainty where it has one.

    Examples
    --------
    >>> slope(0.0204)
    '+0.0204 mm/m'
    """
    u = uncertainty(number)
    sure = "" if u is None else f", U = {2 * u:.4f} {unit} (k = 2)"
    shown = round(nominal(number), 4) + 0.0  # adding 0.0 turns -0.0 into 0.0
    return f"{shown:+.4f} {unit}{sure}"


def listing(words):
    """Join words: ``"a, b and c"``."""
    *most, last = [str(word) for word in words]
    return f"{', '.join(most)} and {last}" if most else last


def places(x):
    """Say places along a line [mm]: ``"200, 700 and 1300 mm"``."""
    return f"{listing(f'{at:.10g}' for at in x)} mm"


def contacts(x):
    """Say which stations decide."""
    return f"contact{'s' if len(x) > 1 else ''} at {places(x)}"


def doubt(tied):
    """Say that stations are tied with a contact, or nothing.

    Examples
    --------
    >>> doubt((3,)), doubt(())
    ('; 1 more station may be a contact too, so U is a first estimate', '')
    """
    if not tied:
        return ""
    stations = "1 more station" if len(tied) == 1 else f"{len(tied)} more stations"
    kind = "a contact" if len(tied) == 1 else "contacts"
    return f"; {stations} may be {kind} too, so U is a first estimate"


def table(title, rows):
    """Return a small HTML table: a title, and pairs of what and how much.

    Examples
    --------
    >>> table("a < b", [("width", "3 µm")])
    '<table><caption>a &lt; b</caption><tr><th>width</th><td>3 µm</td></tr></table>'
    """
    body = "".join(
        f"<tr><th>{escape(str(what))}</th><td>{escape(str(said))}</td></tr>" for what, said in rows
    )
    return f"<table><caption>{escape(title)}</caption>{body}</table>"


def measured_length(number, unit="um"):
    """Say a length with its expanded uncertainty where it has one."""
    return length(number, unit) + expanded(number, unit)


def turn(number):
    """Say how far a screw is turned, without a sign.

    Examples
    --------
    >>> turn(-0.0141)
    '0.014 turn (5°)'
    """
    turns = abs(nominal(number))
    return f"{turns:.3f} turn ({360 * turns:.0f}°)"


def magnitude(number):
    """Return a float or `uncertainties` number without its sign.

    Examples
    --------
    >>> magnitude(-0.01)
    0.01
    """
    return -number if nominal(number) < 0 else number

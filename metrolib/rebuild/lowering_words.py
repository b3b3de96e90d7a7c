"""The motions of a carried body in words and tables."""

import numpy as np

from metrolib.form.wording import expanded as stated
from metrolib.form.wording import nominal, slope, table, uncertainty
from metrolib.rebuild.conditions import named
from metrolib.units import from_millimetres, show_length, unit_sign

#: What would hold a motion that is free.
_HOLDS = {
    "shift": "name the vee flank or side face that guides it",
    "yaw": "name the vee flank or side face that guides it",
    "roll": "name a second face across the ways",
    "pitch": "give it a bearing length along the ways",
    "lift": "name the faces that it rests on",
}

NOTHING = 5e-6  # a movement below this is none [mm]
_SURE = 2.5e-5  # a standard uncertainty below this would be shown as none [mm]
_LEVEL = 5e-5  # a tilt below this is none [mm/m]


def remedy(free):
    """Say what would hold the motions that are free."""
    return "; ".join(dict.fromkeys(_HOLDS[name] for name in free))


def in_words(result, unit="um"):
    """Say how a body moves."""
    unit_sign(unit)
    moves = []
    if result.drop is not None:
        ways = ("drops", "rises", "keeps its height")
        moves.append(length(result.x, result.drop, unit, ways))
    if result.shift is not None:
        ways = ("shifts towards +y by", "shifts towards -y by", "does not shift")
        moves.append(length(result.x, result.shift, unit, ways))
    tilts = [
        _tilt(name, result.x, getattr(result, name))
        for name in ("roll", "pitch", "yaw")
        if getattr(result, name) is not None
    ]
    said = [f"{_who(result)} {', '.join(moves)}" if moves else f"{_who(result)} turns"]
    if tilts:
        said.append(", ".join(tilts))
    said[-1] += f" (at y {result.y:g}, the level of the flats)"
    if result.free:
        said.append(f"{named(result.free)} not determined: {remedy(result.free)}")
    if result.hangs:
        room = [f"{name!r} by {show_length(gap, unit)}" for name, gap in result.hangs.items()]
        said.append(f"it rocks, this is the middle: it stands off {' and '.join(room)} at most")
    if result.uncut:
        said.append(f"nothing came off {named(result.uncut)}")
    return "; ".join(said)


def _who(result):
    places = f"{result.x[0]:g} mm" if result.x.size == 1 else "along its travel"
    return f"{result.body.name!r} {'at ' if result.x.size == 1 else ''}{places}"


def expanded(number, unit):
    """Say the expanded uncertainty of a length, or nothing where it has none worth saying."""
    u = uncertainty(number)
    return "" if u is None or u < _SURE else stated(number, unit)


def measured_length(number, unit):
    """Say a length, with its expanded uncertainty where it has one worth saying."""
    return show_length(nominal(number), unit) + expanded(number, unit)


def numbers(values):
    """Return the plain numbers of an array of floats or `uncertainties` numbers."""
    return np.array([nominal(value) for value in values])


def spreads(values):
    """Return the standard uncertainties of an array; None where nothing is known of them."""
    found = [uncertainty(value) for value in values]
    return None if None in found else np.array(found)


def extremes(values):
    """Return where an array is least and where most; the same place where it is all alike."""
    plain = numbers(values)
    least, most = int(plain.argmin()), int(plain.argmax())
    return (most, most) if np.ptp(plain) < NOTHING else (least, most)


def length(x, values, unit, ways):
    """Say a movement: how it goes one way, the other way, or not at all, and by how much.

    Parameters
    ----------
    x, values : ndarray, shape (P,)
        Places, and movements [mm].
    unit : str
    ways : tuple of str
        What is said of movements above zero, below zero, and of none.
    """
    more, less, none = ways
    plain = numbers(values)
    if (np.abs(plain) < NOTHING).all():
        return none + expanded(max(values, key=lambda value: uncertainty(value) or 0.0), unit)
    if plain.max() <= 0:
        return f"{less} {span(x, -values, unit)}"
    return f"{more} {span(x, values, unit)}"


def span(x, values, unit, *, sign=False):
    """Say an array of lengths from least to most, each with its place."""
    least, most = extremes(values)
    if least == most:
        shown = show_length(nominal(values[most]), unit, sign=sign)
        return f"{shown}{expanded(values[most], unit)}"
    low, high = (show_length(nominal(values[k]), unit, sign=sign) for k in (least, most))
    sure = expanded(values[most], unit)
    return f"{low} (at {x[least]:g} mm) to {high} (at {x[most]:g} mm{sure})"


def _tilt(name, x, values):
    """Say a tilt, or that there is none."""
    u = spreads(values)
    if (np.abs(numbers(values)) < _LEVEL).all() and (u is None or u.max() < _LEVEL):
        return f"no {name}"
    return f"{name} {_slope(x, values)}"


def _slope(x, values):
    least, most = extremes(values)
    if least == most:
        return slope(values[most])
    low = slope(nominal(values[least]))
    return f"{low} (at {x[least]:g} mm) to {slope(values[most])} (at {x[most]:g} mm)"


def to_dataframe(result, unit="um"):
    """Return the motions as a pandas table."""
    from pandas import DataFrame

    sign = unit_sign(unit)
    columns = {"x [mm]": result.x}
    for name in ("drop", "shift", "roll", "pitch", "yaw"):
        values = getattr(result, name)
        length = name in ("drop", "shift")
        head = f"[{sign}]" if length else "[mm/m]"
        if values is None:
            columns[f"{name} {head}"] = np.full(result.x.size, np.nan)
            continue
        scale = (lambda v: from_millimetres(v, unit)) if length else (lambda v: v)
        columns[f"{name} {head}"] = scale(numbers(values))
        u = spreads(values)
        if u is not None:
            columns[f"u({name}) {head}"] = scale(u)
    return DataFrame(columns)


def to_html(result):
    """Return the motions as a small HTML table."""
    rows = []
    for name, values in (("drop", result.drop), ("shift towards +y", result.shift)):
        rows.append((name, "not determined" if values is None else span(result.x, values, "um")))
    for name in ("roll", "pitch", "yaw"):
        values = getattr(result, name)
        rows.append((name, "not determined" if values is None else _slope(result.x, values)))
    rows += [
        (f"stands off {name}", f"{show_length(gap, 'um')} at most")
        for name, gap in result.hangs.items()
    ]
    return table(result.body.name, rows)

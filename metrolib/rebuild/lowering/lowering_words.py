"""The motions of a carried body in words and tables."""

from functools import partial

import numpy as np

from metrolib.form.wording import listing, nominal, slope, table, uncertainty
from metrolib.rebuild.removal.conditions import named
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
_SURE = {"um": 5e-5, "thou": 1.3e-4}  # an expanded uncertainty below this is shown as none [mm]
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
    said = [f"{_who(result)} {', '.join(moves)}" if moves else f"{_who(result)} turns"]
    tilts = [
        _tilt(name, result.x, getattr(result, name))
        for name in ("roll", "pitch", "yaw")
        if getattr(result, name) is not None
    ]
    if tilts:
        said.append(_together(tilts))
    said[-1] += f" (at y {result.y:g}, the level of the flats)"
    if result.free:
        said.append(f"{named(result.free)} not determined: {remedy(result.free)}")
    if result.hangs:
        said.append(_stands_off(result, unit))
    if result.uncut:
        said.append(f"nothing came off {named(result.uncut)}")
    return with_factor("; ".join(said))


def _together(tilts):
    """Join what is said of the tilts; those that are none come last, in one phrase."""
    none = [said.removeprefix("no ") for said in tilts if said.startswith("no ")]
    some = [said for said in tilts if not said.startswith("no ")]
    if none:
        *first, last = none
        some.append(f"no {', '.join(first)} or {last}" if first else f"no {last}")
    return ", ".join(some)


def _stands_off(result, unit):
    """Say where the body does not bear, or that no more is known than that it may."""
    room = sorted(result.hangs.items(), key=lambda item: -item[1])
    feet = [foot for pair in result.mean_taken.values() for foot in pair]
    most = show_length(room[0][1], unit)
    if room[0][1] <= 2 * max(uncertainty(foot) or 0.0 for foot in feet):
        return f"it may rock by {most}, which is within the uncertainty of what came off"
    off = listing(f"{show_length(gap, unit)} off {name!r}" for name, gap in room)
    return f"it rocks, and this is its middle: it stands up to {off}"


def _who(result):
    places = f"{result.x[0]:g} mm" if result.x.size == 1 else "along its travel"
    return f"{result.body.name!r} {'at ' if result.x.size == 1 else ''}{places}"


def expanded(number, unit):
    """Say the expanded uncertainty of a length, or nothing where it has none worth saying.

    The factor k = 2 is said once, at the end: see `with_factor`.
    """
    return _bracketed(_sure_of_length(number, unit))


def _sure_of_length(number, unit):
    u = uncertainty(number)
    return "" if u is None or 2 * u < _SURE[unit] else f"U = {show_length(2 * u, unit)}"


def _sure_of_tilt(number):
    u = uncertainty(number)
    return "" if u is None or 2 * u < _LEVEL else f"U = {2 * u:.4f} mm/m"


def _bracketed(*said):
    """Return what is said in brackets; nothing where nothing is."""
    said = ", ".join(filter(None, said))
    return f" ({said})" if said else ""


def with_factor(said):
    """Add to a sentence which factor its uncertainties have, if it tells any."""
    return f"{said}; each U with k = 2" if "U = " in said else said


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
    """Return where an array is least and where most; the same place where it is all alike.

    Of places that are alike but for rounding the first counts.
    """
    plain = numbers(values).round(9)
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
    return f"{more} {span(x, values, unit, sign=bool(plain.min() < -NOTHING))}"


def span(x, values, unit, *, sign=False):
    """Say an array of lengths: from the least to the most, and where that is."""
    shown = partial(show_length, unit=unit, sign=sign)
    return _span(x, values, shown, partial(_sure_of_length, unit=unit))


def _span(x, values, shown, sure):
    """Say an array of numbers: the one, if all are shown alike, or the least and the most.

    Of numbers that change their sign both places are told.
    """
    plain = numbers(values)
    least, most = extremes(values)
    if plain.max() <= 0:
        least, most = most, least
    low, high = shown(plain[least]), shown(plain[most])
    if low == high:
        return high + _bracketed(sure(values[most]))
    low = low.split(" ")[0]  # the unit is told once
    if plain.min() < 0 < plain.max():
        at_most = _bracketed(f"at {x[most]:g} mm", sure(values[most]))
        return f"{low} (at {x[least]:g} mm) to {high}{at_most}"
    return f"{low} to {high}{_bracketed(f'most at {x[most]:g} mm', sure(values[most]))}"


def _tilt(name, x, values):
    """Say a tilt, or that there is none."""
    said = tilt_span(x, values)
    return f"{name} {said}" if said else f"no {name}"


def tilt_span(x, values):
    """Say an array of tilts as `span` does lengths; nothing where there is surely none."""
    u = spreads(values)
    if (np.abs(numbers(values)) < _LEVEL).all() and (u is None or u.max() < _LEVEL):
        return ""
    return _span(x, values, slope, _sure_of_tilt)


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
    ways = {"roll": "+y side up", "pitch": "far end up", "yaw": "far end towards +y"}
    for name, way in ways.items():
        values = getattr(result, name)
        said = "not determined" if values is None else tilt_span(result.x, values) or "none"
        rows.append((f"{name}, {way}", said))
    rows += [
        (f"stands off {name}", f"{show_length(gap, 'um')} at most")
        for name, gap in result.hangs.items()
    ]
    return table_with_factor(result.body.name, rows)


def table_with_factor(title, rows):
    """Return a small HTML table, with which factor its uncertainties have, if it tells any."""
    told = any("U = " in said for _, said in rows)
    return table(title, [*rows, *([("each U", "with k = 2")] if told else [])])

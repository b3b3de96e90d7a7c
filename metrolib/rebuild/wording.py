"""A planned removal in words and tables."""

from html import escape

import numpy as np

from metrolib.rebuild.removal.conditions import named
from metrolib.rebuild.removal.crown import crown_ends
from metrolib.units import DISPLAYS, from_millimetres, show_length, unit_sign

#: The step that the price of a governing station is told for, by display unit [mm].
_STEP = {"um": 0.01, "thou": 0.0254}

#: Digits after the decimal point, by the end of a column's head; others are written in full.
_DIGITS = {
    "measured [mm]": 4,
    "target [mm]": 4,
    "[µm]": 1,
    "[thou]": 2,
    "[cm³]": 2,
    "[mm/m]": 3,
    "confidence": 2,
}

_MOST_PLACES = 3  # of the governing places so many are named beside the first
_MOST_STRETCHES = 3  # more stretches than these are counted, not listed


def in_words(plan, unit="um"):
    """Say what to do at the bench, in one paragraph."""
    unit_sign(unit)
    parts = [part for part in plan.per_face if part.most > 0]
    idle = [part.face for part in plan.per_face if part.most == 0]
    said = []
    if parts:
        orders = [f"{part.face!r} down by {_amount(plan, part, unit)}" for part in parts]
        said.append("Take " + "; ".join(orders) + ".")
    if idle:
        said.append(f"Take nothing off {named(idle)}.")
    if parts:
        said.append(f"In all {volume(plan.volume)} come off.")
    said += [crowned(plan, unit)] if plan.decision.crown != 0 else []
    said += [_by_hand(plan, unit)] if plan.decision.target_height is not None else []
    said += [_governs(plan, unit)] if plan.governing and parts else []
    said += [_sure(plan, unit)] if plan.heights.cov.any() else []
    return " ".join(said)


def volume(value):
    """Write a volume in mm³ as cm³.

    Examples
    --------
    >>> volume(12345.0)
    '12.35 cm³'
    """
    return f"{value / 1e3:.2f} cm³"


def depth_table(plan, unit="um"):
    """Return the depths as a pandas table, one station a row."""
    from pandas import DataFrame

    sign = unit_sign(unit)
    note = np.where(plan.left_out, "left out", "").astype(object)
    for item in plan.governing:
        note[item.station] = f"governs ({item.role})"
    return DataFrame(
        {
            "face": plan.face,
            "x [mm]": plan.x,
            "y [mm]": plan.y,
            "measured [mm]": plan.nominal + plan.relative_height,
            "target [mm]": plan.nominal + plan.target,
            f"take off [{sign}]": from_millimetres(plan.depth, unit),
            f"u(take off) [{sign}]": from_millimetres(plan.depth_u, unit),
            "note": note,
        }
    )


def grid_key(unit):
    """Say how the grid of depths is read."""
    return (
        f"take off, in {unit_sign(unit)}, with its uncertainty U (k = 2); "
        "* governs the target, -- left out"
    )


def depth_grid(plan, unit="um"):
    """Return the depths as a pandas table: place along the ways down, faces across, as text."""
    digits = DISPLAYS[unit]
    governing = {item.station for item in plan.governing}
    depth, spread = from_millimetres(plan.depth, unit), 2 * from_millimetres(plan.depth_u, unit)
    cells = [
        "--  "
        if plan.left_out[i]
        else f"{depth[i]:.{digits}f} ± {spread[i]:.{digits}f}{' *' if i in governing else '  '}"
        for i in range(len(plan.x))
    ]
    return laid_out(plan, cells)


def laid_out(plan, cells):
    """Return one text for each station as a pandas table: place along the ways down, faces across.

    Parameters
    ----------
    plan : RemovalPlan
    cells : sequence of str, length n
    """
    from pandas import DataFrame

    columns = {}
    for name, x, y, cell in zip(plan.face, plan.x, plan.y, cells, strict=True):
        head = f"{name}, y {y:g}" if is_wide(plan, name) else str(name)
        columns.setdefault(head, {})[float(x)] = cell
    grid = DataFrame(columns).sort_index().fillna("")
    grid.index = [f"{x:g}" for x in grid.index]
    return grid.rename_axis(columns="x [mm]")


def is_wide(plan, face):
    """Tell whether a face was surveyed at several places across."""
    return len({*plan.y[plan.face == face]}) > 1


def place(plan, station):
    """Write where a station is: x, and y on a wide face."""
    return _at(plan, plan.face[station], plan.x[station], plan.y[station])


def _at(plan, face, x, y):
    """Write where a place on a face is."""
    return f"x {x:g}, y {y:g} mm" if is_wide(plan, face) else f"{x:g} mm"


def written(table):
    """Return a table with its numbers written out, each with the digits that its unit deserves."""

    def write(value, digits):
        missing = value is None or value != value
        return "" if missing else f"{value:g}" if digits is None else f"{value:.{digits}f}"

    text = table.copy()
    for head in table.columns:
        digits = next((d for end, d in _DIGITS.items() if head.endswith(end)), None)
        if table[head].dtype.kind == "f":
            text[head] = [write(value, digits) for value in table[head]]
    return text.fillna("")


def face_table(plan, unit="um"):
    """Return a small HTML table of what comes off each face."""
    rows = "".join(
        f"<tr><td>{escape(part.face)}</td><td>{show_length(part.most, unit)}</td>"
        f"<td>{place(plan, part.most_station)}</td><td>{show_length(part.least, unit)}</td>"
        f"<td>{place(plan, part.least_station)}</td><td>{volume(part.volume)}</td></tr>"
        for part in plan.per_face
    )
    head = "".join(f"<th>{word}</th>" for word in ("face", "most", "at", "least", "at", "volume"))
    return f"<table><tr>{head}</tr>{rows}</table>"


def _amount(plan, part, unit):
    """Say how much comes off one face, and where."""
    amount = f"up to {show_length(part.most, unit)} (most at {place(plan, part.most_station)}"
    if not part.untouched:
        least = f"least {show_length(part.least, unit)} at {place(plan, part.least_station)}"
        return f"{amount}, {least})" if part.least < part.most else show_length(part.most, unit)
    if len(part.untouched) > _MOST_STRETCHES or is_wide(plan, part.face):
        return f"{amount}; nothing in {len(part.untouched)} places, see the table)"
    stretches = [f"at {a:g} mm" if a == b else f"from {a:g} to {b:g} mm" for a, b in part.untouched]
    return f"{amount}; nothing {' and '.join(stretches)})"


def governing_place(plan):
    """Say which station governs first; '' if none does."""
    if not plan.governing:
        return ""
    first = plan.governing[0]
    return f"{first.role} at {_at(plan, first.face, first.x, first.y)} on {first.face!r}"


def _governs(plan, unit):
    """Say which stations set the target."""
    others = [
        f"{_at(plan, item.face, item.x, item.y)} on {item.face!r}" for item in plan.governing[1:]
    ]
    if len(others) > _MOST_PLACES:
        others = [*others[:_MOST_PLACES], f"{len(others) - _MOST_PLACES} more"]
    verb = "decides" if len(others) == 1 else "decide"
    with_it = f" {' and '.join(others)} {verb} with it." if others else ""
    first = plan.governing[0]
    if first.cost == 0:
        return f"The {governing_place(plan)} sets the target.{with_it}"
    # of a high spot it is the higher reading that costs metal
    way = "lower" if first.cost > 0 else "higher"
    price = volume(abs(first.cost) * _STEP[unit] / 0.01)
    step = show_length(_STEP[unit], unit, digits=0)
    return (
        f"The target is set by the {governing_place(plan)}: each {step} {way} there costs "
        f"{price}.{with_it}"
    )


def with_crown(crown, unit):
    """Say what crown a target has, to follow the word for it; '' if it has none.

    Examples
    --------
    >>> with_crown(0.01, "um"), with_crown(-0.0254, "thou"), with_crown(0.0, "um")
    (' with a crown of 10.0 µm', ' with a hollow of 1.00 thou', '')
    """
    return f" with {_crown(crown, unit)}" if crown != 0 else ""


def _crown(crown, unit):
    """Write a crown, or a hollow, with its height."""
    return f"a {'crown' if crown > 0 else 'hollow'} of {show_length(abs(crown), unit)}"


def crowned(plan, unit):
    """Say how high the crown of a target is, and from where to where it runs."""
    start, end = crown_ends(plan.decision, plan.faces)
    way = "higher" if plan.decision.crown > 0 else "lower"
    return (
        f"The target has {_crown(plan.decision.crown, unit)}: so much {way} at "
        f"{(start + end) / 2:g} mm than at {start:g} and {end:g} mm."
    )


def _by_hand(plan, unit):
    """Say where a target that was set by hand stands, and what does not clean up."""
    height = show_length(plan.decision.target_height, unit, sign=True)
    said = f"The target was set by hand: {height} from nominal, mean over the faces."
    short = np.flatnonzero(plan.lacking)
    if not short.size:
        return said
    worst = int(plan.lacking.argmax())
    ends = "would not clean up" if plan.decision.band == 0 else "would end too low"
    count = "One station" if short.size == 1 else f"{short.size} stations"
    most = show_length(plan.lacking[worst], unit)
    where = f"{place(plan, worst)} on {str(plan.face[worst])!r}"
    return f"{said} {count} {ends}: most lacks at {where}, {most}."


def _sure(plan, unit):
    """Say how surely all cleans up, and what the guard costs."""
    share = f"{100 * plan.confidence:.0f} %"
    promise = "All places clean up" if plan.decision.band == 0 else "No place ends too low"
    if plan.decision.target_height is not None:
        return f"{promise} with a probability of {share}."
    if plan.guard == 0:
        return f"{promise} with a probability of {share}, without a guard."
    return (
        f"{promise} with a probability of {share}; the guard for this costs "
        f"{show_length(plan.guard_depth, unit)} on the mean, {volume(plan.guard_volume)}."
    )

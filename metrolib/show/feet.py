"""The feet of a bed from above, and what they do to its roll."""

import numpy as np

from metrolib.form import wording
from metrolib.rebuild.support.levelling import EVEN
from metrolib.show.profiles import draw_band, line_look
from metrolib.show.style import INK, RUST, STEEL, dress, label_of, legend_below, plain, settle
from metrolib.units import show_length

_DASHED = (0, (6, 3))


def draw_feet(result, ax, unit):
    """Draw the feet from above, x to the right and +y up, each with what is to be done to it."""
    room = _draw_plan(ax, result.feet)
    most = max(abs(wording.nominal(change)) for change in result.changes.values())
    for foot in result.feet:
        change = result.changes.get(foot.name)
        idle = change is None
        size = 0.0 if idle else wording.nominal(change)
        ax.plot(
            foot.x,
            foot.y,
            "X" if idle else "s",
            color=INK,
            markersize=13,
            mfc="white" if idle else INK,
        )
        if abs(size) >= EVEN:
            _draw_arrow(ax, foot, np.sign(size) * room * (0.2 + 0.25 * abs(size) / most))
        _write(ax, foot, _words(result, foot, unit))
    _set_limits(ax, result.feet, room)
    dress(ax, y="place across y [mm]", title=_title(result))
    settle(ax)
    return ax


def _draw_plan(ax, feet):
    """Draw the outline that the feet span; return how wide it is across [mm]."""
    x, y = np.array([(foot.x, foot.y) for foot in feet]).T
    low, high = (x.min(), y.min()), (x.max(), y.max())
    outline = np.array([low, (high[0], low[1]), high, (low[0], high[1]), low])
    ax.plot(*outline.T, color=INK, lw=0.6, ls=_DASHED)
    return high[1] - low[1]


def _set_limits(ax, feet, room):
    """Leave place for arrows above and below, and for words to the right."""
    x, y = np.array([(foot.x, foot.y) for foot in feet]).T
    ax.set_xlim(x.min() - 0.08 * np.ptp(x), x.max() + 0.30 * np.ptp(x))
    ax.set_ylim(y.min() - 0.6 * room, y.max() + 0.6 * room)


def _write(ax, foot, words):
    """Write beside a foot."""
    ax.annotate(
        plain(words),
        (foot.x, foot.y),
        (14, -4),
        textcoords="offset points",
        va="top",
        fontsize=8,
    )


def _draw_arrow(ax, foot, reach):
    """Draw an arrow from a foot: up to raise it, down to lower it, as long as the move."""
    ax.annotate(
        "",
        (foot.x, foot.y + reach),
        (foot.x, foot.y),
        arrowprops={
            "arrowstyle": "-|>",
            "color": RUST,
            "lw": 3,
            "mutation_scale": 18,
            "shrinkA": 9,  # from the edge of the foot
            "shrinkB": 0,
        },
    )


def _words(result, foot, unit):
    """Write what is to be done to a foot beside it."""
    change = result.changes.get(foot.name)
    if change is None:
        return f"{foot.name}\ncarries nothing"
    size = wording.nominal(change)
    if abs(size) < EVEN:
        return f"{foot.name}\nstays"
    turns = result.turns.get(foot.name)
    screw = "" if turns is None else f"\n{wording.turn(turns)}"
    verb = "raise" if size > 0 else "lower"
    return f"{foot.name}\n{verb} {show_length(abs(size), unit)}{screw}"


def _title(result):
    if result.twist is None:
        return "what to do to each foot, seen from above"
    return f"twist now {_slope(result.twist)}, expected to be left {_slope(result.twist_left)}"


def _slope(number):
    """Write a slope without its uncertainty: a title has no room for both."""
    return wording.slope(wording.nominal(number))


def draw_foot_loads(result, ax, unit):
    """Draw the feet from above, each with what it carries; a foot that hangs has another mark."""
    most = max(wording.nominal(load) for load in result.loads.values())
    room = _draw_plan(ax, result.feet)
    for foot in result.feet:
        hangs = foot.name in result.gaps
        load = wording.nominal(result.loads[foot.name])
        words = (
            f"{foot.name}\nhangs, {wording.length(result.gaps[foot.name], unit)} below"
            if hangs
            else f"{foot.name}\n{load:.0f} N, {100 * load / result.weight:.0f} %"
        )
        ax.plot(
            foot.x,
            foot.y,
            "X" if hangs else "s",
            color=INK,
            markersize=11 if hangs else 6 + 14 * (max(load, 0.0) / most) ** 0.5,
            mfc="white" if hangs else INK,
        )
        _write(ax, foot, words)
    _set_limits(ax, result.feet, room)
    dress(ax, y="place across y [mm]", title="what each foot carries, seen from above")
    settle(ax)
    return ax


def draw_foot_response(result, ax, unit):
    """Draw what one turn of each foot does to the roll along the bed; `unit` is for lengths."""
    places = np.array([foot.x for foot in result.feet])
    x = np.unique(np.concatenate([[places.min(), places.max()], result.base.rows]))
    shares = result.base.roll_shares(x)
    for number, foot in enumerate(result.feet):
        label = f"{foot.name}{', no change' if foot.name in result.idle else ''}"
        roll = shares @ result.response[:, number]
        look = {**line_look(number), "ls": ("-", "--", "-.", ":")[number % 4]}
        ax.errorbar(
            x,
            roll,
            2 * shares @ result.response_u[:, number],
            capsize=3,
            label=label_of(label),
            **look,
        )
    ax.axhline(0, color=INK, lw=0.5)
    dress(ax, y="roll for one turn [mm/m]", title="what one turn of each foot does, ± 2 u")
    legend_below(ax)
    settle(ax)
    return ax


def draw_elastic_twist(result, ax, unit):
    """Draw the roll measured, what the feet can take out, and what stays; `unit` is for lengths."""
    order = np.argsort(result.x)
    x = result.x[order]
    u = None if result.wear_u is None else result.wear_u[order]
    draw_band(ax, x, result.wear[order], u)
    ax.plot(x, result.roll[order], color=INK, lw=1.0, marker="o", markersize=4, label="measured")
    ax.plot(x, result.elastic[order], color=STEEL, lw=1.6, ls=_DASHED, label="feet can take out")
    ax.plot(
        x, result.wear[order], color=RUST, lw=1.6, marker="s", markersize=4, mfc="w", label="stays"
    )
    ax.axhline(0, color=INK, lw=0.5)
    title = (
        f"of twist {_slope(result.measured)} the feet can take out {_slope(result.value)}; roll of "
        f"{_slope(result.stays)} stays"
    )
    dress(ax, y="roll [mm/m]", title=title)
    legend_below(ax)
    settle(ax)
    return ax

"""The stages on a face's profile, and the pass numbers on a plan of its zones."""

from textwrap import fill

import numpy as np
from matplotlib.patches import Rectangle

from metrolib.show.style import (
    DEPTH,
    HATCHES,
    INK,
    MARKS,
    RUST,
    STEEL,
    dress,
    height_label,
    inches,
    label_of,
    legend_below,
    plain,
    settle,
    shown,
    text_width,
    write_magnification,
)
from metrolib.units import show_length

#: Hatches and dashes of stages, told apart in grey.
_FILLINGS = ("////", "....", "\\\\\\\\", "xxxx", "----")
_DASHES = ((0, (6, 2)), (0, (2, 2)), (0, (6, 2, 1, 2)), (0, (1, 1)))

_ZONE_SIZE, _LEAST_SIZE = 15, 5  # points
_EDGE = "#8d8579"


def draw_stages(result, ax, unit):
    """Draw the stop line of each stage on the face with the deepest cut."""
    return draw_face_stages(result, ax, str(result.plan.face[result.plan.deepest]), unit)


def draw_face_stages(result, ax, face, unit):
    """Draw the stop line of each stage on the profile of one face.

    Parameters
    ----------
    result : Stages
    ax : matplotlib.axes.Axes
    face : str
    unit : str
        Display unit, ``"um"`` or ``"thou"``.

    Returns
    -------
    matplotlib.axes.Axes
        Of a wide face the line of stations nearest to its middle is drawn.
    """
    plan = result.plan
    mine = _line_of(plan, face)
    x, upper = plan.x[mine], plan.relative_height[mine].copy()
    ax.plot(x, shown(upper, unit), color=STEEL, lw=1.2, marker="o", ms=4, label="as it stands")
    for number, stage in enumerate(result.stages):
        stop = stage.stop[mine]
        ax.fill_between(
            x,
            shown(stop, unit),
            shown(upper, unit),
            facecolor="none",
            edgecolor=RUST,
            hatch=_FILLINGS[number % len(_FILLINGS)],
            linewidth=0,
            label=label_of(f"taken by {stage.name}"),
        )
        ax.plot(
            x,
            shown(stop, unit),
            color=INK,
            lw=1.1,
            ls=_DASHES[number % len(_DASHES)],
            marker=MARKS[1 + number % (len(MARKS) - 1)],
            ms=3.5,
            label=label_of(_stop_label(stage, unit)),
        )
        upper = stop
    dress(ax, y=height_label(unit), title=f"{face}: where each stage stops")
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def _stop_label(stage, unit):
    """Say where a stage stops, for the legend."""
    if stage.method.leaves == 0:
        return f"{stage.name} stops at the target"
    return f"{stage.name} stops {show_length(stage.method.leaves, unit)} above the target"


def _line_of(plan, face):
    """Return the stations that count on the line of a face nearest to its middle, along x."""
    mine = np.flatnonzero((plan.face == face) & ~plan.left_out)
    off = np.abs(plan.y[mine] - plan.faces[face].y)
    mine = mine[off == off.min()]
    return mine[np.argsort(plan.x[mine], kind="stable")]


def draw_pass_numbers(result, ax, unit):
    """Draw the zones from above, each with its pass number in large figures.

    Parameters
    ----------
    result : PassNumbers
    ax : matplotlib.axes.Axes
    unit : str
        Display unit of the depths in the title.

    Returns
    -------
    matplotlib.axes.Axes
    """
    names = list(dict.fromkeys(result.face.tolist()))
    cells = {}
    for row, name in enumerate(names):
        mine = np.flatnonzero(result.face == name)
        for zone, (left, right) in zip(mine, _edges(result.x[mine]), strict=True):
            cells[int(zone)] = (left, row + 0.1, right - left)
    for zone, (left, low, width) in cells.items():
        share = result.passes[zone] / max(result.value, 1)
        hatch = HATCHES[min(int(share * len(HATCHES)), len(HATCHES) - 1)]
        look = {"fc": DEPTH(0.6 * share), "hatch": hatch, "ec": _EDGE, "lw": 0.6}
        ax.add_patch(Rectangle((left, low), width, 0.8, **look))
    ax.set_xlim(
        min(left for left, _, _ in cells.values()),
        max(left + width for left, _, width in cells.values()),
    )
    ax.set_ylim(0, len(names))
    ax.set_yticks(
        np.arange(len(names)) + 0.5, [plain(fill(str(name), 18)) or "zones" for name in names]
    )
    dress(ax, title=f"passes to write on the iron. {result.in_words(unit)}")
    ax.spines["left"].set_visible(False)
    ax.tick_params(axis="y", length=0)
    settle(ax)
    points = 72 * inches(ax)[0] / np.ptp(ax.get_xlim())
    for zone, (left, low, width) in cells.items():
        text = str(result.passes[zone])
        fits = 0.8 * points * width / text_width(text, 1)
        ax.text(
            left + width / 2,
            low + 0.4,
            text,
            ha="center",
            va="center",
            color=INK,
            fontsize=float(np.clip(fits, _LEAST_SIZE, _ZONE_SIZE)),
            fontweight="bold",
            bbox={"boxstyle": "round,pad=0.15", "fc": "white", "ec": "none", "alpha": 0.85},
        )
    return ax


def _edges(x):
    """Return each zone's ends: halfway to its neighbours, the outer ones as wide as inside."""
    order = np.argsort(x, kind="stable")
    along = x[order]
    middles = (along[1:] + along[:-1]) / 2
    if not middles.size:
        return [(float(x[0]) - 50.0, float(x[0]) + 50.0)]
    first, last = 2 * along[0] - middles[0], 2 * along[-1] - middles[-1]
    bounds = np.concatenate([[first], middles, [last]])
    found = [None] * x.size
    for place, zone in enumerate(order):
        found[zone] = (float(bounds[place]), float(bounds[place + 1]))
    return found


def room_for_zones(result):
    """Return how high the plan of zones should be drawn [inch]."""
    return 1.5 + 0.65 * len(dict.fromkeys(result.face.tolist()))

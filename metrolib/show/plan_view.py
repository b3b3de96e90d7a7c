"""The plan view of the ways: what comes off where, as number, hatching and colour."""

from textwrap import fill

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from metrolib.rebuild.wording import with_crown
from metrolib.show.numbers import Number, write_numbers
from metrolib.show.style import (
    DEPTH,
    HATCHES,
    INK,
    dress,
    inches,
    legend_below,
    plain,
    settle,
    shown,
)
from metrolib.units import unit_sign

#: Height of a face's band in the drawing; a wide face, surveyed at several y, gets more room.
_NARROW, _WIDE, _ROW, _GAP = 1.0, 4.0, 0.6, 0.45

_EDGE = "#8d8579"
_NAME = 18  # letters of a face's name in a line

#: Below this greatest depth a digit more is written, in the display unit.
_FINE = {"um": 10.0, "thou": 1.0}

#: Digits after the decimal point of depths that are not fine.
_DIGITS = {"um": 0, "thou": 1}


def room_needed(plan):
    """Return how high a plan view should be drawn, so that each band keeps its room [inch]."""
    rows = sum(_band(plan, name) + _GAP for name in _from_front(plan))
    return min(max(3.4, 1.2 + 0.45 * rows), 9.0)


def draw_plan_view(plan, ax, unit):
    """Draw a removal plan seen from above, x to the right and +y up.

    Parameters
    ----------
    plan : RemovalPlan
    ax : matplotlib.axes.Axes
    unit : str
        Display unit, ``"um"`` or ``"thou"``.

    Returns
    -------
    matplotlib.axes.Axes
        Each station is a cell with its depth; crossed cells are left out of the decision, a
        triangle points at the stations that govern. Where cells are too small for all numbers,
        those of governing stations and every second, third ... of the others are written.
    """
    counted = plan.depth[~plan.left_out]
    greatest = float(counted.max(initial=0.0))
    cells, ticks, bottom = {}, {}, 0.0
    for name in _from_front(plan):
        cells |= _cells(plan, name, bottom)
        ticks[plain(fill(name, _NAME))] = bottom + _band(plan, name) / 2
        bottom += _band(plan, name) + _GAP
    digits = _DIGITS[unit] + (shown(greatest, unit) < _FINE[unit])
    governing = [item.station for item in plan.governing]
    for station, cell in cells.items():
        _draw_cell(ax, cell, plan, station, greatest)
    ax.set_ylim(-_GAP / 2, bottom)
    ends = [(plan.faces[name].x_from, plan.faces[name].x_to) for name in plan.face]
    ax.set_xlim(
        min([cell[0] for cell in cells.values()] + [start for start, _ in ends]),
        max([cell[0] + cell[2] for cell in cells.values()] + [end for _, end in ends]),
    )
    ax.set_yticks(list(ticks.values()), list(ticks))
    title = _title(plan, unit)
    dress(ax, title=title)
    ax.spines["left"].set_visible(False)
    ax.tick_params(axis="y", length=0)
    legend_below(ax, _key(plan, greatest, digits, unit))
    settle(ax)
    for station in governing:
        _point_at(ax, cells[station], narrow=_band(plan, plan.face[station]) == _NARROW)
    unwritten = write_numbers(
        ax,
        [
            _number(cells[station], f"{shown(plan.depth[station], unit):.{digits}f}")
            for station in dict.fromkeys([*governing, *cells])
            if not plan.left_out[station]
        ],
    )
    if unwritten:
        dress(ax, title=f"{title}; cells without a number are in the table")
    return ax


def _title(plan, unit):
    """Return what the picture shows."""
    shape = with_crown(plan.decision.crown, unit)
    return f"to take off, in {unit_sign(unit)} (seen from above)" + (shape and f"; target{shape}")


def _from_front(plan):
    """Return the names of the faces, the one at the smallest y first."""
    return sorted(dict.fromkeys(plan.face.tolist()), key=lambda name: plan.faces[name].y)


def _band(plan, name):
    """Return the height of a face's band in the drawing."""
    levels = np.unique(plan.y[plan.face == name]).size
    return _NARROW if levels == 1 else max(_WIDE, _ROW * levels)


def _cells(plan, name, bottom):
    """Return left, low, width and height of the cell of each station of a face."""
    mine = np.flatnonzero(plan.face == name)
    levels = np.unique(plan.y[mine])
    columns = edges(np.unique(plan.x[mine]), plan.faces[name].x_from, plan.faces[name].x_to)
    rows = np.linspace(bottom, bottom + _band(plan, name), levels.size + 1)
    cells = {}
    for station in mine.tolist():
        left, right = columns[float(plan.x[station])]
        k = int(np.searchsorted(levels, plan.y[station]))
        cells[station] = (left, rows[k], right - left, rows[k + 1] - rows[k])
    return cells


def edges(stations, first, last):
    """Return each station's share of the face: halfway to its neighbours, ends at the face's."""
    middles = (stations[1:] + stations[:-1]) / 2
    bounds = np.concatenate([[min(first, stations[0])], middles, [max(last, stations[-1])]])
    return {float(x): (bounds[i], bounds[i + 1]) for i, x in enumerate(stations)}


def _draw_cell(ax, cell, plan, station, greatest):
    """Draw one station's cell."""
    left, low, width, height = cell
    if plan.left_out[station]:
        ax.add_patch(Rectangle((left, low), width, height, fc="white", ec=INK, lw=0.5))
        ax.plot([left, left + width], [low, low + height], color=INK, lw=0.6)
        ax.plot([left, left + width], [low + height, low], color=INK, lw=0.6)
        return
    share = float(plan.depth[station]) / greatest if greatest > 0 else 0.0
    quarter = min(int(share * len(HATCHES)), len(HATCHES) - 1)
    look = {"fc": DEPTH(share), "hatch": HATCHES[quarter], "ec": _EDGE, "lw": 0.5}
    ax.add_patch(Rectangle((left, low), width, height, **look))


def _point_at(ax, cell, *, narrow):
    """Frame the cell of a governing station and point at it; on a wide face from inside."""
    left, low, width, height = cell
    points = 72 * inches(ax)[0] * width / np.ptp(ax.get_xlim())
    frame = min(1.6, points / 8)  # a narrow cell stays visible inside its frame
    ax.add_patch(Rectangle((left, low), width, height, fc="none", ec=INK, lw=frame))
    top = low + height + 0.17 if narrow else low + 0.86 * height
    ax.plot(
        left + width / 2,
        top,
        "v",
        color=INK,
        markersize=6 if narrow else 5,
        mew=0,
    )


def _number(cell, text):
    """Return the number of a cell."""
    left, low, width, height = cell
    return Number(text, left + width / 2, low + height / 2, width, height)


def _key(plan, greatest, digits, unit):
    """Return the legend: a hatch for each quarter of the greatest depth, and the other marks."""
    steps = shown(np.linspace(0, greatest, len(HATCHES) + 1), unit)
    entries = [
        Patch(
            fc=DEPTH((i + 0.5) / len(HATCHES)),
            hatch=hatch,
            ec=_EDGE,
            label=f"{steps[i]:.{digits}f} to {steps[i + 1]:.{digits}f} {unit_sign(unit)}",
        )
        for i, hatch in enumerate(HATCHES)
    ]
    if greatest == 0:
        entries = [Patch(fc=DEPTH(0.0), ec=_EDGE, label="nothing comes off")]
    if plan.left_out.any():
        entries.append(Patch(fc="white", ec=INK, label="crossed: left out"))
    if plan.governing:
        label = "governs the target"
        entries.append(Line2D([], [], marker="v", color=INK, linestyle="none", label=label))
    return entries

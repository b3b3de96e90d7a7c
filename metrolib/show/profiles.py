"""Profiles along the ways: deviation, target and twist, each with its uncertainty band."""

import numpy as np

from metrolib.form.wording import listing, nominal
from metrolib.heights.frame import relative_to
from metrolib.rebuild.findings import UNKNOWN
from metrolib.rebuild.wording import with_crown
from metrolib.show.style import (
    INK,
    MARKS,
    PALE,
    RUST,
    STEEL,
    dress,
    height_label,
    label_of,
    legend_below,
    settle,
    shown,
    write_magnification,
)

#: Coverage factor of every band drawn (a level of confidence near 95 %).
K = 2

_BAND = "± 2 standard uncertainties"


def draw_band(ax, x, middle, u, unit=None, *, named=True):
    """Draw a band of +-2 standard uncertainties around a line; nothing where u is None."""
    if u is None:
        return
    low, high = middle - K * u, middle + K * u
    if unit is not None:
        low, high = shown(low, unit), shown(high, unit)
    ax.fill_between(x, low, high, color=PALE, lw=0, label=_BAND if named else None)


def draw_heights(heights, ax, unit, datum=()):
    """Draw all faces less the machine's tilt and roll: against the datum, or their fit."""
    values, u, against = _in_one_frame(heights, datum)
    unknown = [
        name for name in dict.fromkeys(heights.face) if u[heights.face == name].max() > UNKNOWN
    ]
    drawn = 0
    for label, mine in _levels(heights):
        mine = mine[~heights.left_out[mine]]
        if not mine.size or heights.face[mine[0]] in unknown:
            continue
        x, z = heights.x[mine], values[mine]
        low, high = shown(z - K * u[mine], unit), shown(z + K * u[mine], unit)
        ax.fill_between(x, low, high, color=PALE, lw=0, alpha=0.6, label=None if drawn else _BAND)
        ax.plot(x, shown(z, unit), label=label_of(label), **line_look(drawn))
        drawn += 1
    title = f"heights of all faces, {against}"
    if unknown:
        title += f"; not determined and not drawn: {listing(unknown)}"
    dress(ax, y=height_label(unit), title=title)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def line_look(number):
    """Return the look of the line of one face among several: mark and filling tell it in grey."""
    return {
        "marker": MARKS[number % len(MARKS)],
        "markersize": 5.5,
        "lw": 1.0,
        "color": (STEEL, RUST, INK)[number % 3],
        "mfc": "white" if number % 2 else None,
    }


def _in_one_frame(heights, datum):
    """Return heights, their uncertainty and what they are drawn against.

    Where the readings do not tie the faces to each other, a common frame would drown all of them
    in its uncertainty; each is then drawn against its own line.
    """
    everything = sorted({*heights.face})
    values, cov = relative_to(heights, tuple(datum) or everything, everything)
    u = np.sqrt(np.maximum(np.diag(cov), 0.0))
    if (u <= UNKNOWN).all():
        against = f"against {', '.join(datum)}" if datum else "against the plane that fits all"
        return values, u, against
    for name in everything:
        mine = heights.face == name
        own, cov = relative_to(heights, (name,))
        values[mine], u[mine] = own[mine], np.sqrt(np.maximum(np.diag(cov)[mine], 0.0))
    return values, u, "each against its own line (how they lie to each other is not determined)"


def _levels(stations):
    """Yield a label and the stations of each face, in ascending x; of wide faces at each y."""
    for name in dict.fromkeys(stations.face):
        mine = np.flatnonzero(stations.face == name)
        levels = np.unique(stations.y[mine])
        for y in levels:
            here = mine[stations.y[mine] == y]
            label = str(name) if levels.size == 1 else f"{name}, y {y:g} mm"
            yield label, here[np.argsort(stations.x[here])]


def draw_straightness(result, ax, unit):
    """Draw deviations from the reference line, the zone that holds them, and its contacts."""
    order = np.argsort(result.x)
    x, deviation = result.x[order], result.deviation[order]
    draw_band(ax, x, deviation, _sorted(result.deviation_u, order), unit)
    ax.plot(x, shown(deviation, unit), color=STEEL, lw=1.2, marker=".", label="deviation")
    ax.axhline(0, color=INK, lw=0.8, ls=(0, (6, 3)), label=f"{result.reference} line")
    for edge in (deviation.max(), deviation.min()):
        ax.axhline(shown(edge, unit), color=INK, lw=0.5)
    draw_contacts(ax, result.x, result.deviation, result.contacts, unit)
    dress(ax, y=height_label(unit, "deviation"), title=result.in_words(unit))
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def _sorted(u, order):
    """Return uncertainties in the order of the drawing; None where there are none."""
    return None if u is None else u[order]


def draw_contacts(ax, x, deviation, contacts, unit):
    """Mark the stations that decide: triangles down on the highest, up on the lowest."""
    middle = (deviation.max() + deviation.min()) / 2
    for high, mark, label in ((True, "v", "upper contact"), (False, "^", "lower contact")):
        chosen = [i for i in contacts if (deviation[i] > middle) == high]
        if chosen:
            ax.plot(
                x[chosen],
                shown(deviation[chosen], unit),
                mark,
                color=RUST,
                markersize=8,
                mfc="none" if high else RUST,
                label=label,
            )


def draw_face_removal(plan, ax, face, unit):
    """Draw one face of a removal plan: heights, target, and the metal between them, hatched.

    Of a wide face each line of stations is drawn, and nothing hatched.
    """
    levels = [mine for _, mine in _levels(plan) if plan.face[mine[0]] == face]
    for i, mine in enumerate(levels):
        wide = len(levels) > 1
        label, look = "measured", {"lw": 1.2, "marker": ".", "color": STEEL}
        if wide:
            label, look = f"y {plan.y[mine[0]]:g} mm", line_look(i)
        else:
            _hatch_removal(plan, ax, mine, unit)
        height = _counted(plan, mine)
        draw_band(ax, plan.x[mine], height, plan.depth_u[mine], unit, named=i == 0)
        ax.plot(plan.x[mine], shown(height, unit), label=label, **look)
        named = f"target{with_crown(plan.decision.crown, unit)}" if i == 0 else None
        target = {"color": INK, "lw": 1.4, "label": named}
        ax.plot(plan.x[mine], shown(plan.target[mine], unit), **target)
    out = np.flatnonzero((plan.face == face) & plan.left_out)
    if out.size:
        height = shown(plan.relative_height[out], unit)
        ax.plot(plan.x[out], height, "x", color=INK, markersize=8, label="left out")
    here = [item.station for item in plan.governing if item.face == face]
    if here:
        height = shown(plan.relative_height[here], unit)
        ax.plot(plan.x[here], height, "v", color=INK, mfc="none", markersize=9, label="governs")
    dress(ax, y=height_label(unit), title=f"{face}: measured, target and what comes off")
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def _counted(plan, mine):
    """Return heights; what is left out leaves a gap."""
    return np.where(plan.left_out[mine], np.nan, plan.relative_height[mine])


def _hatch_removal(plan, ax, mine, unit):
    """Hatch what comes off along one line of stations."""
    height = _counted(plan, mine)
    ax.fill_between(
        plan.x[mine],
        shown(height - plan.depth[mine], unit),
        shown(height, unit),
        facecolor="none",
        edgecolor=RUST,
        hatch="////",
        linewidth=0,
        label="comes off",
    )


def draw_twist(result, ax, unit):
    """Draw the roll along the ways with the line that the total twist is read from."""
    order = np.argsort(result.x)
    x, roll = result.x[order], result.roll[order]
    draw_band(ax, x, roll, _sorted(result.roll_u, order))
    ax.plot(x, roll, color=STEEL, lw=1.2, marker=".", label="roll")
    # the least-squares line runs through the mean place and the mean roll
    fitted = roll.mean() + nominal(result.rate) * (x - x.mean()) / 1e3
    ax.plot(x, fitted, color=INK, lw=0.9, ls=(0, (6, 3)), label="fitted line")
    dress(ax, y="roll [mm/m]", title=result.in_words())
    legend_below(ax)
    settle(ax)
    return ax


def draw_parallelism(result, ax, unit):
    """Draw a face between the two lines parallel to the datum that hold it, from the lower one.

    How far apart the face and its datum stand is nothing that parallelism asks for.
    """
    order = np.argsort(result.x)
    above = result.height - result.height.min()
    x, height = result.x[order], above[order]
    draw_band(ax, x, height, _sorted(result.height_u, order), unit)
    ax.plot(x, shown(height, unit), color=STEEL, lw=1.2, marker=".", label="face")
    edges = {"color": INK, "lw": 0.6, "ls": (0, (6, 3))}
    ax.axhline(shown(above.max(), unit), **edges)
    ax.axhline(0, **edges, label="parallel to the datum")
    draw_contacts(ax, result.x, above, result.contacts, unit)
    dress(ax, y=height_label(unit, "above the lower line"), title=result.in_words(unit))
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_unworn(result, ax, unit):
    """Draw a face against the line through its unworn stretches, which are barred below."""
    order = np.argsort(result.x)
    x, height = result.x[order], -result.depth[order]
    draw_band(ax, x, height, _sorted(result.depth_u, order), unit)
    ax.plot(x, shown(height, unit), color=STEEL, lw=1.2, marker=".", label="face")
    ax.axhline(0, color=INK, lw=0.8, ls=(0, (6, 3)), label="line through the unworn stretches")
    low = ax.get_ylim()[0]
    for i, (start, end) in enumerate(result.stretches):
        ax.plot(
            [start, end],
            [low, low],
            color=INK,
            lw=5,
            solid_capstyle="butt",
            label="unworn" if i == 0 else None,
        )
    dress(ax, y=height_label(unit, "above the unworn line"), title=result.in_words(unit))
    legend_below(ax)
    write_magnification(ax, unit)
    return ax

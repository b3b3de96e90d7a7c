"""Cross-sections: a tool on its spacer and its pad; and what each order of faces leaves."""

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from metrolib.form.wording import nominal
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
    plain,
    shown,
    write_magnification,
)

_SPACER = 12.0  # width that a spacer is drawn with, its edge under the tool's line [mm]


def draw_spacer_cut(result, ax, unit):
    """Draw the faces in cross-section, with spacer, pad and the tool that rests on them.

    Parameters
    ----------
    result : SpacerCut
    ax : matplotlib.axes.Axes
    unit : str
        Display unit of heights, which count from the target of the face that is cut.

    Returns
    -------
    matplotlib.axes.Axes
        Across the ways to scale, heights magnified; the metal is cut off below, and so is the
        spacer, whose height is written in the title.
    """
    section, bridge = result.section, result.bridge
    one, rest = section.faces[result.face], section.faces[bridge.rest]
    slope = nominal(result.tilt) / 1e3
    middle, pad = nominal(result.allowance), nominal(result.pad)

    def over(height, y):
        """Return a height counted from the plane of the target."""
        return nominal(height) - one.target - section.tilt / 1e3 * (y - one.y)

    def tool(y):
        return middle + slope * (y - one.y)

    tops = [over(face.height, face.y) for face in section.faces.values()]
    lines = [over(face.target, face.y) for face in section.faces.values()]
    span = max(*tops, *lines, tool(bridge.spacer_y), tool(rest.y)) - min(0.0, *lines)
    floor = min(0.0, *lines) - 0.35 * span
    for face, top, line in zip(section.faces.values(), tops, lines, strict=True):
        _draw_face(ax, face, top, line, floor, unit)
    low, high = one.y - one.width / 2, one.y + one.width / 2
    _draw_metal_off(ax, (low, high), tool, over(one.height, one.y), unit)
    _block(ax, rest.y, 0.5 * rest.width, over(rest.height, rest.y), tool(rest.y), unit, "....")
    outward = np.sign(bridge.spacer_y - rest.y)
    _block(ax, bridge.spacer_y + outward * _SPACER / 2, _SPACER, floor, tool(bridge.spacer_y), unit)
    ends = np.array([bridge.spacer_y + outward * 1.5 * _SPACER, rest.y - outward * rest.width / 2])
    ax.plot(ends, shown(tool(ends), unit), color=INK, lw=2.2)
    for name, face in section.faces.items():
        ax.annotate(
            plain(name),
            (face.y, float(shown(floor, unit))),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=7,
            color=INK,
            bbox={"boxstyle": "round,pad=0.12", "fc": "white", "ec": "none", "alpha": 0.85},
        )
    ax.set_ylim(float(shown(floor, unit)), float(shown(floor + 1.6 * span, unit)))
    dress(
        ax,
        x="place across the ways y [mm]",
        y=height_label(unit, "height over the target"),
        title=f"at x {section.x:g} mm: {result.in_words(unit)}",
    )
    legend_below(ax, _key(pad))
    write_magnification(ax, unit)
    return ax


def _draw_metal_off(ax, edges, tool, top, unit):
    """Hatch what comes off, where the tool ends below the face."""
    y = np.linspace(*edges, 41)
    end = np.minimum(tool(y), top)
    low, high = shown(end, unit), np.full(y.size, float(shown(top, unit)))
    ax.fill_between(y, low, high, facecolor="none", edgecolor=RUST, hatch="////", linewidth=0)


def _draw_face(ax, face, top, line, floor, unit):
    """Draw the metal of one face, and its target."""
    left, right = face.y - face.width / 2, face.y + face.width / 2
    _block(ax, face.y, face.width, floor, top, unit, None, fc=PALE)
    ax.plot([left, right], [float(shown(line, unit))] * 2, color=INK, lw=1.4, ls=(0, (5, 2)))


def _block(ax, middle, width, low, high, unit, hatch="xx", fc="white"):
    """Draw a block of metal, or of a pad."""
    low, high = float(shown(low, unit)), float(shown(high, unit))
    place = (middle - width / 2, low)
    ax.add_patch(Rectangle(place, width, high - low, fc=fc, ec=STEEL, hatch=hatch, lw=0.8))


def _key(pad):
    """Return the legend."""
    entries = [
        Line2D([], [], color=INK, lw=2.2, label="underside of the tool at the stop"),
        Line2D([], [], color=INK, lw=1.4, ls=(0, (5, 2)), label="target"),
        Patch(fc="none", ec=RUST, hatch="////", lw=0, label="comes off"),
        Patch(fc=PALE, ec=STEEL, label="face as it stands"),
        Patch(fc="white", ec=STEEL, hatch="xx", label="spacer"),
    ]
    if pad > 0:
        entries.append(Patch(fc="white", ec=STEEL, hatch="....", label="pad"))
    return entries


def draw_face_orders(result, ax, unit):
    """Draw the tilt left across each face, an order of the faces a line.

    Parameters
    ----------
    result : FaceOrders
    ax : matplotlib.axes.Axes
    unit : str
        Display unit.

    Returns
    -------
    matplotlib.axes.Axes
        A face a mark; a cross lies over one that cannot be done.
    """
    rows = {", ".join(order): cuts for order, cuts in result.first_go.items()}
    rows["once all are down"] = result.all_down
    faulty = []
    for number, name in enumerate(result.all_down):
        across = np.array([nominal(cuts[name].across) for cuts in rows.values()])
        ax.plot(
            shown(across, unit),
            np.arange(len(rows)),
            MARKS[number % len(MARKS)],
            color=(STEEL, RUST, INK)[number % 3],
            mfc="none" if number % 2 else None,
            ms=7,
            label=label_of(name),
        )
        faulty += [
            (float(shown(nominal(cuts[name].across), unit)), row)
            for row, cuts in enumerate(rows.values())
            if cuts[name].fault
        ]
    if faulty:
        ax.plot(*zip(*faulty, strict=True), "x", color=INK, ms=12, label="cannot be done")
    ax.axvline(0, color=INK, lw=0.8)
    ax.set_yticks(np.arange(len(rows)), [plain(row) for row in rows])
    ax.set_ylim(len(rows) - 0.5, -0.5)
    dress(
        ax,
        x=height_label(unit, "tilt left across the face's width"),
        title="what each order of the faces leaves",
    )
    legend_below(ax)
    return ax

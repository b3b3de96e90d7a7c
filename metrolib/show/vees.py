"""Vees and dovetails: the saddle's path in both planes, and cross-sections with their pins."""

import numpy as np

from metrolib.form.vee_pins import angle_in_words, millimetres
from metrolib.form.wording import measured_length, nominal
from metrolib.show.profiles import draw_band
from metrolib.show.style import (
    INK,
    PALE,
    RUST,
    STEEL,
    dress,
    height_label,
    legend_below,
    settle,
    shown,
    write_magnification,
)

_ROOM = 1.25  # a cross-section is drawn this much larger than what its pins reach


def draw_vee(result, ax, unit):
    """Draw how far the saddle stands off a straight path, in the vertical and horizontal plane."""
    order = np.argsort(result.x)
    x = result.x[order]
    planes = (
        (result.vertical, "upward (vertical plane)", {"color": STEEL, "marker": "o"}),
        (result.horizontal, "toward +y (horizontal plane)", {"color": RUST, "marker": "s"}),
    )
    for number, (path, label, look) in enumerate(planes):
        deviation = path.deviation[order]
        u = None if path.deviation_u is None else path.deviation_u[order]
        draw_band(ax, x, deviation, u, unit, named=number == 0)
        look |= {"mfc": "white"} if number else {}
        ax.plot(x, shown(deviation, unit), lw=1.2, markersize=4, label=label, **look)
    ax.axhline(0, color=INK, lw=0.8, ls=(0, (6, 3)), label="straight path")
    said = (
        f"saddle on the vee: straightness {measured_length(result.vertical.value, unit)} in the "
        f"vertical plane, {measured_length(result.horizontal.value, unit)} in the horizontal one "
        f"({result.vertical.reference})"
    )
    dress(ax, y=height_label(unit, "saddle off its path"), title=said)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_vee_over_pins(result, ax, unit):
    """Draw the cross-section of a hollow vee with its pins, to scale."""
    apex = np.array([nominal(result.apex_across or 0.0), nominal(result.apex)])
    reach = _ROOM * (result.touches.max() + result.diameter.max() / 2)
    normals = np.deg2rad(result.normals)
    # a flank runs square to its normal, upward
    flanks = apex + reach * np.array([[-np.cos(normals[0]), np.sin(normals[0])], [0, 0]])
    flanks[1] = apex + reach * np.array([np.cos(normals[1]), -np.sin(normals[1])])
    low = apex[1] - 0.2 * reach
    _metal(ax, [flanks[0], apex, flanks[1], (flanks[1, 0], low), (flanks[0, 0], low)])
    ax.plot(*zip(flanks[0], apex, flanks[1], strict=True), color=INK, lw=1.6, label="flanks")
    lean = np.deg2rad(nominal(result.lean))
    away = np.sin(np.deg2rad(nominal(result.half_angle)))
    for diameter, style in zip(result.diameter, ("-", (0, (4, 2))), strict=False):
        centre = apex + diameter / 2 / away * np.array([np.sin(lean), np.cos(lean)])
        _pin(ax, centre, diameter, style)
    ax.plot(*apex, "v", color=RUST, markersize=7, label=f"apex at {millimetres(result.apex)}")
    title = f"half angle {angle_in_words(result.half_angle)}"
    return _section(ax, title, "height [mm]")


def draw_dovetail(result, ax, unit):
    """Draw the cross-section of a dovetail with its smallest pins, to scale."""
    width, diameter = nominal(result.width), float(result.diameter.min())
    angles = np.deg2rad(result.angles)
    tall = _ROOM * diameter
    side = -1.0 if result.internal else 1.0  # air lies outside the roots, or inside
    feet = np.array([-width / 2, width / 2])
    faces = angles if angles.size == 2 else np.array([np.pi / 2, angles[0]])
    tops = feet + side * np.array([-1.0, 1.0]) * tall / np.tan(faces)
    out = feet + side * np.array([-1.0, 1.0]) * 2 * diameter
    line = [(tops[0], tall), (feet[0], 0.0), (feet[1], 0.0), (tops[1], tall)]
    if result.internal:
        edge = [feet[0] - diameter, feet[1] + diameter]
        body = [(edge[0], tall), *line, (edge[1], tall), (edge[1], -tall / 2)]
        _metal(ax, [*body, (edge[0], -tall / 2)])
        ax.plot(*zip(*line, strict=True), color=INK, lw=1.6, label="flanks and base")
    else:
        ends = [out[0] if angles.size == 2 else feet[0], out[1]]
        outline = [(ends[0], 0.0), (feet[0], 0.0), *line[::3], (feet[1], 0.0), (ends[1], 0.0)]
        _metal(ax, [*outline, (ends[1], -tall / 2), (ends[0], -tall / 2)])
        ax.plot(*zip(*outline, strict=True), color=INK, lw=1.6, label="flanks and base")
    gauged = [(feet[1], 1.0, angles[-1])]
    gauged += [(feet[0], -1.0, angles[0])] if angles.size == 2 else []
    for number, (foot, outward, angle) in enumerate(gauged):
        centre = (foot + side * outward * diameter / 2 / np.tan(angle / 2), diameter / 2)
        _pin(ax, centre, diameter, "-", named=number == 0)
    ax.plot(feet, [0, 0], "^", color=RUST, markersize=7, label=f"width {millimetres(result.width)}")
    return _section(ax, str(result), "over the base [mm]")


def _metal(ax, corners):
    """Fill the metal of a cross-section, hatched so that a grey print tells it from air."""
    ax.fill(*zip(*corners, strict=True), facecolor=PALE, edgecolor=STEEL, hatch="///", lw=0)


def _pin(ax, centre, diameter, style, *, named=True):
    """Draw a pin."""
    turn = np.linspace(0, 2 * np.pi, 145)
    x, y = centre[0] + diameter / 2 * np.cos(turn), centre[1] + diameter / 2 * np.sin(turn)
    label = f"pin of {diameter:g} mm" if named else None
    ax.plot(x, y, color=INK, lw=1.2, ls=style, label=label)
    ax.plot(*centre, "+", color=INK, markersize=6)


def _section(ax, title, height):
    """Dress a cross-section, drawn to one scale both ways."""
    ax.set_aspect("equal", adjustable="datalim")
    dress(ax, x="across the ways y [mm]", y=height, title=title)
    legend_below(ax)
    settle(ax)
    return ax

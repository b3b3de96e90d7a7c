"""What the lowering does: the cross-section before and after, and offsets along the travel."""

import numpy as np

from metrolib.form.wording import nominal
from metrolib.rebuild.lowering.carried_feet import holds
from metrolib.rebuild.lowering.contact import point_rows
from metrolib.rebuild.lowering.lowering_words import numbers, spreads
from metrolib.show.profiles import draw_band
from metrolib.show.style import (
    INK,
    RUST,
    STEEL,
    dress,
    height_label,
    legend_below,
    plain,
    settle,
    shown,
    write_magnification,
)
from metrolib.units import show_length

#: The largest movement takes so much of the section's breadth, and of the narrowest face's width.
_OF_SECTION, _OF_FACE = 0.16, 0.6

_LEAST = 1e-5  # movements below this are drawn as nothing [mm]
_NEAR = 0.3  # of the section's breadth: faces nearer than this have their names apart
_NAME_STEP = 0.07  # of the section's breadth from one line of names to the next


def draw_lowering(result, ax, unit):
    """Draw faces and body across the ways before and after, movements magnified.

    Drawn where the body moves most along its travel, seen from x = 0 along +x.
    """
    body, motions = result.body, _plain(result)
    points = {
        name: np.array([body.y.get(name, face.y), body.z.get(name, 0.0)])
        for name, face in result.faces.items()
    }
    moves = _moves(result, points, motions)
    place = int(moves.argmax())
    motion, most = motions[place], max(moves[place], _LEAST)
    taken = {name: depths[place].mean() for name, depths in result.taken.items()}
    span = _span(result, points)
    narrowest = min(face.width for face in result.faces.values())
    times = _round(min(_OF_SECTION * span, _OF_FACE * narrowest) / most)
    for number, (name, face) in enumerate(result.faces.items()):
        _draw_face(ax, face, points[name], times * taken[name], first=number == 0)
    _draw_body(ax, result, points, motion * times, span)
    _name_faces(ax, points, span)
    dress(
        ax,
        x=f"across the ways y [mm]; movements drawn {times:,} times larger",
        y="height over the flats [mm]",
        title=f"{body.name} at {result.x[place]:g} mm, seen along +x; largest movement "
        f"{show_length(most, unit)}",
    )
    ax.set_aspect("equal", adjustable="datalim")
    ax.invert_xaxis()  # seen along +x with z up, +y is on the left
    legend_below(ax)
    settle(ax)
    return ax


def _plain(result):
    return numbers(result.motion.ravel()).reshape(result.motion.shape)


def _span(result, points):
    """Return the size of the section across the ways [mm]."""
    return max(np.ptp([y for y, _ in points.values()]), max(f.width for f in result.faces.values()))


def _moves(result, points, motions):
    """Return the largest movement in the picture of each place along the ways, shape (P,) [mm]."""
    y, z = np.array(list(points.values())).T
    side, up = point_rows(0 * y, y - result.y, z)
    taken = np.stack(list(result.taken.values()), axis=1).mean(axis=2)
    return np.abs(np.hstack([motions @ side.T, motions @ up.T, taken])).max(axis=1)


def _round(number):
    """Return a magnification with one digit, at least 1."""
    digits = int(np.floor(np.log10(max(number, 1.0))))
    return max(int(round(number, -digits)), 1)


def _draw_face(ax, face, middle, depth, *, first):
    """Draw a face as it was and as it is, the metal between them hatched."""
    along, out = np.array([face.up, -face.across]), np.array([face.across, face.up])
    before = middle + np.outer([-0.5, 0.5], along) * face.width
    after = before - depth * out
    ax.plot(*before.T, color=INK, lw=0.8, ls=(0, (4, 2)), label="face before" if first else None)
    ax.plot(*after.T, color=INK, lw=2.0, label="face after" if first else None)
    if depth:
        ax.fill(
            *np.concatenate([before, after[::-1]]).T,
            facecolor="none",
            edgecolor=RUST,
            hatch="/////",
            lw=0,
            label="came off" if first else None,
        )


def _draw_body(ax, result, points, motion, span):
    """Draw the body as a block over the points that carry it, before and after."""
    carrying = [point for name, point in points.items() if holds(result.faces[name])]
    low = np.array(sorted(carrying, key=lambda point: point[0]))
    lid = low[:, 1].max() + 0.22 * span
    outline = np.vstack([low, [low[-1, 0], lid], [low[0, 0], lid], low[:1]])
    side, up = point_rows(0 * outline[:, 0], outline[:, 0] - result.y, outline[:, 1])
    moved = outline + np.column_stack([side @ motion, up @ motion])
    name = result.body.name
    ax.plot(*outline.T, color=STEEL, lw=0.9, ls=(0, (4, 2)), label=f"{name} before")
    ax.plot(*moved.T, color=STEEL, lw=1.6, label=f"{name} after")


def _name_faces(ax, points, span):
    """Write the names of the faces below them, in turns lower so that neighbours do not meet."""
    places = {}
    for name in sorted(points, key=lambda name: -points[name][1]):
        places.setdefault(float(points[name][0]), []).append(name)
    low, step = ax.dataLim.y0, _NAME_STEP * span
    for number, y in enumerate(sorted(places)):
        ax.annotate(
            plain("\n".join(places[y])),  # the upper one first
            (y, min(points[name][1] for name in places[y])),
            (y, low - (0.6 + number % 3) * step),
            ha=_away(y, places, span),
            va="top",
            fontsize=7,
            color=INK,
            arrowprops={"arrowstyle": "-", "lw": 0.4, "color": INK, "shrinkA": 0, "shrinkB": 2},
        )
    ax.update_datalim([(y, low - (1.1 + min(len(places), 3)) * step)])


def _away(y, places, span):
    """Return the alignment that keeps a name off the line to the nearest other face."""
    others = [other - y for other in places if other != y]
    nearest = min(others, key=abs, default=span)
    if abs(nearest) > _NEAR * span:
        return "center"
    return "left" if nearest > 0 else "right"  # larger y is further left


def draw_drive_offsets(result, ax, unit):
    """Draw the offsets of half-nut and pinion along the travel, with the screw's limit."""
    lines = {
        "half-nut above the screw": (result.screw_height, {"marker": "o", "color": STEEL}),
        "half-nut towards +y of it": (
            result.screw_side,
            {"marker": "s", "color": RUST, "mfc": "white"},
        ),
        "change of the rack's backlash": (
            result.backlash,
            {"marker": "^", "color": INK, "ls": (0, (4, 2))},
        ),
    }
    drawn = {label: line for label, line in lines.items() if line[0] is not None}
    for number, (label, (values, look)) in enumerate(drawn.items()):
        draw_band(ax, result.x, numbers(values), spreads(values), unit, named=number == 0)
        ax.plot(result.x, shown(numbers(values), unit), label=label, lw=1.2, markersize=4, **look)
    if result.screw_height is not None:
        for edge in (-result.limit, result.limit):
            label = "limit of the half-nut" if edge > 0 else None
            ax.axhline(shown(edge, unit), color=INK, lw=0.8, ls=":", label=label)
    dress(ax, y=height_label(unit, "offset"), title="saddle's drive against what stayed on the bed")
    legend_below(ax)
    _finish(ax, unit, result.x)
    return ax


def draw_turned_diameter(result, ax, unit):
    """Draw the error of the diameter along the travel."""
    error = numbers(result.error)
    draw_band(ax, result.x, error, spreads(result.error), unit)
    ax.plot(
        result.x, shown(error, unit), color=STEEL, lw=1.2, marker="o", markersize=4, label="error"
    )
    ax.axhline(0, color=INK, lw=0.8, ls=(0, (6, 3)), label="diameter as set before")
    dress(
        ax,
        y=height_label(unit, "error of the diameter"),
        title=f"turned diameter at radius {result.radius:g} mm, varies by "
        f"{show_length(nominal(result.value), unit)}",
    )
    legend_below(ax)
    _finish(ax, unit, result.x)
    return ax


def _finish(ax, unit, x):
    """Write the magnification, where there is a length to compare with."""
    if np.ptp(x) > 0:
        write_magnification(ax, unit)
    else:
        settle(ax)

"""Maps: wide faces by numbers on the plan, faces together, and how the readings agree."""

import numpy as np

from metrolib.show.numbers import Number, write_numbers
from metrolib.show.profiles import draw_band, line_look
from metrolib.show.style import (
    DEPTH,
    INK,
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
    write_magnification,
)
from metrolib.units import unit_sign

#: Bubbles of a wide face: greatest diameter, and that of the lowest as a share of it [points].
_BUBBLE, _SMALLEST = 24.0, 0.75

_LABELLED = 4  # suspects that are named in the drawing


def draw_flatness(result, ax, unit):
    """Draw a wide face from above: the deviation at each station as number, shade and size."""
    deviation = shown(result.deviation, unit)
    share = (deviation - deviation.min()) / max(np.ptp(deviation), 1e-12)
    ax.plot(result.x, result.y, ls="none")  # sets the limits; the bubbles need the final scale
    ax.margins(0.12)
    dress(
        ax,
        y="place across y [mm]",
        title=f"{result.in_words(unit)}; numbers: deviation in {unit_sign(unit)}",
    )
    contacts = list(result.contacts)
    square = {"marker": "s", "color": RUST, "mfc": "none", "mew": 1.4, "ls": "none"}
    (marked,) = ax.plot(
        result.x[contacts], result.y[contacts], **square, markersize=9, label="contacts"
    )
    legend_below(ax)
    settle(ax)
    largest = min(_BUBBLE, 0.8 * _nearest(ax, result.x, result.y))
    marked.set_markersize(1.25 * largest)
    ax.scatter(
        result.x,
        result.y,
        s=(largest * (_SMALLEST + (1 - _SMALLEST) * share)) ** 2,
        c=share,
        cmap=DEPTH,
        vmin=0,
        vmax=1.3,
        edgecolors=INK,
        linewidths=0.6,
    )
    digits = 0 if unit == "um" and np.ptp(deviation) >= 10 else 1
    write_numbers(
        ax,
        [
            Number(f"{deviation[i]:+.{digits}f}", result.x[i], result.y[i])
            for i in dict.fromkeys([*contacts, *range(result.x.size)])
        ],
    )
    return ax


def _nearest(ax, x, y):
    """Return the least distance between two stations in the drawing [points]."""
    width, height = inches(ax)
    across = 72 * width * (x[:, None] - x) / np.ptp(ax.get_xlim())
    upward = 72 * height * (y[:, None] - y) / np.ptp(ax.get_ylim())
    apart = np.hypot(across, upward)
    return float(apart[apart > 0].min(initial=np.inf))


def draw_coplanarity(result, ax, unit):
    """Draw the deviations of several faces from their common plane, each with its own mark."""
    together, first, lines = result.together, 0, 0
    for name, face in result.faces.items():
        mine = first + np.arange(face.deviation.size)
        first += mine.size
        levels = np.unique(together.y[mine])
        for y in levels:
            here = mine[together.y[mine] == y]
            here = here[np.argsort(together.x[here])]
            u = None if together.deviation_u is None else together.deviation_u[here]
            draw_band(ax, together.x[here], together.deviation[here], u, unit, named=lines == 0)
            ax.plot(
                together.x[here],
                shown(together.deviation[here], unit),
                label=label_of(name if levels.size == 1 else f"{name}, y {y:g} mm"),
                **line_look(lines),
            )
            lines += 1
    contacts = list(together.contacts)
    ax.plot(
        together.x[contacts],
        shown(together.deviation[contacts], unit),
        "o",
        color=INK,
        mfc="none",
        markersize=12,
        ls="none",
        label="contacts",
    )
    ax.axhline(0, color=INK, lw=0.8, ls=(0, (6, 3)), label="common plane")
    title = result.in_words(unit).splitlines()[0]
    dress(ax, y=height_label(unit, "deviation"), title=title)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_checks(checks, ax, unit):
    """Draw each reading's normalised residual in the order of the readings, suspects marked."""
    position = np.arange(checks.normalised.size)
    tested = np.isfinite(checks.normalised)
    for bound, label in ((-checks.critical, None), (checks.critical, "beyond this it stands out")):
        ax.axhline(bound, color=INK, lw=0.8, ls=(0, (6, 3)), label=label)
    ax.set_xlim(-0.5 - 0.02 * position.size, position.size - 0.5 + 0.02 * position.size)
    if tested.any():
        ax.plot(position[tested], checks.normalised[tested], ".", color=STEEL, label="readings")
    else:
        ax.text(0.5, 0.5, "no reading is checked by others", transform=ax.transAxes, ha="center")
    suspects = list(checks.suspects)
    if suspects:
        ax.plot(
            position[suspects],
            checks.normalised[suspects],
            "D",
            color=RUST,
            mfc="none",
            markersize=9,
            label="suspect",
        )
    for i in suspects[:_LABELLED]:
        to_right = position[i] < position.size / 2
        ax.annotate(
            plain(f"{checks.traverse[i]}, {checks.x[i]:g} mm"),
            (position[i], checks.normalised[i]),
            xytext=(8 if to_right else -8, 0),
            textcoords="offset points",
            fontsize=7,
            ha="left" if to_right else "right",
            va="center",
            color=INK,
        )
    dress(
        ax,
        x="reading, in the order of adjustment",
        y="residual / its standard deviation",
        title=checks.verdict,
    )
    legend_below(ax)
    settle(ax)
    return ax

"""Straightedges on supports and on ways, and bodies bowed by heat, drawn much magnified."""

import numpy as np

from metrolib.form import wording
from metrolib.show.profiles import draw_band, line_look
from metrolib.show.style import (
    INK,
    PALE,
    RUST,
    STEEL,
    dress,
    height_label,
    legend_below,
    shown,
    write_magnification,
)
from metrolib.units import show_length

_DASHED = (0, (6, 3))
_ALONG = "place along the straightedge [mm]"


def draw_sag(result, ax, unit):
    """Draw a straightedge on its supports, and the straight line that it is taken for."""
    ax.plot(result.x, shown(-result.sag, unit), color=STEEL, lw=2.2, label="sole")
    _draw_supports(ax, result.supports)
    ax.axhline(0, color=INK, lw=0.8, ls=_DASHED, label="line through the supports")
    ax.plot(
        result.x[[0, -1]],
        shown(-result.sag[[0, -1]], unit),
        color=INK,
        lw=0.8,
        ls=":",
        label="line through the ends",
    )
    looks = "convex" if wording.nominal(result.error) > 0 else "hollow"
    title = (
        f"sags {wording.measured_length(result.value, unit)} peak to valley; a way looks "
        f"{wording.length(wording.magnitude(result.error), unit)} more {looks} than it is"
    )
    dress(ax, x=_ALONG, y=height_label(unit), title=title)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def _draw_supports(ax, supports):
    ax.plot(supports, [0, 0], "^", color=RUST, markersize=11, label="support", zorder=3)


def draw_best_supports(result, ax, unit):
    """Draw the sag on each of the best pairs of supports; that at the ends is only said."""
    *best, ends = result.pairs
    for number, pair in enumerate(best):
        look = {**line_look(number), "markevery": (7 * number, 25)}
        label = f"{pair.name}: {pair.spacing:.4f} of the length apart"
        ax.plot(pair.sag.x, shown(-pair.sag.sag, unit), label=label, **look)
        ax.plot(pair.sag.supports, [0, 0], "|", color=look["color"], markersize=12)
    ax.axhline(0, color=INK, lw=0.8, ls=_DASHED, label="line through the supports")
    size = wording.length(ends.sag.value, unit)
    dress(ax, x=_ALONG, y=height_label(unit), title=f"held at its ends it would sag {size}")
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_hidden_bow(result, ax, unit):
    """Draw a way with the bow that is hidden, and the straightedge laid on it in three places."""
    x = np.linspace(0, result.length, 401)
    bow = wording.nominal(result.value)
    ax.fill_between(x, shown(_arc(result, x), unit), shown(-0.15 * bow, unit), color=PALE, lw=0)
    ax.plot(x, shown(_arc(result, x), unit), color=INK, lw=1.4, label="way, hollow")
    reach = min(result.straightedge, result.length)
    for number, start in enumerate(np.linspace(0, result.length - reach, 3)):
        ends = np.array([start, start + reach])
        ax.plot(
            ends,
            shown(_arc(result, ends), unit),
            color=RUST,
            lw=3,
            solid_capstyle="butt",
            label="straightedge, film under its middle" if number == 0 else None,
        )
    ax.axhline(0, color=INK, lw=0.5, ls=_DASHED)
    title = (
        f"film {wording.length(result.film, unit)} under a straightedge of "
        f"{result.straightedge:.10g} mm: {wording.length(result.value, unit)} of bow is hidden"
    )
    dress(ax, y=height_label(unit), title=title)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def _arc(result, x):
    return wording.nominal(result.value) * (2 * x / result.length - 1) ** 2


def draw_print_under(result, ax, unit):
    """Draw the way under a straightedge, its sole, what carries it and what prints."""
    z, sole = shown(result.z, unit), shown(result.sole, unit)
    film = shown(result.sole - result.film, unit)
    ax.fill_between(result.x, film, sole, color=PALE, lw=0, label="film")
    ax.plot(result.x, z, color=STEEL, lw=1.2, label="way")
    ax.plot(result.x, sole, color=INK, lw=2, label="sole")
    prints = result.printed
    ax.plot(result.x[prints], z[prints], "o", color=INK, markersize=4, label="prints")
    at = list(result.contacts)
    ax.plot(result.x[at], z[at], "^", color=RUST, markersize=10, label="carries the straightedge")
    dress(ax, y=height_label(unit), title=result.in_words(unit))
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_dressing(result, ax, unit):
    """Draw a way before and after it was dressed by the print, with what came off hatched."""
    before, after = shown(result.before, unit), shown(result.after, unit)
    ax.fill_between(
        result.x,
        after,
        before,
        facecolor="none",
        edgecolor=RUST,
        hatch="////",
        linewidth=0,
        label="came off",
    )
    ax.plot(result.x, before, color=RUST, lw=0.9, ls=_DASHED, label="before")
    ax.plot(result.x, after, color=STEEL, lw=1.8, label="after")
    first = result.starts[0] + np.array([0, result.hidden.straightedge])
    low = float(after.min() - 0.06 * (before.max() - after.min()))
    ax.plot(first, [low, low], color=INK, lw=4, solid_capstyle="butt", label="first placing")
    lie = "high" if result.value > 0 else "low"
    title = (
        f"from the {result.begin}, {result.prints} prints: ends left "
        f"{show_length(abs(result.value), unit)} {lie}, "
        f"{show_length(result.mean_removed, unit)} came off on the mean"
    )
    dress(ax, y=height_label(unit), title=title)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_first_end(result, ax, unit):
    """Draw the way against the line of its middle, with the height of each end written at it."""
    above = shown(result.above, unit)
    draw_band(ax, result.x, result.above, result.above_u, unit)
    ax.plot(result.x, above, color=STEEL, lw=1.2, marker=".", label="way")
    ax.axhline(0, color=INK, lw=0.8, ls=_DASHED, label="line of the middle")
    middle = [result.middle_from, result.middle_to]
    ax.plot(middle, [0, 0], color=INK, lw=5, solid_capstyle="butt", label="middle")
    for end, place, side in (("near end", 0, "left"), ("far end", -1, "right")):
        first = ", take first" if result.first == end else ""
        size = show_length(float(result.above[place]), unit, sign=True)
        ax.annotate(
            f"{size}{first}",
            (result.x[place], above[place]),
            (0, 8 if above[place] >= 0 else -16),
            textcoords="offset points",
            ha=side,
            fontsize=9,
            fontweight="bold" if first else None,
        )
    ax.margins(y=0.18)
    dress(ax, y=height_label(unit, "above the middle"), title=None)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_thermal_bow(result, ax, unit):
    """Draw a body bowed by heat, from the side: its middle line, and which side is warm."""
    length, bow = wording.nominal(result.length), wording.nominal(result.value)
    x = np.linspace(0, length, 201)
    line = bow * (1 - (2 * x / length - 1) ** 2)
    half = 0.6 * abs(bow) if bow else 0.001
    ax.fill_between(x, shown(line - half, unit), shown(line + half, unit), color=PALE, lw=0)
    for side in (-half, half):
        ax.plot(x, shown(line + side, unit), color=INK, lw=1)
    ax.plot(x, shown(line, unit), color=STEEL, lw=1.8, label=f"{result.of}, middle line")
    ax.axhline(0, color=INK, lw=0.8, ls=_DASHED, label="line through the ends")
    difference = wording.nominal(result.difference)
    warm, cold = (half, -half) if difference > 0 else (-half, half)
    for side, word in ((warm, "warmer"), (cold, "colder")) if difference else ():
        place = shown(line[100] + 0.75 * side, unit)
        ax.text(length / 2, place, word, ha="center", va="center", fontsize=9)
    shows = "crown" if wording.nominal(result.error) > 0 else "hollow"
    title = (
        f"{abs(difference):.2f} K between top and underside: "
        f"{wording.length(wording.magnitude(result.value), unit)} of false {shows} on the way"
        if difference
        else result.in_words(unit)
    )
    dress(ax, x=f"place along the {result.of} [mm]", y=height_label(unit), title=title)
    legend_below(ax)
    write_magnification(ax, unit)
    return ax

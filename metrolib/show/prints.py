"""The print log on the plan view: what took blue, what the heights say, and where they clash."""

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from metrolib.rebuild.bearing.laying import Laying
from metrolib.show.style import INK, RUST, STEEL, dress, label_of, legend_below, settle

#: Room of one laying within its face, and between faces; share of it that the bar takes.
_ROW, _GAP, _BAR = 1.0, 0.45, 0.46

#: Beyond this probability the heights say that blue comes off, below one less it that it does not.
_LIKELY = 0.95

_BLUE = {"fc": STEEL, "hatch": "xxx", "ec": "white", "lw": 0.0}


def room_needed(log):
    """Return how high the plan view should be drawn [inch]."""
    return round(min(1.8 + 0.42 * (len(log.entries) + 0.45 * len(_faces(log))), 9.0), 1)


def draw_print_log(log, ax, unit):
    """Draw the faces from above, each print as a bar, hatched where it took blue.

    Parameters
    ----------
    log : PrintLog
    ax : matplotlib.axes.Axes
    unit : str
        Display unit of the gaps that are written beside contradictions.

    Returns
    -------
    matplotlib.axes.Axes
        Under each bar the stations: a full mark where the heights say that blue comes off, an
        open one where they say that it does not, a line where they cannot tell; a cross over the
        bar where they contradict it.
    """
    ticks, bottom, ends = {}, 0.0, []
    for name in _faces(log):
        face = log.faces[name]
        numbers = [i for i, entry in enumerate(log.entries) if entry.face == name]
        height = _ROW * len(numbers)
        place = (face.x_from, bottom), face.x_to - face.x_from, height
        ax.add_patch(Rectangle(*place, fc="none", ec=INK, lw=0.8))
        for row, number in enumerate(numbers):
            _draw_print(log, number, ax, bottom + _ROW * row)
        ticks[label_of(name)] = bottom + height / 2
        bottom += height + _GAP
        ends += [face.x_from, face.x_to, *(at for i in numbers for at in log.entries[i].laid)]
    ax.set_ylim(-_GAP / 2, max(bottom, _GAP))
    if ends:
        span = max(ends) - min(ends)
        ax.set_xlim(min(ends) - 0.01 * span, max(ends) + 0.01 * span)
    ax.set_yticks(list(ticks.values()), list(ticks))
    dress(ax, title=log.in_words(unit).split("\n")[0] + " (seen from above)")
    ax.spines["left"].set_visible(False)
    ax.tick_params(axis="y", length=0)
    legend_below(ax, _key(log))
    settle(ax)
    return ax


def _faces(log):
    """Return the names of the faces with prints, the one at the smallest y first."""
    named = dict.fromkeys(entry.face for entry in log.entries)
    return sorted(named, key=lambda name: log.faces[name].y)


def _draw_print(log, number, ax, bottom):
    entry, laying = log.entries[number], log.layings[number]
    low = bottom + 0.3 * _ROW
    ax.add_patch(Rectangle((entry.laid[0], low), entry.length, _BAR, fc="white", ec=INK, lw=0.8))
    for start, end in entry.printed:
        ax.add_patch(Rectangle((start, low), end - start, _BAR, **_BLUE))
    middle = low + _BAR / 2
    ax.annotate(
        f"{number + 1}",
        (entry.laid[0], middle),
        (-8, 0),
        textcoords="offset points",
        fontsize=8,
        color=INK,
        ha="center",
        va="center",
    )
    if not isinstance(laying, Laying):
        return
    under = bottom + 0.15 * _ROW
    for mark, look, which in _marks(laying):
        ax.plot(laying.x[which], np.full(which.sum(), under), mark, ms=5, color=INK, **look)
    for item in log.contradictions:
        if item.number == number:
            ax.plot(item.x, np.full(item.x.size, middle), "X", ms=9, mfc=RUST, mec="white", mew=1.0)


def _marks(laying):
    """Yield mark, look and stations of each thing that the heights may say."""
    sure, never = laying.still > _LIKELY, laying.still < 1 - _LIKELY
    yield "^", {"mfc": INK}, sure
    yield "v", {"mfc": "white"}, never
    yield "_", {}, ~(sure | never)


def _key(log):
    entries = [
        Patch(**_BLUE, label="took blue"),
        Patch(fc="white", ec=INK, label="lay there, stayed bare"),
        Line2D([], [], marker="^", color=INK, ls="", ms=5, label="heights: it touches"),
        Line2D(
            [], [], marker="v", mfc="white", color=INK, ls="", ms=5, label="heights: it does not"
        ),
        Line2D([], [], marker="_", color=INK, ls="", ms=5, label="heights: cannot tell"),
    ]
    if log.contradictions:
        label = "contradiction"
        entries.append(Line2D([], [], marker="X", mfc=RUST, mec="white", ls="", ms=8, label=label))
    return entries

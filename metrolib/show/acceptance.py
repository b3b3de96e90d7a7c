"""The picture of an acceptance: each figure with its U against the zone that it must lie in."""

import numpy as np

from metrolib.form.wording import nominal
from metrolib.rebuild.acceptance.conformity import ACCEPTED, NOT_ACCEPTED, NOT_DECIDED
from metrolib.show.style import (
    INK,
    PALE,
    RUST,
    STEEL,
    dress,
    inches,
    legend_below,
    plain,
    settle,
    text_width,
    wrapped,
)

#: Mark and ink of each decision; the word stands beside it too.
_MARKS = {ACCEPTED: ("o", STEEL), NOT_ACCEPTED: ("X", RUST), NOT_DECIDED: ("D", INK)}

_ROW = 0.5  # height of a test [inch]
_NAMES = 190  # room for the names of the tests [points]
_SIZE = 7  # points
_FARTHEST = 2.4  # limits; what lies farther out is drawn at the edge, with an arrow


def room_needed(acceptance):
    """Return how high the picture should be [inch]."""
    return 1.5 + _ROW * len(acceptance.verdicts)


def draw_acceptance(acceptance, ax, unit):
    """Draw each test on a scale of its own limit: the zone, its guard, the figure with U."""
    verdicts = acceptance.verdicts
    reach = [_places(one) for one in verdicts if one.measured is not None]
    zones = [(one.low / one.limit, one.high / one.limit) for one in verdicts]
    low = max(-_FARTHEST, min([-0.2, *(1.1 * np.ravel([*zones, *reach]))]))
    high = min(_FARTHEST, max([1.3, *(1.1 * np.ravel([*zones, *reach]))]))
    for row, verdict in enumerate(verdicts):
        _draw_zone(ax, row, verdict, acceptance)
        _draw_figure(ax, row, verdict, low, high)
    ax.set_xlim(low - 0.06 * (high - low), high + 0.06 * (high - low))
    ax.set_ylim(len(verdicts) - 0.5, -0.65)
    names = [plain(wrapped(one.name, _NAMES, _SIZE + 1)) for one in verdicts]
    ax.set_yticks(range(len(verdicts)), names)
    ax.axvline(0, color=INK, lw=0.6)
    title = f"decided at {acceptance.coverage * 100:.10g} %: {acceptance.value}"
    dress(ax, x="figure as a share of its own limit [1]", title=title)
    ax.tick_params(axis="y", labelsize=_SIZE, length=0)
    legend_below(ax, _handles(verdicts))
    settle(ax)
    _write_results(ax, verdicts, unit)
    return ax


def _places(verdict):
    """Return both ends of the figure's interval in limits, (2,)."""
    reach = 0.0 if verdict.u is None else 2 * verdict.u
    value = nominal(verdict.measured)
    return np.array([value - reach, value + reach]) / verdict.limit


def _draw_zone(ax, row, verdict, acceptance):
    """Draw the zone, and hatched the guard inside each limit, where U decides."""
    low, high = verdict.low / verdict.limit, verdict.high / verdict.limit
    ax.barh(row, high - low, left=low, height=0.62, color=PALE, lw=0.8, edgecolor=INK)
    guard = acceptance.guard_of(verdict)
    if guard is None or verdict.note:
        return
    width = min(guard / verdict.limit, high - low)
    for left in (high - width,) if verdict.tolerance.peak_to_valley else (low, high - width):
        ax.barh(row, width, left=left, height=0.62, fc="none", ec=INK, hatch="////", lw=0)


def _draw_figure(ax, row, verdict, low, high):
    """Draw the figure and its expanded uncertainty; dotted where U does not decide.

    Where the figure lies beyond the picture, an arrow stands at the edge.
    """
    if verdict.measured is None:
        return
    mark, ink = _MARKS[verdict.decision]
    value = nominal(verdict.measured) / verdict.limit
    if not low <= value <= high:
        edge, arrow = (high, ">") if value > high else (low, "<")
        ax.plot(edge, row, arrow, color=ink, ms=8, zorder=5)
        return
    if verdict.u is not None:
        style = ":" if verdict.note else "-"
        ax.plot(_places(verdict), [row, row], style, color=ink, lw=1.8, marker="|", ms=7)
    ax.plot(value, row, mark, color=ink, ms=6, mec="white", mew=0.5)


def _write_results(ax, verdicts, unit):
    """Write above each bar the decision, the figure and the limit."""
    room = 72 * inches(ax)[0]
    for row, verdict in enumerate(verdicts):
        parts = [verdict.decision, verdict.said_measured(unit), f"allowed {verdict.allowed(unit)}"]
        if verdict.measured is None:
            parts = [verdict.decision, verdict.note]
        while len(parts) > 1 and text_width("; ".join(parts), _SIZE) > room:
            parts.pop()
        text = plain("; ".join(filter(None, parts)))
        ax.text(
            0.006,
            row - 0.34,
            text,
            transform=ax.get_yaxis_transform(),
            fontsize=_SIZE,
            color=INK,
            va="bottom",
            bbox={"boxstyle": "square,pad=0.08", "fc": "white", "ec": "none"},
        )


def _handles(verdicts):
    """Return the entries of the legend; the decisions stand in words beside their marks."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles = [
        Patch(fc=PALE, ec=INK, label="allowed"),
        Patch(fc="white", ec=INK, hatch="////", lw=0, label="guard"),
        Line2D([], [], color=INK, lw=1.8, marker="|", ms=7, label="± U (k = 2)"),
    ]
    if any(one.note and one.u is not None for one in verdicts):
        handles.append(
            Line2D([], [], color=INK, lw=1.8, ls=":", label="± U, but test inversion decides")
        )
    return handles

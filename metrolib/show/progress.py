"""The work round by round: profiles down to the target, and what is left with its verdicts."""

import numpy as np

from metrolib.rebuild.rounds.progress_words import SIGNS
from metrolib.rebuild.rounds.standing_verdicts import GO_ON
from metrolib.rebuild.wording import with_crown
from metrolib.show.profiles import K, draw_band, line_look
from metrolib.show.style import (
    INK,
    PALE,
    dress,
    height_label,
    label_of,
    legend_below,
    plain,
    shown,
    write_magnification,
)

#: Lines of the rounds: the dashes tell them apart in grey, the last is drawn through.
_DASHES = ((0, (1, 2)), (0, (4, 2)), (0, (4, 1, 1, 1)), (0, (7, 2)), (0, (4, 1, 1, 1, 1, 1)))

_SIGN_ROOM = 0.11  # of the height of the picture, for one row of signs


def draw_progress(now, ax, unit):
    """Draw what is left at each station with its uncertainty, and the verdicts below it."""
    lines = list(_lines(now))
    for i, (name, mine) in enumerate(lines):
        look = line_look(i)
        at, left, u = now.plan.x[mine], now.left[mine], now.left_u[mine]
        # beside each other, so that the bars of several faces do not cover each other
        aside = (i - (len(lines) - 1) / 2) * 0.006 * np.ptp(now.plan.x)
        ax.errorbar(
            at + aside,
            shown(left, unit),
            shown(K * u, unit),
            label=label_of(name),
            elinewidth=0.8,
            capsize=2,
            **look,
        )
    ax.axhline(0, color=INK, lw=1.4, label="target" if not now.plan.decision.band else "its band")
    _draw_tolerance(now, ax, unit)
    _write_signs(now, ax, lines)
    dress(ax, y=height_label(unit, "left to come off"), title=_title(now))
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


def draw_face_progress(now, ax, face, unit):
    """Draw the profiles of one face, round by round, down to the target."""
    lines = [(name, mine) for name, mine in _lines(now) if now.plan.face[mine[0]] == face]
    for number, (_, mine) in enumerate(lines):
        x = now.plan.x[mine]
        for k, name in enumerate(now.names):
            last = k == len(now.names) - 1
            height = now.height[k, mine]
            if last:
                draw_band(ax, x, height, now.height_u[k, mine], unit, named=number == 0)
            look = line_look(k) | {"ls": "-" if last else _DASHES[k % len(_DASHES)]}
            label = label_of(name if name == now.names[0] else f"round {name}")
            ax.plot(x, shown(height, unit), label=None if number else label, **look)
        named = None if number else f"target{with_crown(now.plan.decision.crown, unit)}"
        target = {"color": INK, "lw": 1.8, "label": named}
        ax.plot(x, shown(now.plan.target[mine], unit), **target)
    _write_signs(now, ax, lines)
    dress(ax, y=height_label(unit), title=f"{face}: round by round down to the target. {_KEY}")
    legend_below(ax)
    write_magnification(ax, unit)
    return ax


_KEY = "Below: ~ slow down, = stop, ! overcut, ? not known"


def _title(now):
    """Say what is drawn."""
    bars = f"bars: ± {K} standard uncertainties" if now.seen.cov.any() else "heights exact"
    return f"left to come off after round {now.names[-1]} ({bars}). {_KEY}"


def _lines(now):
    """Yield a label and the stations that count, ascending in x, of each line of each face."""
    plan = now.plan
    for face in plan.faces:
        levels = np.unique(plan.y[plan.face == face])
        for y in levels:
            mine = np.flatnonzero((plan.face == face) & (plan.y == y) & ~plan.left_out)
            if mine.size:
                label = face if levels.size == 1 else f"{face}, y {y:g} mm"
                yield label, mine[np.argsort(plan.x[mine])]


def _draw_tolerance(now, ax, unit):
    """Shade how far a place may end off the target."""
    if now.tolerance > 0:
        edge = shown(now.tolerance, unit)
        ax.axhspan(-edge, edge, color=PALE, alpha=0.5, lw=0, label="within the tolerance")


def _write_signs(now, ax, lines):
    """Write the verdicts below the curves, a row for each line; nothing where to go on."""
    low, high = ax.get_ylim()
    step = _SIGN_ROOM * (high - low)
    ax.set_yticks([tick for tick in ax.get_yticks() if low <= tick <= high])
    ax.set_ylim(low - step * len(lines) - step / 3, high)
    left = ax.get_xlim()[0]
    for row, (name, mine) in enumerate(lines):
        y = low - step * (row + 0.5)
        ax.axhline(y + step / 2, color=INK, lw=0.3)
        if len(lines) > 1:
            ax.text(left, y + 0.45 * step, f" {plain(name)}", fontsize=6, va="top", color=INK)
        for i in mine:
            word = now.verdict[i]
            sign = SIGNS.get(word, "")
            if word == GO_ON:
                continue
            ax.text(
                now.plan.x[i],
                y - 0.2 * step,
                sign,
                ha="center",
                va="center",
                fontsize=10,
                color=INK,
                fontweight="bold",
            )

"""The picture of ways side by side: what comes off, with hours, cost and chance beside it."""

from metrolib.form.wording import nominal, uncertainty
from metrolib.rebuild.acceptance.verdicts import said_share
from metrolib.show.style import (
    INK,
    PALE,
    dress,
    inches,
    label_of,
    plain,
    settle,
    text_width,
)
from metrolib.units import show_length

_WORDS = 7  # size of the words beside a bar [points]
_ROW = 0.55  # height of a way [inch]
_HATCH = {False: "", True: "////"}


def room_needed(ways):
    """Return how high the picture should be [inch]."""
    return 1.3 + _ROW * len(ways.ways)


def draw_ways(ways, ax, unit):
    """Draw the metal that each way takes off; hatched where somebody else does it."""
    most = max([way.volume or 0.0 for way in ways.ways] + [1.0]) / 1e3
    dress(ax, x="metal that comes off [cm³]", title="ways side by side; hatched: sent out")
    ax.set_ylim(len(ways.ways) - 0.5, -0.5)
    ax.set_yticks(range(len(ways.ways)), [label_of(way.name) for way in ways.ways])
    settle(ax)
    for row, way in enumerate(ways.ways):
        if way.volume is not None:
            ax.barh(
                row,
                way.volume / 1e3,
                height=0.5,
                fc=PALE,
                ec=INK,
                lw=0.8,
                hatch=_HATCH[way.sent_out],
            )
        ax.text(
            (way.volume or 0.0) / 1e3 + 0.02 * most,
            row,
            plain(_said(way, unit)),
            fontsize=_WORDS,
            color=INK,
            va="center",
        )
    ax.set_xlim(0, max(2.1 * most, _end(ways, most, 72 * inches(ax)[0], unit)))
    return ax


def _end(ways, most, points, unit):
    """Return where the axis must end for the words to have room, on so many points [cm³]."""
    ends = [0.0]
    for way in ways.ways:
        wide = max(text_width(line, _WORDS) for line in _said(way, unit).splitlines())
        # words longer than the picture run out of it; the bars keep a sixth
        share = min(1.05 * wide / points, 5 / 6)
        ends.append(((way.volume or 0.0) / 1e3 + 0.02 * most) / (1 - share))
    return max(ends)


def _said(way, unit):
    """Say depth, hours, cost and the least chance of a way, in two lines."""
    if way.deepest is None:
        return "cannot be done"
    first = [f"deepest {show_length(way.deepest, unit)}"]
    if way.volume and way.hours:
        first.append(_amount(way.hours, "h"))
    if way.volume and way.cost is not None:
        first.append(f"cost {_amount(way.cost, '')}".strip())
    lines = [", ".join(first)]
    if way.chances:
        name = min(way.chances, key=way.chances.get)
        lines.append(f"least sure: {name}, {said_share(way.chances[name])}")
    return "\n".join(lines)


def _amount(number, unit):
    """Say an amount with its expanded uncertainty, briefly."""
    u = uncertainty(number)
    spread = f" ± {2 * u:.0f}" if u else ""
    return f"{nominal(number):.0f}{spread} {unit}".strip()

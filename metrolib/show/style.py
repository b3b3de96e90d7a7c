"""The look that all pictures share: ink, marks and hatching that survive a grey print."""

from functools import lru_cache
from textwrap import fill

import numpy as np
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path
from matplotlib.transforms import ScaledTranslation

from metrolib.units import from_millimetres, to_millimetres, unit_sign

INK = "#20242b"
STEEL = "#2f5d8a"
RUST = "#a8461f"
PALE = "#c9d6e2"

#: Depth from none to most: its lightness falls all the way, so that grey prints keep the order.
DEPTH = LinearSegmentedColormap.from_list("depth", ["#fbf8f1", "#e3bd8b", "#b5672f", "#4d1d0d"])

#: One hatch for each quarter of the greatest depth; the number in the cell carries the figure.
HATCHES = ("", "..", "//", "xx")

#: One mark for each face of a picture, so that colour alone tells nothing.
MARKS = ("o", "s", "^", "D", "v", "P", "X", "*")

_TITLE_SIZE, _LEGEND_SIZE = 9, 7  # points
_LEGEND_DROP = 34  # points from the axis down to the legend: ticks and label stand between
_LONGEST_NAME = 36  # letters of a name in one line of a legend
LEAST_SPAN = 0.001  # heights are never drawn larger than this fills the picture [mm]


def shown(value, unit):
    """Convert mm to the display unit, for drawing."""
    return np.asarray(from_millimetres(value, unit))


def plain(text):
    r"""Return a text that is drawn as it is written: a dollar sign starts no formula.

    Examples
    --------
    >>> print(plain("way at 5$"))
    way at 5\$
    """
    return str(text).replace("$", r"\$")


def label_of(name):
    """Return a name as a label of a legend: folded where it is long, and never hidden."""
    text = plain(fill(str(name), _LONGEST_NAME))
    return f" {text}" if text.startswith("_") else text  # matplotlib hides labels with "_" first


@lru_cache(maxsize=4096)
def text_width(text, size):
    """Return how wide a line of text is drawn [points]."""
    return text_to_path.get_text_width_height_descent(text, FontProperties(size=size), False)[0]


def inches(ax):
    """Return width and height of an axes [inch]; final once the figure is settled."""
    dpi = ax.figure.figure.dpi
    return ax.bbox.width / dpi, ax.bbox.height / dpi


def settle(ax):
    """Lay the figure out now, so that what follows knows the size of the axes."""
    figure = ax.figure.figure
    engine = figure.get_layout_engine()
    if engine is not None:
        engine.execute(figure)


def dress(ax, *, x="place along the ways x [mm]", y=None, title=None):
    """Give an axes its labels and the plain frame of all pictures; a long title is wrapped."""
    ax.set_xlabel(x)
    if y is not None:
        ax.set_ylabel(y)
    if title:
        lines = wrapped(title, 72 * _room(ax), _TITLE_SIZE)
        # y is where it would go by itself, for no ticks stand on top; looking for them takes time
        ax.set_title(plain(lines), loc="left", y=1.0, fontsize=_TITLE_SIZE, color=INK)
    ax.spines[["top", "right"]].set_visible(False)
    ax.tick_params(labelsize=8, colors=INK)
    return ax


def wrapped(text, width, size):
    """Break a text into lines no wider than `width` [points]; a longer word keeps its line."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, size) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return "\n".join(lines)


def _room(ax):
    """Return about how wide the axes will be once the figure is laid out [inch]."""
    place = ax.get_subplotspec()
    if place is None or ax.figure.figure.get_layout_engine() is None:
        return inches(ax)[0]
    whole = ax.figure.bbox.width / ax.figure.figure.dpi
    share = whole * len(place.colspan) / place.get_gridspec().ncols
    # labels at the left take their part, and letters are drawn a little wider than designed
    return 0.96 * max(share - 0.65, share / 2)


def legend_below(ax, handles=None, **choices):
    """Put the legend under the axes, where it hides nothing, in as many columns as have room."""
    if handles is None:
        handles = ax.get_legend_handles_labels()[0]
    drop = ScaledTranslation(0, -_LEGEND_DROP / 72, ax.figure.figure.dpi_scale_trans)
    ax.legend(
        handles=handles,
        fontsize=_LEGEND_SIZE,
        frameon=False,
        loc="upper center",
        bbox_to_anchor=(0.5, 0),
        bbox_transform=ax.transAxes + drop,
        borderaxespad=0,
        ncols=_columns([handle.get_label() for handle in handles], 72 * _room(ax)),
        **choices,
    )


def _columns(labels, room):
    """Return in how many columns of equal height labels have the fewest rows in `room` [points]."""
    widths = [
        max(text_width(line, _LEGEND_SIZE) for line in label.splitlines()) + 5 * _LEGEND_SIZE
        for label in labels  # handle and gaps take five letters
    ]
    for rows in range(1, len(labels)):
        columns = -(-len(labels) // rows)
        if sum(part.max() for part in np.array_split(widths, columns)) <= room:
            return columns
    return 1


def height_label(unit, what="height"):
    """Return an axis label with its unit, e.g. ``"height [µm]"``."""
    return f"{what} [{unit_sign(unit)}]"


def magnification(ax, unit):
    """Return about how many times larger the vertical is drawn than the horizontal, rounded."""
    width, height = inches(ax)
    across = abs(np.diff(ax.get_xlim())[0]) / width
    upward = to_millimetres(abs(np.diff(ax.get_ylim())[0]), unit) / height
    ratio = across / upward
    return round(ratio, -int(np.floor(np.log10(ratio))))


def write_magnification(ax, unit):
    """Write under the picture about how many times larger the vertical is drawn.

    Everything else must be drawn already; x is read in mm, y in the display unit.
    """
    least = float(shown(LEAST_SPAN, unit))
    low, high = ax.get_ylim()
    if high - low < least:
        ax.set_ylim((low + high - least) / 2, (low + high + least) / 2)
    settle(ax)
    ratio = magnification(ax, unit)
    label = f"{ax.get_xlabel()}; heights drawn about {ratio:,.0f} times larger"
    size = ax.xaxis.label.get_size()
    narrow = 0.95 * 72 * inches(ax)[0] / text_width(label, size)
    ax.set_xlabel(label, fontsize=size * min(1.0, narrow))

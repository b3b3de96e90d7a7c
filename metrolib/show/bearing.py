"""Bearing: the spots drawn back on the photograph, or counts beside the rules of thumb."""

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.patches import Polygon
from scipy import ndimage

from metrolib.rebuild.bearing.bearing_rules import RULES
from metrolib.rebuild.bearing.squares import USUAL
from metrolib.show.profiles import K
from metrolib.show.style import INK, PALE, RUST, STEEL, dress, legend_below, plain, settle

_GREYS = 12

_BOX = {"boxstyle": "round,pad=0.15", "fc": "white", "ec": INK, "lw": 0.6}


def room_needed(bearing):
    """Return how high the picture should be, so that the photograph fills its width [inch]."""
    if bearing.photo is None:
        return 3.4
    rows, columns = bearing.photo.grey.shape
    return round(min(max(1.6 + 7.2 * rows / columns, 2.6), 8.0), 1)


def draw_bearing(bearing, ax, unit):
    """Draw the photograph with its spots and squares; a count by hand beside the rules of thumb.

    Parameters
    ----------
    bearing : Bearing
    ax : matplotlib.axes.Axes
    unit : str
        Display unit; nothing here is shown in it.

    Returns
    -------
    matplotlib.axes.Axes
    """
    if bearing.photo is None:
        return _draw_counts(bearing, ax)
    photo = bearing.photo
    left, top = np.array(photo.origin) * photo.mm_per_pixel
    size = photo.step * photo.mm_per_pixel
    rows, columns = photo.grey.shape
    extent = (left, left + columns * size, top + rows * size, top)
    # drawn pale, so that lines and figures stand out on dark spots as well; in few greys, for the
    # noise of a camera makes files large
    pale = 0.45 + 0.55 * np.round(_GREYS * ndimage.gaussian_filter(photo.grey, 1.0)) / _GREYS
    ax.imshow(pale, cmap="gray", vmin=0, vmax=1, extent=extent, interpolation="nearest")
    across, down = ((np.arange(n) + 0.5) * size for n in (columns, rows))
    if photo.labels.any():
        ax.contour(
            left + across, top + down, photo.labels > 0, levels=[0.5], colors=INK, linewidths=0.7
        )
    _draw_marks(photo, ax)
    _draw_squares(bearing, ax)
    dress(
        ax,
        x="across the picture [mm]",
        y="down the picture [mm]",
        title=bearing.in_words(),
    )
    legend_below(ax, _key(photo))
    settle(ax)
    return ax


def _draw_marks(photo, ax):
    """Mark the middle of each spot: a dot where it counts, a cross where no square counts it."""
    centres = photo.centres * photo.mm_per_pixel
    held = photo.square_of >= 0
    ax.plot(*centres[held].T, "o", ms=3.0, mfc="white", mec=INK, mew=0.6)
    ax.plot(*centres[~held].T, "x", ms=3.0, color=INK, mew=0.7)


def _draw_squares(bearing, ax):
    """Draw the squares with their numbers of spots; those under glare are crossed."""
    photo, counts = bearing.photo, iter(bearing.counts)
    for corners, counted in zip(photo.squares.corners(), photo.counted, strict=True):
        corners = corners * photo.mm_per_pixel
        ax.add_patch(Polygon(corners, fc="none", ec=RUST, lw=1.3))
        if not counted:
            for ends in (corners[[0, 2]], corners[[1, 3]]):
                ax.plot(*ends.T, color=RUST, lw=0.9)
            continue
        ax.annotate(
            f"{next(counts):g}",
            0.5 * corners[0] + 0.5 * corners.mean(axis=0),
            fontsize=9,
            color=INK,
            ha="center",
            va="center",
            bbox=_BOX,
        )


def _key(photo):
    entries = [
        Line2D([], [], color=INK, lw=0.7, label=f"spot of {photo.smallest:g} mm² or more"),
        Line2D([], [], marker="o", mfc="white", mec=INK, ls="", ms=4, label="counted in a square"),
        Line2D([], [], marker="x", color=INK, ls="", ms=4, label="outside the squares"),
        Line2D([], [], color=RUST, lw=1.3, label="square, with its number of spots"),
    ]
    if not photo.counted.all():
        entries.append(Line2D([], [], color=RUST, lw=0.9, label="crossed: glare, left out"))
    return entries


def _draw_counts(bearing, ax):
    """Draw counts, their mean and the rules of thumb on one scale of spots."""
    counts = bearing.counts * (USUAL / bearing.square) ** 2
    again = np.array([np.count_nonzero(counts[:i] == count) for i, count in enumerate(counts)])
    own, middle, reach = len(RULES), bearing.value.n, K * bearing.value.s
    end = 1.1 * max(counts.max(), middle + reach, *(rule.spots[1] for rule in RULES))
    custom = {"height": 0.5, "fc": PALE, "ec": STEEL, "hatch": "///", "lw": 0.8}
    for row, rule in enumerate(RULES):
        low, high = rule.spots
        label = "usual there, by custom only" if row == 0 else None
        ax.barh(row, high - low, left=low, label=label, **custom)
        _name_beside(ax, row, low, high, end, rule.use)
    ax.plot(counts, own + 0.15 * again, "o", ms=5, mfc="white", mec=INK, label="a square")
    ax.plot([middle - reach, middle + reach], [own - 0.35] * 2, "|-", color=RUST, ms=8)
    ax.plot(middle, own - 0.35, "D", color=RUST, ms=5, label="mean ± 2 standard uncertainties")
    _name_beside(ax, own, min(counts), max(*counts, middle + reach), end, "this face")
    ax.set_yticks([])
    ax.set_ylim(-0.6, own + 0.6 + 0.15 * again.max())
    ax.set_xlim(min(0.0, middle - reach), end)
    dress(ax, x=f"spots per {USUAL:g} mm square", title=bearing.in_words())
    ax.spines["left"].set_visible(False)
    legend_below(ax)
    settle(ax)
    return ax


def _name_beside(ax, row, low, high, end, name):
    """Write what a row of the drawing is on the side where there is room."""
    right = high < 0.6 * end
    at, side = (high, "left") if right else (low, "right")
    ax.annotate(
        plain(name),
        (at, row),
        (8 if right else -8, 0),
        textcoords="offset points",
        fontsize=8,
        color=INK,
        ha=side,
        va="center",
    )

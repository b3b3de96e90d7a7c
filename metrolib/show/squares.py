"""A face against the line square to its datum."""

import numpy as np

from metrolib.form.wording import measured_length, nominal
from metrolib.form.wording import slope as slope_in_words
from metrolib.show.profiles import draw_band
from metrolib.show.style import (
    INK,
    STEEL,
    dress,
    height_label,
    legend_below,
    shown,
    write_magnification,
)


def draw_squareness(result, ax, unit):
    """Draw how a face leaves the line square to its datum, with the line that stands for it."""
    order = np.argsort(result.s)
    s, away = result.s[order], result.deviations.values[order]
    start = away[0]
    u = None if result.deviations.u is None else result.deviations.u[order]
    draw_band(ax, s, away - start, u, unit)
    ax.plot(s, shown(away - start, unit), color=STEEL, lw=1.2, marker=".", label="face")
    slope = nominal(result.value) / 1000
    # the line keeps the middle of the face
    middle = np.mean(away - start - slope * s) + slope * s
    ax.plot(s, shown(middle, unit), color=INK, lw=0.9, ls=(0, (6, 3)), label="its line")
    ax.axhline(0, color=INK, lw=0.9, label="square to the datum")
    said = (
        f"out of square by {slope_in_words(result.value)}, "
        f"{measured_length(result.over, unit)} over {result.length:.10g} mm"
    )
    dress(
        ax,
        x="place away from the datum s [mm]",
        y=height_label(unit, "toward +"),
        title=said,
    )
    legend_below(ax)
    write_magnification(ax, unit)
    return ax

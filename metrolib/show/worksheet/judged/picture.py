"""The growing picture of a traverse: made once, then given new data; PNG for the screen."""

from io import BytesIO
from threading import Lock

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from metrolib.show.profiles import K, line_look
from metrolib.show.style import (
    INK,
    LEAST_SPAN,
    PALE,
    RUST,
    STEEL,
    height_label,
    label_of,
    magnification,
    plain,
    shown,
    wrapped,
)

#: Drawing is done by one thread at a time: fonts and their caches are shared by all figures.
_DRAWING = Lock()

_WIDTH, _HEIGHT, _DPI = 6.4, 4.4, 125  # inch, inch, dots an inch
_LEFT, _ACROSS = 0.13, 0.85  # of the width
_TEXT, _TICKS = 10, 9  # points
_FOOT, _HEIGHTS = 0.165, 0.46  # of the height: labels and key stand below; heights above
_TOP, _LINE = 0.97, 0.045  # of the height: where words above begin; a line of them
_COLUMNS = 4  # of names in a key
_MARGIN = 0.08  # of the span of what is drawn
#: Span of readings that is drawn at least, by their unit; 2 of any other, for a few hardly differ.
_LEAST_READINGS = {"mm": 0.02, "in": 0.001, "mm/m": 0.02, "in/ft": 0.0005}
_PLACE = "place along the ways x [mm]"


class Picture:
    r"""One figure of two parts, heights above and readings below, made once and kept.

    Examples
    --------
    >>> from metrolib import read_survey, adjust
    >>> from metrolib.show.worksheet.judged.picture_view import view_of
    >>> survey = read_survey("sample_surveys/published_forward_backward")
    >>> view = view_of(survey, adjust(survey), "backward")
    >>> Picture().png(view)[:4]
    b'\x89PNG'
    """

    def __init__(self):
        self.figure = Figure(figsize=(_WIDTH, _HEIGHT), dpi=_DPI, facecolor="white")
        self._canvas = FigureCanvasAgg(self.figure)
        self.heights = self.figure.add_axes((_LEFT, _HEIGHTS, _ACROSS, 0.4))
        self.readings = self.figure.add_axes((_LEFT, _FOOT, _ACROSS, 0.23))
        for ax in (self.heights, self.readings):
            ax.spines[["top", "right"]].set_visible(False)
            ax.tick_params(labelsize=_TICKS, colors=INK)
            ax.grid(color=PALE, lw=0.5)
            ax.set_axisbelow(True)
            ax.ticklabel_format(axis="y", useOffset=False)
        self.heights.tick_params(labelbottom=False)
        self._title = self.figure.text(_LEFT, 0.985, "", fontsize=_TEXT, color=INK, va="top")
        self._bands, self._lines = [], []
        self._named = self._titled = None
        self._next = [self._station_line(ax) for ax in (self.heights, self.readings)]
        self._next_words = self.readings.text(
            0, 1.02, "", fontsize=_TICKS, color=INK, va="bottom", fontweight="bold",
            transform=self.readings.get_xaxis_transform(),
        )  # fmt: skip
        (self._taken,) = self.readings.plot([], [], "o", color=STEEL, ms=5, label="taken")
        look = {"color": RUST, "ms": 11, "mfc": "none", "mew": 2, "label": "doubtful"}
        (self._doubtful,) = self.readings.plot([], [], "D", **look)
        (self._planned,) = self.readings.plot(
            [], [], "|", color=INK, ms=7, transform=self.readings.get_xaxis_transform(),
            label="to be read", clip_on=False,
        )  # fmt: skip
        key = [self._taken, self._doubtful, self._planned, self._next[1]]
        self.figure.legend(
            handles=key, loc="lower right", fontsize=8, frameon=False, ncols=_COLUMNS,
            bbox_to_anchor=(_LEFT + _ACROSS, 0.005), borderaxespad=0, handletextpad=0.7,
        )  # fmt: skip

    def png(self, view):
        """Draw a view.

        Parameters
        ----------
        view : PictureView

        Returns
        -------
        bytes
            A PNG picture of 800 by 550 dots.
        """
        with _DRAWING:
            self._show(view)
            return self.redrawn()

    def redrawn(self):
        """Draw the figure once more as it stands, and return it as PNG."""
        out = BytesIO()
        self._canvas.print_png(out, pil_kwargs={"compress_level": 1})
        return out.getvalue()

    def _show(self, view):
        """Give every artist its data."""
        if view.title != self._titled:  # to find where it breaks takes its time
            self._titled = view.title
            self._title.set_text(plain(wrapped(view.title, 72 * _WIDTH * _ACROSS, _TEXT)))
        self._share_room(view)
        self._show_lines(view)
        self._show_readings(view)
        self._show_next(view)
        label = _PLACE
        if view.lines:
            times = magnification(self.heights, view.unit)
            label += f"; heights drawn about {times:,.0f} times larger"
        self.readings.set_xlabel(label, fontsize=_TICKS, color=INK, loc="left")

    def _share_room(self, view):
        """Give the readings all of the picture as long as no height is known."""
        both = bool(view.lines)
        above = 1 + self._title.get_text().count("\n")
        names = -(-len(view.lines) // _COLUMNS) if len(view.lines) > 1 else 0
        above += names if both else 1  # lines of names of faces, or the next station
        top = _TOP - _LINE * above
        self.heights.set_visible(both)
        self.heights.set_position((_LEFT, _HEIGHTS, _ACROSS, top - _HEIGHTS))
        self.readings.set_position((_LEFT, _FOOT, _ACROSS, 0.23 if both else top - _FOOT))

    def _show_lines(self, view):
        for i in range(len(self._lines), len(view.lines)):
            self._bands.append(self.heights.fill_between([], [], [], color=PALE, lw=0, alpha=0.7))
            (line,) = self.heights.plot([], [], **line_look(i))
            self._lines.append(line)
        for i, (band, line) in enumerate(zip(self._bands, self._lines, strict=True)):
            drawn = i < len(view.lines)
            band.set_visible(drawn)
            line.set_visible(drawn)
            if drawn:
                one = view.lines[i]
                line.set_data(one.x, one.z)
                band.set_verts([_around(one.x, one.z - K * one.u, one.z + K * one.u)])
        if view.lines:
            low = min((one.z - K * one.u).min() for one in view.lines)
            high = max((one.z + K * one.u).max() for one in view.lines)
            self.heights.set_ylim(*_with_margin(low, high, float(shown(LEAST_SPAN, view.unit))))
        self.heights.set_ylabel(height_label(view.unit), fontsize=_TEXT, color=INK)
        self._name_lines([one.face for one in view.lines])

    def _name_lines(self, names):
        """Name the faces where there are several; a legend is only built when they change."""
        if names == self._named:
            return
        self._named = names
        for line, name in zip(self._lines, names, strict=False):
            line.set_label(label_of(name))
        if len(names) > 1:
            handles = self._lines[: len(names)]
            look = {"fontsize": 8, "frameon": False, "ncols": _COLUMNS, "borderaxespad": 0}
            self.heights.legend(handles=handles, loc="lower left", bbox_to_anchor=(0, 1.0), **look)
        elif self.heights.get_legend() is not None:
            self.heights.get_legend().remove()

    def _show_readings(self, view):
        self._taken.set_data(view.x, view.value)
        self._doubtful.set_data(view.x[view.doubtful], view.value[view.doubtful])
        self._planned.set_data(view.planned, np.zeros(view.planned.size))
        label = f"reading [{view.reading_sign}]"
        self.readings.set_ylabel(label, fontsize=_TEXT, color=INK)
        if view.x.size:
            least = _LEAST_READINGS.get(view.reading_sign, 2.0)
            self.readings.set_ylim(*_with_margin(view.value.min(), view.value.max(), least, 0.15))
        places = np.concatenate([view.x, view.planned, *(line.x for line in view.lines)])
        if places.size:
            limits = _with_margin(places.min(), places.max(), 1.0, 0.03)
            for ax in (self.heights, self.readings):
                ax.set_xlim(*limits)

    def _show_next(self, view):
        for line in self._next:
            line.set_visible(view.next_x is not None)
            if view.next_x is not None:
                line.set_xdata([view.next_x, view.next_x])
        self._next_words.set_visible(view.next_x is not None)
        if view.next_x is not None:
            low, high = self.readings.get_xlim()
            right = view.next_x > (low + high) / 2
            self._next_words.set_text(f" next: {view.next_x:g} mm ")
            self._next_words.set_x(view.next_x)
            self._next_words.set_ha("right" if right else "left")

    @staticmethod
    def _station_line(ax):
        return ax.axvline(0, color=INK, lw=1.4, ls=(0, (4, 3)), label="next")


def _around(x, low, high):
    """Return the outline of a band."""
    return np.column_stack([np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])])


def _with_margin(low, high, least, margin=_MARGIN):
    """Return limits with some room around, and at least a span apart."""
    span = max(high - low, least)
    middle = (low + high) / 2
    return middle - span * (0.5 + margin), middle + span * (0.5 + margin)

"""The growing picture of a traverse: made once, then given new data; PNG for the screen."""

from io import BytesIO
from threading import Lock

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imsave
from matplotlib.transforms import blended_transform_factory

from metrolib.show.profiles import K, line_look
from metrolib.show.style import (
    INK,
    PALE,
    RUST,
    STEEL,
    height_label,
    label_of,
    magnification,
    plain,
    wrapped,
)
from metrolib.show.worksheet.judged.picture_frame import frame_of

#: Drawing is done by one thread at a time: fonts and their caches are shared by all figures.
_DRAWING = Lock()

_WIDTH, _HEIGHT, _DPI = 6.4, 4.4, 125  # inch, inch, dots an inch
_LEFT, _ACROSS = 0.13, 0.85  # of the width
_TEXT, _TICKS = 10, 9  # points
_FOOT, _HEIGHTS = 0.165, 0.46  # of the height: labels and key stand below; heights above
_TOP, _LINE = 0.97, 0.045  # of the height: where words above begin; a line of them
_BESIDE, _BELOW = 0.045, 0.105  # where the labels of the axes end and begin
_COLUMNS = 4  # of names in a key
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
        for ax, most in ((self.heights, 6), (self.readings, 4)):
            ax.spines[["top", "right"]].set_visible(False)
            ax.tick_params(labelsize=_TICKS, colors=INK)
            ax.grid(color=PALE, lw=0.5)
            ax.set_axisbelow(True)
            ax.ticklabel_format(axis="y", useOffset=False)
            ax.locator_params(axis="x", nbins=7)
            ax.locator_params(axis="y", nbins=most)
            # given places: to find them anew, every number on the axis is measured twice
            beside = blended_transform_factory(self.figure.transFigure, ax.transAxes)
            ax.yaxis.set_label_coords(_BESIDE, 0.5, transform=beside)
            ax.xaxis.set_label_coords(_LEFT, _BELOW, transform=self.figure.transFigure)
        self.heights.tick_params(labelbottom=False)
        self._title = self.figure.text(_LEFT, 0.985, "", fontsize=_TEXT, color=INK, va="top")
        self._bands, self._lines = [], []
        self._frame = self._still = None
        self._next = [self._station_line(ax) for ax in (self.heights, self.readings)]
        self._next_words = self.readings.text(
            0, 1.02, "", fontsize=_TICKS, color=INK, va="bottom", fontweight="bold",
            transform=self.readings.get_xaxis_transform(), animated=True,
        )  # fmt: skip
        look = {"color": STEEL, "ms": 5, "label": "taken", "animated": True}
        (self._taken,) = self.readings.plot([], [], "o", **look)
        look |= {"color": RUST, "ms": 11, "mfc": "none", "mew": 2, "label": "doubtful"}
        (self._doubtful,) = self.readings.plot([], [], "D", **look)
        (self._planned,) = self.readings.plot(
            [], [], "|", color=INK, ms=7, transform=self.readings.get_xaxis_transform(),
            label="to be read", clip_on=False, animated=True,
        )  # fmt: skip
        self._moving = [
            *self._next, self._next_words, self._taken, self._doubtful, self._planned,
        ]  # fmt: skip
        marks = [self._taken, self._doubtful, self._planned, self._next[1]]
        self._key = self.figure.legend(
            handles=marks, loc="lower right", fontsize=8, frameon=False, ncols=_COLUMNS,
            bbox_to_anchor=(_LEFT + _ACROSS, 0.015), borderaxespad=0, handletextpad=0.7,
        )  # fmt: skip
        self._canvas.draw()
        around = self._key.get_window_extent().padded(6)  # the diamond stands out of it
        self._drawn_key = self._canvas.copy_from_bbox(around)

    def png(self, view):
        """Draw a view.

        Parameters
        ----------
        view : PictureView

        Returns
        -------
        bytes
            A PNG picture of 800 by 550 dots.

        Notes
        -----
        Axes, texts and keys take most of the time, and one reading more seldom changes them: they
        are drawn where their `Frame` is another one, and kept.
        """
        with _DRAWING:
            self._show_lines(view)
            self._show_readings(view)
            frame = frame_of(view)
            if frame != self._frame:
                self._set_up(frame)
                self._draw_still()
                self._frame = frame
            self._show_next(view)
            self._canvas.restore_region(self._still)
            for one in (*self._bands, *self._lines, *self._moving):
                one.axes.draw_artist(one)
            return self._as_png()

    def _draw_still(self):
        """Draw all but what moves; the key as it was, for laying it out is dear."""
        self._key.set_visible(False)
        self._canvas.draw()
        self._key.set_visible(True)
        self._canvas.restore_region(self._drawn_key)
        self._still = self._canvas.copy_from_bbox(self.figure.bbox)

    def _as_png(self):
        out = BytesIO()
        pixels = np.asarray(self._canvas.buffer_rgba())[..., :3]  # nothing shows through
        imsave(out, pixels, format="png", dpi=_DPI, pil_kwargs={"compress_level": 1})
        return out.getvalue()

    def _set_up(self, frame):
        """Give everything that stands still its place and its words."""
        both = frame.heights is not None  # no height is known yet: the readings get all the room
        self.heights.set_visible(both)
        self._title.set_text(plain(wrapped(frame.title, 72 * _WIDTH * _ACROSS, _TEXT)))
        names = -(-len(frame.faces) // _COLUMNS) if len(frame.faces) > 1 else 0
        above = 1 + self._title.get_text().count("\n")
        above += names if both else 1  # lines of names of faces, or the next station
        top = _TOP - _LINE * above
        self.heights.set_position((_LEFT, _HEIGHTS, _ACROSS, top - _HEIGHTS))
        self.readings.set_position((_LEFT, _FOOT, _ACROSS, 0.23 if both else top - _FOOT))
        for ax in (self.heights, self.readings):
            ax.set_xlim(*frame.places)
        self.readings.set_ylim(*frame.readings)
        label = f"reading [{frame.reading_sign}]"
        self.readings.set_ylabel(label, fontsize=_TEXT, color=INK)
        label = _PLACE
        if both:
            self.heights.set_ylim(*frame.heights)
            self.heights.set_ylabel(height_label(frame.unit), fontsize=_TEXT, color=INK)
            times = magnification(self.heights, frame.unit)
            label += f"; heights drawn about {times:,.0f} times larger"
        self.readings.set_xlabel(label, fontsize=_TICKS, color=INK, x=_LEFT, ha="left")
        self._name_lines(frame.faces)

    def _name_lines(self, names):
        """Name the faces where there are several."""
        for line, name in zip(self._lines, names, strict=False):
            line.set_label(label_of(name))
        if len(names) > 1:
            handles = self._lines[: len(names)]
            look = {"fontsize": 8, "frameon": False, "ncols": _COLUMNS, "borderaxespad": 0}
            self.heights.legend(handles=handles, loc="lower left", bbox_to_anchor=(0, 1.0), **look)
        elif self.heights.get_legend() is not None:
            self.heights.get_legend().remove()

    def _show_lines(self, view):
        for i in range(len(self._lines), len(view.lines)):
            look = {"color": PALE, "lw": 0, "alpha": 0.7, "animated": True}
            self._bands.append(self.heights.fill_between([], [], [], **look))
            (line,) = self.heights.plot([], [], animated=True, **line_look(i))
            self._lines.append(line)
        for i, (band, line) in enumerate(zip(self._bands, self._lines, strict=True)):
            drawn = i < len(view.lines)
            band.set_visible(drawn)
            line.set_visible(drawn)
            if drawn:
                one = view.lines[i]
                line.set_data(one.x, one.z)
                band.set_verts([_around(one.x, one.z - K * one.u, one.z + K * one.u)])

    def _show_readings(self, view):
        self._taken.set_data(view.x, view.value)
        self._doubtful.set_data(view.x[view.doubtful], view.value[view.doubtful])
        self._planned.set_data(view.planned, np.zeros(view.planned.size))

    def _show_next(self, view):
        for line in self._next:
            line.set_visible(view.next_x is not None and line.axes.get_visible())
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
        return ax.axvline(0, color=INK, lw=1.4, ls=(0, (4, 3)), label="next", animated=True)


def _around(x, low, high):
    """Return the outline of a band."""
    return np.column_stack([np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])])

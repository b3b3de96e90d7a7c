"""Section drawing: the machine in cross-section and its stations from above, from what is typed."""

from dataclasses import dataclass
from io import BytesIO
from textwrap import fill
from threading import Lock

import numpy as np
from matplotlib.figure import Figure

from metrolib.show.style import (
    INK,
    MARKS,
    RUST,
    STEEL,
    dress,
    inches,
    legend_below,
    plain,
    text_width,
)

_FONT = 8
_DPI = 130
_SIZE = (4.8, 5.4)  # inch; narrow, so that it stands beside the form
_NAME = 22  # letters of a name in a line
_ROW = 2.9 * _FONT / 72  # height of the name and the sizes of a face [inch]
_ARROW = 0.12  # length of a normal, as a share of the section

#: Left, bottom, width and height of the two drawings, as shares of the picture.
_UPPER, _LOWER = (0.12, 0.55, 0.86, 0.39), (0.12, 0.22, 0.86, 0.21)

#: Matplotlib keeps state that two threads may not change at once.
_DRAWING = Lock()


def picture_of(faces, sheets):
    """Return cross-section and stations of a machine as the bytes of a PNG.

    Parameters
    ----------
    faces : list of Face
    sheets : list of Sheet
    """
    with _DRAWING:
        figure = Figure(figsize=_SIZE, dpi=_DPI)
        draw_section(faces, figure.add_axes(_UPPER))
        draw_stations(faces, sheets, figure.add_axes(_LOWER))
        for ax in figure.axes:
            ax.xaxis.label.set_size(_FONT)
            ax.yaxis.label.set_size(_FONT)
        to = BytesIO()
        figure.savefig(to, format="png")
    return to.getvalue()


def words_of(faces):
    """Return what the drawing shows of the faces, in words, for those who cannot see it."""
    if not faces:
        return "The drawing is empty: no face is described without a fault yet."
    said = [
        f"{face.name}: middle at y {face.y:g}, width {face.width:g}, x {face.x_from:g} to "
        f"{face.x_to:g} mm, {looks(face)}"
        for face in faces
    ]
    return f"{'; '.join(said)}."


def looks(face):
    """Return in words which way a face looks, seen from the x = 0 end."""
    turn = (face.normal + 180) % 360 - 180
    words = {0.0: "looks up", 180.0: "looks down", -180.0: "looks down"}
    words |= {90.0: "looks toward +y", -90.0: "looks toward -y"}
    side = "+y" if turn > 0 else "-y"
    return words.get(turn, f"leans {abs(turn):g} degrees from up toward {side}")


@dataclass(frozen=True)
class _Line:
    """A face in cross-section: its middle, its ends, and which way is out of the metal."""

    middle: np.ndarray
    ends: np.ndarray
    out: np.ndarray


def draw_section(faces, ax):
    """Draw faces in cross-section as one sees them from the x = 0 end, looking along +x.

    Parameters
    ----------
    faces : list of Face
    ax : matplotlib.axes.Axes

    Returns
    -------
    matplotlib.axes.Axes
        y grows to the left, for x points away from whoever looks and z up. A side or a flank has
        no height on its own normal that would say how high it stands: it is drawn at the height
        of the flats.
    """
    dress(ax, x="across the ways y [mm], growing to the left", y="height [mm]")
    ax.set_title("seen from the x = 0 end, looking along +x", loc="left", fontsize=9, color=INK)
    if not faces:
        return _nothing(ax)
    lines = {face.name: _line_of(face) for face in faces}
    low, high, size = _extent(lines.values())
    names = {way: sorted((f for f in faces if (f.up >= 0) == (way > 0)), key=_y) for way in (1, -1)}
    width, height = inches(ax)
    scale, rows = (high - low)[0] / width, {1: {}, -1: {}}
    for _ in range(3):  # wider words take more rows, and more rows make the drawing smaller
        rows = {way: _rows(names[way], scale) for way in names}
        deep = sum(max(row.values(), default=-1) + 1 for row in rows.values()) * _ROW
        scale = max(1.1 * (high - low)[0] / width, (high - low)[1] / max(height - deep, 0.8))
    for line in lines.values():
        _draw_face(ax, line, size)
    for way, row in rows.items():
        _write_names(ax, names[way], row, lines, (high if way > 0 else low)[1], scale, way)
    middle = (low + high)[0] / 2
    ax.set_xlim(middle + scale * width / 2, middle - scale * width / 2)
    below = sum(1 for _ in set(rows[-1].values())) * _ROW * scale
    ax.set_ylim(low[1] - below, low[1] - below + scale * height)
    _ticks(ax.set_xticks, [face.y for face in faces], 0.4 * scale)
    return ax


def _y(face):
    return face.y


def _extent(lines):
    """Return the lowest and the highest corner of faces with their arrows, and their size."""
    ends = np.concatenate([line.ends for line in lines])
    size = max(np.ptp(ends, axis=0).max(), 1.0)
    return ends.min(axis=0) - _ARROW * size, ends.max(axis=0) + _ARROW * size, size


def _ticks(put, places, least):
    """Put numbers at places, but for those that would meet the one before."""
    kept = []
    for place in sorted(set(places)):
        if not kept or place - kept[-1] >= least:
            kept.append(place)
    put(kept, [f"{place:g}" for place in kept])


def _line_of(face):
    """Return a face as a line in the section."""
    out = np.array([face.across, face.up])
    along = np.array([face.up, -face.across])
    height = face.nominal_height * face.up
    if abs(face.up) < 0.1:
        height = -face.width / 2  # a side begins at the height of the flats
    middle = np.array([face.y, height])
    return _Line(middle, middle + np.outer([-0.5, 0.5], along) * face.width, out)


def _draw_face(ax, line, size):
    """Draw a face with the metal behind it hatched and an arrow along its normal."""
    deep = 0.05 * size
    metal = np.vstack([line.ends, line.ends[::-1] - deep * line.out])
    ax.fill(*metal.T, facecolor="none", edgecolor=STEEL, hatch="////", lw=0)
    ax.plot(*line.ends.T, color=INK, lw=2.2, solid_capstyle="butt")
    tip = line.middle + _ARROW * size * line.out
    arrow = {"arrowstyle": "-|>", "color": RUST, "lw": 1.2, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", xy=tip, xytext=line.middle, arrowprops=arrow)


def _words(face):
    return f"{fill(face.name, _NAME)}\nwidth {face.width:g}, y {face.y:g}"


def _rows(faces, scale):
    """Return for each face the row of its name: words that would meet stand in different rows."""
    ends, rows = [], {}
    for face in faces:
        points = max(text_width(line, _FONT) for line in _words(face).splitlines())
        half = (points / 2 + _FONT / 2) / 72 * scale
        row = next((at for at, end in enumerate(ends) if face.y - half >= end), len(ends))
        ends[row : row + 1] = [face.y + half]
        rows[face.name] = row
    return rows


def _write_names(ax, faces, rows, lines, start, scale, way):
    """Write names and sizes of faces above or below them, each with a line to its face."""
    for face in faces:
        at = start + way * rows[face.name] * _ROW * scale
        ax.plot([face.y, face.y], [lines[face.name].middle[1], at], color=INK, lw=0.5, ls=":")
        align = "bottom" if way > 0 else "top"
        look = {"fontsize": _FONT, "color": INK, "ha": "center", "va": align}
        ax.text(face.y, at, plain(_words(face)), **look)


def draw_stations(faces, sheets, ax):
    """Draw the faces from above, x to the right and +y up, with the stations on them.

    Parameters
    ----------
    faces : list of Face
    sheets : list of Sheet
    ax : matplotlib.axes.Axes
    """
    dress(ax, y="y [mm]")
    ax.set_title("seen from above: faces and stations", loc="left", fontsize=9, color=INK)
    if not faces:
        return _nothing(ax)
    for face in faces:
        deep = max(face.width * abs(face.up), 1.0)
        corner = [face.x_from, face.x_to, face.x_to, face.x_from]
        low, high = face.y - deep / 2, face.y + deep / 2
        hidden = face.up < 0
        look = {"ls": (0, (4, 2)) if hidden else "-", "lw": 1.0, "ec": INK, "fc": "none"}
        ax.fill(corner, [low, low, high, high], **look)
        for one in face.left_out:
            ax.fill_between([one.x_from, one.x_to], low, high, color="none", ec=RUST, hatch="xx")
    _draw_places(faces, sheets, ax)
    ax.margins(0.04, 0.1)
    _ticks(ax.set_yticks, [face.y for face in faces], 0.11 * np.ptp(ax.get_ylim()))
    if sheets:
        legend_below(ax)
    return ax


def _draw_places(faces, sheets, ax):
    """Mark each station with the mark of its reading kind."""
    y_of = {face.name: face.y for face in faces}
    kinds = list(dict.fromkeys(sheet.kind for sheet in sheets))
    for kind in kinds:
        places = {
            (x, y_of.get(face, sheet.y))
            for sheet in sheets
            if sheet.kind == kind
            for face, x in sheet.stations
        }
        x, y = np.array(sorted(places)).T
        mark = MARKS[kinds.index(kind) % len(MARKS)]
        look = {"ms": 4, "mec": STEEL, "mfc": "none", "ls": "none"}
        ax.plot(x, y, mark, label=f"{kind} ({len(places)} places)", **look)


def _nothing(ax):
    """Say that nothing can be drawn yet."""
    ax.set_xticks([])
    ax.set_yticks([])
    words = "no face is described yet"
    ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", color=INK, fontsize=_FONT)
    return ax

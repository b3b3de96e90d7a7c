"""What a drawing holds, read back from its artists."""

import numpy as np
from matplotlib.patches import Rectangle


def labels(ax):
    """Return the entries of the legend."""
    legend = ax.get_legend()
    return [] if legend is None else [text.get_text() for text in legend.get_texts()]


def line(ax, label):
    """Return x and y of the line of that label."""
    (found,) = [one for one in ax.lines if one.get_label() == label]
    return np.asarray(found.get_xdata()), np.asarray(found.get_ydata())


def band(ax, number=0):
    """Return the corners of the band that was drawn as number so and so, shape (n, 2)."""
    return ax.collections[number].get_paths()[0].vertices


def band_at(ax, x, number=0):
    """Return the lower and upper edge of a band at a station."""
    corners = band(ax, number)
    at = corners[np.isclose(corners[:, 0], x), 1]
    return at.min(), at.max()


def cells(ax):
    """Return the cells of a plan view: rectangles that are filled."""
    return [one for one in ax.patches if isinstance(one, Rectangle) and one.get_facecolor()[3] > 0]


def cell_at(ax, x, y):
    """Return the cell of a plan view that holds a place of the drawing."""
    (found,) = [
        one
        for one in cells(ax)
        if one.get_x() < x < one.get_x() + one.get_width()
        and one.get_y() < y < one.get_y() + one.get_height()
    ]
    return found


def numbers(ax):
    """Return (x, y, text) of all numbers written in a drawing."""
    return [(*text.get_position(), text.get_text()) for text in ax.texts if text.get_text()]


def overlaps(ax):
    """Return the pairs of texts in a drawing that overlap each other."""
    ax.figure.canvas.draw()
    boxes = [(text.get_text(), text.get_window_extent()) for text in ax.texts]
    return [
        (boxes[i][0], boxes[j][0])
        for i in range(len(boxes))
        for j in range(i)
        if boxes[i][1].overlaps(boxes[j][1])
    ]


def assert_inside_figure(ax):
    """Everything drawn lies inside the figure: nothing is cut off."""
    figure = ax.figure
    figure.canvas.draw()
    box, (width, height) = figure.get_tightbbox(), figure.get_size_inches()
    slack = 0.03  # inch; the layout rounds to pixels
    assert box.x0 > -slack, f"cut at the left by {-box.x0:.2f} inch"
    assert box.y0 > -slack, f"cut at the bottom by {-box.y0:.2f} inch"
    assert box.x1 < width + slack, f"cut at the right by {box.x1 - width:.2f} inch"
    assert box.y1 < height + slack, f"cut at the top by {box.y1 - height:.2f} inch"


def grey(figure):
    """Return the figure as grey values between 0 (black) and 1, shape (height, width)."""
    figure.canvas.draw()
    colours = np.asarray(figure.canvas.buffer_rgba())[:, :, :3] / 255
    return colours @ [0.299, 0.587, 0.114]


def pixels_of(patch, picture):
    """Return the grey values inside a patch."""
    box = patch.get_window_extent()
    top = picture.shape[0] - int(box.y1)
    return picture[top + 2 : top + int(box.y1) - int(box.y0) - 2, int(box.x0) + 2 : int(box.x1) - 2]

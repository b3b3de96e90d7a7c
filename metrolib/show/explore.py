"""Explore: change a number and see what it does, by a slider or by running the cell again."""

from dataclasses import dataclass, field
from html import escape
from io import BytesIO
from math import floor, log10
from textwrap import fill
from threading import Lock

from matplotlib.figure import Figure

from metrolib import checks
from metrolib.errors import MetrolibError

_WIDTH = 8.0  # of the picture [inch]
_LINE = 120  # letters of a sentence over it
_STEPS = 100  # of a slider from end to end


@dataclass(frozen=True, eq=False)
class Explored:
    """A picture that follows its numbers; in a notebook that runs, with a slider for each.

    Attributes
    ----------
    draw : function
        Draws on an axes and returns a sentence.
    numbers : dict of str to (float, float, float)
        Least, at the start, most.
    height : float
        Of the picture [inch].
    units : dict of str to str
        Unit of each number, for the label of its slider.
    """

    draw: object
    numbers: dict
    height: float
    units: dict
    _drawing: Lock = field(default_factory=Lock, repr=False)

    def at(self, **changed):
        """Return the sentence and the picture (PNG, as bytes) for some numbers.

        Parameters
        ----------
        **changed : float
            What differs from the start.
        """
        return self._drawn(changed, written=False)

    def _drawn(self, changed, written):
        """Return the sentence and the picture, the sentence `written` over the picture or not."""
        values = {name: start for name, (_, start, _) in self.numbers.items()} | changed
        # a slider's callback may come from any thread, in the middle of another one
        with self._drawing:
            figure = Figure(figsize=(_WIDTH, self.height), dpi=100, layout="constrained")
            said = self.draw(figure.subplots(), **values) or ""
            if written and said:
                figure.suptitle(fill(said, _LINE), x=0.01, ha="left", fontsize=9)
            picture = BytesIO()
            figure.savefig(picture, format="png")
        return said, picture.getvalue()

    def __str__(self):
        return self.at()[0]

    def _repr_mimebundle_(self, include=None, exclude=None):
        from base64 import b64encode

        # where no slider is, nothing but the picture is seen: it says its sentence itself
        said, picture = self._drawn({}, written=True)
        bundle = {"text/plain": said, "image/png": b64encode(picture).decode()}
        return self._live() | bundle

    def _live(self):
        """Return the part of the bundle that shows the sliders, where a notebook can."""
        try:
            import ipywidgets
        except ImportError:
            return {}
        return _panel(self, ipywidgets)._repr_mimebundle_() or {}


def explore(draw, *, height=3.0, **numbers):
    """Change a number and see what it does.

    In a notebook that runs, each number has a slider; the picture and its sentence follow.
    Without widgets the picture for the starting numbers stands there: change them and run the cell
    again.

    Parameters
    ----------
    draw : function
        Called as ``draw(ax, **numbers)`` with a matplotlib axes; it may return a sentence.
    height : float
        Of the picture, 8 inches wide [inch].
    **numbers : tuple of (float, float, float) or (float, float, float, str)
        Least, at the start, most; and the unit, if there is one.

    Returns
    -------
    Explored
        `at` gives the sentence and the picture for other numbers.

    Raises
    ------
    InputError
        If `draw` is no function, no number is given, one is not three rising numbers, or its unit
        is no word.

    Examples
    --------
    >>> from metrolib import hidden_bow
    >>> def short_bar(ax, length):
    ...     ax.plot([0, length], [0, 0])
    ...     return f"{hidden_bow(1400, length, 0.003).value * 1000:.1f} µm may hide"
    >>> shown = explore(short_bar, length=(300, 500, 1400, "mm"))
    >>> print(shown)
    23.5 µm may hide
    >>> print(shown.at(length=700)[0])
    12.0 µm may hide
    """
    if not callable(draw):
        raise checks.wrong("draw", "a function is needed", repr(draw)[:60], "give one that draws")
    if not numbers:
        raise checks.wrong("numbers", "none is given", "()", "give e.g. pitch=(50, 100, 200)")
    parted = {name: _parted(name, given) for name, given in numbers.items()}
    ranges = {name: _range(name, given) for name, (given, _) in parted.items()}
    return Explored(draw, ranges, height, {name: unit for name, (_, unit) in parted.items()})


def _parted(name, given):
    """Part the numbers from the unit that may follow them."""
    if not (isinstance(given, tuple | list) and len(given) == 4):
        return given, ""
    *three, unit = given
    if not isinstance(unit, str):
        raise checks.wrong(name, "the fourth is the unit, a word", repr(unit), 'give e.g. "mm"')
    return three, unit


def _range(name, given):
    least, start, most = map(float, checks.table(name, [given], 3)[0])
    if not (least <= start <= most and least < most):
        raise checks.wrong(
            name, "least, at the start, most must rise", given, "give them in this order"
        )
    return least, start, most


def _panel(explored, widgets):
    """Return the sliders with the picture and the sentence that follow them."""
    said, picture = explored.at()
    image = widgets.Image(value=picture, format="png")
    words = widgets.HTML(escape(said))
    sliders = {
        name: _slider(_label(name, explored.units[name]), *ends, widgets)
        for name, ends in explored.numbers.items()
    }

    def follow(_change):
        values = {name: slider.value for name, slider in sliders.items()}
        try:
            said, image.value = explored.at(**values)
            words.value = escape(said)
        except MetrolibError as error:
            words.value = escape(str(error))
        except Exception as error:  # nobody sees an exception of a callback
            words.value = escape(f"these numbers cannot be drawn: {error!r}")

    for slider in sliders.values():
        slider.observe(follow, "value")
    return widgets.VBox([*sliders.values(), words, image])


def _label(name, unit):
    words = name.replace("_", " ")
    return f"{words} [{unit}]" if unit else words


def _slider(label, least, start, most, widgets):
    """Return a slider in whole steps where its ends are whole and far apart."""
    step = (most - least) / _STEPS
    step = max(1.0, round(step)) if step > 0.5 and least == round(least) else step
    return widgets.FloatSlider(
        value=start,
        min=least,
        max=most,
        step=step,
        description=label,
        continuous_update=False,
        readout_format=f".{_decimals(step)}f",
        style={"description_width": "initial"},
        layout={"width": "36em", "max_width": "100%"},
    )


def _decimals(step):
    """Return how many decimals tell one step of a slider from the next."""
    return max(0, -floor(log10(step)))

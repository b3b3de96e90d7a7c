"""The look that all pages of the worksheet share, and the small pieces they are built of."""

from functools import wraps
from html import escape
from pathlib import Path

import ipywidgets as widgets

from metrolib.errors import MetrolibError

#: The style sheet of the worksheet; everything in it holds below the class ``metro-sheet`` only.
STYLE = "".join(
    (Path(__file__).parent / "browser" / name).read_text(encoding="utf-8")
    for name in ("look.css", "forms.css", "deciding.css")
)


def shown_errors(screen):
    """Return a wrapper for callbacks: one at a time, and whatever goes wrong in them is shown.

    Jupyter shows nothing of an error in a callback. Callbacks may also come on several threads
    at once, so each runs under the lock of the screen.

    Parameters
    ----------
    screen : Screen
        Anything with a `lock` and a method ``alarm(words)``.

    Returns
    -------
    callable
        Takes a function and returns it guarded; the guarded one returns None after an error.
    """

    def guard(do):
        @wraps(do)
        def guarded(*given, **named):
            with screen.lock:
                try:
                    return do(*given, **named)
                except MetrolibError as error:
                    screen.alarm(str(error))
                except Exception as error:  # nothing may go wrong in silence
                    screen.alarm(
                        f"something went wrong that was not foreseen ({type(error).__name__}: "
                        f"{error}); readings that were shown as taken are on disk. Run the cell "
                        "again; if it comes back, please report these words"
                    )

        return guarded

    return guard


def button(words, do, screen, *, main=False, hint="", name=None):
    """Return a button that calls `do()` and shows whatever goes wrong.

    Parameters
    ----------
    words : str
        What stands on it; say what it does.
    do : callable
        Called without arguments.
    screen : Screen
    main : bool
        Whether it is what one mostly wants here: drawn heavier.
    hint : str
        Told when the pointer rests on it.
    name : str, optional
        A class of its own, such as ``"metro-undo"``, for the style sheet and the tests.
    """
    made = widgets.Button(description=words, tooltip=hint or words)
    made.add_class("metro-button")
    if main:
        made.add_class("metro-main")
    if name is not None:
        made.add_class(name)
    guarded = shown_errors(screen)(do)
    made.on_click(lambda _: guarded())
    return made


def heading(words, hint=""):
    """Return a heading of a part of a page, with a line of explanation below it."""
    line = f'<p class="metro-hint">{escape(hint)}</p>' if hint else ""
    return widgets.HTML(f"<h3>{escape(words)}</h3>{line}")


def paragraph(text="", *, name=None):
    """Return a paragraph whose words are set by `say`; `name` is a class of its own."""
    made = widgets.HTML()
    made.add_class("metro-words")
    if name is not None:
        made.add_class(name)
    say(made, text)
    return made


def say(where, text):
    """Put a text, or several as a list of points, into what `paragraph` made."""
    points = [text] if isinstance(text, str) else list(text)
    lines = [escape(point).replace("\n", "<br>") for point in points if point]
    if len(lines) > 1:
        where.value = "<ul>" + "".join(f"<li>{line}</li>" for line in lines) + "</ul>"
    else:
        where.value = "".join(f"<p>{line}</p>" for line in lines)


def field(label, value="", *, unit="", hint="", choices=None, name=None):
    """Return a labelled field: a text, or a choice where `choices` are given.

    What was typed is in ``.value`` once Enter is pressed or the field is left. Numbers are typed
    as text too: a number field of the browser swallows a decimal comma.

    Parameters
    ----------
    label : str
        Stands above the field.
    value : str
        What it holds at first.
    unit : str
        Told after the label.
    hint : str
        Stands in the empty field.
    choices : iterable, optional
        What can be chosen: labels, or (label, value).
    name : str, optional
        A class of its own, for the style sheet and the tests.
    """
    description = f"{label} [{unit}]" if unit else label
    if choices is None:
        made = widgets.Text(
            value=str(value), description=description, placeholder=hint, continuous_update=False
        )
    else:
        made = widgets.Dropdown(options=list(choices), description=description)
        if value != "":
            made.value = value
    made.add_class("metro-field")
    if name is not None:
        made.add_class(name)
    return made


def row(*parts):
    """Return parts side by side, going on below where the page is too narrow."""
    made = widgets.HBox(list(parts))
    made.add_class("metro-row")
    return made


def column(*parts, name=None):
    """Return parts one below the other."""
    made = widgets.VBox(list(parts))
    made.add_class("metro-column")
    if name is not None:
        made.add_class(name)
    return made

"""The entry field: the one piece of the worksheet that runs in the browser."""

from pathlib import Path

import anywidget
import traitlets

_BROWSER = Path(__file__).parent / "browser"

#: The parts of the one module that anywidget loads, in the order of their use.
_PARTS = ("typed.js", "outbox.js", "course.js", "entry.js")


class Entry(anywidget.AnyWidget):
    """Prompt, field and steps; it advances in the browser, never from here.

    The browser sends ``{kind, key, text, unit, again, corrects, token, waiting}`` with the kind
    ``"take"``, ``"skip"`` or ``"note"``, one at a time, and waits for the `answer` before it sends
    the next; `corrects` says whether a reading was seen there, `waiting` how many stand
    behind. ``{kind: "at", key}`` only tells where
    the user stepped to, ``{kind: "undo"}`` asks for just that, and
    ``"keep"`` and ``"leave out"`` settle a doubt; ``{kind: "left", tokens}`` asks which entries of
    an earlier opening are `known`. A token may come twice, where an answer was late.

    Attributes
    ----------
    traverse : str
    prompts : list of dict
        The course: key, words, short (for messages), hint, low and high (range of the instrument,
        or None), taken (the reading as text, or ``""``), skipped (the reason, or ``""``).
    at : str
        Key of the prompt to begin with; ``""`` at the end.
    unit : str
        Unit to begin with.
    units : list of str
        What can be chosen; the first is the unit that low and high are in.
    spellings : dict of str to str
        The unit of each spelling that may be typed behind a number.
    in_own : dict of str to float
        How much one of each unit is in the first of `units`.
    folder_key : str
        Under which the browser keeps what is not acknowledged yet.
    locked : str
        Why nothing can be taken now; ``""`` where it can.
    done_words : str
        What stands in the place of the prompt at the end.
    """

    _esm = "\n".join((_BROWSER / name).read_text(encoding="utf-8") for name in _PARTS)
    _css = (_BROWSER / "entry.css").read_text(encoding="utf-8")

    traverse = traitlets.Unicode("").tag(sync=True)
    prompts = traitlets.List().tag(sync=True)
    at = traitlets.Unicode("").tag(sync=True)
    unit = traitlets.Unicode("").tag(sync=True)
    units = traitlets.List().tag(sync=True)
    spellings = traitlets.Dict().tag(sync=True)
    in_own = traitlets.Dict().tag(sync=True)
    folder_key = traitlets.Unicode("").tag(sync=True)
    locked = traitlets.Unicode("").tag(sync=True)
    done_words = traitlets.Unicode("").tag(sync=True)

    def answer(self, how, token, words):
        """Answer an entry.

        Parameters
        ----------
        how : str
            ``"written"`` where it is on disk; ``"kept"`` where it is taken but could not be
            written, so that the browser keeps it as well; ``"refused"`` where it was not taken.
        token : str
            Of the entry.
        words : str
            What is told about it.
        """
        self.send({"kind": how, "token": token, "words": words})

    def doubt(self, key, words, earlier=None):
        """Ask whether the reading at a prompt is to be repeated while the set-up stands.

        Parameters
        ----------
        key : str
            Of the prompt.
        words : str
        earlier : str, optional
            Key of the reading before it at the same place, which can be left out instead.
        """
        self.send({"kind": "doubt", "key": key, "words": words, "earlier": earlier})

    def saved(self):
        """Tell the browser that everything which was kept is on disk now."""
        self.send({"kind": "saved"})

    def known(self, tokens):
        """Tell the browser which entries of an earlier opening are on disk already."""
        self.send({"kind": "known", "tokens": tokens})

    def go(self, key):
        """Have the browser step to a prompt, because the user asked for it elsewhere."""
        self.send({"kind": "go", "key": key})

"""The print log held against the surveyed heights: where the blue agrees, and where it cannot."""

from dataclasses import dataclass, field
from html import escape

import numpy as np

from metrolib import checks
from metrolib.heights.result import Heights
from metrolib.rebuild.bearing.laying import Laying, lay
from metrolib.rebuild.bearing.print_contradictions import (
    Contradiction,
    HiddenShape,
    contradictions_of,
    hidden_shapes,
    took_blue,
)
from metrolib.survey.prints import Print
from metrolib.uncertain.draws import whole
from metrolib.units import from_millimetres, unit_sign


@dataclass(frozen=True, eq=False)
class PrintLog:
    """Prints held against heights.

    Attributes
    ----------
    entries : tuple of Print
    faces : dict of str to Face
    layings : tuple of Laying or str
        What the heights say of each; a text says why one cannot be held against them.
    contradictions : tuple of Contradiction
    hidden : tuple of HiddenShape
    """

    entries: tuple[Print, ...]
    faces: dict
    layings: tuple
    contradictions: tuple[Contradiction, ...]
    hidden: tuple[HiddenShape, ...] = field(default=())

    def in_words(self, unit="um"):
        """Say how many prints agree, and each contradiction.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        against = {item.number for item in self.contradictions}
        held = sum(isinstance(laying, Laying) for laying in self.layings)
        count = f"{len(self.entries)} print{'s' if len(self.entries) != 1 else ''}"
        lines = [
            f"{count} in the log: {held - len(against)} {_verb('go', held - len(against))} with "
            f"the heights, {len(against)} {_verb('contradict', len(against))} them"
        ]
        for number, laying in enumerate(self.layings):
            if not isinstance(laying, Laying):
                lines.append(f"print {number + 1} ({self.entries[number]}): not held, {laying}")
        lines += [item.in_words(unit) for item in (*self.contradictions, *self.hidden)]
        return "\n".join(lines)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        first, *others = self.in_words().split("\n")
        items = "".join(f"<li>{escape(line)}</li>" for line in others)
        return f"<p>{escape(first)}</p>{f'<ul>{items}</ul>' if items else ''}"

    def to_dataframe(self, unit="um"):
        """Return each print at each station as a pandas table.

        Parameters
        ----------
        unit : str
            Unit of gaps, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign = unit_sign(unit)
        return DataFrame(
            [
                {
                    "print": number + 1,
                    "face": entry.face,
                    "x [mm]": float(laying.x[i]),
                    "took blue": {True: "yes", False: "no", None: "?"}[took],
                    f"gap [{sign}]": float(from_millimetres(laying.gap[i], unit)),
                    f"u(gap) [{sign}]": float(from_millimetres(laying.gap_u[i], unit)),
                    "would print": float(laying.still[i]),
                    "would print rocked": float(laying.rocking[i]),
                }
                for number, (entry, laying) in enumerate(
                    zip(self.entries, self.layings, strict=True)
                )
                if isinstance(laying, Laying)
                for i, took in enumerate(took_blue(entry, laying.x))
            ]
        )


def print_log(heights, prints, *, draws=2000, seed=1):
    """Hold a log of prints against surveyed heights.

    Parameters
    ----------
    heights : Heights
    prints : sequence of Print
        Such as ``survey.prints``, which stand in survey.toml as ``[[prints]]``.
    draws : int
        Joint draws of the heights and of the film, which tell how sure each gap is.
    seed : int

    Returns
    -------
    PrintLog

    Raises
    ------
    InputError
        If a face is none of the heights', something else than prints is given, or a print's places
        or film cannot be.

    Notes
    -----
    A rigid straightedge rests on the face where its centre of gravity, taken in its middle, sinks
    lowest (`metrolib.form.resting`); where the gap is below the film, blue comes off. A
    contradiction is named where blue came off and the heights give that less than 5 %, or it did
    not and they give it more than 95 %. A film is known to 40 % of itself. Between two stations,
    and within 10 mm of the end of a stretch that took blue, nothing is held against the heights.

    A straightedge of length S under a film t does not show an even bow below t (L/S)² over a length
    L: a parabola's rise goes with the square of its length.

    Examples
    --------
    A hump of 40 µm, and a short edge that rocked on it until all was blue:

    >>> from metrolib import Face, Print, given_heights, print_log
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=800)
    >>> x = [0, 200, 400, 600, 800]
    >>> heights = given_heights([flat], {"flat": (x, [-0.04, -0.01, 0, -0.01, -0.04])}, u=0.001)
    >>> log = print_log(heights, [Print("flat", laid=(0, 800), printed=((0, 800),))])
    >>> print(log.contradictions[0].x.tolist(), log.contradictions[0].why[:38])
    [0.0, 200.0, 600.0, 800.0] a face that is high in the middle rock
    """
    draws, seed = whole("draws", draws, at_least=100), whole("seed", seed, at_least=0)
    checks.kind("heights", heights, Heights, "give what adjust or given_heights returns")
    prints = checks.listed("prints", prints, Print, "give Print(...)")
    for entry in prints:
        _check(entry, heights.faces)
    layings = tuple(_lay(heights, entry, draws, seed) for entry in prints)
    found = [
        item
        for number, (entry, laying) in enumerate(zip(prints, layings, strict=True))
        if isinstance(laying, Laying)
        for item in contradictions_of(number, entry, laying)
    ]
    hidden = hidden_shapes(heights, prints)
    return PrintLog(prints, heights.faces, layings, tuple(found), hidden)


def _check(entry, faces):
    """Refuse a print that was made by hand and cannot be."""
    checks.choice("face", entry.face, faces)
    checks.number("film", entry.film, above=0)
    checks.number("straightedge_u", entry.straightedge_u, at_least=0)
    bounds = checks.pair("laid", entry.laid)
    if np.ndim(entry.printed) == 0 or np.shape(entry.printed) == (2,):
        raise checks.wrong(
            "printed",
            "stretches are needed",
            entry.printed,
            "give ((from, to), ...): (laid,) where it printed all over, () where nowhere",
        )
    stretches = checks.table("printed", entry.printed, 2) if len(entry.printed) else np.empty(0)
    remedy = "give (from, to) along the ways"
    if bounds[0] >= bounds[1]:
        raise checks.wrong("laid", "its ends do not ascend", entry.laid, remedy)
    if stretches.size and (np.diff(stretches) < 0).any():
        raise checks.wrong("printed", "its ends do not ascend", stretches.tolist(), remedy)
    if stretches.size and (stretches.min() < bounds.min() or stretches.max() > bounds.max()):
        raise checks.wrong(
            "printed", "it lies beyond what was laid", stretches.tolist(), f"laid is {entry.laid}"
        )


def _verb(word, count):
    """Return a verb as its number asks."""
    return word if count != 1 else "goes" if word == "go" else f"{word}s"


def _lay(heights, entry, draws, seed):
    if not (heights.face == entry.face).any():
        return "no reading reaches the face"
    profile = heights.on(entry.face)
    if np.unique(profile.y).size > 1:
        return "the face was surveyed at several y, which one print cannot be held against"
    if profile.left_out.all():
        return "all its stations are left out"
    return lay(profile, heights.faces[entry.face], entry, draws=draws, seed=seed)

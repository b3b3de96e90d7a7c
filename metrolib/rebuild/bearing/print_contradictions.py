"""Where a print and the heights cannot both be right, and what full prints hide."""

from dataclasses import dataclass

import numpy as np

from metrolib.form.short_straightedge import hidden_bow
from metrolib.form.straightness import straightness
from metrolib.form.wording import nominal, places, uncertainty
from metrolib.rebuild.bearing.print_reasons import pattern_of, why
from metrolib.units import show_length

#: A print is surely there, or surely not, beyond this probability.
_SURE = 0.95

#: So near to the end of a stretch that took blue nobody tells on which side a station lies [mm].
_BLURRED = 10.0


@dataclass(frozen=True, eq=False)
class Contradiction:
    """A place where print and heights cannot both be right.

    Attributes
    ----------
    number : int
        Of the print in the log, from 0.
    face : str
    x : ndarray, shape (k,)
        The stations [mm].
    printed : bool
        True: it printed though the heights show a gap; False: it stayed bare though they show none.
    gap, gap_u : float
        The widest gap there, or the least where it stayed bare, and its standard uncertainty [mm].
    why : str
        What may be behind it.
    """

    number: int
    face: str
    x: np.ndarray
    printed: bool
    gap: float
    gap_u: float
    why: str

    def in_words(self, unit="um"):
        """Say where, what and perhaps why."""
        size = f"{show_length(self.gap, unit)} (u = {show_length(self.gap_u, unit)})"
        if self.printed:
            told = f"printed at {places(self.x)}, where the heights show a gap of up to {size}"
        else:
            told = f"bare at {places(self.x)}, where the heights show a gap of {size} only"
        return f"print {self.number + 1} on {self.face!r} {told}: perhaps {self.why}"


@dataclass(frozen=True, eq=False)
class HiddenShape:
    """A face that prints all over, under edges too short to see its shape.

    Attributes
    ----------
    face : str
    numbers : tuple of int
        The prints, from 0.
    out_of_straight : float or `uncertainties` number
        Straightness of all its stations, minimum zone [mm].
    over : float
        From the first to the last of them [mm].
    longest : float
        Longest straightedge that was laid [mm].
    hides : float
        The uniform bow of the face that a straightedge so short cannot see [mm].
    """

    face: str
    numbers: tuple[int, ...]
    out_of_straight: object
    over: float
    longest: float
    hides: float

    def in_words(self, unit="um"):
        """Say what was printed and what it hides."""
        return (
            f"{self.face!r} prints all over under {self.longest:g} mm, yet its heights are "
            f"{show_length(nominal(self.out_of_straight), unit)} out of straight over "
            f"{self.over:g} mm: a straightedge so short shows no even bow below "
            f"{show_length(self.hides, unit)} and nothing of what lies beside it"
        )


def took_blue(entry, x):
    """Return for each station whether it took blue: True, False, or None too near to an end."""
    told = []
    for at in x:
        inner = any(start + _BLURRED < at < end - _BLURRED for start, end in entry.printed)
        near = any(start - _BLURRED <= at <= end + _BLURRED for start, end in entry.printed)
        # at the end of the straightedge itself there is no other side
        ended = any(
            abs(at - edge) <= _BLURRED and edge in stretch
            for edge in entry.laid
            for stretch in entry.printed
        )
        told.append(True if inner or ended else None if near else False)
    return told


def contradictions_of(number, entry, laying):
    """Yield the contradictions between a print and what the heights say of it, two at most.

    Parameters
    ----------
    number : int
        Of the print in the log, from 0.
    entry : Print
    laying : Laying

    Yields
    ------
    Contradiction
    """
    took = took_blue(entry, laying.x)
    shut = np.array([one is True for one in took]) & (laying.still < 1 - _SURE)
    bare = np.array([one is False for one in took]) & (laying.still > _SURE)
    for at, printed in ((shut, True), (bare, False)):
        if at.any():
            which = np.flatnonzero(at)
            worst = which[np.argmax(laying.gap[at]) if printed else np.argmin(laying.gap[at])]
            yield Contradiction(
                number,
                entry.face,
                laying.x[at],
                printed,
                float(laying.gap[worst]),
                float(laying.gap_u[worst]),
                why(entry, laying, printed=printed),
            )


def hidden_shapes(heights, prints):
    """Return the faces whose every print is full and whose heights are not straight.

    Parameters
    ----------
    heights : Heights
    prints : sequence of Print

    Returns
    -------
    tuple of HiddenShape
    """
    found = []
    for face in dict.fromkeys(entry.face for entry in prints):
        numbers = [number for number, entry in enumerate(prints) if entry.face == face]
        full = all(pattern_of(prints[number]) == "all over" for number in numbers)
        profile = heights.on(face) if (heights.face == face).any() else None
        if not full or profile is None or np.unique(profile.y).size > 1:
            continue
        kept = ~profile.left_out
        if kept.sum() < 3:
            continue
        x, longest = profile.x[kept], max(prints[number].length for number in numbers)
        film = min(prints[number].film for number in numbers)
        out = straightness(x, profile.z[kept])
        if longest < np.ptp(x) and nominal(out.value) - 2 * (uncertainty(out.value) or 0) > film:
            hides = hidden_bow(float(np.ptp(x)), longest, film).value
            found.append(
                HiddenShape(face, tuple(numbers), out.value, float(np.ptp(x)), longest, hides)
            )
    return tuple(found)

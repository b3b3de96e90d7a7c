"""Dressing by the print alone: what a way is left with, from the middle or from an end."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.print_under import no_doubles, print_under
from metrolib.form.short_straightedge import HiddenBow, hidden_bow
from metrolib.form.straightness import Straightness, straightness
from metrolib.units import show_length

#: Where to begin.
BEGINNINGS = ("middle", "near end", "far end")

_FAINT = 0.02  # a cut below this share of the full one is not worth another print


@dataclass(frozen=True, eq=False)
class DressByPrint:
    """A way dressed by the print of a short straightedge.

    Attributes
    ----------
    value : float
        How much higher the two ends are left than the middle, on the mean [mm]: above zero, the
        way is left hollow.
    x : ndarray, shape (n,)
        Places, ascending [mm].
    before, after : ndarray, shape (n,)
        Heights [mm].
    left : Straightness
        Of what is left.
    hidden : HiddenBow
        What the straightedge cannot show at all.
    begin : str
        ``"middle"``, ``"near end"`` or ``"far end"``.
    starts : tuple of float
        Where the straightedge's one end lay, placing by placing [mm].
    prints : int
        How many prints were taken.
    not_full : tuple of float
        Placings, of `starts`, that do not print all over: what was not dressed yet lies too low
        there, and nothing that may be cut stands high.
    """

    value: float
    x: np.ndarray
    before: np.ndarray
    after: np.ndarray
    left: Straightness
    hidden: HiddenBow
    begin: str
    starts: tuple[float, ...]
    prints: int
    not_full: tuple[float, ...]

    @property
    def removed(self):
        """What came off at each place, shape (n,) [mm]."""
        return self.before - self.after

    @property
    def mean_removed(self):
        """What came off on the mean over the way [mm]."""
        middle = (self.removed[1:] + self.removed[:-1]) / 2
        return float(middle @ np.diff(self.x) / np.ptp(self.x))

    @property
    def tilted(self):
        """How much more came off the x = 0 end than off the far end [mm]."""
        return float(self.removed[0] - self.removed[-1])

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        lie = "high" if self.value > 0 else "low"
        said = (
            f"dressed from the {self.begin} by {self.prints} prints of a straightedge of "
            f"{self.hidden.straightedge:.10g} mm: the ends are left "
            f"{show_length(abs(self.value), unit)} {lie} against the middle, straightness "
            f"{wording.length(self.left.value, unit)} (hidden bow "
            f"{wording.length(self.hidden.value, unit)}); "
            f"{show_length(self.mean_removed, unit)} came off on the mean"
        )
        if self.not_full:
            places = wording.places(self.not_full)
            said += f"; laid from {places} it does not print all over: the way is low there"
        return said

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            f"Dressed by the print, from the {self.begin}",
            [
                ("ends left high by", wording.length(self.value, "um")),
                ("straightness left", wording.length(self.left.value, "um")),
                ("hidden bow", wording.length(self.hidden.value, "um")),
                ("came off, mean", wording.length(self.mean_removed, "um")),
                ("more off the x = 0 end than the far end", wording.length(self.tilted, "um")),
                ("prints", self.prints),
            ],
        )


def dress_by_print(x, z, straightedge, film, *, begin="middle", lap=0.5, cut=None):
    """Dress a way on paper as one dresses it by the print of a short straightedge alone.

    Parameters
    ----------
    x : array_like, shape (n,)
        Places along the way [mm], near enough to each other to draw its shape.
    z : array_like, shape (n,)
        Heights before [mm].
    straightedge : float
        Its length, at most that of the way [mm].
    film : float
        Thickness of the film of blue [mm].
    begin : {"middle", "near end", "far end"}
        Where the straightedge is laid first: from the middle it goes outward, in turn to either
        side; from an end to the other.
    lap : float
        Share of each placing that lies on what is dressed already, at least; 0 to below 1. The
        placings are spread evenly, one of them on the middle.
    cut : float, optional
        What a pass takes where the print is darkest, at most the film [mm]; half of the film when
        not given.

    Returns
    -------
    DressByPrint

    Raises
    ------
    InputError
        If a number is out of its limits or the straightedge is longer than the way.

    Notes
    -----
    A model of a careful worker who has nothing but the print. At each placing the straightedge
    lies as `print_under` finds. What prints is cut, full depth where it touches and in proportion
    less where the film bridges a gap, but never what an earlier placing made good: that is the
    datum. It is printed again until all of it prints, or until nothing that may be cut prints.

    What is left is an arc that the film bridges at every placing, so the ends stay high by nearly
    the hidden bow, wherever one began. From the middle each end is half a length from the datum;
    from an end the slope of that end is carried down the whole way, at the price of much metal and
    of a tilted way. The order of the two ends matters nothing to the model.

    Examples
    --------
    A way worn 60 µm hollow:

    >>> import numpy as np
    >>> x = np.arange(0, 1501, 25.0)
    >>> found = dress_by_print(x, 0.06 * (2 * x / 1500 - 1) ** 2, 500, 0.003)
    >>> print(found)
    dressed from the middle by 80 prints of a straightedge of 500 mm: the ends are left 22.5 µm \
high against the middle, straightness 22.5 µm (hidden bow 27.0 µm); 11.8 µm came off on the mean
    """
    x = checks.vector("x", x, least=3)
    order = np.argsort(x, kind="stable")
    before = checks.vector("z", z, least=3)
    checks.same_length(x=x, z=before)
    no_doubles(x)
    x, before = x[order], before[order]
    hidden = hidden_bow(float(np.ptp(x)), straightedge, film)
    checks.choice("begin", begin, BEGINNINGS)
    starts = _placings(x, hidden.straightedge, begin, _share("lap", lap))
    film = float(hidden.film)
    cut = film / 2 if cut is None else checks.number("cut", cut, above=0)
    if cut > film:
        raise checks.wrong("cut", f"it must be at most the film, {film:g}", cut, "cut finer")
    after, prints, dressed, not_full = before.copy(), 0, np.zeros(x.size, dtype=bool), []
    for start in starts:
        taken, full = _dress_one(x, after, dressed, hidden.straightedge, film, start, cut)
        prints += taken
        if not full:
            not_full.append(start)
    return DressByPrint(
        value=_ends_high(x, after),
        x=x,
        before=before,
        after=after,
        left=straightness(x, after),
        hidden=hidden,
        begin=begin,
        starts=starts,
        prints=prints,
        not_full=tuple(not_full),
    )


def _dress_one(x, after, dressed, straightedge, film, start, cut):
    """Dress one placing, in place; return how many prints it took, and whether it is full."""
    prints = 0
    while True:
        found = print_under(x, after, straightedge, film, start=start)
        prints += 1
        full = bool(found.printed.all())
        depth = np.where(dressed[found.at], 0.0, cut * np.clip(1 - found.gap / film, 0.0, 1.0))
        if full or depth.max() < _FAINT * cut:
            dressed[found.at] = True
            return prints, full
        after[found.at] -= depth


def _placings(x, straightedge, begin, lap):
    """Return where one end of the straightedge lies, placing by placing, in their order."""
    room = np.ptp(x) - straightedge
    if room < -1e-9 * straightedge:
        raise checks.wrong(
            "straightedge",
            f"it must be at most as long as the way, {np.ptp(x):g} mm",
            straightedge,
            "a straightedge that covers the way needs no placings",
        )
    steps = int(np.ceil(room / (straightedge * (1 - lap)) - 1e-9))
    steps += steps % 2  # so that one placing is on the middle
    places = x[0] + np.linspace(0, max(room, 0.0), steps + 1)
    if begin == "middle":
        places = places[np.argsort(np.abs(np.arange(steps + 1) - steps // 2), kind="stable")]
    elif begin == "far end":
        places = places[::-1]
    return tuple(places.tolist())


def _ends_high(x, z):
    """Return how much higher the ends are than the middle, on the mean."""
    return float((z[0] + z[-1]) / 2 - np.interp((x[0] + x[-1]) / 2, x, z))


def _share(argument, value):
    value = checks.number(argument, value, at_least=0)
    if value >= 1:
        raise checks.wrong(argument, "it must be below 1", value, "half is common practice")
    return value

"""What prints under a straightedge that lies on a way by its own weight."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.resting import resting

_EDGE = 1e-9  # share of the way by which a place may miss the end of the straightedge


@dataclass(frozen=True, eq=False)
class PrintUnder:
    """How a straightedge lies on a way, and what prints under it.

    Attributes
    ----------
    x : ndarray, shape (n,)
        Places of the way under the straightedge, ascending [mm].
    at : ndarray of int, shape (n,)
        Where they stand in the way as given.
    z : ndarray, shape (n,)
        Heights of the way there [mm].
    sole : ndarray, shape (n,)
        Heights of the sole there [mm].
    film : float
        [mm]
    contacts : tuple of int
        Places, of `x`, that carry the straightedge: two, or one that it rocks on.
    """

    x: np.ndarray
    at: np.ndarray
    z: np.ndarray
    sole: np.ndarray
    film: float
    contacts: tuple[int, ...]

    @property
    def gap(self):
        """How far the way lies below the sole, shape (n,) [mm]."""
        return self.sole - self.z

    @property
    def printed(self):
        """Whether each place prints, shape (n,)."""
        return self.gap <= self.film * (1 + 1e-9)

    @property
    def share(self):
        """Share of the places that print."""
        return float(self.printed.mean())

    @property
    def rocks(self):
        """Whether it lies on one place alone, under its middle."""
        return len(self.contacts) == 1

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        lies = "rocks on" if self.rocks else "bears at"
        return (
            f"the straightedge {lies} {wording.places(self.x[list(self.contacts)])}; "
            f"{100 * self.share:.0f} % of the places print, widest gap "
            f"{wording.length(float(self.gap.max()), unit)}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Print under the straightedge",
            [
                ("carried at", wording.places(self.x[list(self.contacts)])),
                ("prints", f"{100 * self.share:.0f} %"),
                ("widest gap", wording.length(float(self.gap.max()), "um")),
                ("film", wording.length(self.film, "um")),
            ],
        )


def print_under(x, z, straightedge, film, *, start=None):
    """Find how a rigid straightedge lies on a way under its own weight, and what prints.

    Parameters
    ----------
    x : array_like, shape (n,)
        Places along the way [mm], in any order, near enough to each other to draw its shape.
    z : array_like, shape (n,)
        Heights of the way [mm].
    straightedge : float
        Its length [mm].
    film : float
        Thickness of the film of blue [mm].
    start : float, optional
        Where its one end lies [mm]; it reaches toward +x. On the middle of the way when not given.

    Returns
    -------
    PrintUnder

    Raises
    ------
    InputError
        If lengths differ, a size is not above zero, a place comes twice, the straightedge reaches
        beyond the way, or fewer than three places lie under it.

    Notes
    -----
    It comes to rest where its centre of gravity, its middle, is lowest: on the facet of the upper
    convex hull of the places that lies under the middle. Where the hull has a corner just there it
    rocks on that; it is drawn midway. The straightedge is straight, rigid and not rubbed to and
    fro: a long rub lets a rocking straightedge print all over.

    Examples
    --------
    A step of 0.02 mm: the straightedge leans on it, its other end on the low side:

    >>> found = print_under([0, 100, 200, 300, 400], [0, 0, 0, 0.02, 0.02], 400, 0.003)
    >>> found.x[list(found.contacts)].tolist(), found.printed.tolist()
    ([0.0, 300.0], [True, False, False, True, False])
    """
    x, z = checks.vector("x", x, least=3), checks.vector("z", z, least=3)
    checks.same_length(x=x, z=z)
    no_doubles(x)
    straightedge = checks.number("straightedge", straightedge, above=0)
    film = checks.number("film", film, above=0)
    if start is None:
        start = (x.min() + x.max() - straightedge) / 2
    start, slack = checks.number("start", start), _EDGE * np.ptp(x)
    if start < x.min() - slack or start + straightedge > x.max() + slack:
        raise checks.wrong(
            "start",
            f"the straightedge must lie on the way, from {x.min():g} to {x.max():g} mm",
            f"{start:g} to {start + straightedge:g} mm",
            "move it, or take a shorter one",
        )
    under = np.flatnonzero((x >= start - slack) & (x <= start + straightedge + slack))
    under = under[np.argsort(x[under], kind="stable")]
    middle = start + straightedge / 2
    if under.size < 3 or not x[under[0]] < middle < x[under[-1]]:
        raise checks.wrong(
            "x",
            f"at least 3 places from {start:g} to {start + straightedge:g} mm, on both sides of "
            "the middle, are needed",
            under.size,
            "add places",
        )
    # a place that lies under the middle but for rounding lies under it
    nearest = x[under][np.abs(x[under] - middle).argmin()]
    middle = nearest if abs(nearest - middle) <= slack else middle
    rests = resting(x[under], z[under], middle)
    contacts = tuple(dict.fromkeys([int(rests.left), int(rests.right)]))
    return PrintUnder(x[under], under, z[under], z[under] + rests.gap, film, contacts)


def no_doubles(x):
    """Refuse a place that comes twice: the way has one height at each.

    Raises
    ------
    InputError
    """
    places, times = np.unique(x, return_counts=True)
    if times.max() > 1:
        raise checks.wrong(
            "x",
            "a place comes twice",
            f"{places[times.argmax()]:g} mm",
            "give the mean of its heights",
        )

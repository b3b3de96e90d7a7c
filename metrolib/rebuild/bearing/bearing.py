"""Bearing: spots per 25 mm square and share of the area that bears, from a count by hand."""

from dataclasses import dataclass, field

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.rebuild.bearing.bearing_rules import RULES
from metrolib.rebuild.bearing.squares import USUAL, Scatter, covariance_of_means, scatter_of
from metrolib.uncertain.linear import measured

#: What is said beside every number of spots.
TEXTURE = "spots tell the texture of a face, not its shape"


@dataclass(frozen=True, eq=False)
class Bearing:
    """Spots per 25 mm square, and how much of the area bears.

    Attributes
    ----------
    value : `uncertainties` number
        Spots per 25 mm square, the mean of the squares.
    share : `uncertainties` number or None
        Share of the area that bears, 0 to 1; None where nobody judged it.
    counts : ndarray, shape (n,)
        Spots in each square, as counted.
    shares : ndarray, shape (n,), or None
        Share of each square that bears.
    square : float
        Side of the squares that were counted [mm].
    scatter : Scatter or None
        Whether the squares scatter as chance would; None where that cannot be told.
    parts : dict of str to float
        What the standard uncertainty of `value` is made of.
    photo : BluedPhoto or None
        The photograph and what was seen in it; None for a count by hand.
    """

    value: object
    share: object
    counts: np.ndarray
    shares: np.ndarray | None
    square: float
    scatter: Scatter | None
    parts: dict = field(default_factory=dict)
    photo: object = None

    def in_words(self):
        """Return the sentence that a rebuilder would write down."""
        return f"{self._number()}{self._area()}; {self._chance()} ({TEXTURE})"

    def _number(self):
        n = self.counts.size
        squares = f"{n} squares" if n > 1 else "one square only"
        hidden = 0 if self.photo is None else np.count_nonzero(~self.photo.counted)
        squares += f"; {hidden} left out under glare" if hidden else ""
        return (
            f"{_rounded(self.value.n, self.value.s)} spots per {USUAL:g} mm square "
            f"(u = {_rounded(self.value.s, self.value.s)}, from {squares})"
        )

    def _area(self):
        if self.share is None:
            return ""
        percent, u = 100 * self.share.n, 100 * self.share.s
        return f", {_rounded(percent, u)} % of the area bears (u = {_rounded(u, u)} %)"

    def _chance(self):
        if self.counts.size == 1:
            return "u is what chance alone would do to one square: count some more"
        return "no spots were seen" if self.scatter is None else str(self.scatter)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [("spots", self._number())]
        if self.share is not None:
            rows.append(("area", self._area().removeprefix(", ")))
        rows += [("squares", self._chance()), ("what it tells", TEXTURE)]
        rows += [(f"u: {part}", f"{u:.1f}") for part, u in self.parts.items()]
        rows += [(f"usual on {rule}", self.beside(rule)) for rule in RULES]
        return wording.table("Bearing", rows)

    def beside(self, rule):
        """Say how the number of spots stands to a rule of thumb: a comparison, not a verdict.

        Parameters
        ----------
        rule : BearingRule

        Returns
        -------
        str
            ``"fewer"``, ``"within"`` or ``"more"``; ``"cannot tell"`` where an end of the range
            is nearer than 2 u.
        """
        low, high = rule.spots
        spots, reach = self.value.n, 2 * self.value.s
        if spots + reach < low:
            return "fewer"
        if spots - reach > high:
            return "more"
        return "within" if low <= spots - reach and spots + reach <= high else "cannot tell"

    def to_dataframe(self):
        """Return the squares as a pandas table: what was counted, and per 25 mm square."""
        from pandas import DataFrame

        columns = {
            "square": np.arange(1, self.counts.size + 1),
            f"spots on {self.square:g} mm": self.counts,
            f"spots on {USUAL:g} mm": self.counts * (USUAL / self.square) ** 2,
        }
        if self.shares is not None:
            columns["area that bears [%]"] = 100 * self.shares
        return DataFrame(columns)


def bearing_from_counts(counts, shares=None, *, square=USUAL, u_count=0.0, u_share=0.0):
    """Find the bearing from spots that were counted by hand.

    Parameters
    ----------
    counts : array_like, shape (n,)
        Spots in each of several squares of one size, spread over the face. Count a spot that lies
        across the edge only at two of the four sides, always the same ones.
    shares : array_like, shape (n,), optional
        Share of each square that bears, 0 to 1, as judged.
    square : float
        Side of the squares [mm]; 25.4 for an inch, less on a narrow face. The result is told for
        25 mm.
    u_count : float
        Standard uncertainty of what is called one spot, as a share of the count and common to all
        squares: two people who count the same square tell it.
    u_share : float
        Standard uncertainty of judging shares, common to all squares [as the shares].

    Returns
    -------
    Bearing

    Raises
    ------
    InputError
        If a number is not finite or below 0, a share is above 1, lengths differ, or the square is
        not above 0.

    Notes
    -----
    u of the mean is the scatter between the squares over the square root of their number: it holds
    where they were picked without choice, such as each 200 mm, and not the finest ones.

    Examples
    --------
    >>> from metrolib.rebuild.bearing.bearing import bearing_from_counts
    >>> print(bearing_from_counts([12, 15, 17, 13, 10, 17], [0.35, 0.4, 0.4, 0.35, 0.3, 0.45]))
    14.0 spots per 25 mm square (u = 1.2, from 6 squares), 37.5 % of the area bears (u = 2.1 %);
    the squares scatter as chance alone would (spots tell the texture of a face, not its shape)
    """
    counts = _at_least_0("counts", counts)
    square = checks.number("square", square, above=0)
    u_count = checks.number("u_count", u_count, at_least=0)
    u_share = checks.number("u_share", u_share, at_least=0)
    if shares is not None:
        shares = _at_least_0("shares", shares)
        checks.same_length(counts=counts, shares=shares)
        if shares.max() > 1:
            raise checks.wrong("shares", "a share is above 1", shares.max(), "write 38 % as 0.38")
    spots = float(counts.mean()) * (USUAL / square) ** 2
    parts = {"what is called a spot": u_count * spots}
    return make_bearing(counts, shares, square, parts, u_share=u_share)


def make_bearing(counts, shares, square, parts, *, u_share=0.0, photo=None):
    """Return the `Bearing` of counted squares.

    Parameters
    ----------
    counts, shares, square
        As for `bearing_from_counts`, checked.
    parts : dict of str to float
        Standard uncertainties of spots per 25 mm square that are common to all squares.
    u_share : float
        The same of the share.
    photo : BluedPhoto, optional
    """
    cov = covariance_of_means(counts, shares)
    scale = (USUAL / square) ** 2
    cov[0] *= scale
    cov[:, 0] *= scale
    between = float(np.sqrt(cov[0, 0]))
    cov[0, 0] += sum(u**2 for u in parts.values())
    values = [float(counts.mean()) * scale]
    if shares is not None:
        values.append(float(shares.mean()))
        cov[1, 1] += u_share**2
    found = measured("counts", values, cov).several(np.eye(len(values)), values)
    share = found[1] if shares is not None else None
    named = "between the squares" if counts.size > 1 else "chance, from one square"
    parts = {named: between} | {part: u for part, u in parts.items() if u > 0}
    return Bearing(found[0], share, counts, shares, square, scatter_of(counts), parts, photo)


def _at_least_0(name, numbers):
    numbers = checks.vector(name, numbers)
    if numbers.min() < 0:
        raise checks.wrong(name, "a number is below 0", numbers.min(), "correct it")
    return numbers


def _digits(u):
    """Return the digits after the decimal point that an uncertainty leaves."""
    return 1 if u < 9.95 else 0


def _rounded(number, u):
    """Write a number with the digits that its uncertainty leaves."""
    return f"{number:.{_digits(u)}f}"

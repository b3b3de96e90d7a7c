"""Which end of a way to take first, when working from the middle."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.lines import least_squares
from metrolib.uncertain.linear import measured
from metrolib.units import show_length

_ENDS = ("the x = 0 end", "the far end")

_EVEN = 5e-7  # ends nearer to each other, or to the line, than this differ by rounding alone [mm]


@dataclass(frozen=True, eq=False)
class FirstEnd:
    """How the two ends of a way lie against its middle.

    Attributes
    ----------
    value : float or `uncertainties` number
        How much higher the far end lies than the x = 0 end, both against the middle [mm].
    near, far : float or `uncertainties` number
        Height of each end above the line of the middle [mm].
    slope : float or `uncertainties` number
        Of the line of the middle [mm/m].
    middle_from, middle_to : float
        The middle: as much of the way as the straightedge covers [mm].
    x : ndarray, shape (n,)
        Stations, ascending [mm].
    above : ndarray, shape (n,)
        Height of each above the line of the middle [mm].
    above_u : ndarray, shape (n,), or None
        [mm]
    """

    value: object
    near: object
    far: object
    slope: object
    middle_from: float
    middle_to: float
    x: np.ndarray
    above: np.ndarray
    above_u: np.ndarray | None

    @property
    def first(self):
        """The end to take: "near end" or "far end"; None where none is told higher, or both low."""
        if len(self.low) == 2:
            return None
        difference, u = wording.nominal(self.value), wording.uncertainty(self.value) or 0.0
        if abs(difference) <= max(2 * u, _EVEN):
            return None
        return "far end" if difference > 0 else "near end"

    @property
    def low(self):
        """The ends below the line of the middle by more than 2 u: "near end", "far end"."""
        return tuple(
            name
            for name, end in (("near end", self.near), ("far end", self.far))
            if wording.nominal(end) < -max(2 * (wording.uncertainty(end) or 0.0), _EVEN)
        )

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        heights = " and ".join(
            f"{name} {show_length(wording.nominal(end), unit, sign=True)}"
            f"{wording.expanded(end, unit)}"
            for name, end in zip(_ENDS, (self.near, self.far), strict=True)
        )
        if len(self.low) == 2:
            take = "neither end is to be taken"
        elif self.first is None:
            take = "the ends cannot be told apart: take either first"
        else:
            take = f"after the middle take {_ENDS[self.first == 'far end']} first, it lies higher"
        low = [_ENDS[end == "far end"] for end in self.low]
        warn = (
            f"; {wording.listing(low)} {'lies' if len(low) == 1 else 'lie'} below the line of the "
            "middle and cannot be dressed up to it: lower or tilt the target first"
            if low
            else ""
        )
        return (
            f"against the middle ({self.middle_from:.10g} to {self.middle_to:.10g} mm): {heights}; "
            f"{take}{warn}"
        )

    def _taken(self):
        """Say which end to take first, in a word."""
        return "neither" if len(self.low) == 2 else self.first or "either"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Ends against the middle",
            [
                (_ENDS[0], wording.measured_length(self.near)),
                (_ENDS[1], wording.measured_length(self.far)),
                ("far end higher by", wording.measured_length(self.value)),
                ("take first", self._taken()),
            ],
        )


def first_end(x, z, u=None, *, straightedge):
    """Tell how the ends of a way lie against its middle, and which to take first.

    Parameters
    ----------
    x : array_like, shape (n,)
        Stations along the way [mm], in any order.
    z : array_like, shape (n,)
        Heights [mm]: floats or `uncertainties` numbers.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the heights [mm], or their covariance [mm²].
    straightedge : float
        Its length [mm]: the middle is what it covers there.

    Returns
    -------
    FirstEnd

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, or fewer than two stations lie in the middle.

    Notes
    -----
    The line of the middle is the least-squares line of the stations that the straightedge covers.
    That the middle is dressed first and the higher end next is common practice, no published
    source: the higher end holds the metal that must go, and the middle, once true, is the datum
    that no end may be let below.

    Examples
    --------
    >>> print(first_end([0, 250, 500, 750, 1000], [0.02, 0, 0, 0, 0.05], straightedge=500))
    against the middle (250 to 750 mm): the x = 0 end +20.0 µm and the far end +50.0 µm; after \
the middle take the far end first, it lies higher
    """
    x = checks.vector("x", x, least=3)
    heights = measured("z", z, u, least=3)
    checks.same_length(x=x, z=heights.values)
    half = checks.number("straightedge", straightedge, above=0) / 2
    centre = (x.min() + x.max()) / 2
    inside = np.flatnonzero(np.abs(x - centre) <= half + 1e-9 * np.ptp(x))
    if inside.size < 2 or np.ptp(x[inside]) == 0:
        raise checks.wrong(
            "straightedge",
            "at least two stations under it in the middle are needed",
            inside.size,
            "add stations, or give the longer straightedge",
        )
    order = np.argsort(x, kind="stable")
    line = np.zeros((2, x.size))
    line[:, inside] = least_squares(x[inside] - centre).weights
    above = (np.eye(x.size) - line[0] - np.outer(x - centre, line[1]))[order]
    rows = np.array([above[-1] - above[0], above[0], above[-1], 1000 * line[1]])
    level = heights.values - heights.values[0]  # a height common to all costs no digits
    value, near, far, slope = heights.several(rows, rows @ level)
    cov = heights.covariance(above)
    return FirstEnd(
        value=value,
        near=near,
        far=far,
        slope=slope,
        middle_from=float(max(centre - half, x.min())),
        middle_to=float(min(centre + half, x.max())),
        x=x[order],
        above=above @ level,
        above_u=None if cov is None else np.sqrt(np.maximum(np.diag(cov), 0.0)),
    )

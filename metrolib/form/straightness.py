"""Straightness of one measured line."""

from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.deviations import Deviations, decided_by
from metrolib.form.lines import Line, line_of, reference_line
from metrolib.form.lines_batched import line_ranges
from metrolib.uncertain.linear import measured


@dataclass(frozen=True, eq=False)
class Straightness:
    """Straightness of one line, with all that the figure was made from.

    Attributes
    ----------
    value : float or `uncertainties` number
        Height of the highest station less that of the lowest, both above the reference line [mm].
    reference : str
        ``"minimum zone"``, ``"least squares"`` or ``"end points"``.
    line : Line
        The reference line; for the minimum zone the middle of the zone.
    x : ndarray, shape (n,)
        Stations, as given [mm].
    deviations : Deviations
        The deviations with their joint uncertainty.
    contacts : tuple of int
        Stations that decide the value, in ascending x: three for a minimum zone (or the two that
        stand at one place), else the highest and the lowest.
    """

    value: object
    reference: str
    line: Line
    x: np.ndarray
    deviations: Deviations
    contacts: tuple[int, ...]

    @property
    def deviation(self):
        """Height of each station above the reference line, shape (n,) [mm]."""
        return self.deviations.values

    @property
    def deviation_u(self):
        """Standard uncertainty of each deviation, shape (n,), or None [mm]."""
        return self.deviations.u

    @cached_property
    def tied(self):
        """Stations that cannot be told from a contact, so that `value` is less sure than its u."""
        return self.deviations.tied(self.contacts)

    @property
    def width(self):
        """Width of the zone square to the line [mm]; `value` is measured along z."""
        return self.value * float(np.cos(np.arctan(wording.nominal(self.line.slope) / 1000)))

    @property
    def drawn_from(self):
        """The heights that it came from, as `metrolib.uncertain.linear.Measured`."""
        return self.deviations.heights

    @property
    def redo(self):
        """What finds the value again: a function of heights, shape (T, n) [mm], to T values."""
        return partial(line_ranges, self.reference, self.x)

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return (
            f"straightness {wording.length(self.value, unit)} ({self.reference})"
            f"{wording.expanded(self.value, unit)}; "
            f"{wording.contacts(self.x[list(self.contacts)])}{wording.doubt(self.tied)}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Straightness",
            [
                ("value", wording.measured_length(self.value)),
                ("reference", self.reference),
                ("slope of the line", wording.slope(self.line.slope)),
                ("contacts", wording.places(self.x[list(self.contacts)])),
                ("stations tied with a contact", len(self.tied)),
                ("stations", self.x.size),
            ],
        )


def straightness(x, z, u=None, *, reference="minimum zone"):
    r"""Find the straightness of a line.

    Parameters
    ----------
    x : array_like, shape (n,)
        Stations along the line [mm]; n >= 2, in any order.
    z : array_like, shape (n,)
        Height at each station [mm]: floats or `uncertainties` numbers.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the heights [mm], or their covariance [mm²].
    reference : str
        The line that deviations are counted from: ``"minimum zone"``, the middle of the narrowest
        zone (exact); ``"least squares"``, unweighted; or ``"end points"``.

    Returns
    -------
    Straightness
        Its value is a float, or an `uncertainties` number where the heights are uncertain.

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than two stations or all are at
        one place, an end point is measured twice, or the uncertainty does not fit.

    Notes
    -----
    Terms after ISO 12780-1. The value is found on the nominal heights; there it is a fixed linear
    function of them, :math:`g^T z`, with g from the stations that decide it, so its standard
    uncertainty is :math:`\sqrt{g^T C g}` with C the covariance of the heights (JCGM 100:2008,
    5.2.2). The sentence says where other stations may decide as well; noise then makes the value
    too large on average.

    Deviations are taken along z; `Straightness.width` is square to the line.

    Examples
    --------
    A hollow of 20 µm, each height known to 1 µm; a tilt of the whole line changes nothing:

    >>> from metrolib.form.straightness import straightness
    >>> x = [0, 250, 500, 750, 1000]
    >>> print(straightness(x, [0, -0.012, -0.020, -0.015, 0], 0.001))
    straightness 20.0 µm (minimum zone), U = 2.4 µm (k = 2); contacts at 0, 500 and 1000 mm
    >>> print(straightness(x, [0, -0.002, 0.000, 0.015, 0.040], 0.001))
    straightness 20.0 µm (minimum zone), U = 2.4 µm (k = 2); contacts at 0, 500 and 1000 mm
    """
    x = checks.vector("x", x, least=2)
    heights = measured("z", z, u, least=2)
    checks.same_length(x=x, z=heights.values)
    return straightness_of(x, heights, reference)


def straightness_of(x, heights, reference):
    """Find the straightness of heights that are read already; see `straightness`."""
    from_first = x - x[0]
    line = reference_line(reference, from_first, heights.values)
    deviations = Deviations(heights, (from_first,), line)
    value, sides, contacts = decided_by(deviations)
    found, number = line_of(deviations, x[0], (value, sides))
    in_order = tuple(sorted(set(contacts), key=lambda i: (x[i], i)))
    return Straightness(number, reference, found, x, deviations, in_order)

"""Flatness of one face."""

from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.deviations import Deviations, decided_by
from metrolib.form.planes import Plane, plane_of, reference_plane
from metrolib.form.planes_batched import plane_ranges
from metrolib.uncertain.linear import measured


@dataclass(frozen=True, eq=False)
class Flatness:
    """Flatness of one face, with all that the figure was made from.

    Attributes
    ----------
    value : float or `uncertainties` number
        Height of the highest station less that of the lowest, both above the reference plane [mm].
    reference : str
        ``"minimum zone"`` or ``"least squares"``.
    plane : Plane
        The reference plane; for the minimum zone the middle of the zone.
    x, y : ndarray, shape (n,)
        Stations, as given [mm].
    deviations : Deviations
        The deviations with their joint uncertainty.
    contacts : tuple of int
        Stations that decide the value, in ascending order: up to four for a minimum zone, else the
        highest and the lowest.
    """

    value: object
    reference: str
    plane: Plane
    x: np.ndarray
    y: np.ndarray
    deviations: Deviations
    contacts: tuple[int, ...]

    @property
    def deviation(self):
        """Height of each station above the reference plane, shape (n,) [mm]."""
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
        """Width of the zone square to the plane [mm]; `value` is measured along z."""
        slopes = [
            wording.nominal(number) / 1000 for number in (self.plane.along, self.plane.across)
        ]
        return self.value / float(np.hypot(1.0, np.hypot(*slopes)))

    @property
    def drawn_from(self):
        """The heights that it came from, as `metrolib.uncertain.linear.Measured`."""
        return self.deviations.heights

    @property
    def redo(self):
        """What finds the value again: a function of heights, shape (T, n) [mm], to T values."""
        carried_by = self.deviations.reference.stations
        basis = carried_by if self.reference == "minimum zone" and carried_by.size == 4 else None
        return partial(plane_ranges, self.reference, self.x, self.y, basis)

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return (
            f"flatness {wording.length(self.value, unit)} ({self.reference})"
            f"{wording.expanded(self.value, unit)}; contacts at x, y = {self._places()}"
            f"{wording.doubt(self.tied)}"
        )

    def _places(self):
        where = (f"({self.x[i]:.10g}, {self.y[i]:.10g})" for i in self.contacts)
        return f"{wording.listing(where)} mm"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Flatness",
            [
                ("value", wording.measured_length(self.value)),
                ("reference", self.reference),
                ("slope along x", wording.slope(self.plane.along)),
                ("slope along y", wording.slope(self.plane.across)),
                ("contacts at x, y", self._places()),
                ("stations tied with a contact", len(self.tied)),
                ("stations", self.x.size),
            ],
        )


def flatness(x, y, z, u=None, *, reference="minimum zone"):
    """Find the flatness of a face.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Stations [mm]; n >= 2, in any order.
    z : array_like, shape (n,)
        Height at each station [mm]: floats or `uncertainties` numbers.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the heights [mm], or their covariance [mm²].
    reference : str
        The plane that deviations are counted from: ``"minimum zone"``, the middle of the narrowest
        zone (exact), or ``"least squares"``, unweighted.

    Returns
    -------
    Flatness
        Its value is a float, or an `uncertainties` number where the heights are uncertain.

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than two stations or all are at
        one place, or the uncertainty does not fit.

    Notes
    -----
    The uncertainty is of first order in the deciding stations, as in
    `metrolib.form.straightness.straightness`. Three stations always lie in a plane: 0. Stations
    on one line in x and y give the straightness along it; the tilt across it is then taken as 0,
    since nothing was measured there.

    Examples
    --------
    One corner of a rectangle stands 20 µm high: pure twist, a flatness of half as much.

    >>> from metrolib.form.flatness import flatness
    >>> print(flatness([0, 400, 0, 400], [0, 0, 100, 100], [0, 0, 0, 0.020], 0.001))
    flatness 10.0 µm (minimum zone), U = 2.0 µm (k = 2); contacts at
    x, y = (0, 0), (400, 0), (0, 100) and (400, 100) mm
    """
    x, y = checks.vector("x", x, least=2), checks.vector("y", y, least=2)
    heights = measured("z", z, u, least=2)
    checks.same_length(x=x, y=y, z=heights.values)
    return flatness_of(x, y, heights, reference)


def flatness_of(x, y, heights, reference):
    """Find the flatness of heights that are read already; see `flatness`."""
    places = x - x[0], y - y[0]
    plane = reference_plane(reference, *places, heights.values)
    deviations = Deviations(heights, places, plane)
    value, sides, contacts = decided_by(deviations)
    found, number = plane_of(deviations, (x[0], y[0]), (value, sides))
    return Flatness(number, reference, found, x, y, deviations, tuple(sorted(set(contacts))))

"""Parallelism of a face to a datum."""

from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.deviations import Deviations, Reference, decided_by
from metrolib.form.lines import Line, line_of, reference_line
from metrolib.form.lines_batched import line_slopes
from metrolib.form.tiles import tiles
from metrolib.uncertain.linear import measured_together


@dataclass(frozen=True, eq=False)
class Parallelism:
    """Parallelism of a face to a datum, tilt and form apart.

    Attributes
    ----------
    value : float or `uncertainties` number
        Width along z of the zone between two lines parallel to the datum's reference line that
        enclose the face [mm].
    tilt : float or `uncertainties` number
        Slope of the face's own reference line against the datum's [mm/m]; positive where the face
        rises toward +x.
    form : float or `uncertainties` number
        Straightness of the face by itself [mm].
    reference : str
        The kind of both reference lines.
    x : ndarray, shape (n,)
        Stations of the face, as given [mm].
    datum_x : ndarray, shape (m,)
        Stations of the datum, as given [mm].
    datum_line : Line
        Reference line of the datum.
    deviations : Deviations
        Heights of the face's stations above the datum's reference line, with their joint
        uncertainty.
    contacts : (int, int)
        Highest and lowest station of the face above the datum's line, in ascending x.
    datum_contacts : tuple of int
        Stations of the datum that fix the direction of its line; for least squares all of them.
    """

    value: object
    tilt: object
    form: object
    reference: str
    x: np.ndarray
    datum_x: np.ndarray
    datum_line: Line
    deviations: Deviations
    contacts: tuple[int, ...]
    datum_contacts: tuple[int, ...]

    @property
    def height(self):
        """Height of each station above the datum's reference line, shape (n,) [mm]."""
        return self.deviations.values

    @property
    def height_u(self):
        """Standard uncertainty of each height above the datum's line, shape (n,), or None [mm]."""
        return self.deviations.u

    @cached_property
    def tied(self):
        """Stations of the face that cannot be told from a contact."""
        return self.deviations.tied(self.contacts)

    @property
    def drawn_from(self):
        """The heights of face and datum that it came from, as `Measured`."""
        return self.deviations.heights

    @property
    def redo(self):
        """What finds the value again: a function of heights, shape (T, n + m) [mm], to T values."""
        return partial(_widths, self.reference, self.x, self.datum_x)

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return (
            f"parallelism {wording.length(self.value, unit)} ({self.reference} line of the datum)"
            f"{wording.expanded(self.value, unit)}; tilt {wording.slope(self.tilt)}, form "
            f"{wording.measured_length(self.form, unit)}; "
            f"{wording.contacts(self.x[list(self.contacts)])}{wording.doubt(self.tied)}"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Parallelism",
            [
                ("value", wording.measured_length(self.value)),
                ("tilt against the datum", wording.slope(self.tilt)),
                ("form of the face", wording.measured_length(self.form)),
                ("reference", f"{self.reference} line of the datum"),
                ("contacts", wording.places(self.x[list(self.contacts)])),
                ("stations tied with a contact", len(self.tied)),
            ],
        )


def parallelism(x, z, datum_x, datum_z, u=None, *, reference="minimum zone"):
    """Find how parallel a face is to a datum.

    Parameters
    ----------
    x, z : array_like, shape (n,)
        Stations and heights of the face [mm]; n >= 2, in any order.
    datum_x, datum_z : array_like, shape (m,)
        Stations and heights of the datum [mm], which need not be those of the face; m >= 2.
        Heights are floats or `uncertainties` numbers.
    u : float or array_like, shape (n + m,) or (n + m, n + m), optional
        Standard uncertainty of the heights [mm], or their joint covariance [mm²], the face first.
    reference : str
        ``"minimum zone"``, ``"least squares"`` or ``"end points"``, for both lines.

    Returns
    -------
    Parallelism

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, a line has fewer than two stations or all at
        one place, or the uncertainty does not fit.

    Notes
    -----
    Of first order in the stations that decide, those of the datum included: its direction is a
    chord of two of its contacts (minimum zone), or comes from all its stations.

    Examples
    --------
    A straight face that climbs 10 µm over 500 mm against its datum:

    >>> from metrolib.form.parallelism import parallelism
    >>> x = [0, 250, 500]
    >>> print(parallelism(x, [0, 0.005, 0.010], x, [0, 0, 0], 0.0005))
    parallelism 10.0 µm (minimum zone line of the datum), U = 2.0 µm (k = 2);
    tilt +0.0200 mm/m, U = 0.0040 mm/m (k = 2), form 0.0 µm, U = 1.2 µm (k = 2);
    contacts at 0 and 500 mm
    """
    x, datum_x = checks.vector("x", x, least=2), checks.vector("datum_x", datum_x, least=2)
    heights = measured_together({"z": z, "datum_z": datum_z}, u)
    checks.same_length(x=x, z=z)
    checks.same_length(datum_x=datum_x, datum_z=datum_z)
    n, origin, base = x.size, x[0], heights.values[0]
    from_first = x - origin
    above = heights.values - base

    own = reference_line(reference, from_first, above[:n])
    datum = _of_datum(reference_line(reference, datum_x - origin, above[n:]), n)
    over = Deviations(heights, (from_first,), datum)
    highest, lowest = int(over.values.argmax()), int(over.values.argmin())
    value = over.values[highest] - over.values[lowest]
    face = Deviations(heights, (from_first,), own)
    form, sides, _ = decided_by(face)

    rows = np.zeros((3, heights.values.size))
    rows[0] = over.range_sensitivity(highest, lowest)
    rows[1, own.stations] += 1000 * own.weights[1]
    rows[1, datum.stations] -= 1000 * datum.weights[1]
    rows[2] = face.range_sensitivity(*sides)
    tilt = 1000 * (face.coefficients[1] - over.coefficients[1])
    value, tilt, form = heights.several(rows, [value, tilt, form])
    datum_line, _ = line_of(over, origin, (0.0, (highest, lowest)))
    return Parallelism(
        value=value,
        tilt=tilt,
        form=form,
        reference=reference,
        x=x,
        datum_x=datum_x,
        datum_line=datum_line,
        deviations=over,
        contacts=tuple(sorted({highest, lowest}, key=lambda i: (x[i], i))),
        datum_contacts=datum.contacts or tuple(int(i) - n for i in datum.stations),
    )


def _widths(reference, x, datum_x, z):
    """Return the width of the zone parallel to the datum, for each set of heights, shape (T,)."""
    z = checks.table("z", z, x.size + datum_x.size)
    slopes = line_slopes(reference, datum_x, z[:, x.size :])
    widths = np.empty(len(z))
    for part in tiles(z):
        above = z[part, : x.size] - z[part, :1]
        widths[part] = np.ptp(above - slopes[part, None] * (x - x[0]), axis=1)
    return widths


def _of_datum(reference, n):
    """Return a datum's reference with its stations counted after n heights of the face."""
    return Reference(reference.stations + n, reference.weights, reference.contacts)

"""Squareness of a face, or of a travel, to a datum face."""

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.bench import bench_readings
from metrolib.form.deviations import Deviations
from metrolib.form.lines_batched import line_slopes
from metrolib.form.parallelism import parallelism
from metrolib.uncertain.linear import Measured, measured, measured_together

#: The sign rule, said beside every squareness.
SIGN_RULE = (
    "positive: the corner on the + side is less than a right angle, as where the face leans toward "
    "+ as it leaves the datum"
)


@dataclass(frozen=True, eq=False)
class Squareness:
    """Squareness of a face to a datum, angle and form apart.

    Attributes
    ----------
    value : float or `uncertainties` number
        By how much the corner on the + side is less than a right angle [mm/m].
    over : float or `uncertainties` number
        The same over `length` [mm].
    length : float
        [mm]
    zone : float or `uncertainties` number
        Width of the zone between two lines square to the datum that enclose the face [mm].
    form : float or `uncertainties` number
        Straightness of the face by itself [mm].
    reference : str
        The kind of line that stands for the face, and for the datum.
    s : ndarray, shape (n,)
        Places away from the datum, as given [mm].
    deviations : Deviations
        How far each place lies toward + of the line square to the datum, with joint uncertainty.
    datum_t : ndarray, shape (m,)
        Places along the datum [mm].
    drawn_from : Measured
        What it came from: the offsets of the face, then the datum's heights, turned over.
    """

    value: object
    over: object
    length: float
    zone: object
    form: object
    reference: str
    s: np.ndarray
    deviations: Deviations
    datum_t: np.ndarray
    drawn_from: Measured
    quantity: ClassVar[str] = "slope"

    @property
    def redo(self):
        """What finds the value again: a function of what it came from, shape (T, n + m)."""
        return partial(_slopes, self.reference, self.s, self.datum_t)

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return (
            f"out of square by {wording.slope(self.value)}, that is "
            f"{wording.measured_length(self.over, unit)} over {self.length:.10g} mm "
            f"({self.reference} line); zone square to the datum "
            f"{wording.measured_length(self.zone, unit)}, form of the face "
            f"{wording.measured_length(self.form, unit)} ({SIGN_RULE})"
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Squareness",
            [
                ("out of square", wording.slope(self.value)),
                (f"over {self.length:.10g} mm", wording.measured_length(self.over)),
                ("zone square to the datum", wording.measured_length(self.zone)),
                ("form of the face", wording.measured_length(self.form)),
                ("reference", f"{self.reference} line"),
                ("sign", SIGN_RULE),
            ],
        )


def squareness(
    s,
    offset,
    u=None,
    *,
    datum=None,
    square=0.0,
    square_u=None,
    length=None,
    reference="least squares",
):
    """Find how square a face, or a travel, stands to a datum face.

    Parameters
    ----------
    s : array_like, shape (n,)
        Places on the face, counted away from the datum [mm]; n >= 2, in any order.
    offset : array_like, shape (n,)
        How far the face, or the travel that carries the indicator, lies toward + at each place
        [mm], up to a constant: against the edge of a square that stands on the datum, or as a
        level stepped up the face gives it. Floats or `uncertainties` numbers.
    u : float or array_like, optional
        Standard uncertainty of the offsets, or their covariance [mm²], as in `straightness`; with
        `datum`, of offsets and datum heights together, the offsets first.
    datum : (array_like, array_like), optional
        Places along the datum toward + and its heights there [mm], measured against the same
        upright as the offsets (a level, say). A square that stands on the datum brings it along:
        then leave it out.
    square : float
        The square's own error [mm/m], positive where its edge leans toward + as it leaves the
        datum; 0 after a reversal, which has taken it out.
    square_u : float, optional
        Its standard uncertainty [mm/m].
    length : float, optional
        Over which `over` is said [mm]; the length measured when not given.
    reference : str
        Line that stands for the face: ``"least squares"``, ``"minimum zone"`` or ``"end points"``.

    Returns
    -------
    Squareness

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than two places or all are one,
        the uncertainty does not fit, or both a datum and a square are given.

    Notes
    -----
    value = slope of the offsets + slope of the datum, or + error of the square. Tilting the whole
    machine changes nothing: what the face gains the datum loses. `zone` is the perpendicularity of
    ISO 1101, here of one line in one plane; the other plane needs readings of its own.

    Examples
    --------
    A column leans 6 µm toward the operator (+) over 300 mm against a square that is known to lean
    2 ± 1 µm/m away:

    >>> from metrolib.form.squareness import squareness
    >>> found = squareness([0, 150, 300], [0, 0.003, 0.006], 0.001, square=-0.002, square_u=0.001)
    >>> print(f"{found.value:.4f} mm/m, {1000 * found.over:.1f} µm")
    0.0180+/-0.0048 mm/m, 5.4+/-1.4 µm

    A frame level, 200 mm long, on the datum and up the face:

    >>> found = squareness([0, 200], [0, 0.006], datum=([0, 200], [0, -0.002]))
    >>> round(found.value, 4)
    0.02
    """
    s = checks.vector("s", s, least=2)
    checks.same_length(s=s, offset=offset)
    if np.ptp(s) == 0:
        raise checks.wrong("s", "all places are one", s[0], "measure at two heights or more")
    length = np.ptp(s) if length is None else checks.number("length", length, above=0)
    if datum is None:
        datum_t = np.array([0.0, 1000.0])
        offsets = measured("offset", offset, u)
        edge = bench_readings({"square": (square, square_u)})
        face, heights = _numbers(offsets), [0.0, _numbers(edge)[0]]
    else:
        if wording.nominal(square) != 0 or square_u is not None:
            raise checks.wrong(
                "square", "a datum is given as well", square, "give the one that was compared with"
            )
        datum_t = checks.vector("datum", datum[0], least=2)
        together = measured_together({"offset": offset, "datum": datum[1]}, u)
        checks.same_length(places=datum_t, heights=datum[1])
        numbers = _numbers(together)
        face, heights = numbers[: s.size], numbers[s.size :]
    found = parallelism(s, face, datum_t, [-height for height in heights], reference=reference)
    return Squareness(
        value=found.tilt,
        over=found.tilt * (length / 1000),
        length=float(length),
        zone=found.value,
        form=found.form,
        reference=reference,
        s=s,
        deviations=found.deviations,
        datum_t=datum_t,
        drawn_from=found.drawn_from,
    )


def _numbers(heights):
    """Return heights one by one, as numbers that keep their correlation."""
    return heights.several(np.eye(heights.values.size), heights.values)


def _slopes(reference, s, datum_t, z):
    """Return the squareness for each set of offsets and datum heights, shape (T,) [mm/m]."""
    z = checks.table("z", z, s.size + datum_t.size)
    face = line_slopes(reference, s, z[:, : s.size])
    return 1000 * (face - line_slopes(reference, datum_t, z[:, s.size :]))

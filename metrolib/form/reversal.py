"""Reversal of a square: readings in two positions tell the face's error and the square's apart."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.lines import least_squares
from metrolib.uncertain.linear import Measured, measured_together


@dataclass(frozen=True, eq=False)
class Reversal:
    """A face and a square, told apart.

    Attributes
    ----------
    s : ndarray, shape (n,)
        Places away from the datum, as given [mm].
    face : ndarray of float or of `uncertainties` numbers, shape (n,)
        How far the face (or the travel) lies toward + at each place [mm].
    square : ndarray of float or of `uncertainties` numbers, shape (n,)
        The same of the square's edge, as it stood at first [mm].
    face_slope, square_slope : float or `uncertainties` number
        Of the least-squares line through each [mm/m]; positive where it leans toward + as it
        leaves the datum.
    drawn_from : Measured
        The readings it came from, the first set first [mm].
    """

    s: np.ndarray
    face: np.ndarray
    square: np.ndarray
    face_slope: object
    square_slope: object
    drawn_from: Measured

    def __str__(self):
        return (
            f"the face is out of square by {wording.slope(self.face_slope)}; the square's own "
            f"error is {wording.slope(self.square_slope)} (positive: leans toward + as it leaves "
            "the datum)"
        )

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Reversal of a square",
            [
                ("face", wording.slope(self.face_slope)),
                ("square, as it stood at first", wording.slope(self.square_slope)),
                ("places", self.s.size),
            ],
        )


def reversal(s, first, turned, u=None):
    """Tell a face's error from that of the square it was compared with.

    Parameters
    ----------
    s : array_like, shape (n,)
        Places away from the datum, the same in both positions [mm]; n >= 2.
    first, turned : array_like, shape (n,)
        How far the face (or the travel that carries the indicator) lies toward + of the square's
        edge, with the square as it stood at first and turned about [mm]: floats or `uncertainties`
        numbers. Booked positive toward the *same* side of the machine both times; each set may
        have a zero of its own.
    u : float or array_like, shape (2 n,) or (2 n, 2 n), optional
        Standard uncertainty of the readings [mm], or their joint covariance [mm²], `first` first.

    Returns
    -------
    Reversal
        ``squareness(s, found.face)`` and ``squareness(s, found.square)`` say more of each.

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than two places or all are one,
        or the uncertainty does not fit.

    Notes
    -----
    Turned by half a turn about the upright, an edge that leaned toward + leans toward - by as
    much: first = face - square, turned = face + square. So face = (first + turned) / 2 and
    square = (turned - first) / 2, whatever the square's error and however bent its edge.

    That holds only if the *same line* of the square is touched in both positions, so from its
    other side once it is turned. A cylinder square that is turned on the spot and touched on the
    same side again shows another line of its wall: its axis then drops out, its taper stays in
    the face. One that stands still and is touched on both sides loses its taper and keeps its axis.

    Examples
    --------
    >>> from metrolib.form.reversal import reversal
    >>> print(reversal([0, 150, 300], [0, 0.002, 0.004], [0, 0.005, 0.010], 0.001))
    the face is out of square by +0.0233 mm/m, U = 0.0067 mm/m (k = 2); the square's own error is
    +0.0100 mm/m, U = 0.0067 mm/m (k = 2) (positive: leans toward + as it leaves the datum)
    """
    s = checks.vector("s", s, least=2)
    readings = measured_together({"first": first, "turned": turned}, u)
    checks.same_length(s=s, first=first, turned=turned)
    if np.ptp(s) == 0:
        raise checks.wrong("s", "all places are one", s[0], "measure at two heights or more")
    n = s.size
    half = np.eye(n) / 2
    rows = np.block([[half, half], [-half, half]])
    slope = 1000 * least_squares(s - s[0]).weights[1]
    lines = np.array([slope @ rows[:n], slope @ rows[n:]])
    every = np.vstack([rows, lines])
    found = readings.several(every, every @ readings.values)
    kind = float if readings.cov is None else object
    return Reversal(
        s=s,
        face=np.array(found[:n], dtype=kind),
        square=np.array(found[n : 2 * n], dtype=kind),
        face_slope=found[2 * n],
        square_slope=found[2 * n + 1],
        drawn_from=readings,
    )

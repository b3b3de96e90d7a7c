"""Which stretches of a face are unworn, and how deep the wear lies below them."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form import wording
from metrolib.form.agreement import agreeing, multiple_for_all
from metrolib.form.deviations import Deviations, Reference
from metrolib.form.lines import Line, least_squares, line_of
from metrolib.uncertain.linear import measured

# More stretches than this are counted instead of named.
_SAID = 4


@dataclass(frozen=True)
class WornStretch:
    """One run of stations below the unworn line.

    Attributes
    ----------
    begins : (float, float) or None
        The last unworn and the first worn station: the wear begins between them [mm]; None where
        it reaches the low end of the survey.
    ends : (float, float) or None
        The last worn and the next unworn station [mm]; None where it reaches the high end.
    deepest : int
        Station of its greatest depth.
    """

    begins: tuple[float, float] | None
    ends: tuple[float, float] | None
    deepest: int


@dataclass(frozen=True, eq=False)
class Unworn:
    """The unworn stretches of a face, the line through them, and the wear below it.

    Attributes
    ----------
    value : float or `uncertainties` number
        Depth below the unworn line at the deepest station [mm].
    x : ndarray, shape (n,)
        Stations, as given [mm].
    stations : ndarray of bool, shape (n,)
        The unworn ones.
    stretches : tuple of (float, float)
        Where two or more unworn stations follow each other: from, to [mm].
    worn : tuple of WornStretch
        What lies between and beyond, in ascending x.
    line : Line
        Least-squares line through the unworn stations, weighted by their uncertainties.
    deviations : Deviations
        Heights above that line with their joint uncertainty, which grows where it is extrapolated.
    deepest : int
        Station of the greatest depth.
    share : float
        Length of the stretches, as a share of the length surveyed.
    k, tolerance : float
        A station agrees with a line that it lies within k u + tolerance of.
    """

    value: object
    x: np.ndarray
    stations: np.ndarray
    stretches: tuple[tuple[float, float], ...]
    worn: tuple[WornStretch, ...]
    line: Line
    deviations: Deviations
    deepest: int
    share: float
    k: float
    tolerance: float

    @property
    def depth(self):
        """Depth of each station below the unworn line, shape (n,) [mm]; negative above it."""
        return -self.deviations.values

    @property
    def depth_u(self):
        """Standard uncertainty of each depth, shape (n,), or None [mm]."""
        return self.deviations.u

    @property
    def worn_from(self):
        """The two stations between which the first wear begins [mm], or None."""
        return self.worn[0].begins if self.worn else None

    @property
    def worn_to(self):
        """The two stations between which the last wear ends [mm], or None."""
        return self.worn[-1].ends if self.worn else None

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return (
            f"unworn {self._where()} ({100 * self.share:.0f} % of the length); {self._wear()}; "
            f"deepest {wording.measured_length(self.value, unit)} at "
            f"{self.x[self.deepest]:.10g} mm"
        )

    def _where(self):
        if not self.stretches:
            return "nowhere over two stations that follow each other"
        if len(self.stretches) > _SAID:
            a, b = max(self.stretches, key=lambda stretch: stretch[1] - stretch[0])
            return f"in {len(self.stretches)} stretches, the longest from {a:.10g} to {b:.10g} mm"
        return wording.listing(f"from {a:.10g} to {b:.10g} mm" for a, b in self.stretches)

    def _wear(self):
        if len(self.worn) > _SAID:
            return f"wear in {len(self.worn)} places"
        said = []
        for stretch in self.worn:
            begins, ends = (
                end if place is None else f"between {wording.places(place)}"
                for place, end in (
                    (stretch.begins, "at the low end"),
                    (stretch.ends, "at the high end"),
                )
            )
            said.append(f"wear begins {begins} and ends {ends}")
        return "; ".join(said) if said else "no wear found"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return wording.table(
            "Unworn stretches",
            [
                ("unworn", self._where()),
                ("share of the length", f"{100 * self.share:.0f} %"),
                ("wear", self._wear()),
                ("deepest", wording.measured_length(self.value)),
                ("at", f"{self.x[self.deepest]:.10g} mm"),
                ("agreement", f"within {self.k:g} u + {self.tolerance * 1000:g} µm"),
            ],
        )


def unworn(x, z, u=None, *, k=2.0, tolerance=0.0):
    """Find the stretches of a face that agree with one line, with all wear below it.

    Parameters
    ----------
    x : array_like, shape (n,)
        Stations [mm]; n >= 3, in any order.
    z : array_like, shape (n,)
        Height at each station [mm]: floats or `uncertainties` numbers.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the heights [mm], or their covariance [mm²].
    k : float
        How many standard uncertainties a station may lie off the line.
    tolerance : float
        What it may lie off besides, for the form that a face has from its making [mm]; needed
        where nothing is known of the uncertainty.

    Returns
    -------
    Unworn

    Raises
    ------
    InputError
        If lengths differ, a number is not finite, there are fewer than three stations or all are
        at one place, k or the tolerance is negative, or neither an uncertainty nor a tolerance is
        given.

    Notes
    -----
    Lines through every pair of stations are tried (with over 240 stations, through every pair of
    240). Metal does not grow: a line is possible only if no station lies above it by more than
    noise may lift the worst of n stations, K u + tolerance, with K the k of one station after
    Bonferroni's correction. A station agrees if it lies no lower than k u + tolerance; a lone one
    between two that agree may be as low as K u + tolerance. Of the possible lines that one is
    taken whose agreeing stations cover most length, counted where they follow each other; then
    the one with most stations. The best lines are refitted to their stations and tried again, so
    that the noise of two stations does not decide. At last the line is fitted to all unworn
    stations.

    u is the standard uncertainty of a station's deviation from the least-squares line of the face:
    what all heights have in common, such as an unknown height and tilt of the whole survey, is not
    in it. A station is called unworn if it *may* be so; shallow wear inside k u stays unseen.

    Examples
    --------
    >>> from metrolib.form.unworn import unworn
    >>> x = [0, 100, 200, 300, 400, 500, 600, 700]
    >>> z = [0.001, 0.000, -0.001, -0.012, -0.030, -0.015, 0.001, 0.000]
    >>> print(unworn(x, z, 0.001))
    unworn from 0 to 200 mm and from 600 to 700 mm (43 % of the length); wear begins between 200
    and 300 mm and ends between 500 and 600 mm; deepest 30.2 µm, U = 2.2 µm (k = 2) at 400 mm
    """
    x = checks.vector("x", x, least=3)
    heights = measured("z", z, u, least=3)
    checks.same_length(x=x, z=heights.values)
    return unworn_of(x, heights, k=k, tolerance=tolerance)


def unworn_of(x, heights, *, k, tolerance):
    """Find the unworn stretches of heights that are read already; see `unworn`."""
    k = checks.number("k", k, at_least=0)
    tolerance = checks.number("tolerance", tolerance, at_least=0)
    if np.ptp(x) == 0:
        raise checks.wrong("x", "all stations at one place", x.size, "measure at several places")
    from_first = x - x[0]
    whole = Deviations(heights, (from_first,), least_squares(from_first))
    allowed = outer = np.full(x.size, tolerance)
    if heights.cov is not None:
        allowed = tolerance + k * whole.u
        outer = tolerance + multiple_for_all(k, x.size) * whole.u
    if allowed.max() <= 0:
        raise checks.wrong(
            "tolerance",
            "without an uncertainty nothing says how near is near enough",
            tolerance,
            "give u, or a tolerance above zero",
        )
    order = np.argsort(x, kind="stable")
    chosen = agreeing(from_first[order], whole.values[order], allowed[order], outer[order])
    stations = np.zeros(x.size, dtype=bool)
    stations[order[chosen]] = True

    line = Reference(np.flatnonzero(stations), _weights(from_first, stations, heights, whole))
    deviations = Deviations(heights, (from_first,), line)
    deepest = int(deviations.values.argmin())
    sensitivity = -deviations.sensitivity(deepest)
    (value,) = heights.several(sensitivity[None, :], [-deviations.values[deepest]])
    found, _ = line_of(deviations, x[0], (0.0, (deepest, deepest)))
    stretches, worn = _runs(x, order, stations, -deviations.values)
    return Unworn(
        value=value,
        x=x,
        stations=stations,
        stretches=stretches,
        worn=worn,
        line=found,
        deviations=deviations,
        deepest=deepest,
        share=float(sum(b - a for a, b in stretches) / np.ptp(x)),
        k=k,
        tolerance=tolerance,
    )


def _weights(x, stations, heights, whole):
    """Return the weights of the line through the unworn stations.

    Generalised least squares with the covariance of the deviations from the line of the whole
    face. What is common to all heights (any line) moves the fitted line with it, whatever the
    weights, so it is left out of them: the fit stays well conditioned when the survey's own
    height and tilt are hardly known.
    """
    at = x[stations]
    design = np.column_stack([np.ones(at.size), (at - at.mean()) / np.ptp(x)])
    if heights.cov is None or not whole.u[stations].any():
        weighted = design.T
    elif heights.cov.ndim == 1:
        variance = heights.cov[stations]
        weighted = design.T / np.maximum(variance, 1e-6 * variance.max())
    else:
        covariance = whole.covariance()[np.ix_(stations, stations)]
        size = np.trace(covariance) / at.size
        covariance += size * (design @ design.T + 1e-6 * np.eye(at.size))
        weighted = np.linalg.solve(covariance, design).T
    height, slope = np.linalg.solve(weighted @ design, weighted)
    slope = slope / np.ptp(x)
    return np.array([height - at.mean() * slope, slope])


def _runs(x, order, stations, depth):
    """Return the unworn stretches and the worn ones, in ascending x."""
    edges = np.flatnonzero(np.diff(stations[order])) + 1
    runs = np.split(order, edges)
    stretches, worn = [], []
    for number, run in enumerate(runs):
        if not stations[run[0]]:
            before = None if number == 0 else (float(x[runs[number - 1][-1]]), float(x[run[0]]))
            last = number == len(runs) - 1
            after = None if last else (float(x[run[-1]]), float(x[runs[number + 1][0]]))
            worn.append(WornStretch(before, after, int(run[depth[run].argmax()])))
        elif run.size > 1:
            stretches.append((float(x[run[0]]), float(x[run[-1]])))
    return tuple(stretches), tuple(worn)

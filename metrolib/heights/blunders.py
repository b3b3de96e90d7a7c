"""Blunders: do the readings agree with each other, which stand out, which does nothing check."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv, ndtri

from metrolib import checks
from metrolib.heights.suspects import UNCHECKED, find_suspects
from metrolib.units import show_length

#: Probability that the tests call good readings bad, all tests together.
FAMILY_ALPHA = 0.05


@dataclass(frozen=True, eq=False, repr=False)
class Checks:
    """How the readings agree; all arrays in the order of the adjusted readings.

    Suspects are shown and never dropped: they stay in the adjustment until their reading is taken
    again or taken out by hand.

    Attributes
    ----------
    traverse, face : ndarray of str, shape (m,)
    x : ndarray, shape (m,)
        [mm]
    line : ndarray of int, shape (m,)
        Line of readings.csv.
    measures : ndarray of str, shape (m,)
        ``"length"`` or ``"slope"``.
    observed : ndarray, shape (m,)
        [mm or mm/m]
    residual : ndarray, shape (m,)
        Observed less what all readings together give for it [mm or mm/m].
    u_residual : ndarray, shape (m,)
        Its standard deviation, from the assumed uncertainties (a priori) [mm or mm/m].
    normalised : ndarray, shape (m,)
        ``residual / u_residual``; NaN for readings that are not tested.
    redundancy : ndarray, shape (m,)
        How far the others check each reading: 0 not at all, 1 wholly.
    critical : float
        A normalised residual beyond this stands out.
    suspects : ndarray of int
        Readings that stand out, largest first, less those that stand out only because a
        neighbour is wrong.
    inseparable : dict of int to tuple of int
        For a suspect, the readings that may be wrong in its place: nothing can tell which.
    unchecked : ndarray of int
        Readings that nothing checks; a blunder there goes unseen.
    chi_square : float
        Sum of the squared residuals, each divided by its assumed uncertainty.
    dof : float
        Degrees of freedom: the sum of all redundancies, of calibrated priors too.
    limits : (float, float)
        Between which `chi_square` lies in 95 % of good surveys.
    """

    traverse: np.ndarray
    face: np.ndarray
    x: np.ndarray
    line: np.ndarray
    measures: np.ndarray
    observed: np.ndarray
    residual: np.ndarray
    u_residual: np.ndarray
    normalised: np.ndarray
    redundancy: np.ndarray
    critical: float
    suspects: np.ndarray
    inseparable: dict[int, tuple[int, ...]]
    unchecked: np.ndarray
    chi_square: float
    dof: float
    limits: tuple[float, float]

    @property
    def scale(self):
        """Ratio of the scatter seen to that assumed, a posteriori; None where nothing is checked.

        Uncertainties of the heights are a-priori ones. Times this they are what many textbooks
        print, a-posteriori ones.
        """
        return None if self.dof < 0.5 else float(np.sqrt(self.chi_square / self.dof))

    @property
    def agrees(self):
        """True where neither the sum of squares nor any single reading speaks against the fit."""
        return bool(self.suspects.size == 0 and self.chi_square <= self.limits[1])

    @property
    def verdict(self):
        """What the tests say, in one or two plain sentences."""
        return " ".join([self._scatter_sentence(), *self._suspect_sentence()])

    def describe(self, reading):
        """Say where a reading stands and how far it is from the others' opinion."""
        where = f"{self.traverse[reading]!r} at {self.x[reading]:g} mm"
        if self.face[reading] and self.face[reading] not in self.traverse[reading]:
            where += f" on {self.face[reading]!r}"
        off = self.residual[reading] / max(self.redundancy[reading], UNCHECKED)
        high = "high" if off > 0 else "low"
        size = (
            show_length(abs(off), "um")
            if self.measures[reading] == "length"
            else f"{abs(off):.3f} mm/m"
        )
        return f"{where} (line {self.line[reading]}) reads about {size} too {high}"

    def __str__(self):
        lines = [self.verdict]
        for reading in self.suspects:
            others = self.inseparable.get(int(reading), ())
            either = "".join(f", or else {self.describe(other)}" for other in others)
            lines.append(f"suspect: {self.describe(reading)}{either}")
        if self.unchecked.size:
            lines.append(f"{self.unchecked.size} of {self.x.size} readings are checked by no other")
        return "\n".join(lines)

    __repr__ = __str__

    def _scatter_sentence(self):
        count = self.x.size
        if self.scale is None:
            return f"Nothing checks the {count} readings: a blunder among them would go unseen."
        if self.chi_square > self.limits[1]:
            return (
                f"The {count} readings scatter {self.scale:.1f} times as much as the uncertainties "
                "of their instruments allow."
            )
        if self.chi_square < self.limits[0]:
            return (
                f"The {count} readings agree better than their uncertainties promise "
                f"({self.scale:.1f} of it): these may be set too large."
            )
        return f"The {count} readings agree with each other within their uncertainties."

    def _suspect_sentence(self):
        if self.suspects.size == 0:
            return []
        first = self.describe(int(self.suspects[0]))
        if self.suspects.size == 1:
            return [f"One is suspect: {first}; take it again."]
        return [f"{self.suspects.size} are suspect, first {first}; take them again."]


def critical_value(tests, alpha=FAMILY_ALPHA):
    """Return the normalised residual beyond which a reading stands out.

    Parameters
    ----------
    tests : int
        How many readings are tested.
    alpha : float
        Probability that any good reading among them is called bad.

    Returns
    -------
    float
        Two-sided quantile of the normal distribution, alpha shared out over the tests
        (Bonferroni).

    Raises
    ------
    InputError
        If `tests` is below 1, or alpha does not lie between 0 and 1.

    Examples
    --------
    >>> round(critical_value(1, alpha=0.001), 2)
    3.29
    """
    checks.number("tests", tests, at_least=1)
    if not 0 < alpha < 1:
        raise checks.wrong("alpha", "it must lie between 0 and 1", alpha, "correct it")
    return float(-ndtri(alpha / (2 * tests)))


def findable(u, redundancy, critical, power=0.95):
    """Return the error in one reading that its test flags with some probability.

    Parameters
    ----------
    u : float or ndarray, shape (m,)
        Standard uncertainty of the reading [mm or mm/m].
    redundancy : float or ndarray, shape (m,)
    critical : float
        As from `critical_value`.
    power : float
        The probability.

    Returns
    -------
    ndarray, shape (m,)
        Infinite for readings that are not tested [mm or mm/m].

    Notes
    -----
    An error of size d moves the normalised residual of its own reading by ``sqrt(r) d / u``, r its
    redundancy; that residual passes the critical value c with probability p where the move is
    c plus the normal quantile of p. So 300 readings (c = 3.8) flag 5.4 standard deviations of the
    residual in 95 of 100 cases; 5 of them are enough for up to 63 readings only (W. Baarda, 1968;
    from memory).

    Examples
    --------
    A reading of 1 µm, checked as well by the others as it knows itself, among 300:

    >>> print(findable(0.001, 0.5, critical_value(300)).round(4))
    0.0077
    """
    checked = np.asarray(redundancy) >= UNCHECKED
    seen = (critical + ndtri(power)) * u / np.sqrt(np.where(checked, redundancy, 1.0))
    return np.where(checked, seen, np.inf)


def check(equations, solution):
    """Test the readings of an adjustment.

    Parameters
    ----------
    equations : Equations
    solution : Solution

    Returns
    -------
    Checks

    Notes
    -----
    Each reading is tested with the residual divided by its own a-priori standard deviation
    (W. Baarda, A testing procedure for use in geodetic networks, 1968; from memory). One wrong
    reading bends the residuals of its neighbours too. So readings are set aside one at a time,
    the largest first, and the rest tested again without them; then each one set aside is tested
    again without the others, and is no suspect if it now agrees. This only makes the list: the
    adjustment keeps all readings.
    """
    redundancy = solution.redundancy
    tested = redundancy >= UNCHECKED
    critical = critical_value(max(int(tested.sum()), 1))
    u_residual = equations.u * np.sqrt(redundancy)
    normalised = np.full(len(redundancy), np.nan)
    normalised[tested] = solution.residual[tested] / np.sqrt(redundancy[tested])
    calibrated = ~equations.weak
    prior_part = solution.values[calibrated] / equations.prior_u[calibrated]
    dof = float(redundancy.sum() + solution.prior_redundancy[calibrated].sum())
    suspects, inseparable = find_suspects(solution, tested, critical)
    return Checks(
        equations.traverse,
        equations.face,
        equations.x,
        equations.line,
        equations.measures,
        equations.reading,
        solution.residual * equations.u,
        u_residual,
        normalised,
        redundancy,
        critical,
        suspects,
        inseparable,
        np.flatnonzero(~tested),
        float((solution.residual**2).sum() + (prior_part**2).sum()),
        dof,
        _chi_square_limits(dof),
    )


def _chi_square_limits(dof):
    """Return the 2.5 % and 97.5 % quantiles of chi-square; none below half a degree of freedom."""
    if dof < 0.5:
        return 0.0, np.inf
    return tuple(float(2 * gammaincinv(dof / 2, share)) for share in (0.025, 0.975))

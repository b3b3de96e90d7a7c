"""The user's own removal rate, from a log of test patches and of rounds of work."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from metrolib import checks
from metrolib.form import wording
from metrolib.survey.methods import Method
from metrolib.uncertain.linear import Measured
from metrolib.units import from_millimetres, show_length, unit_sign


@dataclass(frozen=True, eq=False)
class RemovalRate:
    """What one pass takes off, and the metal removed in an hour.

    Attributes
    ----------
    value : float or `uncertainties` number
        Mean removal per pass [mm]; a plain float where no patch differs from another.
    scatter : float
        Standard deviation from patch to patch, measuring taken out [mm].
    u : float
        Standard uncertainty of what a pass takes at one place: the mean's and the scatter [mm].
        It is common to all passes there.
    passes, depth, depth_u : ndarray, shape (k,)
        The log: passes, depth taken and its standard uncertainty [mm].
    weights : ndarray, shape (k,)
        Share of each entry in the mean.
    volume, hours : ndarray, shape (k,)
        Metal taken [cm³] and time; NaN where not noted.
    rate, rate_u : float or None
        Metal removed in an hour and its standard uncertainty over one job, scatter included
        [cm³/h]; None where fewer than two entries note volume and hours.
    """

    value: object
    scatter: float
    u: float
    passes: np.ndarray
    depth: np.ndarray
    depth_u: np.ndarray
    weights: np.ndarray
    volume: np.ndarray
    hours: np.ndarray
    rate: float | None
    rate_u: float | None

    def as_method(self, name, *, leaves, log=""):
        """Return a `Method` at this rate.

        Parameters
        ----------
        name : str
        leaves : float
            Allowance that it leaves above the target [mm].
        log : str
            Name of this log, where several methods rest on it.

        Raises
        ------
        InputError
            If the log does not note volume and hours of at least two entries.
        """
        if self.rate is None:
            raise checks.wrong(
                "volume and hours",
                "the log tells no volume per hour",
                "fewer than two entries with both",
                "note volume and hours of at least two patches",
            )
        per_pass = wording.nominal(self.value)
        return Method(name, leaves, per_pass, self.rate, self.u, self.rate_u, log)

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        digits = {"um": 2, "thou": 3}
        checks.choice("unit", unit, digits)

        def say(length):
            return show_length(length, unit, digits=digits[unit])

        said = (
            f"one pass takes {say(wording.nominal(self.value))}, at one place give or take "
            f"{say(self.u)} (standard uncertainty; {say(self.scatter)} from patch to patch), from "
            f"{self.passes.size} entries"
        )
        if self.rate is None:
            return said
        return f"{said}; {self.rate:.2f} cm³/h, give or take {self.rate_u:.2f} cm³/h"

    def to_dataframe(self, unit="um"):
        """Return the log as a pandas table, with the weight of each entry.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign = unit_sign(unit)
        return DataFrame(
            {
                "passes": self.passes,
                f"depth [{sign}]": from_millimetres(self.depth, unit),
                f"per pass [{sign}]": from_millimetres(self.depth / self.passes, unit),
                "weight": self.weights,
                "volume [cm³]": self.volume,
                "hours [h]": self.hours,
            }
        )

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [("a pass", self.in_words())]
        rows += [
            (f"{n:g} passes", f"{show_length(d, 'um')}, weight {w:.2f}")
            for n, d, w in zip(self.passes, self.depth, self.weights, strict=True)
        ]
        return wording.table("Removal rate", rows)


def removal_rate(passes, depth, u=None, *, volume=None, hours=None, earlier=None):
    """Find the removal per pass, and the metal per hour, from a log.

    Parameters
    ----------
    passes : array_like, shape (k,)
        Passes made on each test patch, or on each zone of a round; above 0.
    depth : array_like, shape (k,)
        Depth that came off, measured [mm].
    u : float or array_like, shape (k,), optional
        Standard uncertainty of these depths [mm]; nothing is taken for exact ones.
    volume : array_like, shape (k,), optional
        Metal that came off [cm³]; NaN where not noted.
    hours : array_like, shape (k,), optional
        Time that it took [h]; NaN where not noted.
    earlier : RemovalRate, optional
        The log so far; its entries join these.

    Returns
    -------
    RemovalRate

    Raises
    ------
    InputError
        If lengths differ, a number is not finite or not above 0, there are fewer than two entries
        in all, or the mean is not above 0.

    Notes
    -----
    Each entry gives depth / passes. A hand differs from patch to patch and from day to day, more
    than from one pass to the next, so an entry weighs 1 / (scatter² + (u / passes)²): many passes
    on one patch measure that patch well, and still are one patch. The scatter is that for which the
    weighted squares come to k - 1 (R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87, 1982;
    from memory), 0 where the measuring explains it all. For metal per hour the same is done with
    volume / hours.

    Examples
    --------
    Three patches, five passes each:

    >>> rate = removal_rate([5, 5, 5], [0.020, 0.025, 0.030])
    >>> print(rate)
    one pass takes 5.00 µm, at one place give or take 1.15 µm (standard uncertainty; 1.00 µm from \
patch to patch), from 3 entries
    """
    log = _entries(passes, depth, u, volume, hours)
    if earlier is not None:
        before = (earlier.passes, earlier.depth, earlier.depth_u, earlier.volume, earlier.hours)
        log = tuple(np.concatenate(pair) for pair in zip(before, log, strict=True))
    passes, depth, depth_u, volume, hours = log
    if passes.size < 2:
        raise checks.wrong(
            "passes", "one entry tells no scatter", passes.size, "measure two patches or more"
        )
    mean, mean_u, scatter, weights = _mean_with_scatter(depth / passes, depth_u / passes)
    if mean <= 0:
        raise checks.wrong("depth", "no metal came off on the mean", mean, "measure it again")
    u = float(np.hypot(mean_u, scatter))
    cov = np.array([mean_u**2]) if mean_u > 0 else None
    value = Measured(np.array([mean]), cov, None).linear(np.ones(1))
    rates = _per_hour(depth, depth_u, volume, hours)
    return RemovalRate(value, scatter, u, passes, depth, depth_u, weights, volume, hours, *rates)


def _entries(passes, depth, u, volume, hours):
    """Return the log as columns, checked."""
    passes, depth = checks.vector("passes", passes), checks.vector("depth", depth)
    checks.same_length(passes=passes, depth=depth)
    if passes.min() <= 0:
        raise checks.wrong("passes", "they must be above 0", passes.min(), "leave the entry out")
    spread = checks.vector("u", np.atleast_1d(0.0 if u is None else u))
    if spread.size == 1:
        spread = np.repeat(spread, passes.size)
    checks.same_length(depth=depth, u=spread)
    if spread.min() < 0:
        raise checks.wrong("u", "an uncertainty is negative", spread.min(), "give it above zero")
    columns = []
    for name, given in (("volume", volume), ("hours", hours)):
        column = np.full(passes.size, np.nan) if given is None else _column(name, given)
        checks.same_length(**{"passes": passes, name: np.atleast_1d(column)})
        if (column <= 0).any() or np.isinf(column).any():
            raise checks.wrong(
                name, "it must be above 0", np.nanmin(column), "write NaN where it was not noted"
            )
        columns.append(column)
    return passes, depth, spread, *columns


def _column(name, given):
    """Return a column of the log, in which NaN stands for what was not noted."""
    try:
        return np.array(given, dtype=float)
    except (TypeError, ValueError):
        raise checks.wrong(
            name, "numbers are needed", repr(given)[:60], "write NaN where it was not noted"
        ) from None


def _per_hour(depth, depth_u, volume, hours):
    """Return metal per hour and its standard uncertainty over one job; None where not noted."""
    noted = np.isfinite(volume) & np.isfinite(hours)
    if np.count_nonzero(noted) < 2:
        return None, None
    rate = volume[noted] / hours[noted]
    # the volume is off by the same share as the depth that it was worked out from
    share = depth_u[noted] / np.where(depth[noted] > 0, depth[noted], np.inf)
    mean, mean_u, scatter, _ = _mean_with_scatter(rate, rate * share)
    return mean, float(np.hypot(mean_u, scatter))


def _mean_with_scatter(y, u):
    """Return the weighted mean, its standard uncertainty, the scatter, and the weights."""
    variance = float(np.var(y, ddof=1))

    def excess(scatter2):
        weights = 1 / (scatter2 + u**2)
        return float(weights @ (y - weights @ y / weights.sum()) ** 2) - (y.size - 1)

    if variance == 0 or not u.any():
        found = variance
    elif (u > 0).all() and excess(0.0) <= 0:
        found = 0.0
    else:  # the plain variance is never too small: a weighted mean minimises the squares
        found = brentq(excess, 1e-12 * variance, variance, xtol=1e-12 * variance)
    total = found + u**2
    weights = np.ones(y.size) if not total.any() else 1 / np.maximum(total, 1e-300)
    mean_u = 0.0 if not total.any() else float(np.sqrt(1 / weights.sum()))
    weights = weights / weights.sum()
    return float(weights @ y), mean_u, float(np.sqrt(found)), weights

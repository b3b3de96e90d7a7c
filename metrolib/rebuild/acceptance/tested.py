"""What a tolerance asks of the heights: one zone, or linear figures at some places."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.form.confidence import places_and_heights
from metrolib.form.lines import least_squares
from metrolib.form.straightness import straightness_of
from metrolib.form.windows import WorstWindow, worst_window_of
from metrolib.rebuild.acceptance.conformity import judge_places, judge_zone
from metrolib.uncertain.draws import joint_draws
from metrolib.uncertain.linear import Measured

# Kept from the solver's and the frame's rounding in draws [mm].
_ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class Zone:
    """A peak-to-valley figure.

    Attributes
    ----------
    result : Straightness, Flatness, Coplanarity, Parallelism or WorstWindow
    """

    result: object

    @property
    def heights(self):
        """The heights behind it."""
        return self.result.drawn_from

    def judge(self, low, high, coverage, draws, seed):
        """Return what the decision rule says; `high` is the limit."""
        places = None
        if self.heights.cov is not None and self.heights.cov.any():
            window = isinstance(self.result, WorstWindow)
            places = self.result.x[:, None] if window else places_and_heights(self.result)[0]
        return judge_zone(self.result, places, high, coverage, draws=draws, seed=seed)

    def measured(self, worst):
        """Return the figure as measured."""
        return self.result.value

    def where(self, worst):
        """Say where it is decided, as far as there is a choice."""
        if not isinstance(self.result, WorstWindow):
            return ""
        start, end = self.result.start, self.result.start + self.result.length
        return f"from {start:.4g} to {end:.4g} mm"

    def within(self, z, low, high):
        """Tell for each set of heights, shape (T, n), whether it meets the limit."""
        return self.result.redo(z) <= high + _ROUNDING


@dataclass(frozen=True, eq=False)
class Places:
    """Figures that are linear in the heights, each at its place.

    Attributes
    ----------
    heights : Measured
    rows : ndarray, shape (k, n)
        Sensitivity of each figure to each height.
    names : tuple of str, length k
        Where each is, in words; empty where there is only one.
    """

    heights: Measured
    rows: np.ndarray
    names: tuple[str, ...]

    @property
    def values(self):
        """The figures as measured, shape (k,)."""
        return self.rows @ self.heights.values

    @property
    def u(self):
        """Their standard uncertainties, shape (k,), or None."""
        cov = self.heights.cov
        if cov is None:
            return None
        seen = self.rows * cov if cov.ndim == 1 else self.rows @ cov
        return np.sqrt(np.maximum(np.sum(seen * self.rows, axis=1), 0.0))

    def judge(self, low, high, coverage, draws, seed):
        """Return what the decision rule says."""
        return judge_places(self.values, self.u, low, high, coverage)

    def measured(self, worst):
        """Return the figure at the place that decides."""
        row = self.rows[worst : worst + 1]
        return self.heights.several(row, row @ self.heights.values)[0]

    def where(self, worst):
        """Say which place decides."""
        return self.names[worst]

    def within(self, z, low, high):
        """Tell for each set of heights, shape (T, n), whether all places are within the limits."""
        figures = z @ self.rows.T
        return ((figures >= low - _ROUNDING) & (figures <= high + _ROUNDING)).all(axis=1)


def share_within(asked, low, high, draws, seed):
    """Return the share of joint draws of the heights that meet the limits.

    This is what the heights foretell of the true figure, if they are a plan and not a measurement:
    then the figure on them holds no noise yet.
    """
    heights = asked.heights
    if not heights.cov.any():
        return float(asked.within(heights.values[None, :], low, high)[0])
    met = sum(
        int(np.count_nonzero(asked.within(tile, low, high)))
        for tile in joint_draws(heights.values, heights.cov, seed=seed).tiles(0, draws)
    )
    return met / draws


def a_number(number):
    """Return what a plain number asks, with its uncertainty where it has one."""
    u = getattr(number, "std_dev", None)
    known = Measured(
        np.array([float(getattr(number, "nominal_value", number))]),
        None if u is None else np.array([float(u) ** 2]),
        None if u is None else np.array([number], dtype=object),
    )
    return Places(known, np.ones((1, 1)), ("",))


def of_result(tolerance, result):
    """Return what a tolerance asks of a result of form.

    Parameters
    ----------
    tolerance : Tolerance
    result : Straightness, Flatness, Parallelism, Twist or Coplanarity

    Returns
    -------
    Zone or Places

    Raises
    ------
    InputError
        If only the end points were measured, and the form is signed.

    Notes
    -----
    Convex only, or concave only: the height of every station above the line of the end points
    must lie between 0 and the limit (a line counts as convex when all its points are above the
    line that joins its ends: ISO 230-1, from memory); these are linear in the heights.
    """
    if tolerance.test == "straightness":
        if tolerance.in_any is not None:
            return Zone(worst_window_of(result.x, result.drawn_from, tolerance.in_any))
        return Zone(result) if tolerance.sign == "either" else _above_end_points(result)
    if tolerance.test == "parallelism" and tolerance.in_any is not None:
        return _rise_in_any(result, tolerance.in_any)
    if tolerance.test == "twist":
        return Places(result.drawn_from, _rows_of(result), ("",))
    if tolerance.test == "variation of level":
        return _variation_of_level(result)
    return Zone(result)


def level_of(heights, face):
    """Return the slope of a face against the horizon [mm/m], as one linear figure."""
    mine = np.flatnonzero((heights.face == face) & ~heights.left_out)
    row = np.zeros((1, heights.x.size))
    row[0, mine] = 1000 * least_squares(heights.x[mine] - heights.x[mine[0]]).weights[1]
    return Places(Measured(heights.values, heights.cov, heights.z), row, ("",))


def _above_end_points(result):
    """Return the heights of the stations between the ends above the line of the end points."""
    x = result.x
    deviations = straightness_of(x, result.drawn_from, "end points").deviations
    inner = np.flatnonzero((x > x.min()) & (x < x.max()))
    if not inner.size:
        raise checks.wrong(
            "straightness", "no station lies between the ends", f"{x.size} stations", "add some"
        )
    rows = np.array([deviations.sensitivity(i) for i in inner])
    return Places(result.drawn_from, rows, tuple(f"at {x[i]:.10g} mm" for i in inner))


def _rows_of(result):
    """Return the sensitivity of a figure that is linear in the heights, (1, n)."""
    return result.redo(np.eye(result.drawn_from.values.size))[None, :]


def _pairs(values_at, names):
    """Return differences of all pairs of rows, and their names."""
    first, second = np.triu_indices(len(values_at), 1)
    said = tuple(
        f"between {names[i]} and {names[j]} mm" for i, j in zip(first, second, strict=True)
    )
    return values_at[second] - values_at[first], said


def _variation_of_level(result):
    """Return the change of roll between any two stations, toward +x [mm/m]."""
    order = np.argsort(result.x)
    per_height = np.diag(1000 / result.distance)
    rolls = np.hstack([-per_height, per_height])[order]
    rows, names = _pairs(rolls, [f"{at:.10g}" for at in result.x[order]])
    return Places(result.drawn_from, rows, names)


def _rise_in_any(result, length):
    """Return the rise of a face over its datum's line between places up to `length` apart.

    The face is straight from station to station, so the greatest rise is between two stations, or
    between a station and the place just `length` away from it.
    """
    order = np.argsort(result.x)
    x, deviations = result.x[order], result.deviations
    heights = np.array([deviations.sensitivity(i) for i in order])
    rows, names = [], []
    for i, at in enumerate(x):
        for j in range(i + 1, x.size):
            if x[j] - at <= length * (1 + 1e-9):
                rows.append(heights[j] - heights[i])
                names.append(f"between {at:.10g} and {x[j]:.10g} mm")
        for other in (at - length, at + length):
            if x[0] < other < x[-1] and not np.isclose(x, other).any():
                share = np.array([np.interp(other, x, column) for column in heights.T])
                rows.append((share - heights[i]) * np.sign(other - at))
                names.append(f"between {min(at, other):.10g} and {max(at, other):.10g} mm")
    return Places(result.drawn_from, np.array(rows), tuple(names))

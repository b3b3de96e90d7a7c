"""The decision rule: whether a tolerance is met, given how sure the figure is."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from metrolib import checks
from metrolib.form.windows import WorstWindow
from metrolib.form.wording import nominal
from metrolib.uncertain.draws import draw_tiles
from metrolib.uncertain.inversion import TAIL_KEPT, invert
from metrolib.uncertain.smooth import true_faces

ACCEPTED, NOT_ACCEPTED, NOT_DECIDED = "accepted", "not accepted", "not decided"

#: Share by which a probability found by test inversion is brought nearer to one half, counted in
#: standard deviations of a normal law: the true face is drawn, not known (see `TAIL_KEPT`).
_NEARER = float(ndtri(0.95) / ndtri(1 - TAIL_KEPT * 0.05))

# What arithmetic alone may do to exact heights [mm].
_ROUNDING = 1e-11

UNKNOWN_U = "nothing is known of its uncertainty"
# A zone so many u beyond its limit is beyond it, whichever of a million stations decide.
_CLEAR = 8.0

INVERTED = (
    "other stations may decide as well and noise inflates the figure: decided by test inversion"
)


@dataclass(frozen=True)
class Judged:
    """What the decision rule says of one figure.

    Attributes
    ----------
    decision : str
        ``"accepted"``, ``"not accepted"`` or ``"not decided"``.
    probability : float or None
        That the tolerance is met; of several places at the one where it is least. None where
        nothing is known of the uncertainty.
    worst : int
        The place that decides, where there are several.
    note : str
        Why it is not decided, or how it was, where that is not plain.
    """

    decision: str
    probability: float | None
    worst: int = 0
    note: str = ""


def guard(u, coverage=0.95):
    """Return how far inside one limit a figure must lie to be accepted.

    Parameters
    ----------
    u : float or ndarray
        Standard uncertainty.
    coverage : float
        Probability of conformity that is asked for.

    Notes
    -----
    ISO 14253-1:2017, default rule, from memory: 95 %, so 1.65 u where u is small against the
    tolerance.

    Examples
    --------
    >>> round(guard(0.002), 6)
    0.00329
    """
    return float(ndtri(coverage)) * u


def conformance(value, u, low, high):
    """Return the probability that the true figure lies between two limits.

    Parameters
    ----------
    value, u : float or ndarray
        The figure as measured and its standard uncertainty; where u is 0 it is exact.
    low, high : float
        The limits; infinite where there is none.

    Returns
    -------
    float or ndarray

    Notes
    -----
    JCGM 106:2012, clause 7, for a normal law: with one limit T it is Phi((T - y) / u).

    Examples
    --------
    At the limit, and as far inside as the guard reaches:

    >>> conformance(0.02, 0.002, -np.inf, 0.02), conformance(0.02 - guard(0.002), 0.002, 0, 0.02)
    (0.5, 0.95)
    """
    value, u = np.asarray(value, dtype=float), np.asarray(u, dtype=float)
    inside = (value >= low - _ROUNDING) & (value <= high + _ROUNDING)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = ndtr((high - value) / u) - ndtr((low - value) / u)
    found = np.where(u > 0, share, inside.astype(float))
    return float(round(float(found), 15)) if found.ndim == 0 else found


def beyond(value, u, low, high):
    """Return the probability that the true figure lies beyond the nearer of two limits."""
    return np.maximum(
        1 - conformance(value, u, -np.inf, high), 1 - conformance(value, u, low, np.inf)
    )


def judge_places(values, u, low, high, coverage):
    """Judge figures at several places, all of which must lie between two limits.

    Parameters
    ----------
    values : ndarray, shape (k,)
    u : ndarray, shape (k,), or None
        Their standard uncertainties.
    low, high : float
        The limits.
    coverage : float
        Probability that is asked for, 0.5 to 1; with 0.5 the figure as measured decides.

    Returns
    -------
    Judged

    Notes
    -----
    Accepted where each place by itself is within the limits with the probability asked for: the
    whole is then accepted wrongly no more often than a single place would be, whatever the
    correlations (an intersection-union test; R. L. Berger, 1982, from memory). Not accepted where
    some place is beyond a limit with such a probability that, over all places and both limits, a
    good one is refused no more often than 1 - coverage (Bonferroni). A single figure follows the
    plain rule: ISO 14253-1.
    """
    if u is None:
        return Judged(NOT_DECIDED, None, int(_excess(values, low, high).argmax()), UNKNOWN_U)
    met = np.atleast_1d(conformance(values, u, low, high))
    worst = int(np.lexsort((-_excess(values, low, high), met.round(12)))[0])
    count = 1 if len(values) == 1 else 2 * len(values)
    if met[worst] >= coverage:
        decision = ACCEPTED
    elif np.max(beyond(values, u, low, high)) >= 1 - (1 - coverage) / count:
        decision = NOT_ACCEPTED
    else:
        decision = NOT_DECIDED
    return Judged(decision, float(met[worst]), worst)


def _excess(values, low, high):
    """Return how far each figure is beyond the nearer limit, below 0 within."""
    return np.maximum(np.asarray(values) - high, low - np.asarray(values))


def judge_zone(result, places, limit, coverage, *, draws=2000, seed=1):
    """Judge a peak-to-valley figure, which noise can only widen.

    Parameters
    ----------
    result : Straightness, Flatness, Coplanarity, Parallelism or WorstWindow
    places : ndarray, shape (n, 1) or (n, 2)
        Of the heights behind it, as `metrolib.form.confidence.places_and_heights` gives them.
    limit : float
        [mm]
    coverage : float
    draws, seed : int
        Of the test inversion.

    Returns
    -------
    Judged

    Notes
    -----
    Where every other station can be told from the contacts, and far beyond the limit, the linear
    law holds and decides. Elsewhere
    the probability is that of the test inversion at the limit itself (as for
    `confidence_interval`, of which `at_most` is then within the limit just when this accepts): how
    seldom a face exactly at the limit would measure so little. The worst stretch of many is refused
    only if an even bow at the limit, of which all stretches are alike, would hardly measure so much
    either. Over 80 to 300 simulated surveys of
    bows, waves and narrow dips exactly at the limit 0 to 8 % were accepted, and as many refused.
    """
    heights, value = result.drawn_from, nominal(result.value)
    if heights.cov is None:
        return Judged(NOT_DECIDED, None, note=UNKNOWN_U)
    u = getattr(result.value, "std_dev", 0.0)
    clear = value - limit > _CLEAR * u
    if clear or not heights.cov.any() or not getattr(result, "tied", True):
        return judge_places(np.array([value]), np.array([u]), -np.inf, limit, coverage)
    faces = true_faces(places, heights.values, heights.cov)
    if faces is None:
        return Judged(NOT_DECIDED, None, note="any heights at so few stations have no deviation")
    quiet = 2 * TAIL_KEPT * (1 - coverage)
    found = invert(
        result.redo,
        value,
        faces,
        draws=draws,
        seed=seed,
        quiet=quiet,
        sizes=np.array([limit]),
        progress=False,
    )
    half = 0.5 / draws
    rare = float(np.clip(found.share @ found.below[:, 0], half, 1 - half))
    probability = float(ndtr(-_NEARER * ndtri(rare)))
    if probability <= 1 - coverage and isinstance(result, WorstWindow):
        bowed = _reached_by_a_bow(result, limit, draws, seed)
        probability = min(max(probability, bowed), 0.5)
    if probability >= coverage:
        decision = ACCEPTED
    else:
        decision = NOT_ACCEPTED if probability <= 1 - coverage else NOT_DECIDED
    return Judged(decision, probability, note=INVERTED)


def _reached_by_a_bow(window, limit, draws, seed):
    """Return how often an even bow just at the limit would measure as much as was measured.

    All its stretches are alike, so noise inflates the worst of them more than on any other line.
    """
    bow = (window.x - window.x.mean()) ** 2
    bow = bow * (limit / window.redo(bow[None, :])[0])
    reached = sum(
        int(np.count_nonzero(window.redo(tile) >= nominal(window.value)))
        for tile in draw_tiles(bow, window.drawn_from.cov, draws, seed=seed)
    )
    return reached / draws


def checked_coverage(coverage):
    """Return the probability of conformity that is asked for, checked."""
    coverage = checks.number("coverage", coverage, at_least=0.5)
    if coverage >= 1:
        raise checks.wrong("coverage", "it must be below 1", coverage, "give 0.95, say")
    return coverage

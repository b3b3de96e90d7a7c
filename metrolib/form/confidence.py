"""Confidence intervals of peak-to-valley figures, which hold near zero too."""

import math
from dataclasses import dataclass, field

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.form.coplanarity import Coplanarity
from metrolib.form.flatness import Flatness
from metrolib.form.parallelism import Parallelism
from metrolib.form.straightness import Straightness
from metrolib.uncertain.distribution import Distribution
from metrolib.uncertain.draws import whole
from metrolib.uncertain.inversion import TAIL_KEPT, TAILS_KEPT, invert
from metrolib.uncertain.montecarlo import monte_carlo
from metrolib.uncertain.smooth import true_faces

# Draws that the linear law is compared with.
_COMPARED = 20_000


@dataclass(frozen=True, eq=False)
class ConfidenceInterval:
    """What a measured peak-to-valley figure says of the true one.

    Attributes
    ----------
    figure : str
        ``"straightness"``, ``"flatness"``, ``"coplanarity"`` or ``"parallelism"``.
    value : float
        As measured [mm].
    interval : (float, float)
        Between which the true figure lies with the confidence `coverage` [mm].
    at_most : float
        What the true figure does not exceed, with the same confidence, from one side [mm].
    estimate : float
        True figure for which the measured one would be too large as often as too small: `value`
        less what noise adds; 0 where noise alone often makes as much [mm].
    coverage : float
    perfect : float
        Probability that a perfect face would measure as much or more.
    drawn : Distribution
        Plain draws about the measured heights, and what the linear law says.
    draws : int
    seed : int
    """

    figure: str
    value: float
    interval: tuple[float, float]
    at_most: float
    estimate: float
    coverage: float
    perfect: float
    drawn: Distribution = field(repr=False)
    draws: int
    seed: int

    @property
    def from_zero(self):
        """Whether the face may be perfect: the interval then covers more often than it promises."""
        return self.interval[0] == 0

    @property
    def linear_holds(self):
        """Whether ``value`` and its U say the same, by JCGM 101:2008, clause 8."""
        return self.drawn.agrees

    @property
    def promised(self):
        """Whether the confidence can be promised for every shape of the true face.

        It can where the linear law holds, and where a perfect face is among those possible.
        Elsewhere it is reached on average over shapes.
        """
        return self.linear_holds or self.from_zero

    @property
    def too_quiet(self):
        """Whether even a perfect face would hardly ever measure so little with this noise."""
        return 1 - self.perfect < (1 - self.coverage) / 2

    def in_words(self, unit="um"):
        """Return what the figure is worth, in one sentence.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """

        def said(length):
            return wording.length(length, unit)

        sure = f"{self.coverage * 100:.10g} % confidence"
        return (
            f"{self.figure} at most {said(self.at_most)} with {sure}; between "
            f"{said(self.interval[0])} and {said(self.interval[1])} with {sure}; best estimate "
            f"{said(self.estimate)} ({said(self.value)} measured)"
            + "".join(f"; {remark}" for remark in self._remarks(said))
        )

    def _remarks(self, said):
        """Say what is to be known of the interval."""
        low, high = self.drawn.linear_interval
        said_by_law = f"the linear law, {said(low)} to {said(high)},"
        if self.linear_holds:
            yield f"{said_by_law} holds as well"
        else:
            yield f"{said_by_law} does not hold here: use this interval"
        if self.too_quiet:
            yield (
                f"a perfect face would measure more than this in {_share(self.perfect)} of "
                "surveys: the uncertainty of the heights looks too large"
            )
        elif self.from_zero:
            yield (
                f"a perfect face would measure as much in {_share(self.perfect)} of surveys, so "
                "this one may be perfect, and the interval is wider than it need be"
            )
        if not self.promised:
            yield (
                f"{self.coverage * 100:.10g} % is reached on average over shapes of the true "
                "face, not promised for each"
            )

    def __str__(self):
        return self.in_words()

    def _repr_html_(self):
        low, high = (wording.length(end, "um") for end in self.interval)
        return wording.table(
            f"{self.figure.capitalize()} with {self.coverage * 100:.10g} % confidence",
            [
                ("at most", wording.length(self.at_most, "um")),
                ("between", f"{low} and {high}"),
                ("best estimate", wording.length(self.estimate, "um")),
                ("as measured", wording.length(self.value, "um")),
                *(
                    ("note", remark)
                    for remark in self._remarks(lambda length: wording.length(length, "um"))
                ),
            ],
        )


def _share(probability):
    """Say a probability in per cent, without a false 100 %."""
    return f"{100 * min(max(probability, 0.001), 0.999):.3g} %"


def confidence_interval(result, *, coverage=0.95, draws=2000, seed=1, executor=None, progress=None):
    """Find between which limits the true figure lies, near zero as well.

    Parameters
    ----------
    result : Straightness, Flatness, Coplanarity or Parallelism
        Of uncertain heights.
    coverage : float
        Confidence of the interval, and of the one-sided limit.
    draws : int
        True faces that are drawn, of each of two degrees of smoothness.
    seed : int
        Draws with the same seed are the same.
    executor : concurrent.futures.Executor, optional
        Who draws: threads, processes, or a cluster. The result does not depend on it.
    progress : False, optional
        A progress bar shows after a second; with False never.

    Returns
    -------
    ConfidenceInterval

    Raises
    ------
    InputError
        If the result is of another kind, nothing is known of the uncertainty of its heights, they
        are exact, or there are so few that any heights there have no deviation.

    Notes
    -----
    Noise only ever widens a zone, so a figure that is small against it is too large on average,
    and neither the linear law nor plain draws cover the true one as often as they say. This
    interval holds each size of the true figure for which the measured one is no rare outcome
    (test inversion). What is common or rare is found from draws: true faces from those that the
    heights leave possible (`metrolib.uncertain.smooth.true_faces`), brought to that size, with
    noise from the joint covariance of the heights.

    In simulated surveys (the sample machines, worn, nearly true and perfect, with few stations and
    with unequal uncertainties; bows, hollows, waves, one worn patch and random walks of 5 to 30
    stations) the 95 % interval covered the truth in 93 to 98 % of surveys, in 96 % on average, and
    `at_most` in 93 to 100 %; at a perfect face the interval did in 97 to 99 %. The long way of
    reaching these figures is ``tests/studies/coverage_study.py``.

    It says nothing of what lies between stations, of readings that are wrong, or of errors that
    the covariance leaves out. Twist, tilt and heights are linear in the heights: their own U holds.

    Examples
    --------
    A face that is true in fact, read to 2 µm at 15 stations; noise alone makes a zone of 6.6 µm:

    >>> import numpy as np
    >>> from metrolib.form.straightness import straightness
    >>> x = np.linspace(0, 1400, 15)
    >>> noise = np.random.default_rng(4).normal(0, 0.002, 15)
    >>> print(confidence_interval(straightness(x, noise, 0.002)))
    straightness at most 7.5 µm with 95 % confidence; between 0.0 µm and 7.7 µm with 95 %
    confidence; best estimate 1.9 µm (6.6 µm measured); the linear law, 1.5 µm to 11.6 µm, does
    not hold here: use this interval; a perfect face would measure as much in 39.8 % of surveys,
    so this one may be perfect, and the interval is wider than it need be
    """
    places, heights = places_and_heights(result)
    coverage = checks.number("coverage", coverage, above=0)
    if coverage >= 1:
        raise checks.wrong("coverage", "it must be below 1", coverage, "give 0.95, say")
    draws = whole("draws", draws, at_least=math.ceil(40 / (1 - coverage)))
    seed = whole("seed", seed, at_least=0)
    faces = true_faces(places, heights.values, heights.cov)
    if faces is None:
        raise checks.wrong(
            "result",
            "any heights at so few stations have no deviation",
            f"{len(places)} heights",
            "add stations",
        )
    value = wording.nominal(result.value)
    tails, tail = TAILS_KEPT * (1 - coverage) / 2, TAIL_KEPT * (1 - coverage)
    found = invert(
        result.redo,
        value,
        faces,
        draws=draws,
        seed=seed,
        quiet=2 * tail,
        executor=executor,
        progress=progress,
    )
    interval = found.ends(tails, tails)
    return ConfidenceInterval(
        figure=type(result).__name__.lower(),
        value=value,
        interval=interval,
        at_most=found.ends(tail, tail)[1],
        estimate=found.middle(),
        coverage=coverage,
        perfect=found.exceeded_by_perfect,
        drawn=monte_carlo(
            result,
            draws=max(_COMPARED, math.ceil(100 / (1 - coverage))),
            coverage=coverage,
            seed=seed,
            executor=executor,
            progress=progress,
        ),
        draws=draws,
        seed=seed,
    )


def places_and_heights(result):
    """Return the places of the heights behind a result, and these heights.

    Parameters
    ----------
    result : Straightness, Flatness, Coplanarity or Parallelism

    Returns
    -------
    places : ndarray, shape (n, 1) or (n, 2)
        [mm]; of a datum and a face, which one tells them apart.
    heights : Measured

    Raises
    ------
    InputError
        If the result is of another kind, or nothing is known of the uncertainty of its heights.
    """
    if isinstance(result, Straightness):
        places = [result.x]
    elif isinstance(result, Flatness):
        places = [result.x, result.y]
    elif isinstance(result, Coplanarity):
        places = [result.together.x, result.together.y]
    elif isinstance(result, Parallelism):
        of_datum = np.repeat([0.0, 1.0], [result.x.size, result.datum_x.size])
        places = [np.concatenate([result.x, result.datum_x]), of_datum]
    else:
        raise checks.wrong(
            "result",
            "this is no peak-to-valley figure",
            type(result).__name__,
            "give a straightness, flatness, coplanarity or parallelism; twist, tilts and heights "
            "are linear, so their own U holds",
        )
    heights = result.drawn_from
    if heights.cov is None or not heights.cov.any():
        raise InputError(
            "result: nothing is known of the uncertainty of its heights, or they are exact; give "
            "u with the heights, or heights that bring their own"
        )
    return np.column_stack(places), heights

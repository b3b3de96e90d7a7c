"""A plan studied by simulation: where the target and the depths lie, and what cleans up."""

from dataclasses import dataclass, replace
from html import escape

import numpy as np

from metrolib import checks
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.removal.programme import Programme
from metrolib.rebuild.removal.programme_batched import find_targets
from metrolib.uncertain.draws import Draws, joint_draws, whole
from metrolib.units import from_millimetres, show_length, unit_sign

_BAND_DRAWS = 512  # so many are planned again where that takes milliseconds each
_GOVERNS = 0.95  # of the draws, from which one place can be said to set the target
_ROUNDING = 1e-10  # a lack of metal below this is none [mm]


@dataclass(frozen=True, eq=False)
class PlanStudy:
    """What many surfaces, drawn within the uncertainty of the heights, make of a plan.

    Attributes
    ----------
    plan : RemovalPlan
    draws : int
    replanned : int
        For how many of them the target was sought again.
    coverage : float
        Share of the draws that each interval holds, as many below as above it.
    depth : ndarray, shape (n, 2)
        What comes off each station down to the planned target, which stands [mm].
    target : ndarray, shape (n, 2)
        Height of the target at each station if it were planned again, the guard keeping the room
        that it gives in the plan; NaN where no draw leaves a target [mm].
    governs : ndarray, shape (q,)
        Share of the draws that leave a target on which each place in `plan.places` would set it
        without a guard.
    cleaned : ndarray, shape (q,)
        Share of the draws on which each place cleans up; with a band, ends no lower than the
        target. 1 on faces that are not touched.
    cleaned_all : float
        Share on which all of them do.
    cleaned_all_u : float
        Standard uncertainty of that share, from the number of draws.
    possible : float
        Share of those planned again on which a target meets all conditions.
    """

    plan: RemovalPlan
    draws: int
    replanned: int
    coverage: float
    depth: np.ndarray
    target: np.ndarray
    governs: np.ndarray
    cleaned: np.ndarray
    cleaned_all: float
    cleaned_all_u: float
    possible: float

    def in_words(self, unit="um"):
        """Say how surely all cleans up, what is least sure, and which place governs.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        worst = int(self.cleaned.argmin())
        done = "all places clean up" if self.plan.decision.band == 0 else "no place ends too low"
        said = [
            f"On {_share(self.cleaned_all)} (u = {100 * self.cleaned_all_u:.1f} %) of {self.draws} "
            f"surfaces that the readings allow, {done}; least sure is {self._at(worst)}, "
            f"{_share(self.cleaned[worst])}."
        ]
        if self.governs.any():
            first = int(self.governs.argmax())
            often = _share(self.governs[first])
            said.append(f"The low spot at {self._at(first)} governs on {often}.")
            if self.governs[first] < _GOVERNS:
                said.append(
                    "On the others the target would be set elsewhere: the plan's own U of the "
                    "target and of the volume holds only while the same places govern."
                )
        depth = self.depth[self.plan.deepest]
        low, high = (show_length(end, unit) for end in depth)
        said.append(
            f"The deepest cut, at {self.plan.x[self.plan.deepest]:g} mm on "
            f"{str(self.plan.face[self.plan.deepest])!r}, lies between {low} and {high} "
            f"({100 * self.coverage:g} %)."
        )
        return " ".join(said)

    def _at(self, place):
        """Write where a place is."""
        places = self.plan.places
        wide = len({*places.y[places.face == places.face[place]]}) > 1
        y = f", y {places.y[place]:g}" if wide else ""
        return f"x {places.x[place]:g}{y} mm on {str(places.face[place])!r}"

    def to_dataframe(self, unit="um"):
        """Return a pandas table, one place a row; a gap between stations has no depth of its own.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``; target heights stay in mm.
        """
        from pandas import DataFrame

        plan, places, sign = self.plan, self.plan.places, unit_sign(unit)
        station = places.ends[:, 0]
        gap = (station != places.ends[:, 1])[:, None]
        depth = np.where(gap, np.nan, from_millimetres(self.depth[station], unit))
        target = np.where(gap, np.nan, plan.nominal[station, None] + self.target[station])
        return DataFrame(
            {
                "face": places.face,
                "x [mm]": places.x,
                "y [mm]": places.y,
                f"take off from [{sign}]": depth[:, 0],
                f"take off to [{sign}]": depth[:, 1],
                "target from [mm]": target[:, 0],
                "target to [mm]": target[:, 1],
                "governs": self.governs,
                "cleans up": self.cleaned,
            }
        )

    def __str__(self):
        return self.in_words()

    def _repr_html_(self):
        table = self.to_dataframe().to_html(index=False, border=0, float_format="%.4g")
        return f"<p>{escape(self.in_words())}</p>{table}"


def study_plan(plan, *, draws=20_000, coverage=0.95, seed=1, executor=None):
    """Draw surfaces within the uncertainty of the heights, and cut each of them as planned.

    Parameters
    ----------
    plan : RemovalPlan
        From uncertain heights.
    draws : int
        How many surfaces. With a band only the first 512 are planned again, for that is slow.
    coverage : float
        Share of the draws that the intervals hold.
    seed : int or None
        Of the draws, which are not those that the guard was set by.
    executor : concurrent.futures.Executor, optional
        Who draws; the result does not depend on it.

    Returns
    -------
    PlanStudy

    Raises
    ------
    InputError
        If the heights are exact, or an argument is out of its limits.

    Notes
    -----
    All heights are drawn jointly, by the covariance of the adjustment. What is drawn is the face
    that may be there, given the readings; so a place cleans up where the drawn height keeps the
    asked depth over the target that the plan cuts to. Where faces are only to be parallel, depths
    are set out from each face, and the uncertainty of its own height stays out of `depth` and
    `cleaned`, as in the plan. The readings' systematic errors are in it as far as the survey
    states them; an error of cutting is not, nor what hides between stations unless the plan covers
    it.

    Examples
    --------
    >>> from metrolib import Face, given_heights, plan_removal
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [0.0, -0.05, 0.0])}, u=0.002)
    >>> study = study_plan(plan_removal(heights, faces=["flat"], confidence=0.9))
    >>> study.governs.tolist(), abs(study.cleaned_all - 0.9) < 0.01
    ([0.0, 1.0, 0.0], True)
    """
    checks.kind("plan", plan, RemovalPlan, "give what plan_removal returns")
    draws = whole("draws", draws, at_least=100)
    coverage = checks.number("coverage", coverage, above=0)
    if coverage >= 1:
        raise checks.wrong("coverage", "it must be below 1", coverage, "give 0.95, say")
    if plan.drawn_from.cov is None:
        raise checks.wrong(
            "plan", "its heights are exact, nothing can be drawn", "no uncertainty", "give u"
        )
    task = _task(plan, seed, draws)
    tiles = range(-(-draws // task.source.tile_size))
    parts = list(map(task.tile, tiles) if executor is None else executor.map(task.tile, tiles))
    depth, clean, target, governs = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
    possible = np.isfinite(target[:, 0])
    # an untouchable face, drawn a little out of true, leaves no target at all
    found = target[possible] if possible.any() else target
    all_clean = clean.all(axis=1).mean()
    ends = (1 - coverage) / 2, (1 + coverage) / 2
    return PlanStudy(
        plan,
        draws,
        len(target),
        coverage,
        np.quantile(depth, ends, axis=0).T,
        np.quantile(found, ends, axis=0).T,
        governs.sum(axis=0) / max(np.count_nonzero(possible), 1),
        clean.mean(axis=0),
        float(all_clean),
        float(np.sqrt(all_clean * (1 - all_clean) / draws)),
        float(possible.mean()),
    )


@dataclass(frozen=True, eq=False)
class _Task:
    """What a worker needs to know of a plan."""

    source: Draws
    draws: int
    replanned: int
    law: np.ndarray
    nominal: np.ndarray
    error_law: np.ndarray
    columns: np.ndarray
    crown: np.ndarray
    counts: np.ndarray
    depth: np.ndarray
    room: np.ndarray
    low: np.ndarray
    spread: np.ndarray
    must_clean: np.ndarray
    programme: Programme
    bare: Programme
    by_hand: np.ndarray | None

    def tile(self, number):
        """Return depth, what cleans up, target and what governs, for the draws of one tile."""
        start = number * self.source.tile_size
        z = self.source.tile(number, min(self.source.tile_size, self.draws - start))
        error = (z - self.source.values) @ self.error_law.T
        at_places = error[:, self.counts] @ self.low.T
        # What hides between stations is drawn by a stream of its own.
        stream = np.random.SeedSequence(self.source.seed, spawn_key=(number, 1))
        normal = np.random.default_rng(stream).standard_normal((len(z), (self.spread > 0).sum()))
        at_places[:, self.spread > 0] += normal * self.spread[self.spread > 0]
        clean = (self.room + at_places >= -_ROUNDING) | ~self.must_clean
        again = z[: max(self.replanned - start, 0)] @ self.law.T - self.nominal - self.crown
        again = again[:, self.counts]
        if self.by_hand is not None:  # nothing moves it
            target = np.tile(self.by_hand, (len(again), 1))
            return np.maximum(self.depth + error, 0.0), clean, target, 0 * clean[: len(again)]
        target = find_targets(self.programme, again).motion @ self.columns.T + self.crown
        governs = find_targets(self.bare, again).governs
        return np.maximum(self.depth + error, 0.0), clean, target, governs


def _task(plan, seed, draws):
    """Return what a worker needs to know."""
    group, places, heights = plan.group, plan.places, plan.heights
    nominal = np.array([heights.faces[name].nominal_height for name in heights.face])
    count = len(places.low)
    programme = plan.programme
    # the planes of the guard come after the places
    bare = replace(
        programme,
        low=None if programme.low is None else programme.low[:count],
        least=programme.least[:count],
        u=programme.u[:count],
    )
    return _Task(
        joint_draws(heights.values, heights.cov, seed=seed),
        draws,
        draws if plan.decision.band == 0 else min(draws, _BAND_DRAWS),
        group.law,
        group.law @ nominal,
        group.error_law,
        group.columns,
        group.crown,
        ~plan.left_out,
        plan.relative_height - plan.target - plan.decision.band,
        bare.room(plan.motion_values),
        places.low,
        places.spread,
        ~np.isin(places.face, plan.decision.untouchable),
        programme,
        bare,
        None if plan.decision.target_height is None else plan.target,
    )


def _share(probability):
    """Write a probability in per cent."""
    return f"{100 * probability:.1f} %"

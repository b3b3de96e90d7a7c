"""Simulated surveys with one wrong reading, which the user takes out where the checks show it."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.heights.blunders import check
from metrolib.heights.equations import equations
from metrolib.heights.states import chosen_traverses
from metrolib.survey.folder import read_survey
from tests.samples.test_samples import truth_of, without_blunder
from tests.studies.coverage import SURVEYS, Mix, read_exactly, sample, solved

#: Redundancy from which a reading can be found wrong with certainty, and the size of its error.
CHECKED, SIZE = 0.3, 12.0


@dataclass(frozen=True, eq=False)
class Outcome:
    """One survey after the user took out what the checks showed.

    Attributes
    ----------
    mix : Mix
        With the heights that were found.
    found : bool
        Whether the wrong reading is among those taken out.
    wrongly : int
        How many good readings were taken out.
    """

    mix: Mix
    found: bool
    wrongly: int


def blundered_surveys(name, surveys, *, seed=1):
    """Yield outcomes: one checked reading is wrong by 12 of its standard uncertainties."""
    mix = sample(name)
    survey = without_blunder(read_survey(SURVEYS / name), truth_of(name))
    system = equations(survey, chosen_traverses(survey, survey.readings))
    unknowns = system.prior.copy()
    unknowns[: mix.true.size] = mix.true
    system = read_exactly(system, unknowns)
    checked = np.flatnonzero(solved(system).redundancy > CHECKED)
    spread, random = np.where(system.weak, 0.0, system.prior_u), np.random.default_rng(seed)
    for _ in range(surveys):
        error = system.matrix @ (spread * random.standard_normal(spread.size))
        error += system.u * random.standard_normal(system.u.size)
        wrong = random.choice(checked)
        error[wrong] += SIZE * system.u[wrong] * random.choice([-1, 1])
        yield _cleaned(mix, replace(system, observed=system.observed + error), wrong)


def _cleaned(mix, system, wrong):
    """Take out what the checks show, one reading after the other, and adjust again."""
    kept = np.ones(system.u.size, dtype=bool)
    while True:
        solution = solved(system, kept)
        suspects = check(_of_rows(system, kept), solution).suspects
        if suspects.size == 0:
            break
        kept[np.flatnonzero(kept)[suspects[0]]] = False
    count = mix.true.size
    found = replace(
        mix.heights,
        values=(system.prior + solution.values)[:count],
        cov=solution.covariance(np.arange(count)),
    )
    wrongly = int((~kept).sum()) - int(not kept[wrong])
    return Outcome(replace(mix, heights=found), bool(not kept[wrong]), wrongly)


def _of_rows(system, kept):
    columns = ("matrix", "observed", "u", "traverse", "face", "x", "line", "measures", "reading")
    return replace(system, **{name: getattr(system, name)[kept] for name in columns})

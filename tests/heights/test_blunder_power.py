"""How large a blunder must be to be found, how often good readings are called bad.

The test of a reading is its residual divided by the residual's own standard deviation, u sqrt(r),
with r the redundancy. An error d in the reading moves that by sqrt(r) d / u. So it is flagged with
probability Phi(sqrt(r) d / u - c), c the critical value, which grows with the number of tests so
that in 95 of 100 good surveys none is flagged. From this, "5 standard deviations are found in 95 %
of cases" holds

- for 5 standard deviations of the residual, where up to 63 readings are tested (c < 3.355);
- for 5 standard deviations of the reading itself, only where r > ((c + 1.645) / 5)²: for 12
  readings from 0.81 on, for 64 and more at no redundancy at all.

With 300 readings it takes 5.4 standard deviations of the residual, or 7.7 of a reading whose
redundancy is one half. `findable` gives that size for every reading.

The studies draw residuals of the samples' own equations, many surveys at a time; a few whole
adjustments check that they stand for what `adjust` does.
"""

import warnings
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.heights.blunders import UNCHECKED, check, critical_value, findable
from metrolib.heights.equations import equations
from metrolib.heights.solve import least_squares
from metrolib.heights.states import chosen_traverses
from metrolib.survey.folder import read_survey

SURVEYS = Path(__file__).parents[2] / "sample_surveys"
SAMPLES = (
    "toolroom_lathe",  # 295 readings, redundancies from 0.35 to 0.92
    "milling_table",  # 180, from 0.14 to 0.81
    "long_rails",  # 142, from 0.50 to 0.89
    "rectangular_face",  # 63, from 0.51 to 0.61
    "published_forward_backward",  # 12, all 0.42
)
ENOUGH = norm.ppf(0.95)


class Study:
    """Surveys drawn from the equations of a sample, as whitened residuals."""

    def __init__(self, name):
        survey = read_survey(SURVEYS / name)
        self.system = equations(survey, chosen_traverses(survey, survey.readings))
        matrix = self.system.whitened()[0].toarray()
        self.solution = least_squares(
            matrix, np.zeros(len(matrix)), self.system.prior_u, self.system.weak
        )
        known = np.where(self.system.weak, 0.0, 1 / self.system.prior_u)
        calibrated = ~self.system.weak
        self.fit = self.solution.factor.reach(np.vstack([matrix, np.diag(known)[calibrated]]))
        self.count = len(matrix)
        self.redundancy = self.solution.redundancy
        self.tested = self.redundancy >= UNCHECKED
        self.critical = critical_value(int(self.tested.sum()))

    def draw(self, surveys, rng, wrong=None, size=0.0):
        """Return residuals of readings and of calibrated priors; `size` in u of the reading."""
        noise = rng.normal(size=(surveys, len(self.fit)))
        if wrong is not None:
            noise[np.arange(surveys), wrong] += size
        rest = noise - noise @ self.fit @ self.fit.T
        return rest[:, : self.count], rest[:, self.count :]

    def normalised(self, residual):
        return residual[:, self.tested] / np.sqrt(self.redundancy[self.tested])

    def share_flagged(self, surveys, size, rng):
        """Return how often the reading that is wrong is flagged, another in each survey."""
        wrong = rng.choice(np.flatnonzero(self.tested), surveys)
        residual, _ = self.draw(surveys, rng, wrong, size[wrong])
        own = residual[np.arange(surveys), wrong] / np.sqrt(self.redundancy[wrong])
        return float((np.abs(own) > self.critical).mean())


study = cache(Study)


def margin(share, surveys):
    """Return four standard deviations of a share found in so many surveys."""
    return 4 * np.sqrt(share * (1 - share) / surveys)


@pytest.mark.parametrize("name", SAMPLES)
def test_an_error_of_the_size_promised_is_flagged_in_95_of_100_surveys(name):
    of, surveys = study(name), 8000
    size = findable(1.0, of.redundancy, of.critical)
    found = of.share_flagged(surveys, size, np.random.default_rng(20260801))
    assert abs(found - 0.95) < margin(0.95, surveys)


@pytest.mark.parametrize("name", SAMPLES)
def test_five_standard_deviations_of_the_residual_are_flagged_as_the_formula_says(name):
    of, surveys = study(name), 8000
    size = 5 / np.sqrt(np.where(of.tested, of.redundancy, 1.0))
    found = of.share_flagged(surveys, size, np.random.default_rng(20260802))
    expected = norm.cdf(5 - of.critical)
    assert abs(found - expected) < margin(expected, surveys)
    # 63 readings are the most for which that is 95 %; 295 readings make it 89 %
    assert (expected >= 0.95) == (of.tested.sum() <= 63)
    assert expected > 0.89


def test_how_many_readings_five_standard_deviations_suffice_for():
    assert norm.cdf(5 - critical_value(63)) >= 0.95 > norm.cdf(5 - critical_value(64))
    needed = [((critical_value(count) + ENOUGH) / 5) ** 2 for count in (12, 63, 64, 300)]
    np.testing.assert_allclose(needed, [0.8136, 0.9999, 1.0017, 1.1706], atol=1e-4)
    assert needed[1] < 1 < needed[2]


@pytest.mark.parametrize("name", SAMPLES)
def test_five_standard_deviations_of_the_reading_are_not_always_found(name):
    """What no survey here promises: a reading's own noise hides such an error too often."""
    of, surveys = study(name), 8000
    found = of.share_flagged(surveys, np.full(of.count, 5.0), np.random.default_rng(20260803))
    expected = norm.cdf(5 * np.sqrt(of.redundancy[of.tested]) - of.critical).mean()
    assert abs(found - expected) < margin(expected, surveys)
    assert found < 0.95


@pytest.mark.parametrize("name", SAMPLES)
def test_false_alarms_are_as_rare_as_designed(name):
    """One good survey in twenty at most has a suspect; fewer where residuals come in pairs."""
    of, surveys = study(name), 20_000
    rng = np.random.default_rng(20260804)
    alarms = 0
    for _ in range(10):
        residual, _ = of.draw(surveys // 10, rng)
        alarms += int((np.abs(of.normalised(residual)).max(axis=1) > of.critical).sum())
    share = alarms / surveys
    assert share < 0.05 + margin(0.05, surveys)
    # out and back over the same steps, residuals are equal in pairs: half the tests are one
    least = 0.025 if name == "published_forward_backward" else 0.04
    assert share > least - margin(least, surveys)


@pytest.mark.parametrize("name", ["milling_table", "rectangular_face"])
def test_the_verdict_speaks_against_good_readings_in_at_most_7_of_100_surveys(name):
    """Suspects in 5 of 100, the sum of squares too large in 2.5; both together less."""
    of, surveys = study(name), 4000
    residual, prior = of.draw(surveys, np.random.default_rng(20260805))
    limits = check(of.system, of.solution).limits
    square = (residual**2).sum(axis=1) + (prior**2).sum(axis=1)
    large = square > limits[1]
    suspect = np.abs(of.normalised(residual)).max(axis=1) > of.critical
    assert abs(large.mean() - 0.025) < margin(0.025, surveys)
    assert (large | suspect).mean() < 0.075 + margin(0.075, surveys)


@pytest.mark.parametrize("name", ["long_rails", "rectangular_face", "published_forward_backward"])
def test_the_list_of_suspects_names_the_wrong_reading_and_seldom_others(name):
    """The list itself: readings that stand out only because of their neighbour are taken off."""
    of, surveys = study(name), 400
    rng = np.random.default_rng(20260806)
    wrong = rng.choice(np.flatnonzero(of.tested), surveys)
    size = findable(1.0, of.redundancy, of.critical)[wrong]
    residual, _ = of.draw(surveys, rng, wrong, size)
    named = others = 0
    for at, rest in zip(wrong, residual, strict=True):
        found = check(of.system, replace(of.solution, residual=rest))
        twins = found.inseparable.get(int(at), ())
        named += int(at in found.suspects)
        others += int(bool(set(found.suspects) - {at, *twins}))
    assert named / surveys > 0.95 - margin(0.95, surveys)
    assert others / surveys < 0.15


def test_whole_adjustments_flag_as_often():
    """Readings made anew from the equations, one of them wrong, through `adjust`."""
    survey, of = read_survey(SURVEYS / "rectangular_face"), study("rectangular_face")
    system, rng, runs, named = of.system, np.random.default_rng(20260807), 60, 0
    size = findable(system.u, of.redundancy, of.critical)
    factor = {
        name: survey.instruments[each.instrument].factor for name, each in survey.traverses.items()
    }
    place = {line: i for i, line in enumerate(survey.readings.line)}
    at = np.array([place[line] for line in system.line])
    scale = np.array([factor[name] for name in system.traverse])
    for _ in range(runs):
        wrong = rng.integers(of.count)
        value = survey.readings.value.copy()
        made = system.reading - of_blunder_free(of) + system.u * rng.normal(size=of.count)
        made[wrong] += size[wrong]
        value[at] = made / scale
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DoubtfulReadingsWarning)
            heights = adjust(replace(survey, readings=replace(survey.readings, value=value)))
        named += int(wrong in heights.checks.suspects)
    assert named / runs > 0.95 - margin(0.95, runs)


def of_blunder_free(of):
    """Return the residuals of the sample, so that its readings less these fit exactly."""
    solved = least_squares(*of.system.whitened(), of.system.prior_u, of.system.weak)
    return solved.residual * of.system.u


def test_what_nothing_checks_is_said_and_goes_unseen():
    survey = read_survey(SURVEYS / "published_autocollimator")
    value = survey.readings.value.copy()
    value[3] += 1000 * survey.instruments["autocollimator"].repeatability
    heights = adjust(replace(survey, readings=replace(survey.readings, value=value)))
    assert heights.checks.suspects.size == 0 and heights.checks.agrees
    assert heights.checks.unchecked.tolist() == list(range(8))
    assert "Nothing checks the 8 readings: a blunder among them would go unseen." in str(heights)
    least = findable(1.0, heights.checks.redundancy, heights.checks.critical)
    assert np.isinf(least).all()


def test_a_reading_hardly_checked_is_not_tested():
    # the finest of two readings: the other checks it by a thousandth only
    redundancy = np.array([0.001, 0.0499, 0.05, 1.0])
    size = findable(0.002, redundancy, 3.0)
    assert np.isinf(size[:2]).all()
    assert size[2:] == pytest.approx(0.002 * (3 + ENOUGH) / np.sqrt(redundancy[2:]), rel=1e-12)

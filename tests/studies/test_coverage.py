"""The coverage study in short: a few hundred surveys, and what the binomial law lets them scatter.

With N surveys a share p scatters by sqrt(p (1 - p) / N); four times that is allowed, beyond the
shares from 92.5 to 97.5 % that `confidence_interval` states for its 95 %.
"""

import numpy as np
import pytest

from metrolib.form.confidence import confidence_interval
from tests.studies.blundered import blundered_surveys
from tests.studies.coverage import (
    complete_surveys,
    depth_coverage,
    figures,
    form_coverage,
    given_target_coverage,
    holds,
    interval_covers,
    sample,
)

SURVEYS = 200
STATED = 0.925, 0.975


def scatter(share, surveys):
    return 4 * np.sqrt(share * (1 - share) / surveys)


def assert_covers(share, surveys=SURVEYS, stated=(0.95, 0.95)):
    low, high = (
        end + sign * scatter(end, surveys) for end, sign in zip(stated, (-1, 1), strict=True)
    )
    assert low <= share <= high, f"{share:.3f} outside {low:.3f} to {high:.3f}"


VARIANTS = {
    "worn": lambda: sample("milling_table"),
    "nearly true": lambda: sample("milling_table", 0.04),
    "few stations": lambda: sample("milling_table", 0.1).few(5),
    "unequal": lambda: sample("milling_table", 0.1).unequal(4),
}


@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("what", ["straightness", "parallelism"])
def test_the_interval_covers_as_stated(variant, what):
    shares = form_coverage(VARIANTS[variant](), what, SURVEYS)
    assert_covers(shares["interval"], stated=STATED)
    assert shares["at most"] >= 0.925 - scatter(0.925, SURVEYS)


@pytest.mark.parametrize("what", ["straightness", "coplanarity"])
def test_on_a_perfect_face_only_the_interval_covers(what):
    shares = form_coverage(sample("toolroom_lathe", 0.0), what, 100, drawn=True)
    assert shares["drawn"] == 0.0  # no draw makes a zone of width 0
    assert shares["linear"] < 0.7
    assert shares["interval"] >= 0.95 - scatter(0.95, 100)
    assert shares["at most"] == 1.0


def test_the_linear_law_covers_what_is_linear():
    lathe = sample("toolroom_lathe")
    assert_covers(form_coverage(sample("milling_table", 0.0), "twist", 1000)["linear"], 1000)
    assert_covers(given_target_coverage(lathe, 2000), 2000)
    # stations share their errors: as if each survey told one depth
    assert_covers(depth_coverage(lathe, 2000), 2000)


def test_after_a_blunder_was_found_and_taken_out():
    table = sample("milling_table")
    outcomes = list(blundered_surveys("milling_table", 200))
    assert np.mean([outcome.found for outcome in outcomes]) > 0.95
    function = figures(table)["straightness"]
    true = float(function(table.true, None).value)
    held = [
        holds(function(each.mix.heights.values, each.mix.heights.cov), true, seed=number)
        for number, each in enumerate(outcomes)
    ]
    for name in ("linear", "interval"):
        assert_covers(np.mean([each[name] for each in held]), 200, STATED)


def test_complete_surveys_scatter_as_their_covariance_says():
    # the error of the straightness, in standard uncertainties: a mean of 0 and a deviation of 1
    errors = []
    for mix in complete_surveys("toolroom_lathe", 40):
        function = figures(mix)["straightness"]
        found = function(mix.heights.values, mix.heights.cov).value
        errors.append((found.nominal_value - float(function(mix.true, None).value)) / found.std_dev)
    assert abs(np.mean(errors)) < 4 / np.sqrt(40)
    assert abs(np.std(errors, ddof=1) - 1) < 4 / np.sqrt(2 * 39)


def test_trying_only_the_true_size_asks_the_same():
    # an end near the truth may fall on either side of it: the draws are not the same
    mix = sample("milling_table", 0.1)
    function = figures(mix)["straightness"]
    true, same = float(function(mix.true, None).value), 0
    for number, z in enumerate(mix.simulated(20, seed=5)):
        result = function(z, mix.heights.cov)
        low, high = confidence_interval(result, draws=1000, progress=False).interval
        same += (low <= true <= high) == interval_covers(result, true, number, draws=1000)[0]
    assert same >= 19

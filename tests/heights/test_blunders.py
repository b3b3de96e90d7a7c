"""Blunders: found, shown, never dropped; and what nothing checks."""

import warnings

import numpy as np
import pytest
from scipy.stats import chi2, norm

from metrolib.errors import DoubtfulReadingsWarning, InputError
from metrolib.heights.adjust import adjust
from metrolib.heights.blunders import critical_value
from metrolib.survey.instruments import Instrument
from tests.heights.build import INDICATOR, LEVEL, Leg, flat, free_of, noisy, survey, worn

SHAPE = worn(0.08, 500, 300)
X = np.arange(0.0, 1201.0, 100.0)
REAR = X[:-1]


def checked(offsets=(), passes=3, seed=1, plate=True):
    """Level passes and a plate over one face; offsets are (leg, reading, size added)."""
    slope = (SHAPE(REAR + 100) - SHAPE(REAR)) / 0.1
    legs = [
        Leg(
            f"pass {i}",
            "level along",
            LEVEL,
            REAR,
            noisy(slope, LEVEL, seed + i),
            {"foot_spacing": 100.0},
            "flat",
        )
        for i in range(passes)
    ]
    if plate:
        legs.append(
            Leg(
                "plate",
                "comparison",
                INDICATOR,
                X,
                noisy(SHAPE(X), INDICATOR, seed + 9),
                {},
                "flat",
            )
        )
    for leg, reading, size in offsets:
        legs[leg].value[reading] += size
    return survey([flat()], legs)


def quiet(*args, **keys):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        return adjust(*args, **keys)


def test_good_readings_raise_no_suspicion():
    tested = adjust(checked()).checks
    assert tested.agrees
    assert tested.suspects.size == 0
    assert tested.verdict == "The 49 readings agree with each other within their uncertainties."
    # heights less one lift, tilt and zero: 49 - (13 + 1 + 2 - 2) - the datum's own
    assert tested.dof == pytest.approx(49 - 14, abs=1e-3)
    assert tested.redundancy.sum() == pytest.approx(tested.dof, abs=1e-3)
    assert tested.limits == pytest.approx(chi2.ppf([0.025, 0.975], tested.dof))


def test_one_blunder_is_found_shown_and_kept():
    with pytest.warns(
        DoubtfulReadingsWarning, match="One is suspect: 'pass 1' at 400 mm"
    ) as caught:
        heights = adjust(checked([(1, 4, 0.06)]))
    assert caught[0].filename == __file__
    tested = heights.checks
    (suspect,) = tested.suspects
    assert (tested.traverse[suspect], tested.x[suspect]) == ("pass 1", 400.0)
    assert tested.observed.size == 49  # it stays in
    assert not tested.agrees
    kept = np.abs(heights.values - quiet(checked()).values)
    assert kept.max() > 1e-4  # and it pulls, as is said
    # how far it is off is estimated without its own pull
    assert "reads about 0.0" in tested.describe(suspect)
    size = float(tested.describe(suspect).split("about ")[1].split(" mm/m")[0])
    assert size == pytest.approx(0.06, abs=4 * LEVEL.u)
    assert "too high" in tested.describe(suspect)
    assert f"(line {suspect + 2})" in tested.describe(suspect)


def test_neighbours_that_it_only_bends_are_no_suspects():
    tested = quiet(checked([(1, 4, 0.2)])).checks
    beyond = np.flatnonzero(np.abs(np.nan_to_num(tested.normalised)) > tested.critical)
    assert beyond.size > 1  # others stand out too ...
    assert tested.suspects.tolist() == [12 + 4]  # ... but only because of this one


def test_two_blunders_largest_first():
    tested = quiet(checked([(0, 2, -0.08), (2, 9, 0.2)])).checks
    assert tested.suspects.tolist() == [24 + 9, 2]
    assert tested.verdict.count("2 are suspect, first 'pass 2' at 900 mm") == 1
    assert "too low" in str(tested)


def test_a_blunder_in_a_length_is_told_in_micrometres():
    tested = quiet(checked([(3, 6, -0.02)])).checks
    assert tested.suspects.tolist() == [36 + 6]
    told = tested.describe(42)
    assert told.startswith("'plate' at 600 mm on 'flat' (line 44) reads about ")
    assert told.endswith("µm too low")


def test_of_two_readings_that_check_only_each_other_both_are_named():
    tested = quiet(checked([(0, 4, 0.1)], passes=2, plate=False)).checks
    assert sorted(tested.suspects.tolist()) == [4, 16]
    first = int(tested.suspects[0])
    assert tested.inseparable == {first: (20 - first,)}
    assert "or else 'pass" in str(tested)


def test_readings_that_nothing_checks_are_listed_and_not_tested():
    one = checked(passes=1, plate=False)
    tested = adjust(one).checks
    assert tested.unchecked.tolist() == list(range(12))
    assert np.isnan(tested.normalised).all()
    assert tested.verdict == "Nothing checks the 12 readings: a blunder among them would go unseen."
    assert tested.scale is None
    assert tested.limits == (0.0, np.inf)
    # one further reading checks the step that it repeats, and no other
    leg = Leg("again", "level along", LEVEL, [300.0], [0.0], {"foot_spacing": 100.0}, "flat")
    slope = (SHAPE(REAR + 100) - SHAPE(REAR)) / 0.1
    leg.value = [slope[3]]
    first = Leg("first", "level along", LEVEL, REAR, slope, {"foot_spacing": 100.0}, "flat")
    tested = adjust(survey([flat()], [first, leg])).checks
    assert tested.unchecked.tolist() == [i for i in range(12) if i != 3]
    np.testing.assert_allclose(tested.redundancy[[3, 12]], 0.5, atol=1e-6)
    assert str(tested).endswith("11 of 13 readings are checked by no other")


def test_uncertainties_set_too_small_or_too_large_are_said():
    slope = (SHAPE(REAR + 100) - SHAPE(REAR)) / 0.1

    def passes(u):
        instrument = Instrument("level", "mm/m", 0.0, u)
        legs = [
            Leg(
                str(i),
                "level along",
                instrument,
                REAR,
                noisy(slope, LEVEL, 30 + i),
                {"foot_spacing": 100.0},
                "flat",
            )
            for i in range(4)
        ]
        return quiet(survey([flat()], legs))

    small, right, large = passes(LEVEL.u / 2), passes(LEVEL.u), passes(LEVEL.u * 2)
    assert small.checks.scale == pytest.approx(2 * right.checks.scale, rel=1e-5)
    many = (
        f"scatter {small.checks.scale:.1f} times as much as the uncertainties of their instruments"
    )
    assert many in small.checks.verdict
    assert not small.checks.agrees
    assert right.checks.agrees
    assert "may be set too large" in large.checks.verdict
    assert large.checks.agrees  # nothing speaks against the heights
    # a-priori uncertainties follow what was assumed; times the scale they are a-posteriori ones
    dips = [heights.on("flat").z for heights in (small, large)]
    spread = [(z[3] - (3 * z[0] + z[12]) / 4).s for z in dips]
    assert spread[1] == pytest.approx(4 * spread[0], rel=1e-5)
    assert spread[1] * large.checks.scale == pytest.approx(spread[0] * small.checks.scale, rel=1e-5)


def test_normalised_residuals_are_standard_normal():
    draws = []
    for seed in range(0, 1500, 30):
        tested = quiet(checked(seed=seed)).checks
        draws.append(tested.normalised)
        assert tested.u_residual == pytest.approx(
            np.sqrt(tested.redundancy) * np.where(tested.measures == "slope", LEVEL.u, INDICATOR.u)
        )
    draws = np.concatenate(draws)
    # standard deviations from N draws scatter by 1 / sqrt(2 N), correlated ones by a little more
    assert draws.std() == pytest.approx(1, abs=4 * np.sqrt(2 / draws.size))
    assert abs(draws.mean()) < 4 * np.sqrt(2 / draws.size)


def test_critical_value_shares_alpha_over_the_tests():
    assert critical_value(1) == pytest.approx(norm.ppf(0.975))
    assert critical_value(50) == pytest.approx(norm.ppf(1 - 0.05 / 100))
    with pytest.raises(InputError, match="alpha: it must lie between 0 and 1, got 1"):
        critical_value(5, alpha=1)
    with pytest.raises(InputError, match="tests: it must be at least 1"):
        critical_value(0)


def test_family_of_good_surveys_seldom_calls_a_reading_bad():
    false_alarms = sum(
        quiet(checked(seed=s)).checks.suspects.size > 0 for s in range(7000, 16000, 45)
    )
    # 200 surveys at 5 %: 10 expected, 4 standard deviations of a binomial beyond
    assert false_alarms <= 10 + 4 * np.sqrt(200 * 0.05 * 0.95)


def test_the_robust_fit_leans_less_on_the_blunder_and_leaves_the_checks_alone():
    clean, spoilt = checked(), checked([(1, 4, 0.2)])
    truth = adjust(clean)
    usual, robust = quiet(spoilt), quiet(spoilt, robust=True)

    def away(heights):
        error = heights.values - truth.values
        basis = np.column_stack([np.ones(X.size), X])
        return np.abs(error - basis @ np.linalg.lstsq(basis, error, rcond=None)[0]).max()

    assert away(robust) < away(usual) / 3
    np.testing.assert_array_equal(robust.checks.normalised, usual.checks.normalised)
    assert robust.checks.suspects.tolist() == usual.checks.suspects.tolist()
    # without a blunder both say the same to a fraction of their uncertainty
    both = adjust(clean, robust=True)
    basis = free_of([np.ones(X.size), X])
    spread = np.sqrt(np.diag(basis @ basis.T @ truth.cov @ basis @ basis.T))
    assert away(both) < spread.max()

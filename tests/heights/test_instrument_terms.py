"""What instruments and set-ups add: scale, drift, shared zeros, repeats."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.adjust import adjust
from metrolib.survey.instruments import Instrument
from tests.heights.build import (
    INDICATOR,
    LEVEL,
    Leg,
    assert_exact,
    assert_within_uncertainty,
    flat,
    noisy,
    survey,
    worn,
)

SHAPE = worn(0.3, 500, 300)
X = np.arange(0.0, 1001.0, 100.0)
REAR = X[:-1]
SLOPE = (SHAPE(REAR + 100) - SHAPE(REAR)) / 0.1


def level(value, name="level run", instrument=LEVEL, x=REAR, **keys):
    settings = {"foot_spacing": 100.0, **keys.pop("settings", {})}
    return Leg(name, "level along", instrument, x, value, settings, "flat", **keys)


def plate(seed=None, name="plate"):
    value = SHAPE(X) if seed is None else noisy(SHAPE(X), INDICATOR, seed)
    return Leg(name, "comparison", INDICATOR, X, value, {}, "flat")


def test_a_scale_error_is_found_against_another_instrument():
    crooked = Instrument("level", "mm/m", 0.0, 0.001, sensitivity_uncertainty=0.03)
    shown = SLOPE / 1.02  # each unit shown means 1.02 units of slope
    heights = adjust(survey([flat()], [level(shown, instrument=crooked), plate()]))
    # reading = true + s reading, so s = 1 - 1.02; the prior of 3 % pulls by its weight
    scale = heights.extras["scale of level"]
    assert scale.n == pytest.approx(-0.02, abs=3 * scale.s)
    assert scale.s < 0.03 / 5
    left = heights.on("flat").values - SHAPE(X)
    assert np.abs(left - np.interp(X, X[[0, -1]], left[[0, -1]])).max() < 1e-4


def test_a_scale_error_alone_stays_in_the_uncertainty_of_the_form():
    exact = Instrument("level", "mm/m", 0.0, 0.0001)
    unsure = Instrument("level", "mm/m", 0.0, 0.0001, sensitivity_uncertainty=0.03)
    spread = []
    for instrument in (exact, unsure):
        z = adjust(survey([flat()], [level(SLOPE, instrument=instrument)])).on("flat").z
        spread.append(z[5] - (z[0] + z[10]) / 2)
    depth = SHAPE(500.0) - (SHAPE(0.0) + SHAPE(1000.0)) / 2
    assert spread[1].s == pytest.approx(0.03 * abs(depth), rel=1e-3)  # a share of what was read
    assert spread[0].s < 1e-4


def test_scale_uncertainty_is_the_same_in_every_unit():
    one = Instrument("level", "mm/m", 0.0, 0.004, sensitivity_uncertainty=0.03)
    vial = Instrument(
        "level",
        "division",
        0.0,
        0.2,
        sensitivity=0.02,
        sensitivity_unit="mm/m",
        sensitivity_uncertainty=0.03,
    )
    first = adjust(survey([flat()], [level(SLOPE, instrument=one)]))
    second = adjust(survey([flat()], [level(SLOPE / 0.02, instrument=vial)]))
    np.testing.assert_allclose(first.values, second.values, atol=1e-11)
    np.testing.assert_allclose(first.cov, second.cov, rtol=1e-9)


def test_drift_follows_the_order_in_which_the_readings_were_taken():
    order = np.array([3, 1, 4, 10, 5, 9, 2, 6, 8, 7])
    drifted = SLOPE + 0.05 * (order - 1) / 9
    keys = {"drift_uncertainty": 0.05}
    legs = [level(drifted, order=order, keys=keys), plate()]
    heights = adjust(survey([flat()], legs))
    drift = heights.extras["drift of level run"]
    assert drift.n == pytest.approx(0.05, abs=3 * drift.s)
    # a zero that drifts evenly along the way looks like a bow: said by the uncertainty
    in_order = level(SLOPE, keys=keys)
    steady = level(SLOPE)
    bow = [adjust(survey([flat()], [leg])).on("flat").z for leg in (in_order, steady)]
    spread = [(z[5] - (z[0] + z[10]) / 2).s for z in bow]
    # slopes grow by 0.05 mm/m over nine steps of 100 mm: the middle sinks by 5 x 5 / 2 / 9 steps
    from_drift = 0.05 * 0.1 * 25 / 2 / 9
    # the weak prior of the zero, 10 mm/m against a drift of 0.05, leaves (0.05 / 10)²
    assert spread[0] == pytest.approx(np.hypot(spread[1], from_drift), rel=2.5e-5)


def test_return_to_the_first_station_shows_the_drift():
    order = np.arange(11)
    value = np.append(SHAPE(X[:10]), SHAPE(0.0)) + 0.02 * order / 10
    leg = Leg(
        "plate",
        "comparison",
        INDICATOR,
        np.append(X[:10], 0.0),
        value,
        {},
        "flat",
        repeat=np.append(np.ones(10, int), 2),
        order=order,
        keys={"drift_uncertainty": 0.1},
    )
    heights = adjust(survey([flat()], [leg]))
    z = heights.on("flat")
    error = z.values - SHAPE(X[:10])
    error -= np.interp(X[:10], X[[0, 9]], error[[0, 9]])
    assert np.abs(error).max() < 1e-5  # what the prior of 0.1 mm holds back of 0.02 mm


def test_a_calibrated_zero_of_a_level_is_a_prior():
    free = adjust(survey([flat()], [level(SLOPE + 0.03)]))
    known = Instrument("level", "mm/m", 0.0, 0.004, calibration_uncertainty=0.01)
    held = adjust(survey([flat()], [level(SLOPE, instrument=known)]))
    assert free.extras["zero of level"].s > 1
    assert held.extras["zero of level"].s == pytest.approx(0.01, rel=1e-3)
    z = held.on("flat").z
    assert (z[10] - z[0]).s == pytest.approx(np.hypot(0.01, 0.004 / np.sqrt(10)), rel=1e-3)


def test_set_ups_share_their_zero_and_only_theirs():
    legs = [
        level(SLOPE[:5] + 0.2, "a", x=REAR[:5], keys={"setup": "first"}),
        level(SLOPE[5:] + 0.2, "b", x=REAR[5:], keys={"setup": "first"}),
    ]
    assert_exact(adjust(survey([flat()], legs)), {"flat": SHAPE})
    legs[1] = level(SLOPE[5:] - 0.1, "b", x=REAR[5:], keys={"setup": "second"})
    apart = adjust(survey([flat()], legs))
    assert sorted(apart.extras) == ["zero of set-up first", "zero of set-up second"]
    assert "shape of 'flat' as a whole" in apart.not_determined[0].what
    # one reading of the second set-up over the same feet as the first ties them
    tie = level(SLOPE[4:5] - 0.1, "tie", x=REAR[4:5], keys={"setup": "second"})
    tied = adjust(survey([flat()], [*legs, tie]))
    assert not tied.not_determined
    assert_exact(tied, {"flat": SHAPE})


def test_repeats_count_as_what_they_are():
    twice = np.repeat(REAR, 2)
    value = noisy(np.repeat(SLOPE, 2), LEVEL, 7)
    repeats = np.tile([1, 2], REAR.size)
    both = adjust(survey([flat()], [level(value, x=twice, repeat=repeats)]))
    mean = adjust(survey([flat()], [level(value.reshape(-1, 2).mean(axis=1))]))
    np.testing.assert_allclose(
        both.values - both.values[0], mean.values - mean.values[0], atol=1e-9
    )
    spread = [
        (h.on("flat").z[5] - (h.on("flat").z[0] + h.on("flat").z[10]) / 2).s for h in (mean, both)
    ]
    assert spread[1] == pytest.approx(spread[0] / np.sqrt(2), rel=1e-6)
    assert both.checks.dof == pytest.approx(10, abs=1e-3)


def test_two_instruments_weigh_by_their_uncertainties():
    coarse = Instrument("coarse", "mm", 0.0, 0.010)
    fine_plate = plate(seed=1)
    rough = Leg("rough", "comparison", coarse, X, noisy(SHAPE(X), coarse, 2), {}, "flat")
    heights = adjust(survey([flat()], [fine_plate, rough, level(noisy(SLOPE, LEVEL, 3))]))
    assert_within_uncertainty(heights, {"flat": SHAPE})
    assert heights.checks.agrees


def test_rounding_to_the_resolution_is_an_uncertainty_too():
    stepped = Instrument(
        "level",
        "division",
        resolution=0.5,
        repeatability=0.0,
        sensitivity=0.02,
        sensitivity_unit="mm/m",
    )
    assert stepped.u == pytest.approx(0.02 * 0.5 / np.sqrt(12))
    value = np.round(SLOPE / 0.02 / 0.5) * 0.5
    heights = adjust(survey([flat()], [level(value, instrument=stepped)]))
    z = heights.on("flat")
    error = z.values - SHAPE(X)
    error -= np.interp(X, X[[0, -1]], error[[0, -1]])
    assert np.abs(error).max() < 4 * (z.z[5] - (z.z[0] + z.z[10]) / 2).s


def test_refusals():
    blind = Instrument("level", "mm/m", 0.0, 0.0)
    with pytest.raises(InputError, match="resolution and repeatability are both 0"):
        adjust(survey([flat()], [level(SLOPE, instrument=blind)]))
    with pytest.raises(InputError, match="reads a slope, but 'indicator' measures a length"):
        adjust(survey([flat()], [level(SLOPE, instrument=INDICATOR)]))
    with pytest.raises(InputError, match="value is nan in line 3; leave the reading out"):
        adjust(survey([flat()], [level(np.where(REAR == 100, np.nan, SLOPE))]))
    with pytest.raises(InputError, match="x is inf in line 2"):
        adjust(survey([flat()], [level(SLOPE, x=np.where(REAR == 0, np.inf, REAR))]))

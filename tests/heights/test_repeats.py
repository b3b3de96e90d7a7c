"""Repeats: readings whose rows are equal are solved as one, and nothing else is."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib import adjust
from metrolib.heights.equations import equations
from tests.heights.build import LEVEL, Leg, flat, noisy, survey

REAR = np.tile(np.arange(0.0, 1000.0, 200.0), 3)


def read_thrice(level=LEVEL, **further):
    repeat = np.repeat([1, 2, 3], 5)
    value = noisy(np.zeros(15), LEVEL, 2)
    leg = Leg("along", "level along", level, REAR, value, {"foot_spacing": 200.0}, "flat", repeat)
    made = survey([flat()], [leg])
    traverse = replace(made.traverses["along"], **further)
    made.traverses["along"] = traverse
    return made, equations(made, [traverse])


def test_repeats_of_a_place_are_alike():
    _, system = read_thrice()
    assert system.alike.tolist() == [0, 1, 2, 3, 4] * 3
    rows = system.matrix.toarray()
    np.testing.assert_array_equal(rows[:5], rows[10:])


@pytest.mark.parametrize(
    ("level", "further"),
    [(replace(LEVEL, sensitivity_uncertainty=0.03), {}), (LEVEL, {"drift_uncertainty": 0.01})],
)
def test_a_scale_or_a_drift_makes_each_reading_one_of_its_own(level, further):
    _, system = read_thrice(level, **further)
    assert sorted(system.alike.tolist()) == list(range(15))
    assert len(np.unique(system.matrix.toarray(), axis=0)) == 15


def test_three_repeats_are_as_good_as_their_mean():
    """Each step is the mean of its three readings, with their uncertainty over √3."""
    made, _ = read_thrice()
    heights = adjust(made)
    steps = np.diff(heights.values) / 0.2  # [mm/m]
    mean = made.readings.value.reshape(3, 5).mean(axis=0)
    np.testing.assert_allclose(steps - steps[0], mean - mean[0], rtol=0, atol=1e-9)
    law = np.array([[0.0, 1, -2, 1, 0, 0]]) / 0.2
    u = np.sqrt(heights.covariance(law)[0, 0])
    assert u == pytest.approx(LEVEL.u * np.sqrt(2 / 3), rel=1e-6)
    # fifteen readings tell five slopes, so ten of fifteen parts are left to check them
    np.testing.assert_allclose(heights.checks.redundancy, 2 / 3, atol=1e-6)

"""The solver where one row, its place or its leverage decides."""

import numpy as np
import pytest
from mpmath import mp

from metrolib.heights.solve import least_squares, robust_least_squares

WEAK = np.array([1e6]), np.array([True])


def test_a_sharp_reading_that_blunt_ones_hardly_check_keeps_its_weight():
    # one reading of 0 with u = 0.1, one of 2.5 with u = 1: the sharp one is checked by 1/101 only.
    # The blunt one pulls with 1.345 sqrt(100/101): 100 m equals that
    matrix, target = np.array([[10.0], [1.0]]), np.array([0.0, 2.5])
    found = robust_least_squares(matrix, target, *WEAK)
    assert found.values[0] == pytest.approx(1.345 * np.sqrt(100 / 101) / 100, rel=1e-4)


def test_a_sharp_reading_against_two_blunt_ones_is_weighted_down_by_its_own_deviation():
    # 0 with u = 1/2, twice 10 with u = 1: the sharp one has redundancy 1 - 4/6, so it pulls with
    # 2 x 1.345 sqrt(1/3), and two blunt ones hold against it: 2 (10 - m) equals that
    matrix, target = np.array([[2.0], [1.0], [1.0]]), np.array([0.0, 10, 10])
    found = robust_least_squares(matrix, target, *WEAK)
    assert found.values[0] == pytest.approx(10 - 1.345 * np.sqrt(1 / 3), rel=1e-5)


def test_readings_that_agree_are_not_touched():
    rng = np.random.default_rng(0)
    matrix, truth = rng.normal(size=(12, 3)), np.array([1.0, -2.0, 3.0])
    prior = np.full(3, 1e6), np.ones(3, bool)
    target = matrix @ truth + 0.1 * rng.normal(size=12)
    plain, robust = (
        least_squares(matrix, target, *prior),
        robust_least_squares(matrix, target, *prior),
    )
    np.testing.assert_array_equal(robust.values, plain.values)


@pytest.mark.parametrize("heavy", range(4))
def test_a_heavy_row_may_stand_anywhere(heavy):
    # x + 2 y is held to 4 with u = 1e-10, and three readings of x and y with u = 1
    light = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, -1.0]])
    matrix = np.insert(light, heavy, 1e10 * np.array([1.0, 2.0]), axis=0)
    target = np.insert([1.0, 2.0, 0.5], heavy, 4e10)
    found = least_squares(matrix, target, np.full(2, 1e6), np.ones(2, bool))
    # by hand with x = 4 - 2 y: (3 - 2 y)^2 + (2 - y)^2 + (3.5 - 3 y)^2 is least at 14 y = 18.5
    y = 18.5 / 14
    np.testing.assert_allclose(found.values, [4 - 2 * y, y], rtol=1e-12)
    # along (-2, 1) the three light rows carry 14: C = (-2, 1)(-2, 1)' / 14
    np.testing.assert_allclose(found.cov, np.array([[4, -2], [-2, 1]]) / 14, rtol=1e-9)
    assert found.redundancy[heavy] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_the_covariance_keeps_its_digits_with_weights_that_differ_by_a_million_million(seed):
    # three of nine readings a million million times sharper, unknowns of very different size; in
    # 60 digits beside it. Rows taken light ones first leave seven digits of the covariance.
    rng = np.random.default_rng(seed)
    weight, size = np.where(np.arange(9) < 3, 1e12, 1.0), 10.0 ** rng.integers(-4, 4, 4)
    matrix = rng.permutation(rng.normal(size=(9, 4)) * weight[:, None] * size)
    found = least_squares(matrix, np.zeros(9), np.full(4, 1e15), np.ones(4, bool))
    with mp.workdps(60):
        exact_matrix = mp.matrix(matrix.tolist())
        exact = (exact_matrix.T * exact_matrix) ** -1
        variance = np.array([float(exact[i, i]) for i in range(4)])
    np.testing.assert_allclose(np.diag(found.cov), variance, rtol=1e-11)


def test_strong_and_weak_priors_side_by_side():
    # x = 3 read with u = 1 under a calibrated prior of 0 with u = 1: 1.5; y = 3 under a weak one: 3
    matrix, target = np.eye(2), np.array([3.0, 3.0])
    found = least_squares(matrix, target, np.array([1.0, 1.0]), np.array([False, True]))
    # the weak one's pull is taken out by halves at each step, four of them
    np.testing.assert_allclose(found.values, [1.5, 3 * (1 - 0.5**4)], rtol=1e-12)
    np.testing.assert_allclose(found.prior_redundancy, [0.5, 0.5], rtol=1e-12)
    np.testing.assert_allclose(np.diag(found.cov), [0.5, 0.5], rtol=1e-12)
    np.testing.assert_allclose(found.residual, [1.5, 3 * 0.5**4], rtol=1e-12)


def test_a_bend_below_one_touches_nothing_that_stands_out_less():
    # 0 and 0.6 with u = 1: each stands 0.3 from the mean, so 0.3 / sqrt(1/2) = 0.42 of its own
    # standard deviation; with a bend of 0.5 both keep their weight and the covariance is 1/2
    matrix, target = np.ones((2, 1)), np.array([0.0, 0.6])
    found = robust_least_squares(matrix, target, *WEAK, bend=0.5)
    assert found.values[0] == pytest.approx(0.3, rel=1e-12)
    assert found.cov[0, 0] == pytest.approx(0.5, rel=1e-9)


@pytest.mark.parametrize("unknowns", [7, 300])  # by QR of all rows, and by the band
def test_repeats_that_are_solved_as_one_change_nothing(unknowns):
    rng = np.random.default_rng(5)
    steps = np.diff(np.eye(unknowns), axis=0)
    alike = rng.integers(len(steps), size=3 * unknowns)
    alike = np.concatenate([np.arange(len(steps)), alike])
    matrix, target = steps[alike] * 50.0, rng.normal(size=len(alike))
    given = np.full(unknowns, 10.0), np.ones(unknowns, bool), np.arange(unknowns) * 200.0
    one, each = least_squares(matrix, target, *given, alike), least_squares(matrix, target, *given)
    np.testing.assert_allclose(steps @ one.values, steps @ each.values, rtol=0, atol=1e-12)
    np.testing.assert_allclose(one.residual, each.residual, rtol=0, atol=1e-10)
    np.testing.assert_allclose(one.redundancy, each.redundancy, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.shared(9), each.shared(9), rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.prior_redundancy, each.prior_redundancy, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.covariance([1, 5]), each.covariance([1, 5]), rtol=1e-7)

"""Linear laws: what is nearly the same, nearly symmetric, or one number too long."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.uncertain.linear import measured


def test_a_small_difference_of_two_results_keeps_its_own_uncertainty():
    # b - a depends on the second height alone, a thousandth of it: correlation 1 - 5e-7
    heights = measured("z", [1.0, 2.0], 1.0)
    a, b = heights.several(np.array([[1.0, 0.0], [1.0, 1e-3]]), [1.0, 1.002])
    assert (b - a).s == pytest.approx(1e-3, rel=1e-6)
    assert (a.s, b.s) == pytest.approx((1, np.sqrt(1 + 1e-6)), rel=1e-12)


def test_the_same_result_twice_differs_by_nothing():
    heights = measured("z", [1.0, 2.0], 1.0)
    a, b = heights.several(np.array([[1.0, 2.0], [1.0, 2.0]]), [5.0, 5.0])
    assert (b - a).s == pytest.approx(0, abs=1e-7)


def test_constant_and_sign():
    heights = measured("z", [1.0, 2.0], [3.0, 4.0])
    number = heights.linear(np.array([2.0, -1.0]), constant=-7.0)
    assert (number.n, number.s) == pytest.approx((-7, np.sqrt(36 + 16)))


@pytest.mark.parametrize("shape", [(1,), (2,), (4,), (3, 2), (3, 4), (4, 4), (1, 3)])
def test_uncertainties_of_another_shape_are_refused(shape):
    with pytest.raises(InputError, match="u: its shape does not fit the heights"):
        measured("z", [1.0, 2.0, 3.0], np.full(shape, 0.1))


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_uncertainties_that_are_no_numbers_are_refused(value):
    for u in (value, [0.1, value], [[0.1, value], [value, 0.1]]):
        with pytest.raises(InputError, match="u: .*finite"):
            measured("z", [1.0, 2.0], u)


def test_a_covariance_that_is_nearly_symmetric():
    cov = np.array([[4.0, 1.0], [1.0, 9.0]])
    cov[0, 1] += 1e-12  # rounding: harmless
    measured("z", [1.0, 2.0], cov)
    cov[0, 1] += 1e-4
    with pytest.raises(InputError, match="covariance matrix is not symmetric"):
        measured("z", [1.0, 2.0], cov)


def test_no_uncertainty_is_not_a_negative_one():
    assert measured("z", [1.0, 2.0], [0.0, 0.1]).u.tolist() == [0, 0.1]
    with pytest.raises(InputError, match="u: an uncertainty is negative"):
        measured("z", [1.0, 2.0], [-1e-9, 0.1])


@pytest.mark.parametrize(("size", "ratio"), [(1.0, 1e9), (1.0, 1e12), (1e-9, 1e9), (1e-9, 1e8)])
def test_a_tiny_uncertainty_beside_a_huge_one_keeps_its_size_and_its_correlation(size, ratio):
    # unscaled, its variance would be taken for rounding of the other's
    cov = size**2 * np.array([[1.0, 0.5 * ratio], [0.5 * ratio, ratio**2]])
    small, large = measured("z", [0.0, 0.0], cov).several(np.eye(2), [0.0, 0.0])
    assert (small.s, large.s) == pytest.approx((size, size * ratio), rel=1e-9)
    # u^2 of small - large / ratio, in units of size: 1 + 1 - 2 * 0.5
    assert (small - large / ratio).s == pytest.approx(size, rel=1e-9)


@pytest.mark.parametrize("numbers", [False, True])
def test_a_value_for_each_row_of_the_law_is_needed(numbers):
    z = [ufloat(1.0, 0.1), ufloat(2.0, 0.1)]
    heights = measured("z", z) if numbers else measured("z", [1.0, 2.0], 0.1)
    with pytest.raises(ValueError, match="shorter"):
        heights.several(np.eye(2), [1.0])


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_how_symmetric_is_enough_goes_by_the_size_of_the_covariance(size):
    def given(above, below):
        return measured("z", [1.0, 2.0], size * np.array([[4.0, above], [below, 9.0]]))

    given(1.0, 1.0 + 1e-10)
    given(0.0, 1e-12)  # rounding of the nines
    for above, below in ((1.0, 1.0 + 1e-7), (0.0, 1e-10)):
        with pytest.raises(InputError, match="covariance matrix is not symmetric"):
            given(above, below)

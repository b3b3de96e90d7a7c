"""Linear laws on heights: the three ways to give uncertainties, and what must survive."""

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat

from metrolib.errors import InputError
from metrolib.uncertain.linear import covariance_of, measured, measured_together

COV = np.array([[4.0, 1.0, 0.0], [1.0, 9.0, -2.0], [0.0, -2.0, 1.0]])
LAWS = np.array([[1.0, -1.0, 0.0], [0.0, 2.0, 1.0]])


@pytest.mark.parametrize("kind", ["covariance", "numbers"])
def test_several_results_keep_their_covariance(kind):
    z = [1.0, 2.0, 3.0]
    heights = (
        measured("z", z, COV) if kind == "covariance" else measured("z", correlated_values(z, COV))
    )
    results = heights.several(LAWS, LAWS @ z)
    assert [number.n for number in results] == pytest.approx([-1.0, 7.0])
    np.testing.assert_allclose(covariance_of(results), LAWS @ COV @ LAWS.T, atol=1e-12)


def test_results_of_very_different_size_keep_their_uncertainties():
    heights = measured("z", [0.0, 0.0], [1e-6, 1e3])
    small, large = heights.several(np.eye(2), [0.0, 0.0])
    assert (small.s, large.s) == pytest.approx((1e-6, 1e3))


def test_a_sure_result_is_still_a_number_with_uncertainty():
    heights = measured("z", [1.0, 2.0], 0.1)
    number = heights.linear(np.zeros(2), constant=5.0)
    assert (number.n, number.s) == (5.0, 0.0)


def test_floats_stay_floats():
    result = measured("z", [1.0, 2.0]).linear(np.array([1.0, 1.0]))
    assert result == 3.0
    assert isinstance(result, float)


def test_a_large_offset_costs_a_result_no_digits():
    numbers = [ufloat(2**30 + value, 0.1) for value in (0.0, 1.0, 0.0)]
    heights = measured("z", numbers)
    (result,) = heights.several(np.array([[-1 / 3, 1.0, -2 / 3]]), [1.0])
    assert result.n == 1.0


def test_rows_are_joined_in_order_and_named_in_errors():
    joined = measured_together({"a": [1.0], "b": [ufloat(2, 0.5), 3.0]})
    assert joined.values.tolist() == [1, 2, 3]
    assert joined.u.tolist() == [0, 0.5, 0]
    with pytest.raises(InputError, match="b: item 1 is not a finite number"):
        measured_together({"a": [1.0], "b": [1.0, np.nan]})
    with pytest.raises(InputError, match="the numbers in a and b bring their own"):
        measured_together({"a": [1.0], "b": [ufloat(1, 1)]}, 0.1)
    with pytest.raises(InputError, match="a: one row of numbers is needed"):
        measured_together({"a": [[1.0]]})


def test_variances_by_hand():
    # 2 z1 - z2: 4 * 4 + 9 - 2 * 2 * 1 with the covariance, 4 * 4 + 9 with the variances alone
    z, g = [1.0, 2.0, 3.0], np.array([2.0, -1.0, 0.0])
    assert measured("z", z, COV).variance(g) == pytest.approx(21)
    assert measured("z", z, [2.0, 3.0, 1.0]).variance(g) == pytest.approx(25)
    assert measured("z", z).variance(g) is None
    assert measured("z", z).covariance(LAWS) is None
    assert measured("z", z).u is None

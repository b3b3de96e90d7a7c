"""Which end first: by hand, its uncertainty, what must not matter, refusals."""

import numpy as np
import pytest
from uncertainties import correlated_values

from metrolib.errors import InputError
from metrolib.form.first_end import first_end

X = np.array([0.0, 250, 500, 750, 1000])
Z = np.array([0.020, 0, 0, 0, 0.050])


def test_by_hand():
    found = first_end(X, Z, straightedge=500)
    assert (found.near, found.far, found.value) == pytest.approx((0.020, 0.050, 0.030))
    assert found.first == "far end"
    assert (found.middle_from, found.middle_to) == (250, 750)
    assert first_end(X, Z[::-1], straightedge=500).first == "near end"
    assert first_end(X, [0.02, 0, 0, 0, 0.02], straightedge=500).first is None


def test_uncertainty_by_hand():
    # middle of three: mean of them and slope over 500 mm, so an end 500 mm from the centre lies at
    # z - mean - (z4 - z2); the difference of the ends is z5 - z1 - 2 (z4 - z2): u sqrt(1 + 1 + 8)
    found = first_end(X, Z, 0.003, straightedge=500)
    assert found.value.s == pytest.approx(0.003 * 10**0.5)
    assert found.near.s == pytest.approx(0.003 * (1 + 1 / 3 + 2) ** 0.5)
    assert found.above_u[-1] == pytest.approx(found.far.s)
    assert (found.far - found.near - found.value).s == pytest.approx(0, abs=1e-12)
    assert found.first == "far end"  # 30 um against 2 u = 19 um
    assert first_end(X, Z, 0.006, straightedge=500).first is None


def test_given_correlated_numbers_a_common_tilt_does_not_count():
    tilt = np.column_stack([np.ones(5), X / 1000])
    z = correlated_values(Z, tilt @ tilt.T + 1e-8 * np.eye(5))
    assert first_end(X, z, straightedge=500).value.s == pytest.approx(1e-4 * 10**0.5, rel=1e-3)


def test_what_must_not_matter():
    found = first_end(X, Z, straightedge=500)
    for other in (
        first_end(X + 400, Z, straightedge=500),
        first_end(X, Z + 12 + 0.003 * X, straightedge=500),
        first_end(X[::-1], Z[::-1], straightedge=500),
    ):
        assert (other.near, other.far) == pytest.approx((found.near, found.far))
    assert first_end(X, 2 * Z, straightedge=500).value == pytest.approx(2 * found.value)


def test_a_low_end_is_told():
    found = first_end(X, [-0.01, 0, 0, 0, 0.05], straightedge=500)
    assert found.low == ("near end",)
    assert "the x = 0 end lies below the line of the middle and cannot be dressed up" in str(found)
    assert "take first" in found._repr_html_()
    assert first_end(X, [-0.01, 0, 0, 0, 0.05], 0.004, straightedge=500).low == ()  # within 2 u


def test_exact_ends_that_differ_by_rounding_alone_cannot_be_told_apart():
    x = np.arange(0, 1501, 25.0)
    found = first_end(x, 0.06 * (2 * x / 1500 - 1) ** 2, straightedge=500)
    assert found.value != 0 and abs(found.value) < 1e-15
    assert found.first is None
    assert first_end(x, 0.1 + 0.001 * x, straightedge=500).low == ()


def test_neither_end_is_taken_where_both_lie_low():
    found = first_end(X, [-0.05, 0, 0, 0, -0.02], straightedge=500)
    assert found.first is None and found.low == ("near end", "far end")
    assert "neither end is to be taken" in str(found)
    assert "the x = 0 end and the far end lie below the line of the middle" in str(found)
    assert "neither" in found._repr_html_()


@pytest.mark.parametrize(
    ("arguments", "reach", "words"),
    [
        ((X, Z[:3]), 500, "x and z: lengths differ"),
        ((X, Z), 0, "straightedge: it must be above 0"),
        ((X, Z), 200, "at least two stations under it in the middle are needed, got 1"),
        ((X, [0, 0, np.nan, 0, 0]), 500, "z: item 2 is not a finite number"),
    ],
)
def test_refusals(arguments, reach, words):
    with pytest.raises(InputError, match=words):
        first_end(*arguments, straightedge=reach)

"""Twist: by hand, its sign, what must not matter, refusals."""

import numpy as np
import pytest
from uncertainties import correlated_values

from metrolib.errors import InputError
from metrolib.form.twist import twist

X = np.array([0.0, 500, 1000])
A = np.zeros(3)
B = np.array([0.0, 1, 2])  # B lies at +y and climbs: positive twist


def test_by_hand():
    # at 200 mm the rolls are 0, 5, 10 mm/m
    found = twist(X, A, B, 200, span=500)
    assert found.roll.tolist() == [0, 5, 10]
    assert found.value == pytest.approx(10.0)
    assert found.rate == pytest.approx(10.0)
    assert found.largest_change == pytest.approx(5.0)
    assert (found.largest_change_from, found.largest_change_to) == (0, 500)


def test_the_far_end_with_its_plus_y_side_higher_is_positive():
    assert twist(X, A, B, 200).value > 0
    assert twist(X, B, A, 200).value < 0
    assert "far end is turned so that the +y side is higher" in str(twist(X, A, B, 200))


def test_uncertainty_by_hand():
    # total = roll3 - roll1, each 5 (zb - za): u = 5 * 0.1 * sqrt(4)
    found = twist(X, A, B, 200, 0.1)
    assert found.value.s == pytest.approx(1.0)
    assert found.roll_u.tolist() == pytest.approx([0.5 * np.sqrt(2)] * 3)
    assert found.largest_change.s == pytest.approx(1.0)
    assert (found.value - found.largest_change).s == pytest.approx(0, abs=1e-12)


def test_the_rolls_go_on_with_what_they_share():
    # a height that all of B share, u = 0.3, makes every roll 5 * 0.3 unsure; each has 5 * 0.1 more
    shared = np.zeros((6, 6))
    shared[3:, 3:] = 0.3**2 + 0.1**2 * np.eye(3)
    found = twist(X, A, B, 200, shared)
    np.testing.assert_allclose(found.roll_cov, 1.5**2 + 0.5**2 * np.eye(3))
    np.testing.assert_allclose(np.sqrt(np.diag(found.roll_cov)), found.roll_u)
    each = twist(X, A, B, [200, 100, 200], 0.1).roll_cov
    np.testing.assert_allclose(each, np.diag([0.5, 2, 0.5]))
    assert twist(X, A, B, 200).roll_cov is None


def test_largest_change_may_be_negative_and_is_local():
    z = np.array([0.0, 4, -3, 0, 1])
    found = twist(np.arange(5) * 100, np.zeros(5), z, 1000, span=100)
    assert found.largest_change == -7.0
    assert (found.largest_change_from, found.largest_change_to) == (100, 200)
    whole = twist(np.arange(5) * 100, np.zeros(5), z, 1000)
    assert whole.largest_change == -7.0


def test_no_two_stations_within_the_span():
    found = twist(X, A, B, 200, 0.1, span=400)
    assert found.largest_change is None
    assert "no two stations are within 400 mm" in str(found)


def test_no_twist_at_all():
    found = twist(X, A + 1, A + 1, 200)
    assert (found.value, found.largest_change) == (0.0, 0.0)


def test_what_must_not_matter():
    found = twist(X, A, B, 200, span=500)
    for other in (
        twist(X + 2**30, A, B, 200, span=500),
        twist(X, A + 7 + X, B + 7 + X, 200, span=500),  # a common line
        twist(X[::-1], A[::-1], B[::-1], 200, span=500),  # order of stations
    ):
        assert other.value == pytest.approx(found.value)
        assert other.largest_change == pytest.approx(found.largest_change)
        assert other.largest_change_from < other.largest_change_to


def test_scaling():
    one, two = twist(X, A, B, 200, 0.1), twist(X, 2 * A, 2 * B, 200, 0.2)
    assert (two.value.n, two.value.s) == pytest.approx((2 * one.value.n, 2 * one.value.s))
    wide, long = twist(X, A, B, 400, 0.1), twist(2 * X, A, B, 200, 0.1)
    assert wide.value.n == pytest.approx(one.value.n / 2)
    assert (long.value.n, long.rate.n) == pytest.approx((one.value.n, one.rate.n / 2))


def test_the_distance_may_differ_from_station_to_station():
    assert twist(X, A, B, [200, 100, 200]).roll.tolist() == [0, 10, 10]


def test_what_both_ways_share_does_not_count():
    cov = 100 * np.ones((6, 6)) + 1e-4 * np.eye(6)
    z = correlated_values(np.concatenate([A, B]), cov)
    found = twist(X, z[:3], z[3:], 200)
    assert found.value.s == pytest.approx(5 * 0.01 * 2, rel=1e-3)
    np.testing.assert_allclose(found.roll_u, 5 * 0.01 * np.sqrt(2), rtol=1e-3)


def test_the_table():
    assert "<th>total twist</th><td>+10.0000 mm/m</td>" in twist(X, A, B, 200)._repr_html_()


@pytest.mark.parametrize(
    ("arguments", "options", "words"),
    [
        ((X, A[:2], B, 200), {}, "x and z_a and z_b: lengths differ"),
        ((X, A, B, 0), {}, "distance: it must be above 0"),
        (([0], A, B, 200), {}, "^x: at least 2 values are needed, got 1"),
        ((X, [0, np.inf, 1], B, 200), {}, "^z_a: item 1 is not a finite number"),
        ((X, A, B, [200, np.nan, 200]), {}, "^distance: item 1 is not a finite number"),
        ((X, A, B, [200, 0, 200]), {}, "distance: one number, or 3 above zero, are needed"),
        ((X, A, B, [200, -1, 200]), {}, "distance: one number, or 3 above zero, are needed"),
        ((X, A, B, 200), {"span": 0}, "span: it must be above 0"),
        (([1, 1, 1], A, B, 200), {}, "x: all stations at one place"),
        ((X, A, [0, np.inf, 1], 200), {}, "z_b: item 1 is not a finite number"),
    ],
)
def test_refusals(arguments, options, words):
    with pytest.raises(InputError, match=words):
        twist(*arguments, **options)


def test_what_finds_the_value_again_loses_no_digits_far_from_the_origin():
    x, a, b = np.array([0.0, 100, 700, 900]), np.zeros(4), np.array([0.0, 1, 3, 2])
    near = twist(x, a, b, 300)
    far = twist(x + 2**30, a, b + 2**30, 300)
    z = np.concatenate([a, b + 2**30])
    # rolls of 2**30 / 0.3 are rounded to 2**-21, and each step of roll to that
    assert far.redo(z[None, :])[0] == pytest.approx(near.value, abs=4 * 2.0**-21)
    z = np.concatenate([a, b])
    assert far.redo(z[None, :])[0] == pytest.approx(near.value, abs=1e-12)


def test_a_change_at_one_place_is_none():
    # roll 0 and 9 read at one place, then 4 at 500
    found = twist([0, 0, 500], [0.0, 0, 0], [0.0, 9, 4], 1000, span=500)
    assert found.largest_change == -5.0
    assert (found.largest_change_from, found.largest_change_to) == (0, 500)


def test_a_change_within_half_a_millimetre_counts():
    found = twist([0, 0.5, 1000], [0.0, 0, 0], [0.0, 2, 1], 1000, span=0.5)
    assert (found.largest_change, found.largest_change_to) == (2.0, 0.5)


def test_steps_as_long_as_the_span_count_though_rounding_lengthens_some():
    x = np.cumsum(np.full(60, 254.1))
    longer = np.flatnonzero(np.diff(x) > 254.1)
    at = int(longer[-1]) + 1
    z = np.where(np.arange(60) >= at, 1.0, 0.0)
    found = twist(x, np.zeros(60), z, 1000, span=254.1)
    assert found.largest_change == pytest.approx(1.0)
    assert found.largest_change_to == x[at]


def test_two_stations_half_a_millimetre_apart_across():
    found = twist([0, 100], [0.0, 0], [0.0, 1], [0.5, 0.5])
    assert (found.value, found.rate) == pytest.approx((2000, 20_000))


def test_a_metre_is_sought_over_if_nothing_else_is_said():
    assert twist([0, 1000], [0.0, 0], [0.0, 1], 1000).largest_change == 1.0
    assert twist([0, 1000.5], [0.0, 0], [0.0, 1], 1000).largest_change is None


def test_what_a_and_b_share_at_each_station_does_not_count():
    # a gauge that is wrong alike on both ways at one station changes no roll
    found = twist(X, A, B, 200, 0.01 * np.kron(np.ones((2, 2)), np.eye(3)))
    for number in (found.value, found.rate, found.largest_change):
        assert number.s == pytest.approx(0, abs=1e-9)


def test_stations_further_apart_than_the_span_never_win():
    # rolls 0, 0.1, 0.9: only 0 and 500 are near enough
    found = twist([0, 500, 1500], np.zeros(3), [0, 0.1, 0.9], 1000, span=600)
    assert found.largest_change == pytest.approx(0.1)
    assert (found.largest_change_from, found.largest_change_to) == (0, 500)


def test_of_equal_changes_the_shortest_is_told():
    found = twist([0, 500, 1000], np.zeros(3), [0, 5.0, 5.0], 1000)
    assert (found.largest_change_from, found.largest_change_to) == (0, 500)

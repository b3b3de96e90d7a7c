"""Unworn stretches: by hand, known truth, what must not matter, refusals."""

import numpy as np
import pytest
from uncertainties import correlated_values

from metrolib.errors import InputError
from metrolib.form.agreement import multiple_for_all
from metrolib.form.unworn import unworn

X = np.arange(0, 1500, 100.0)
HOLLOW = np.where((X > 150) & (X < 750), -0.05, 0.0)  # from 200 to 700


def test_by_hand():
    # heights 0, 0, -3, -6, 0, 0: the line is 0; unworn 2 of 5 gaps
    found = unworn(np.arange(6) * 100, [0, 0, -3, -6, 0, 0], tolerance=0.5)
    assert found.stations.tolist() == [True, True, False, False, True, True]
    assert found.stretches == ((0, 100), (400, 500))
    assert found.share == pytest.approx(0.4)
    assert found.value == pytest.approx(6.0)
    assert found.deepest == 3
    (worn,) = found.worn
    assert (worn.begins, worn.ends, worn.deepest) == ((100, 200), (300, 400), 3)
    assert (found.worn_from, found.worn_to) == ((100, 200), (300, 400))


def test_uncertainty_of_the_depth_by_hand():
    # the line through four stations at 0, 100, 400, 500: at 300 its variance is
    # 1/4 + 50^2 / (2 * 250^2 + 2 * 150^2) = 1/4 + 2500/170000; that of the station adds 1
    found = unworn(np.arange(6) * 100, [0, 0, -3, -6, 0, 0], 0.1, tolerance=0.5)
    assert found.value.s == pytest.approx(0.1 * np.sqrt(1.25 + 2500 / 170000))
    assert found.depth_u[3] == pytest.approx(found.value.s)


def test_uncertainty_grows_where_the_line_is_extrapolated():
    z = np.where(X > 450, -0.05 - X / 1e4, 0.0)
    found = unworn(X, z, 0.002)
    assert found.stretches == ((0, 400),)
    assert np.all(np.diff(found.depth_u[5:]) > 0)
    # variance of a line through 0, 100, ..., 400 at x: 1/5 + (x - 200)^2 / 100000
    assert found.depth_u[5] == pytest.approx(0.002 * np.sqrt(1 + 1 / 5 + 0.9))
    assert found.depth_u[-1] == pytest.approx(0.002 * np.sqrt(1 + 1 / 5 + 14.4))
    assert found.worn[-1].ends is None
    assert "ends at the high end" in str(found)


def test_a_face_unworn_at_both_ends_is_one_line():
    found = unworn(X, HOLLOW + 0.3 + X / 1e4, 0.002)
    assert found.stretches == ((0, 100), (800, 1400))
    assert found.line.slope.n == pytest.approx(0.1)
    assert found.line.height.n == pytest.approx(0.3)
    np.testing.assert_allclose(found.depth, -HOLLOW, atol=1e-12)


def test_wear_lies_below_only():
    # most stations lie low, but a line through them would leave metal standing above it
    z = np.array([0, 0, 0, -0.2, -0.2, -0.2, -0.2, -0.2, 0, 0])
    found = unworn(np.arange(10) * 100, z, tolerance=0.01)
    assert found.stretches == ((0, 200), (800, 900))


def test_known_truth_is_found():
    rng = np.random.default_rng(20260101)
    hits = depths = 0
    for _ in range(200):
        found = unworn(X, HOLLOW + 0.002 * rng.normal(size=X.size) + 0.01 * X, 0.002)
        hits += not found.stations[(HOLLOW < 0)].any()
        depths += abs(found.depth[4] - 0.05) < 2 * found.depth_u[4]
    assert hits == 200
    # 95 % of 200, less four standard deviations of such a count
    assert depths >= 190 - 4 * np.sqrt(200 * 0.95 * 0.05)


def test_a_true_face_is_found_unworn():
    rng = np.random.default_rng(20260101)
    shares = [unworn(X, 0.002 * rng.normal(size=X.size), 0.002).share for _ in range(100)]
    assert np.mean(np.array(shares) == 1) > 0.9


def test_what_all_heights_share_is_not_taken_for_noise():
    # heights known to 10 mm, tilts to 10 mm/m, but each station against the others to 2 µm
    cov = 100 + 1e-4 * np.outer(X, X) + 4e-6 * np.eye(X.size)
    found = unworn(X, HOLLOW + 3, cov)
    assert found.stretches == ((0, 100), (800, 1400))
    assert found.value.s < 0.004
    numbers = unworn(X, correlated_values(HOLLOW + 3, cov))
    assert (numbers.value.n, numbers.value.s) == pytest.approx(
        (found.value.n, found.value.s), rel=1e-3
    )


def test_a_less_sure_station_counts_less():
    u = np.full(X.size, 0.001)
    u[0] = 0.1
    found = unworn(X, HOLLOW + np.where(X == 0, 0.02, 0.0), u)
    assert abs(found.line.at(1400)) < 1e-4


def test_offset_tilt_order_and_scale_do_not_matter():
    found = unworn(X, HOLLOW, 0.002)
    turned = unworn(X[::-1], HOLLOW[::-1], 0.002)
    assert turned.stretches == found.stretches
    assert turned.worn_from == found.worn_from
    assert turned.stations[::-1].tolist() == found.stations.tolist()
    moved = unworn(X + 2**20, HOLLOW + 2**10 + X / 4, 0.002)
    assert moved.value.n == pytest.approx(found.value.n, abs=1e-9)
    twice = unworn(X, 2 * HOLLOW, 0.004)
    assert (twice.value.n, twice.value.s) == pytest.approx((2 * found.value.n, 2 * found.value.s))


def test_many_stations_do_not_break_into_pieces():
    rng = np.random.default_rng(20260101)
    x = np.linspace(0, 1400, 400)
    z = np.where((x > 150) & (x < 750), -0.05, 0.0) + 0.002 * rng.normal(size=x.size)
    found = unworn(x, z, 0.002)
    assert len(found.stretches) == 2
    assert found.share == pytest.approx(1 - 600 / 1400, abs=0.01)


def test_the_multiple_for_the_worst_of_many():
    # two-sided 95 % normal quantile, for one station; for 10 the 99.75 % one-sided quantile 2.807
    assert multiple_for_all(1.959964, 1) == pytest.approx(1.959964)
    assert multiple_for_all(1.959964, 10) == pytest.approx(2.807, abs=5e-4)


def test_the_sentence_and_the_table():
    found = unworn(X, HOLLOW - 0.01 * (X == 200), 0.0005)
    # u2 at 200: 1 of the station, 1/9 + 666.7^2 / 2e6 of the line through nine stations
    assert str(found) == (
        "unworn from 0 to 100 mm and from 800 to 1400 mm (50 % of the length); wear begins between "
        "100 and 200 mm and ends between 700 and 800 mm; deepest 60.0 µm, U = 1.2 µm (k = 2) at "
        "200 mm"
    )
    assert "<th>agreement</th><td>within 2 u + 0 µm</td>" in found._repr_html_()
    assert "no wear found" in str(unworn(X, 0 * X, 0.001))


@pytest.mark.parametrize(
    ("x", "z", "options", "words"),
    [
        ([0, 1, 2], [0, 1, 2], {}, "tolerance: without an uncertainty nothing says how near"),
        ([0, 1, 2], [0, 1, 2], {"u": 0}, "tolerance: without an uncertainty"),
        ([0, 1], [0, 1], {"u": 1}, "x: at least 3 values are needed, got 2"),
        ([1, 1, 1], [0, 1, 2], {"u": 1}, "x: all stations at one place"),
        ([0, 1, 2], [0, 1, 2], {"u": 1, "k": -1}, "k: it must be at least 0"),
        ([0, 1, 2], [0, 1, 2], {"tolerance": -1}, "tolerance: it must be at least 0"),
        ([0, 1, 2], [0, 1, 2, 3], {"u": 1}, "x and z: lengths differ"),
    ],
)
def test_refusals(x, z, options, words):
    with pytest.raises(InputError, match=words):
        unworn(x, z, **options)

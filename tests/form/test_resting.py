"""A straight reference on a profile, held against a linear programme and the convex hull."""

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from metrolib.errors import InputError
from metrolib.form.print_under import print_under
from metrolib.form.resting import resting, rocked


def lowest_line(x, z, at):
    """Return the heights of the line above all points that is lowest at `at`, by linprog."""
    arm = (x - at) / np.ptp(x)
    above = np.column_stack([-np.ones_like(x), -arm])
    found = linprog([1, 0], A_ub=above, b_ub=-z, bounds=[(None, None)] * 2, method="highs")
    return found.x[0] + found.x[1] * arm


@pytest.mark.parametrize("seed", range(12))
def test_it_lies_as_low_as_a_linear_programme_finds(seed):
    random = np.random.default_rng(seed)
    x = np.sort(random.uniform(0, 1000, random.integers(2, 15)))
    z = random.normal(0, 0.02, x.size)
    at = random.uniform(x[0], x[-1])
    found = resting(x, z, at)
    assert found.gap == pytest.approx(lowest_line(x, z, at) - z, abs=1e-10)
    assert x[found.left] <= at <= x[found.right]
    assert found.gap[found.left] == found.gap[found.right] == 0


def test_many_profiles_at_once_are_each_as_if_alone():
    random = np.random.default_rng(3)
    x = np.arange(0, 700, 100.0)
    z = random.normal(0, 0.01, (50, x.size))
    for at in (0.0, 250.0, 300.0, 600.0):  # the ends and a station too
        together = resting(x, z, at)
        for row, one in enumerate(z):
            alone = resting(x, one, at)
            assert (together.left[row], together.right[row]) == (alone.left, alone.right)
            assert together.gap[row] == pytest.approx(alone.gap, abs=1e-15)


def test_one_profile_and_many_lie_alike():
    # print_under walks the corners of one hull; resting goes the steepest way over many at once
    random = np.random.default_rng(11)
    x, z = np.arange(0, 1300, 100.0), random.normal(0, 0.01, (20, 13))
    together = resting(x, z, 600.0).gap
    assert together == pytest.approx(np.array([print_under(x, one, 1200, 0.003).gap for one in z]))


def test_by_hand():
    # on 0 / 6 / 0 / 4 its middle at 150 lies between the humps at 100 and 300: chord 6 -> 4
    found = resting([0, 100, 200, 300], [0, 6e-3, 0, 4e-3], 150)
    assert (found.left, found.right) == (1, 3)
    assert found.gap == pytest.approx([7e-3, 0, 5e-3, 0])


def test_on_a_hump_under_its_middle_it_balances_evenly():
    x = np.arange(0, 500, 100.0)
    found = resting(x, -1e-7 * (x - 200) ** 2, 200)
    assert found.left == found.right == 2
    assert found.gap == pytest.approx(found.gap[::-1])
    assert found.gap[[1, 3]] == pytest.approx(1e-3)


def test_standing_on_its_end_it_tips_onto_the_rest():
    found = resting([0, 100, 200], [0, 2e-3, 1e-3], 0)
    assert (found.left, found.right) == (0, 1)
    assert found.gap == pytest.approx([0, 0, 3e-3])


def test_what_must_not_matter_and_how_it_scales():
    random = np.random.default_rng(8)
    x, z = np.linspace(0, 900, 10), random.normal(0, 0.01, 10)
    plain = resting(x, z, 400).gap
    assert resting(x, z + 5 - 3e-4 * x, 400).gap == pytest.approx(plain, abs=1e-12)  # tilt
    assert resting(900 - x[::-1], z[::-1], 500).gap[::-1] == pytest.approx(plain)  # mirrored
    assert resting(x, 2 * z, 400).gap == pytest.approx(2 * plain)
    assert resting(2 * x, z, 800).gap == pytest.approx(plain)


@pytest.mark.parametrize("seed", range(6))
def test_rocked_it_comes_down_to_the_convex_hull(seed):
    random = np.random.default_rng(seed)
    x, z = np.sort(random.uniform(0, 1, 12)), random.normal(0, 0.3, 12)
    floor = np.array([[x[0], -9.0], [x[-1], -9.0]])  # so that only the upper hull has points
    hull = ConvexHull(np.vstack([np.column_stack([x, z]), floor])).vertices
    top = np.sort(hull[hull < x.size])
    assert rocked(x, z[None])[0] == pytest.approx(np.interp(x, x[top], z[top]) - z, abs=1e-12)


@pytest.mark.parametrize("at", [0.0, 150.0, 300.0, 420.0])
def test_rocking_never_leaves_more_gap_than_lying_still(at):
    random = np.random.default_rng(5)
    x, z = np.arange(0, 600, 60.0), random.normal(0, 1, (40, 10))
    assert (rocked(x, z) <= resting(x, z, at).gap + 1e-12).all()


@pytest.mark.parametrize(
    ("x", "z", "at", "words"),
    [
        ([0, 0, 1], [0, 0, 0], 0.5, "places must ascend"),
        ([0, 1], [0, 0], 1.5, "would tip over.*0 to 1 mm, got 1.5"),
        ([0, 1], [0, 0, 0], 0.5, "rows of 2 numbers"),
        ([0, 1], [0, np.nan], 0.5, "not a finite number"),
        ([0], [0], 0.0, "at least 2 values"),
    ],
)
def test_refusals(x, z, at, words):
    with pytest.raises(InputError, match=words):
        resting(x, z, at)

"""The solver against exact arithmetic, and what weak priors may and may not do."""

import warnings

import numpy as np
import pytest
from mpmath import matrix as exact_matrix
from mpmath import mp, mpf, qr_solve

from metrolib.heights.adjust import adjust
from metrolib.heights.solve import least_squares, robust_least_squares
from tests.heights.build import LEVEL, Leg, flat, noisy, survey, worn


def exact_cumulated(slopes, pitch):
    """Heights above the line through both ends from cumulated slopes, in 50 digits."""
    mp.dps = 50
    z = [mpf(0)]
    for slope in slopes:
        z.append(z[-1] + mpf(float(slope)) * mpf(pitch) / 1000)
    n = len(z) - 1
    return [z[i] - z[n] * i / n for i in range(n + 1)]


@pytest.mark.parametrize("pitch", [200, 100, 20])
def test_two_metres_of_cumulated_levels_to_a_picometre(pitch):
    """1e-9 mm on a 2 m bed, whatever the zero of the level."""
    shape = worn(0.12, 600, 300, bow=0.03)
    rear = np.arange(0.0, 2000.0, pitch)
    value = noisy((shape(rear + pitch) - shape(rear)) / (pitch / 1000), LEVEL, 1) + 0.731
    leg = Leg("along", "level along", LEVEL, rear, value, {"foot_spacing": float(pitch)}, "flat")
    z = adjust(survey([flat(nominal=26.15)], [leg])).on("flat").values
    found = z - np.interp(np.arange(z.size), [0, z.size - 1], z[[0, -1]])
    worst = max(
        abs(mpf(float(a)) - b) for a, b in zip(found, exact_cumulated(value, pitch), strict=True)
    )
    assert worst < mpf("1e-9")


def test_two_passes_and_a_bridge_against_exact_least_squares():
    """A redundant network, solved by exact QR with its first height and slope pinned."""
    mp.dps = 50
    rng = np.random.default_rng(4)
    n, pitch = 11, 200.0
    feet = [(i, i + 1) for i in range(n - 1)] * 2 + [(i, i + 2) for i in range(n - 2)]
    feet += [(0, 5), (5, 10), (0, 10)]
    slope = rng.normal(scale=0.05, size=len(feet))
    legs = []
    for length in sorted({b - a for a, b in feet}):
        mine = [i for i, (a, b) in enumerate(feet) if b - a == length]
        legs.append(
            Leg(
                f"step {length}",
                "level along",
                LEVEL,
                [feet[i][0] * pitch for i in mine],
                slope[mine],
                {"foot_spacing": length * pitch},
                "flat",
                repeat=[1 + (feet[i] in feet[:i]) for i in mine],
            )
        )
    with warnings.catch_warnings():  # the slopes are random on purpose
        warnings.simplefilter("ignore")
        heights = adjust(survey([flat(nominal=300.0)], legs))
    z = heights.on("flat").values
    # unknowns: heights 1 ... n-2 (both ends pinned at 0: that is the line) and the zero
    design = exact_matrix(len(feet), n - 1)
    right = exact_matrix(len(feet), 1)
    for row, (a, b) in enumerate(feet):
        for end, side in ((b, 1), (a, -1)):
            if 0 < end < n - 1:
                design[row, end - 1] += mpf(side) * 1000 / (mpf(pitch) * (b - a))
        design[row, n - 2] = 1
        right[row] = mpf(float(slope[row]))
    exact = qr_solve(design, right)[0]
    found = z - np.interp(np.arange(n), [0, n - 1], z[[0, -1]])
    assert max(abs(mpf(float(found[i])) - exact[i - 1]) for i in range(1, n - 1)) < mpf("1e-11")
    # their covariance, (A'A)^-1 u^2; priors of 10 mm hold what u = 4 um/m leaves only by (u / 10)^2
    spread = np.array((design.T * design) ** -1 * mpf(LEVEL.u) ** 2, dtype=float).reshape(n - 1, -1)
    chord = np.eye(n)
    chord[:, 0] -= 1 - np.arange(n) / (n - 1)
    chord[:, -1] -= np.arange(n) / (n - 1)
    cov = chord @ heights.cov @ chord.T
    np.testing.assert_allclose(cov[1:-1, 1:-1], spread[:-1, :-1], rtol=1e-6)


def test_weights_that_differ_by_a_billion():
    # one unknown held to 1e-9 by one reading and to 1 by others, a second one tied to it
    matrix = np.array([[1e9, 0.0], [1.0, 0.0], [1.0, 1.0], [1.0, 1.0]])
    target = np.array([2e9, 3.0, 5.0, 5.5])
    solution = least_squares(matrix, target, np.full(2, 10.0), np.ones(2, bool))
    np.testing.assert_allclose(solution.values, [2, 3.25], atol=1e-12)
    np.testing.assert_allclose(np.diag(solution.cov), [1e-18, 1 / (2 + 0.01)], rtol=1e-9)


def test_a_weak_prior_holds_only_what_nothing_else_does():
    # x + y is read, x - y is not
    matrix, target = np.array([[100.0, 100.0]]), np.array([300.0])
    weak = least_squares(matrix, target, np.full(2, 10.0), np.ones(2, bool))
    np.testing.assert_allclose(weak.values, [1.5, 1.5], atol=1e-12)
    difference = np.array([1.0, -1.0])
    assert difference @ weak.cov @ difference == pytest.approx(200.0)
    strong = least_squares(matrix, target, np.full(2, 0.001), np.zeros(2, bool))
    # by hand: N = 1e4 [1 1; 1 1] + 1e6 I, right-hand side 3e4: x = 3e4 / (2e4 + 1e6)
    np.testing.assert_allclose(strong.values, 3 / 102, rtol=1e-12)


def test_redundancies_by_hand():
    # three equal readings of one unknown: each is checked two thirds by the others
    three = least_squares(np.full((3, 1), 1e3), np.zeros(3), np.array([10.0]), np.array([True]))
    np.testing.assert_allclose(three.redundancy, 2 / 3, rtol=1e-7)
    assert three.prior_redundancy[0] == pytest.approx(1.0, abs=1e-7)


def test_robust_fit_by_hand():
    # readings 0, 0, 0, 0, 10 with u = 1: the usual fit gives the mean, 2; one far off pulls only
    # with the force of `bend` times its standard deviation sqrt(4/5): 4 m = 1.345 sqrt(0.8)
    matrix, target = np.ones((5, 1)), np.array([0.0, 0, 0, 0, 10])
    prior = np.array([1e6]), np.array([True])
    assert least_squares(matrix, target, *prior).values[0] == pytest.approx(2.0, rel=1e-9)
    found = robust_least_squares(matrix, target, *prior).values[0]
    assert found == pytest.approx(1.345 * np.sqrt(0.8) / 4, rel=1e-4)

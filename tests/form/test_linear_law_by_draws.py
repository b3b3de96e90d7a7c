"""The linear law against draws of the heights, where it holds and where it cannot.

The draws and the figures from them are written here with plain arrays. A standard deviation from N
draws scatters by 1 / sqrt(2 (N - 1)) of itself and a mean by u / sqrt(N): four times that is
allowed.
"""

from itertools import combinations

import numpy as np
import pytest

from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist

DRAWS = 20_000
SPREAD = 4 / np.sqrt(2 * (DRAWS - 1))


def joint(n, seed):
    """Return a covariance that joins n heights, about 1 um each."""
    factor = np.random.default_rng(seed).normal(size=(n, n)) / np.sqrt(n)
    return 1e-6 * (factor @ factor.T + 0.2 * np.eye(n))


def drawn(z, cov, seed=0):
    return np.random.default_rng(seed).multivariate_normal(z, cov, DRAWS, method="cholesky")


def triples(x, z):
    """Return how far the middle one of all triples is off the chord, and the slopes of these."""
    i, j, k = np.array(list(combinations(range(len(x)), 3))).T
    slope = (z[:, k] - z[:, i]) / (x[k] - x[i])
    return z[:, j] - z[:, i] - slope * (x[j] - x[i]), slope


def zones(x, z):
    """Return width and slope of the minimum zone of every row of z."""
    off, slope = triples(x, z)
    widest = np.abs(off).argmax(axis=1)
    row = np.arange(len(z))
    return np.abs(off[row, widest]), slope[row, widest]


def assert_agrees(number, draws):
    assert draws.std(ddof=1) == pytest.approx(number.s, rel=SPREAD)
    assert abs(draws.mean() - number.n) <= 4 * number.s / np.sqrt(DRAWS)


X = np.array([0.0, 200, 400, 700, 900, 1200, 1400])
HOLLOW = np.array([0.03, 0.0, -0.02, -0.06, -0.03, 0.0, 0.04])  # ends and middle stand out


@pytest.mark.parametrize("joined", [False, True])
def test_straightness_of_three_clear_contacts(joined):
    cov = joint(7, 1) if joined else np.diag(np.linspace(0.5e-3, 2e-3, 7) ** 2)
    found = straightness(X, HOLLOW, cov)
    assert found.tied == ()
    assert_agrees(found.value, zones(X, drawn(HOLLOW, cov))[0])


@pytest.mark.parametrize("reference", ["least squares", "end points"])
def test_straightness_about_other_lines(reference):
    cov = joint(7, 2)
    found = straightness(X, HOLLOW, cov, reference=reference)
    z = drawn(HOLLOW, cov)
    if reference == "least squares":
        line = np.polynomial.polynomial.polyfit(X, z.T, 1)
    else:
        slope = (z[:, -1] - z[:, 0]) / (X[-1] - X[0])
        line = np.array([z[:, 0] - slope * X[0], slope])
    over = z - line[0][:, None] - line[1][:, None] * X
    assert_agrees(found.value, np.ptp(over, axis=1))
    np.testing.assert_allclose(over.std(axis=0, ddof=1), found.deviation_u, rtol=SPREAD, atol=1e-15)


def test_parallelism_with_clear_contacts_on_face_and_datum():
    datum_x = np.array([50.0, 350, 750, 1100, 1300])
    z = np.array([0.05, 0.03, 0.0, -0.02, -0.04, -0.05, -0.09])
    datum_z = np.array([0.0, 0.03, 0.08, 0.04, 0.01])
    cov = joint(12, 3)
    found = parallelism(X, z, datum_x, datum_z, cov)
    both = drawn(np.concatenate([z, datum_z]), cov)
    face, datum = both[:, :7], both[:, 7:]
    (form, own), (_, slope) = zones(X, face), zones(datum_x, datum)
    assert_agrees(found.value, np.ptp(face - slope[:, None] * X, axis=1))
    assert_agrees(found.form, form)
    assert_agrees(found.tilt, 1000 * (own - slope))


def test_twist_is_linear_whatever_the_draws():
    distance = np.array([180.0, 200, 200, 220, 220, 240, 240])
    cov = joint(14, 4)
    z_b = 0.02 * X / 1000
    found = twist(X, HOLLOW, z_b, distance, cov, span=300)
    both = drawn(np.concatenate([HOLLOW, z_b]), cov)
    roll = 1000 * (both[:, 7:] - both[:, :7]) / distance
    slope = np.polynomial.polynomial.polyfit(X, roll.T, 1)[1]
    assert_agrees(found.value, slope * 1400)
    assert_agrees(found.rate, slope * 1000)
    np.testing.assert_allclose(roll.std(axis=0, ddof=1), found.roll_u, rtol=SPREAD)


def test_tied_contacts_make_the_linear_law_disagree_and_the_result_says_so():
    # a flat bottom: any of three stations may be the lowest, and the lowest of three is taken
    z = np.array([0.0, -0.02, -0.04, -0.04, -0.04, -0.02, 0.0])
    x = np.arange(7) * 200.0
    cov = np.diag(np.full(7, 1e-6))
    found = straightness(x, z, cov)
    assert len({2, 3, 4} & {*found.contacts, *found.tied}) == 3
    values, _ = zones(x, drawn(z, cov))
    # the mean of the largest of three independent errors is 0.846 u (order statistics); the ends
    # and the slope of the chord bring the rest
    assert values.mean() - found.value.n > 0.5e-3
    assert values.std(ddof=1) < found.value.s * (1 - SPREAD)


def test_a_perfect_face_shows_a_form_that_no_linear_law_tells_of():
    x = np.arange(15) * 100.0
    cov = np.diag(np.full(15, 4e-6))  # u = 2 um
    found = straightness(x, np.zeros(15), cov)
    assert found.value.n == 0
    assert len(found.tied) + len(found.contacts) == 15
    values, _ = zones(x, drawn(np.zeros(15), cov))
    # every draw lies above the value found: it is no estimate of the mean at all
    assert values.min() > 0
    assert values.mean() > 2 * found.value.s
    assert not values.std(ddof=1) == pytest.approx(found.value.s, rel=SPREAD)

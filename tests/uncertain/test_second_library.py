"""Value and standard uncertainty against a second library of uncertain numbers, GTC.

The same heights, with the same joint covariance, go through formulas written here with the other
library's numbers. It keeps its own books of partial derivatives and correlations, and these
formulas share nothing with ours: a minimum zone is found as the widest of all triples of stations,
least squares by sums.
"""

from itertools import combinations

import numpy as np
import pytest
from GTC import get_covariance, set_correlation, uncertainty, ureal, value
from uncertainties import correlated_values

from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.uncertain.linear import covariance_of
from tests.rebuild.beds import HELD, flat, lathe_bed

RELATIVE = 1e-9


def heights(count, seed, offset=26.15):
    """Draw heights of some 20 um with a covariance that joins them all."""
    rng = np.random.default_rng(seed)
    z = offset + 0.02 * rng.normal(size=count)
    factor = 0.001 * rng.normal(size=(count, count + 3))
    return z, factor @ factor.T


def second(z, cov):
    """Make the other library's numbers."""
    u = np.sqrt(np.diag(cov))
    numbers = [ureal(v, s, independent=False) for v, s in zip(z.tolist(), u.tolist(), strict=True)]
    for i, j in combinations(range(len(z)), 2):
        set_correlation(cov[i, j] / (u[i] * u[j]), numbers[i], numbers[j])
    return numbers


def assert_same(ours, other):
    assert ours.n == pytest.approx(value(other), rel=RELATIVE)
    assert ours.s == pytest.approx(uncertainty(other), rel=RELATIVE)


def spread(numbers):
    """Return the largest of some numbers less the smallest."""
    return max(numbers, key=value) - min(numbers, key=value)


def zone(x, z):
    """Return the width of the minimum zone and its slope: the triple that needs most room."""
    best = None
    for i, j, k in combinations(range(len(x)), 3):
        slope = (z[k] - z[i]) / (x[k] - x[i])
        off = z[j] - z[i] - slope * (x[j] - x[i])
        if best is None or abs(value(off)) > abs(value(best[0])):
            best = off, slope
    off, slope = best
    return (off if value(off) > 0 else -off), slope


def fitted(x, z):
    """Return height at x = 0 and slope of the least-squares line."""
    mean_x, mean_z = sum(x) / len(x), sum(z) / len(z)
    square = sum((a - mean_x) ** 2 for a in x)
    slope = sum((a - mean_x) * (b - mean_z) for a, b in zip(x, z, strict=True)) / square
    return mean_z - slope * mean_x, slope


def above(x, z, line):
    return [b - line[0] - line[1] * a for a, b in zip(x, z, strict=True)]


SEEDS = range(4)


@pytest.mark.parametrize("seed", SEEDS)
def test_straightness(seed):
    x = [0.0, 150, 250, 500, 650, 700, 1000, 1400]
    z, cov = heights(8, seed)
    other = second(z, cov)
    assert_same(straightness(x, z, cov).value, zone(x, other)[0])
    line = fitted(x, other)
    found = straightness(x, z, cov, reference="least squares")
    assert_same(found.value, spread(above(x, other, line)))
    assert_same(found.line.height, line[0])
    assert_same(found.line.slope, 1000 * line[1])
    for ours, over in zip(found.deviation_u, above(x, other, line), strict=True):
        assert ours == pytest.approx(uncertainty(over), rel=RELATIVE)
    slope = (other[-1] - other[0]) / (x[-1] - x[0])
    ends = above(x, other, (other[0], slope))
    assert_same(straightness(x, z, cov, reference="end points").value, spread(ends))


@pytest.mark.parametrize("seed", SEEDS)
def test_parallelism(seed):
    x, datum_x = [0.0, 200, 500, 800, 1000], [50.0, 300, 420, 700, 900, 1100]
    z, cov = heights(11, seed)
    other = second(z, cov)
    found = parallelism(x, z[:5], datum_x, z[5:], cov)
    (form, own), (_, datum) = zone(x, other[:5]), zone(datum_x, other[5:])
    assert_same(found.value, spread(above(x, other[:5], (0, datum))))
    assert_same(found.tilt, 1000 * (own - datum))
    assert_same(found.form, form)
    found = parallelism(x, z[:5], datum_x, z[5:], cov, reference="least squares")
    datum = fitted(datum_x, other[5:])[1]
    assert_same(found.value, spread(above(x, other[:5], (0, datum))))
    assert_same(found.tilt, 1000 * (fitted(x, other[:5])[1] - datum))


@pytest.mark.parametrize("seed", SEEDS)
def test_twist(seed):
    x = [0.0, 300, 450, 800, 1200]
    distance = [200.0, 200, 210, 220, 220]
    z, cov = heights(10, seed)
    other = second(z, cov)
    found = twist(x, z[:5], z[5:], distance, cov, span=500)
    roll = [1000 * (b - a) / w for a, b, w in zip(other[:5], other[5:], distance, strict=True)]
    slope = fitted(x, roll)[1]
    assert_same(found.value, slope * 1200)
    assert_same(found.rate, slope * 1000)
    changes = [roll[j] - roll[i] for i, j in combinations(range(5), 2) if x[j] - x[i] <= 500]
    assert_same(found.largest_change, max(changes, key=lambda change: abs(value(change))))
    for ours, number in zip(found.roll_u, roll, strict=True):
        assert ours == pytest.approx(uncertainty(number), rel=RELATIVE)


@pytest.mark.parametrize("seed", SEEDS)
def test_results_of_the_same_heights_are_correlated_alike(seed):
    x = [0.0, 300, 450, 800, 1200]
    z, cov = heights(10, seed)
    other = second(z, cov)
    numbers = np.array(correlated_values(z, cov))
    ours = [
        straightness(x, numbers[:5]).value,
        straightness(x, numbers[5:]).value,
        twist(x, numbers[:5], numbers[5:], 200).value,
    ]
    roll = [5 * (b - a) for a, b in zip(other[:5], other[5:], strict=True)]
    theirs = [zone(x, other[:5])[0], zone(x, other[5:])[0], 1200 * fitted(x, roll)[1]]
    expected = [[get_covariance(a, b) for b in theirs] for a in theirs]
    np.testing.assert_allclose(covariance_of(ours), expected, rtol=1e-8, atol=1e-20)


def with_covariance(bed, seed):
    """Join all heights of a bed by a covariance."""
    cov = heights(len(bed.values), seed)[1]
    return type(bed)(**{**vars(bed), "cov": cov})


@pytest.mark.parametrize("seed", SEEDS)
def test_height_of_a_target_held_to_the_datum(seed):
    rng = np.random.default_rng(100 + seed)
    bed = with_covariance(lathe_bed(*(0.03 * rng.normal(size=(2, 6)))), seed)
    other = second(bed.values, bed.cov)
    plan = plan_removal(bed, faces=["front", "rear"], clean_up=0.01, confidence=None, **HELD)
    # four corners of the ledges, which look down: near and far end of the front, then of the rear
    a, b, c, d = (-number for number in other[12:])
    middle, along, across = (a + b + c + d) / 4, (b + d - a - c) / 2, (c + d - a - b) / 2
    over = [
        z - middle - along * (x / 1400 - 0.5) - across * ((y - 160) / 300)
        for z, x, y in zip(other[:12], bed.x[:12].tolist(), bed.y[:12].tolist(), strict=True)
    ]
    lowest = min(over, key=value)
    assert_same(plan.motion["lift"], lowest - 0.01)
    np.testing.assert_allclose(plan.target_u, uncertainty(lowest), rtol=RELATIVE)
    for ours, number in zip(plan.depth_u, over, strict=True):
        assert ours == pytest.approx(uncertainty(number), rel=RELATIVE)
    cut = sum(
        (area * (z - lowest + 0.01) for area, z in zip(plan.area.tolist(), over, strict=True)), 0
    )
    assert plan.volume == pytest.approx(value(cut), rel=RELATIVE)
    assert plan.volume_u == pytest.approx(uncertainty(cut), rel=RELATIVE)


@pytest.mark.parametrize("seed", SEEDS)
def test_target_of_one_face_free_to_tilt(seed):
    x = [0.0, 150, 250, 480, 650, 700, 1000]  # none in the very middle, where tilts would tie
    z, cov = heights(7, seed, offset=0.0)
    bed = given_heights([flat("flat", length=1000)], {"flat": (x, z)}, cov)
    other = second(z, cov)
    plan = plan_removal(bed, faces=["flat"], clean_up=0.02, confidence=None)
    over = above(x, other, fitted(x, other))
    # of the chords that reach across the middle, 500, the lowest there: nothing lies below it
    chords = [
        (over[i] + (over[j] - over[i]) * ((500 - x[i]) / (x[j] - x[i])), i, j)
        for i, j in combinations(range(7), 2)
        if x[i] < 500 < x[j]
    ]
    _, i, j = min(chords, key=lambda chord: value(chord[0]))
    slope = (over[j] - over[i]) / (x[j] - x[i])
    line = over[i] - slope * x[i], slope
    assert_same(plan.motion["lift"], line[0] - 0.02)
    assert_same(plan.motion["pitch"], 1000 * line[1])
    for ours, at in zip(plan.target_u, x, strict=True):
        assert ours == pytest.approx(uncertainty(line[0] + line[1] * at), rel=RELATIVE)

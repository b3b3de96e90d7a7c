"""Minimum zones of steep and far-off data against all sets of supports, in 50 digits.

By duality the zone of all stations is that of the three (line) or four (plane) stations that need
most room by themselves, so listing all triples and all fours proves the answer without any
iteration, and names the contacts. The numbers are those that the library gets, to their last bit.
"""

from itertools import combinations

import numpy as np
import pytest
from mpmath import det, fabs, matrix, mp, mpf

from metrolib.form.flatness import flatness
from metrolib.form.straightness import straightness

EPS = np.finfo(float).eps
ZONE = 0.01  # mm, roughly

#: What is laid under the form: tilt from end to end [mm] (up to 1e4 times the zone), height of the
#: first station [mm], place of the first station [mm].
AWKWARD = [(0, 0, 0), (1, 26.15, 0), (100, 0, 0), (100, 1000, 0), (-100, 1000, 1e5), (0, 1e6, -1e6)]


def exact(values):
    return [mpf(float(value)) for value in values]


def line_zone(x, z):
    """Return the width of the zone and its three contacts, in 50 digits."""
    x, z = exact(x), exact(z)
    best = mpf(-1), None
    for i, j, k in combinations(range(len(x)), 3):
        chord = z[i] + (z[k] - z[i]) * (x[j] - x[i]) / (x[k] - x[i])
        best = max(best, (fabs(z[j] - chord), (i, j, k)), key=lambda found: found[0])
    return best


def plane_zone(x, y, z):
    """Return the width of the zone and its four contacts, in 50 digits."""
    x, y, z = exact(x), exact(y), exact(z)
    best = mpf(-1), None
    for four in combinations(range(len(x)), 4):
        # multipliers that take every plane out of four heights: minors, with alternating signs
        minors = [
            (-1) ** i * det(matrix([[1, x[k], y[k]] for k in four if k != four[i]]))
            for i in range(4)
        ]
        size = sum(map(fabs, minors))
        if size > 0:
            width = 2 * fabs(sum(m * z[k] for m, k in zip(minors, four, strict=True))) / size
            best = max(best, (width, four), key=lambda found: found[0])
    return best


@pytest.fixture(autouse=True)
def fifty_digits():
    with mp.workdps(50):
        yield


@pytest.mark.parametrize(("tilt", "height", "start"), AWKWARD)
@pytest.mark.parametrize("seed", range(3))
def test_line(tilt, height, start, seed):
    rng = np.random.default_rng(seed)
    x = start + np.sort(rng.uniform(0, 1400, 15))
    z = height + tilt * (x - start) / 1400 + ZONE * rng.uniform(-0.5, 0.5, 15)
    width, contacts = line_zone(x, z)
    found = straightness(x, z)
    assert found.contacts == contacts
    # the slope, its product with x at two stations, and their differences each round once
    size = np.ptp(z) + np.abs(z - z[0]).max()
    assert abs(mpf(found.value) - width) <= 3 * EPS * size


@pytest.mark.parametrize("tilt", [1e3, 1e5])
def test_line_with_a_zone_near_the_last_digit_of_the_heights(tilt):
    # heights of 1e5 mm end in 1e-11: what the zone is, is then a matter of those digits alone
    rng = np.random.default_rng(7)
    x = np.sort(rng.uniform(0, 1000, 12))
    z = tilt * x / 1000 + 1e-8 * rng.uniform(-0.5, 0.5, 12)
    width, contacts = line_zone(x, z)
    found = straightness(x, z)
    assert abs(mpf(found.value) - width) <= 6 * EPS * tilt
    assert found.contacts == contacts


@pytest.mark.parametrize(("tilt", "height", "start"), AWKWARD)
@pytest.mark.parametrize("seed", range(2))
def test_plane(tilt, height, start, seed):
    rng = np.random.default_rng(seed)
    x, y = start + rng.uniform(0, 1400, 10), rng.uniform(0, 300, 10)
    z = height + tilt * (x - start) / 1400 - tilt * y / 300 + ZONE * rng.uniform(-0.5, 0.5, 10)
    width, contacts = plane_zone(x, y, z)
    found = flatness(x, y, z)
    assert found.contacts == contacts
    assert abs(mpf(found.value) - width) <= 8 * EPS * (np.ptp(z) + np.abs(z - z[0]).max())


@pytest.mark.parametrize("reference", ["minimum zone", "least squares"])
def test_a_tilt_of_ten_thousand_zones_costs_no_more_than_its_own_rounding(reference):
    # heights that binary numbers hold exactly, with and without an exact tilt
    x = np.arange(0.0, 1024, 64)
    z = np.random.default_rng(3).integers(-40, 41, x.size) / 4096
    plain = straightness(x, z, reference=reference).value
    steep = straightness(x, z + x / 8 + 1024, reference=reference).value
    assert steep == pytest.approx(plain, rel=0, abs=8 * EPS * 128)

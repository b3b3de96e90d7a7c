"""Every way to a minimum zone against rational arithmetic and a general solver, on awkward data.

The ways: one set by exchange; one set with the search stopped at once, so that the linear
programme must find it; one set on a sample that grows until all stations are proven; many sets at
once; and many sets with the search stopped at once. All agree to 1e-12 of the range of the heights.
"""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import linprog

from metrolib.errors import InputError
from metrolib.form import lines, lines_batched, planes, planes_batched, sampled
from metrolib.form.flatness import flatness
from metrolib.form.lines_batched import line_ranges
from metrolib.form.planes_batched import plane_ranges
from metrolib.form.straightness import straightness

PROMISE = 1e-12  # of the range of the heights
WAYS = ("one set", "one set by programme", "sampled", "many sets", "many sets one by one")
CASES = ("plain", "ties", "doubled", "one line", "far off", "steep", "far off and steep")
FAR, STEEP = 1e9, 1e4


@pytest.fixture(params=WAYS)
def way(request, monkeypatch):
    if request.param == "one set by programme":
        monkeypatch.setattr(lines, "_MOST_EXCHANGES", 0)
        monkeypatch.setattr(planes, "_MOST_EXCHANGES", 0)
    if request.param == "sampled":
        monkeypatch.setattr(sampled, "MANY", 4)
        monkeypatch.setattr(sampled, "_SAMPLE", 2)
        monkeypatch.setattr(sampled, "_CHUNK", 3)
    if request.param == "many sets one by one":
        monkeypatch.setattr(lines_batched, "_MOST_EXCHANGES", 0)
        monkeypatch.setattr(planes_batched, "_MOST_EXCHANGES", 0)
    return request.param


def zones(way, places, sets):
    """Return the width for each set of heights, by one of the ways."""
    if "many" in way and len(places) == 1:
        return line_ranges("minimum zone", *places, sets)
    if "many" in way:
        return plane_ranges("minimum zone", *places, None, sets)
    return [(straightness if len(places) == 1 else flatness)(*places, z).value for z in sets]


def exact_line(x, z):
    """Return the width in exact arithmetic: the least over the slopes of all chords."""
    x, z = ([Fraction(v) for v in values.tolist()] for values in (x, z))
    slopes = {
        (z[j] - z[i]) / (x[j] - x[i]) for i, j in combinations(range(len(x)), 2) if x[i] != x[j]
    }
    over = ([b - slope * a for a, b in zip(x, z, strict=True)] for slope in slopes)
    return float(min(max(heights) - min(heights) for heights in over))


def exact_plane(x, y, z):
    """Return the width in exact arithmetic: the most room that any four stations need (duality)."""
    x, y, z = ([Fraction(v) for v in values.tolist()] for values in (x, y, z))

    def area(p, q, r):
        return (x[q] - x[p]) * (y[r] - y[p]) - (y[q] - y[p]) * (x[r] - x[p])

    widest = Fraction(0)
    for p, q, r, s in combinations(range(len(x)), 4):
        shares = area(q, r, s), -area(p, r, s), area(p, q, s), -area(p, q, r)
        size = sum(map(abs, shares))
        if size:
            off = sum(m * z[k] for m, k in zip(shares, (p, q, r, s), strict=True))
            widest = max(widest, 2 * abs(off) / size)
    return float(widest)


def heights(case, places, rng):
    """Return places and 12 sets of heights that doubles hold exactly."""
    n, count = places[0].size, 12
    z = rng.integers(0, 3 if case == "ties" else 2**16, (count, n)) / 2.0**12
    if case == "doubled":
        places = [np.round(place / 2**9) for place in places]
    if case == "one line":
        z = rng.integers(-9, 9, (count, 1)) * (places[0] + sum(places)) / 2.0
    if "steep" in case:
        z = z + STEEP * 16 * places[0] / 2**10
    if "far off" in case:
        places, z = [place + FAR for place in places], z - FAR
    return places, z


def assert_exact(found, exact, sets):
    most = PROMISE * np.maximum(np.ptp(sets, axis=1), 1e-300)
    assert np.all(np.abs(np.asarray(found) - exact) <= most)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("n", [3, 5, 9])
def test_lines(way, case, n):
    rng = np.random.default_rng(n)
    x = rng.permutation(2**10)[:n].astype(float)
    (x,), sets = heights(case, [x], rng)
    if np.ptp(x) == 0:
        x = x + np.arange(n)
    assert_exact(zones(way, [x], sets), [exact_line(x, z) for z in sets], sets)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("n", [4, 7])
def test_planes(way, case, n):
    rng = np.random.default_rng(10 + n)
    places = [*rng.integers(0, 2**10, (2, n)).astype(float)]
    places, sets = heights(case, places, rng)
    for place, corner in zip(places, ([0, 1, 0], [0, 0, 1]), strict=True):
        place[:3] = place[0] + np.array(corner) * 2.0**8  # so that they span a plane
    if case == "one line":
        sets = sets[:, :1] + 3 * (places[0] - places[0][0]) - (places[1] - places[1][0])
    assert_exact(zones(way, places, sets), [exact_plane(*places, z) for z in sets], sets)


@pytest.mark.parametrize("case", ["plain", "ties", "far off"])
def test_stations_of_a_face_on_one_line(way, case):
    # the line runs 3 along and 4 across: 5 a step
    rng = np.random.default_rng(20)
    along = np.sort(rng.permutation(2**7)[:6]).astype(float)
    _, sets = heights(case, [along], rng)
    far = FAR if case == "far off" else 0.0
    found = zones(way, [3 * along + far, 4 * along - far], sets)
    assert_exact(found, [exact_line(5 * along, z) for z in sets], sets)


@pytest.mark.parametrize("way", ["one set", "many sets"])
def test_two_stations(way):
    places, sets = np.array([FAR, FAR + 3]), np.array([[0.0, 1e4], [-FAR, FAR]])
    assert list(zones(way, [places], sets)) == [0.0, 0.0]
    assert list(zones(way, [places, places], sets)) == [0.0, 0.0]


@pytest.mark.parametrize("n", [2, 5])
def test_all_stations_at_one_place_are_refused(way, n):
    place, sets = np.full(n, 7.0), np.ones((1, n))
    with pytest.raises(InputError, match="all stations at one place"):
        zones(way, [place], sets)
    with pytest.raises(InputError, match="all stations at one place"):
        zones(way, [place, place], sets)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("at", [0, 3, 6])
def test_what_is_no_number_is_refused(way, bad, at):
    x, y, z = np.arange(7.0), np.arange(7.0) % 3, np.zeros(7)
    z[at] = bad
    for places in ([x], [x, y]):
        with pytest.raises(InputError, match=f"z: item {at} is not a finite number"):
            zones(way, places, z[None])


def by_programme(places, z):
    """Return the width by a general solver, of heights and places of the size of 1."""
    one = np.ones((z.size, 1))
    rows = np.column_stack([one, *places])
    cost = np.eye(rows.shape[1] + 1)[-1]
    table = np.block([[rows, -one], [-rows, -one]])
    return 2 * linprog(cost, A_ub=table, b_ub=np.r_[z, -z], bounds=(None, None)).fun


@pytest.mark.parametrize("columns", [1, 2])
@pytest.mark.parametrize("levels", [2, 5, 2**20])
def test_a_general_solver_says_the_same(way, columns, levels):
    rng = np.random.default_rng(30)
    places = [*rng.integers(0, 33, (columns, 60)) / 32]
    sets = rng.integers(0, levels, (4, 60)) / levels
    assert_exact(zones(way, places, sets), [by_programme(places, z) for z in sets], sets)


def test_ties_of_ten_thousand_exact_sets_need_no_cap(monkeypatch):
    monkeypatch.setattr(lines, "_by_linear_programme", None)
    monkeypatch.setattr(planes, "_by_linear_programme", None)
    rng = np.random.default_rng(40)
    x, y = (side.ravel().astype(float) for side in np.mgrid[:3, :4])
    for z in rng.integers(0, 3, (1000, 12)).astype(float):
        straightness(x, z)
        flatness(x, y, z)


@pytest.mark.parametrize("tilt", [0.0, STEEP])
@pytest.mark.parametrize("levels", [2, 3, 2**20])
def test_many_stations_with_ties_one_above_the_other(way, levels, tilt):
    rng = np.random.default_rng(50)
    for across in (3, 40, 2000):
        x, y = rng.integers(0, across, (2, 300)).astype(float)
        z = rng.integers(0, levels, (1, 300)) / levels + tilt * x / 2048
        for places in ([x], [x, y]):
            assert_exact(zones(way, places, z), _by_programme_of_residuals(places, z[0]), z)


def _by_programme_of_residuals(places, z):
    """Return the width by a general solver, whose tolerance a tilt would use up."""
    rows = np.column_stack([np.ones(z.size), *places])
    rows[:, 1:] -= rows[0, 1:]
    tilt = np.linalg.lstsq(rows, z, rcond=None)[0]
    return by_programme(rows[:, 1:].T / np.abs(rows[:, 1:]).max(), z - rows @ tilt)


def test_stations_almost_upon_each_other(way):
    """Four of six at one place but for a micrometre: four met on the way fix no plane."""
    x = 1000 + np.array([1, 1, 1, 0, 1, 2]) * 2.0**-43
    x[3] = 2.0**-42
    y = [2.1052493398161727e-06, 506.6595154111273, 8.604801689050685e-06]
    y = np.array([*y, 30.034141414615274, 0.0004043523030695497, 0.0007341622007857179])
    z = np.array([-0.45004358887672424, 0.09536999464035034, -0.1786525845527649])
    z = np.append(z, [-0.8346774578094482, -1.180671215057373, -1.0553460121154785])
    assert_exact(zones(way, [x, y], z[None]), [exact_plane(x, y, z)], z[None])


def test_the_smallest_numbers_there_are(way):
    """Multiples of the least number above 0: a width is right to a few of these."""
    least = np.finfo(float).smallest_subnormal
    x, y, z = np.arange(4) * 200.0, np.arange(4) % 2 * 1.0, np.array([[0.0, 8, 0, 16]]) * least
    for places, exact in (([x], exact_line(x, z[0])), ([x, y], exact_plane(x, y, z[0]))):
        assert abs(zones(way, places, z)[0] - exact) <= 8 * least

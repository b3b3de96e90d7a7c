import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.between import find_gaps
from metrolib.rebuild.removal.gaps import between_stations
from metrolib.rebuild.removal.removal import plan_removal
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat


def _gaps(x, z, u=0.0):
    x = np.asarray(x, dtype=float)
    return find_gaps(x, np.zeros_like(x), np.asarray(z, dtype=float), np.eye(len(x)) * u**2)


def test_by_hand():
    # pitch 100; second differences 8, 16, 8; first differences of them 8, -8
    # dips: 8/8, (8+16)/2/8, (16+8)/2/8, 8/8;  spread: rms 8 over 2, over 8 = 0.5, twice at the ends
    z = [0, 0, 8, 32, 64]
    gaps = _gaps(np.arange(5) * 100.0, z)
    np.testing.assert_allclose(gaps.dip_law @ z, [1, 1.5, 1.5, 1], rtol=1e-12)
    np.testing.assert_allclose(gaps.spread, [1, 0.5, 0.5, 1], rtol=1e-12)
    np.testing.assert_allclose(gaps.weights @ z, [-1, 2.5, 18.5, 47], rtol=1e-12)


def test_a_parabola_is_found_exactly_over_uneven_pitches_and_a_cubic_over_even_ones():
    # Of a cubic the mean curvature of both ends is that of the middle. Second differences over
    # uneven pitches lean to one side, so that there only a parabola is exact.
    x = np.array([0.0, 100, 250, 300, 480, 600])
    z = 3e-7 * x**2 - 1e-4 * x + 0.02
    gaps = _gaps(x, z)
    middle = (x[1:] + x[:-1]) / 2
    np.testing.assert_allclose(
        gaps.weights @ z, 3e-7 * middle**2 - 1e-4 * middle + 0.02, atol=1e-12
    )
    np.testing.assert_allclose(gaps.spread, 0, atol=1e-12)
    even = np.arange(6) * 100.0
    cubic = 1e-9 * even**3
    inside = slice(1, -1)
    middle = even[:-1] + 50
    found = (_gaps(even, cubic).weights @ cubic)[inside]
    np.testing.assert_allclose(found, (1e-9 * middle**3)[inside], atol=1e-12)


def test_three_stations_take_the_curvature_itself_for_its_change_and_two_tell_nothing():
    gaps = _gaps([0, 100, 200], [0, -4, 0])
    np.testing.assert_allclose(gaps.dip_law @ [0, -4, 0], [1, 1])
    np.testing.assert_allclose(gaps.spread, [1, 1])
    assert len(_gaps([0, 100], [0, 1]).spread) == 0


def test_noise_alone_makes_no_waviness():
    rng = np.random.default_rng(1)
    x = np.arange(400) * 50.0
    spread = _gaps(x, rng.normal(0, 0.002, 400), u=0.002).spread
    seen = _gaps(x, rng.normal(0, 0.002, 400)).spread
    # third differences of noise: u sqrt(20), a sixteenth of it, seen or taken off
    assert seen[1:-1].mean() == pytest.approx(0.002 * np.sqrt(20) / 16, rel=0.1)
    assert np.mean(spread**2) < 0.3 * np.mean(seen**2)


@pytest.mark.parametrize("u", [0.0, 0.001])
@pytest.mark.parametrize("length", [2.5, 3.0, 3.7, 5.0, 9.0])
def test_the_estimate_covers_the_true_dip_of_short_waves(length, u):
    # waves of 20 um whose length is some pitches, on a long hollow; true middles are known
    rng, covered, deep = np.random.default_rng(8), [], []
    x = np.arange(16) * 100.0
    middle = x[:-1] + 50

    for _ in range(60):
        phase, lean = rng.uniform(0, 2 * np.pi), rng.uniform(0.5, 1)

        def true(at, phase=phase, lean=lean):
            wave = 0.01 * np.cos(2 * np.pi * at / (100 * length) + phase)
            return lean * wave - 0.04 * np.exp(-(((at - 600) / 400) ** 2))

        z = true(x) + rng.normal(0, u, 16)
        gaps = _gaps(x, z, u)
        heights = np.sqrt(gaps.spread**2 + u**2 * (gaps.weights**2).sum(axis=1))
        covered.append(gaps.weights @ z - 2 * heights <= true(middle))
        deep.append((true(x[1:]) + true(x[:-1])) / 2 - true(middle))
    assert np.mean(covered) >= 0.95
    # no empty promise: the dips are there
    assert np.max(deep) > 0.001


def test_rows_and_columns_of_a_wide_face():
    x, y = (grid.ravel() for grid in np.meshgrid([0.0, 100, 200], [-50.0, 0, 50]))
    z = 8e-7 * x**2 + 8e-7 * y**2
    gaps = find_gaps(x, y, z, np.zeros((9, 9)))
    across = x[gaps.ends[:, 0]] == x[gaps.ends[:, 1]]
    assert (across.sum(), (~across).sum()) == (6, 6)
    # second differences 16e-3 along, 4e-3 across; an eighth of them
    np.testing.assert_allclose((gaps.dip_law @ z)[~across], 2e-3, rtol=1e-9)
    np.testing.assert_allclose((gaps.dip_law @ z)[across], 5e-4, rtol=1e-9)


def test_heights_times_two_give_dips_times_two_and_positions_change_nothing():
    rng = np.random.default_rng(6)
    x, z = np.arange(8) * 100.0, rng.normal(0, 0.01, 8)
    one, two, long = _gaps(x, z, 0.001), _gaps(x, 2 * z, 0.002), _gaps(3 * x, z, 0.001)
    np.testing.assert_allclose(two.spread, 2 * one.spread)
    np.testing.assert_allclose(long.spread, one.spread)
    np.testing.assert_allclose(long.weights, one.weights, atol=1e-12)


def test_lists_the_gaps_and_names_where_a_station_pays_most():
    x = np.arange(0, 1001, 200.0)
    z = -0.05 * np.exp(-(((x - 500) / 300) ** 2))
    faces = [flat("flat", length=1000), flat("short", 200, length=1000)]
    heights = given_heights(faces, {"flat": (x, z), "short": ([0, 1000], [0, 0])}, u=0.001)
    found = between_stations(plan_removal(heights, faces=["flat", "short"]))
    assert (found.pays_most.x_from, found.pays_most.x_to) == (400, 600)
    assert found.untold == ("short",) and not found.covered
    # second differences at 400 and 600 are equal, the dip an eighth of them
    assert found.pays_most.dip == pytest.approx((z[1] - 2 * z[2] + z[3]) / 8, rel=1e-9)
    assert "from 400 to 600 mm on 'flat'" in str(found) and "on 'short'" in str(found)
    table = found.to_dataframe("thou")
    assert list(table.columns)[5:7] == ["dip [thou]", "u(dip) [thou]"] and len(table) == 5
    assert "<table" in found._repr_html_()


def test_joins_the_guard_by_choice():
    x = np.arange(0, 1001, 200.0)
    z = -0.05 * np.exp(-(((x - 500) / 300) ** 2))
    heights = given_heights([flat("flat", length=1000)], {"flat": (x, z)}, u=0.001)
    bare = plan_removal(heights, faces=["flat"])
    plan = plan_removal(heights, faces=["flat"], between_stations=True)
    assert plan.volume > bare.volume
    assert plan.governing[0].role == "hollow between stations"
    assert (plan.governing[0].x, plan.governing[0].station) == (500, 2)
    assert "hollow between stations at 500 mm on 'flat'" in str(plan)
    found = between_stations(plan)
    assert found.covered
    # the one gap decides alone; the guard's draws scatter
    assert found.gaps[0].sure == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 20_000))
    # the cost of the gap: the whole face follows
    assert plan.governing[0].cost == pytest.approx(0.01 * 1000 * 30, rel=0.05)


def test_cut_faces_clean_up_between_stations_as_often_as_asked():
    # Short waves of unknown phase, surveyed with noise, then cut: at the stations, and in the
    # middle of every gap, metal must come off. Without the choice it often does not.
    rng, x = np.random.default_rng(14), np.linspace(0, 1400, 15)
    at = np.sort(np.concatenate([x, (x[1:] + x[:-1]) / 2]))
    cleaned = {False: 0, True: 0}
    rounds = 60
    for _ in range(rounds):
        phase = rng.uniform(0, 2 * np.pi, 2)
        length = rng.uniform(320, 450, 2)

        def true(where, phase=phase, length=length):
            hollow = -0.05 * np.exp(-(((where - 600) / 400) ** 2))
            return [
                hollow + 0.015 * np.cos(2 * np.pi * where / n + p)
                for p, n in zip(phase, length, strict=True)
            ]

        heights = lathe_bed(*(np.array(true(x)) + rng.normal(0, 0.001, (2, 15))), u=0.001)
        for chosen in cleaned:
            plan = plan_removal(
                heights, faces=["front", "rear"], between_stations=chosen, draws=2000, **HELD
            )
            cleaned[chosen] += bool((np.array(true(at)) >= plan.target.min()).all())
    assert cleaned[True] / rounds >= 0.95 - 3 * np.sqrt(0.05 * 0.95 / rounds)
    assert cleaned[False] / rounds < 0.8


def test_untouchable_faces_have_no_gaps_to_clean():
    heights = lathe_bed([0.05, 0.06, 0.05, 0.06], [0.0, 0.0, 0.0, 0.0], u=0.002)
    plan = plan_removal(
        heights, faces=["front", "rear"], untouchable=["rear"], between_stations=True, **HELD
    )
    assert (plan.depth[plan.face == "rear"] == 0).all()
    assert {gap.face for gap in between_stations(plan).gaps} == {"front"}


def test_the_choice_is_true_or_false():
    with pytest.raises(InputError, match="between_stations: this is neither True nor False, got 1"):
        plan_removal(one_flat([0, 0, 0]), faces=["flat"], between_stations=1)

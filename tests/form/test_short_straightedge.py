"""What a short straightedge hides, and what prints under it."""

import numpy as np
import pytest
from scipy.optimize import linprog
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form.print_under import print_under
from metrolib.form.short_straightedge import hidden_bow


def test_hidden_bow_by_hand():
    # 3 um under 0.5 m on 1.5 m hides 3 * 3² um (common practice, no published source)
    assert hidden_bow(1500, 500, 0.003).value == pytest.approx(0.027)
    assert hidden_bow(1500, 1500, 0.003).value == pytest.approx(0.003)
    assert hidden_bow(1500, 2000, 0.003).value == pytest.approx(0.003)
    assert "it hides no more than 3.0 µm" in str(hidden_bow(1500, 1500, 0.003))
    assert "1.06 thou" in hidden_bow(1500, 500, 0.003).in_words("thou")
    assert "27.0 µm" in hidden_bow(1500, 500, 0.003)._repr_html_()


def test_hidden_bow_scales_and_keeps_uncertainty():
    found = hidden_bow(1500, 500, ufloat(0.003, 0.001))
    assert (found.value.n, found.value.s) == pytest.approx((0.027, 0.009))
    assert hidden_bow(3000, 1000, 0.003).value == pytest.approx(0.027)
    assert hidden_bow(1500, 250, 0.003).value == pytest.approx(4 * 0.027)


def test_needed_length_shows_just_that_bow():
    needed = hidden_bow(1500, 500, 0.003).needed_for(0.010)
    assert hidden_bow(1500, needed, 0.003).value == pytest.approx(0.010)


@pytest.mark.parametrize("sign", [1, -1])
def test_hidden_bow_against_a_circle(sign):
    """An arc of a circle, hollow or crowned: its gap under the straightedge is the film at most."""
    length, reach, film = 1500.0, 500.0, 0.003
    bow = hidden_bow(length, reach, film).value
    radius = (length / 2) ** 2 / (2 * bow) + bow / 2
    x = np.linspace(0, length, 1501)
    z = sign * (radius - np.sqrt(radius**2 - (x - length / 2) ** 2))
    for start in (0.0, 333.3, 500.0, 1000.0):
        widest = print_under(x, z, reach, film, start=start).gap.max()
        assert widest == pytest.approx(film, rel=0.02)  # stations miss the ends by up to 1 mm
    assert print_under(x, 0.9 * z, reach, film, start=250).printed.all()
    assert not print_under(x, 1.1 * z, reach, film, start=250).printed.all()


def lowest_lie(x, z, middle):
    """Minimise the height of the centre of gravity of a line that lies on or above all places."""
    columns = np.column_stack([np.ones_like(x), x - middle])
    found = linprog([1, 0], A_ub=-columns, b_ub=-z, bounds=[(None, None)] * 2, method="highs")
    return found.fun, columns @ found.x


def test_lie_has_the_lowest_centre_of_gravity():
    random = np.random.default_rng(6)
    for _ in range(60):
        x = np.sort(random.uniform(0, 1000, 40))
        z = random.normal(0, 0.01, 40) + random.normal(0, 3e-7) * (x - 500) ** 2
        start = random.uniform(x[0], x[-1] - 400)
        found = print_under(x, z, 400, 0.003, start=start)
        height, sole = lowest_lie(found.x, found.z, start + 200)
        mine = np.interp(start + 200, found.x, found.sole)
        assert mine == pytest.approx(height, abs=1e-9)
        np.testing.assert_allclose(found.sole, sole, atol=1e-8)


def test_lie_against_trying_every_pair():
    random = np.random.default_rng(7)
    x = np.append(np.arange(0.0, 390, 20), 390)
    for _ in range(20):
        z = random.normal(0, 0.01, x.size)
        best = np.inf
        for a in range(x.size):
            for b in range(a + 1, x.size):
                sole = z[a] + (z[b] - z[a]) / (x[b] - x[a]) * (x - x[a])
                if (sole - z).min() > -1e-12:
                    best = min(best, np.interp(195.0, x, sole))
        found = print_under(x, z, 390, 0.003, start=0)
        assert np.interp(195.0, found.x, found.sole) == pytest.approx(best, abs=1e-12)


def test_it_rocks_on_a_hump_under_its_middle():
    x = np.arange(0.0, 401, 100)
    z = np.array([0.0, 0.008, 0.010, 0.008, 0.0])
    found = print_under(x, z, 400, 0.003)
    assert found.rocks and found.contacts == (2,)
    assert found.sole.tolist() == pytest.approx([0.010] * 5)
    assert found.printed.tolist() == [False, True, True, True, False]
    assert "rocks on 200 mm; 60 % of the places print, widest gap 10.0 µm" in str(found)


def test_a_hollow_carries_at_both_ends():
    x = np.arange(0.0, 401, 100)
    found = print_under(x, np.array([0.0, -0.008, -0.010, -0.008, 0.0]), 400, 0.003)
    assert found.x[list(found.contacts)].tolist() == [0, 400]
    assert found.share == pytest.approx(0.4)
    assert "0 and 400 mm" in found._repr_html_()


def test_tilt_and_order_do_not_matter():
    random = np.random.default_rng(8)
    x = np.sort(random.uniform(0, 1000, 30))
    z = random.normal(0, 0.01, 30)
    found = print_under(x, z, 500, 0.003, start=200)
    tilted = print_under(x, z + 3 + 0.002 * x, 500, 0.003, start=200)
    np.testing.assert_allclose(tilted.gap, found.gap, atol=1e-12)
    mixed = random.permutation(30)
    again = print_under(x[mixed], z[mixed], 500, 0.003, start=200)
    np.testing.assert_array_equal(again.gap, found.gap)
    np.testing.assert_array_equal(x[mixed][again.at], again.x)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: hidden_bow(0, 500, 0.003), "length: it must be above 0"),
        (lambda: hidden_bow(1500, 0, 0.003), "straightedge: it must be above 0"),
        (lambda: hidden_bow(1500, 500, 0), "film: it must be above 0"),
        (lambda: hidden_bow(1500, 500, 0.003).needed_for(0), "bow: it must be above 0"),
        (lambda: hidden_bow(1500, 500, 0.003).needed_for(0.002), "the film of 3.0 µm hides it"),
        (lambda: print_under([0, 1, 1, 2], [0] * 4, 1, 0.1), "x: a place comes twice, got 1 mm"),
        (lambda: print_under([0, 1], [0, 0], 1, 0.1), "x: at least 3 values"),
        (lambda: print_under([0, 1, 2], [0, 0], 1, 0.1), "lengths differ|z: at least 3"),
        (lambda: print_under([0, 1, 2], [0, 0, 0], 3, 0.1), "must lie on the way, from 0 to 2 mm"),
        (lambda: print_under([0, 1, 2], [0, 0, 0], 1, 0.1, start=1.5), "got 1.5 to 2.5 mm"),
        (lambda: print_under([0, 50, 100], [0, 0, 0], 60, 0.1), "at least 3 places from 20 to 80"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(InputError, match=words):
        call()

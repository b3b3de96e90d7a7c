"""Confidence intervals of peak-to-valley figures: what they say, and what they refuse."""

from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form.confidence import confidence_interval
from metrolib.form.coplanarity import coplanarity
from metrolib.form.flatness import flatness
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist

X = np.linspace(0, 1400, 15)
interval = partial(confidence_interval, progress=False, draws=1000)


def noise(n=15, seed=4, u=0.002):
    return np.random.default_rng(seed).normal(0, u, n)


def worn(depth):
    return straightness(X, noise() - depth * np.sin(np.pi * X / 1400), 0.002)


def test_a_clear_hollow_of_five_stations_leaves_the_linear_law():
    x = [0, 250, 500, 750, 1000]
    found = interval(straightness(x, [0, -0.15, -0.25, -0.16, 0], 0.001), draws=20_000)
    # one contrast of 1 u, 1/2 u and 1/2 u decides; tails are 0.8 of 2.5 %, and half of 5 %
    u = 0.001 * np.sqrt(1.5)
    low, high = found.interval
    assert low == pytest.approx(0.25 - 2.054 * u, abs=0.06 * u)
    assert high == pytest.approx(0.25 + 2.054 * u, abs=0.06 * u)
    assert found.at_most == pytest.approx(0.25 + 1.960 * u, abs=0.06 * u)
    assert found.estimate == pytest.approx(0.25, abs=0.06 * u)
    assert found.linear_holds and found.promised and not found.from_zero
    assert "holds as well" in str(found)


def test_near_zero_it_says_so():
    found = interval(straightness(X, noise(), 0.002))
    assert found.from_zero and not found.linear_holds and not found.too_quiet
    assert found.interval[0] == 0 < found.estimate < found.value
    assert found.value < found.interval[1]
    for words in ("straightness at most", "does not hold here", "may be perfect", "95 %"):
        assert words in str(found)


def test_a_worn_face_is_told_from_a_perfect_one():
    found = interval(worn(0.030))
    assert found.interval[0] < 0.030 < found.interval[1] and found.interval[0] > 0.02
    assert found.perfect == 0.0
    assert "perfect" not in str(found)


def test_too_quiet_heights_are_pointed_out():
    found = interval(straightness(X, np.zeros(15), 0.002))
    assert found.too_quiet and found.at_most > 0
    assert "the uncertainty of the heights looks too large" in str(found)


def test_between_zero_and_clear_it_promises_nothing_for_each_shape():
    found = interval(worn(0.020))
    assert not found.promised and not found.from_zero and not found.linear_holds
    assert "on average over shapes of the true face" in str(found)


def test_more_confidence_is_wider_and_one_side_is_nearer():
    one, two = interval(worn(0.010)), interval(worn(0.010), coverage=0.99, draws=4000)
    assert two.interval[0] < one.interval[0] < one.at_most < one.interval[1] < two.interval[1]
    assert "99 % confidence" in str(two)


@pytest.mark.parametrize("reference", ["minimum zone", "least squares", "end points"])
def test_a_line_in_the_heights_does_not_matter(reference):
    z, slope = noise(), 0.05 * X / 1000 + 26.15
    one = interval(straightness(X, z, 0.002, reference=reference))
    other = interval(straightness(X, z + slope, 0.002, reference=reference))
    np.testing.assert_allclose(other.interval, one.interval, rtol=1e-6, atol=1e-9)
    assert other.at_most == pytest.approx(one.at_most, rel=1e-6)


def test_twice_the_heights_and_uncertainty_is_twice_the_interval():
    one = interval(straightness(X, noise(), 0.002))
    two = interval(straightness(X, 2 * noise(), 0.004))
    np.testing.assert_allclose(two.interval, 2 * np.array(one.interval), rtol=1e-6)
    assert (two.at_most, two.estimate) == pytest.approx((2 * one.at_most, 2 * one.estimate))


def test_uncertainties_numbers_and_a_matrix_say_the_same():
    from uncertainties import correlated_values

    cov = 1e-6 * np.minimum.outer(np.arange(1.0, 16), np.arange(1.0, 16))
    z = np.cumsum(noise(u=0.001))
    one = interval(straightness(X, z, cov))
    other = interval(straightness(X, np.array(correlated_values(z, cov))))
    np.testing.assert_allclose(other.interval, one.interval, rtol=1e-3, atol=1e-6)


GRID_X, GRID_Y = (side.ravel() * 100.0 for side in np.mgrid[:5, :3])
OTHERS = {
    "flatness": lambda z: flatness(GRID_X, GRID_Y, z[:15], 0.002),
    "parallelism": lambda z: parallelism(X, z[:15], X[::2], z[15:23], 0.002),
    "coplanarity": lambda z: coplanarity(
        {"front": (X[::2], 0, z[:8]), "rear": (X, 150, 7 + z[8:23])}, 0.002, steps={"rear": 7}
    ),
}


@pytest.mark.parametrize("name", OTHERS)
def test_the_other_figures(name):
    found = interval(OTHERS[name](noise(23)))
    assert found.figure == name and str(found).startswith(f"{name} at most")
    assert found.from_zero  # all faces are perfect in truth
    bent = noise(23) + 0.2 * np.cos(np.arange(23.0))
    clear = interval(OTHERS[name](bent))
    assert clear.interval[0] < clear.value < clear.interval[1]
    assert clear.interval[1] - clear.interval[0] < 0.03


def test_seed_and_executor():
    result = worn(0.010)
    one = interval(result)
    with ThreadPoolExecutor(2) as executor:
        shared = interval(result, executor=executor)
    assert (shared.interval, shared.at_most) == (one.interval, one.at_most)
    assert interval(result, seed=2).interval != one.interval


def test_in_thou_and_as_a_table():
    found = interval(worn(0.010))
    assert "thou" in found.in_words("thou") and "µm" not in found.in_words("thou")
    table = found._repr_html_()
    assert "<caption>Straightness with 95 % confidence</caption>" in table
    for row in ("at most", "between", "best estimate", "as measured", "note"):
        assert f"<th>{row}</th>" in table


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (straightness([0, 1], [0.0, 1.0], 0.1), "so few stations have no deviation"),
        (straightness(X, noise()), "nothing is known of the uncertainty"),
        (straightness(X, noise(), 0.0), "or they are exact"),
        (twist(X, noise(), noise(), 200, 0.002), "twist, tilts and heights are linear"),
        (0.012, "no peak-to-valley figure, got float"),
    ],
)
def test_refuses_what_it_cannot_say_anything_about(result, words):
    with pytest.raises(InputError, match=words):
        interval(result)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"coverage": 1.0}, "coverage: it must be below 1"),
        ({"coverage": 0.0}, "coverage: it must be above 0"),
        ({"draws": 799}, "draws: it must be at least 800"),
        ({"seed": 0.5}, "seed: a whole number is needed"),
    ],
)
def test_refuses_arguments_out_of_their_limits(how, words):
    with pytest.raises(InputError, match=words):
        interval(worn(0.010), **how)

"""Test inversion: against the folded normal law that three stations follow, and its own rules."""

import multiprocessing
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import foldnorm

from metrolib.form.lines_batched import line_ranges
from metrolib.uncertain.inversion import Inversion, invert
from metrolib.uncertain.smooth import true_faces

X = np.array([0.0, 500, 1000])
U = 0.002
U_ZONE = U * np.sqrt(1.5)  # of z1 - (z0 + z2) / 2
DRAWS = 20_000


def three_stations(figure, draws=DRAWS, x=X, **how):
    """Invert a zone of three stations whose middle one stands out by `figure`."""
    faces = true_faces(x[:, None], np.array([0.0, figure, 0.0]), np.full(3, U**2))
    redo = partial(line_ranges, "minimum zone", x)
    return invert(redo, figure, faces, draws=draws, seed=1, progress=False, **how)


def folded(size, figure):
    """Return the probability that a true zone of `size` measures up to `figure`."""
    return foldnorm.cdf(figure / U_ZONE, size / U_ZONE)


def scatter(size, figure):
    """Return four standard uncertainties of an end, from the number of draws [mm]."""
    p = folded(size, figure)
    slope = (folded(size + 1e-6, figure) - p) / 1e-6
    return 4 * np.sqrt(p * (1 - p) / DRAWS) / abs(slope)


@pytest.mark.parametrize("figure", [0.004, 0.006, 0.050])
@pytest.mark.parametrize("tail", [0.02, 0.1])
def test_the_ends_are_those_of_the_folded_normal_law(figure, tail):
    low, high = three_stations(figure).ends(tail, tail)
    upper = brentq(lambda size: folded(size, figure) - tail, figure, figure + 6 * U)
    assert high == pytest.approx(upper, abs=scatter(upper, figure))
    if 1 - folded(0, figure) >= tail:
        assert low == 0
    else:
        lower = brentq(lambda size: 1 - folded(size, figure) - tail, 0, figure)
        assert low == pytest.approx(lower, abs=scatter(lower, figure))


def test_the_middle_is_the_figure_itself_far_from_zero():
    assert three_stations(0.050).middle() == pytest.approx(0.050, abs=scatter(0.050, 0.050))


def test_near_zero_the_middle_takes_off_what_noise_adds():
    figure = 1.2 * U_ZONE
    expected = brentq(lambda size: folded(size, figure) - 0.5, 0, figure)
    assert three_stations(figure).middle() == pytest.approx(expected, abs=scatter(expected, figure))
    assert three_stations(0.6 * U_ZONE).middle() == 0.0  # half of all perfect faces give more


def test_how_often_a_perfect_face_measures_as_much():
    found = three_stations(0.003).exceeded_by_perfect
    expected = 1 - folded(0, 0.003)
    assert found == pytest.approx(expected, abs=4 * np.sqrt(expected / 2048))


def test_a_quiet_survey_makes_no_face_truer_than_true():
    quiet = U_ZONE * foldnorm.ppf(0.08, 0)
    least = three_stations(quiet).ends(0.04, 0.04)[1]
    for figure in (0.0, 1e-9, 0.5 * quiet):
        # the quantile of the noise comes from 2048 draws: 0.6 % beside 8 %
        high = three_stations(figure, quiet=0.08).ends(0.04, 0.04)[1]
        assert high == pytest.approx(least, rel=0.35)
        assert high > 0
    plenty = three_stations(0.004, quiet=0.08)
    assert plenty.ends(0.04, 0.04) == three_stations(0.004).ends(0.04, 0.04)


def test_heights_twice_as_large_give_ends_twice_as_large():
    x = np.linspace(0, 1400, 8)
    z = np.random.default_rng(3).normal(0, 0.005, 8)
    found = []
    for size in (1, 2):
        faces = true_faces(x[:, None], size * z, np.full(8, (size * U) ** 2))
        redo = partial(line_ranges, "minimum zone", x)
        observed = redo(size * z[None])[0]
        found.append(invert(redo, observed, faces, draws=500, seed=1, progress=False))
    np.testing.assert_allclose(found[1].sizes, 2 * found[0].sizes)
    np.testing.assert_allclose(found[1].ends(0.02, 0.02), 2 * np.array(found[0].ends(0.02, 0.02)))


def _processes():
    # started afresh: a fork of a process with threads may lock up
    return ProcessPoolExecutor(2, multiprocessing.get_context("spawn"))


@pytest.mark.parametrize("pool", [lambda: ThreadPoolExecutor(2), _processes])
def test_it_does_not_matter_who_draws(pool):
    alone = three_stations(0.006, draws=2500)
    with pool() as executor:
        shared = three_stations(0.006, draws=2500, executor=executor)
    np.testing.assert_array_equal(shared.below, alone.below)


def test_a_single_size_can_be_asked_for():
    found = three_stations(0.006, sizes=np.array([0.008]))
    expected = folded(0.008, 0.006)
    assert found.below.shape == (2, 1)
    for below in found.below[:, 0]:
        assert below == pytest.approx(expected, abs=4 * np.sqrt(expected / DRAWS))


def rising(below, share=(1.0,)):
    return Inversion(np.arange(4.0), np.array(below), np.array(share), 1000, 0.5)


def test_gaps_are_bridged_and_edges_kept():
    gap = rising([[0.99, 0.5, 0.99, 0.001]])
    assert 0 < gap.ends(0.02, 0.02)[0] < 1
    assert 2 < gap.ends(0.02, 0.02)[1] < 3
    assert rising([[0.9, 0.6, 0.4, 0.3]]).ends(0.02, 0.02) == (0.0, 3.0)


def test_between_two_sizes_the_normal_quantile_is_a_straight_line():
    # from -1 to +1 standard deviations between sizes 1 and 2: the middle lies half way
    found = rising([[0.999, 0.8413447, 0.1586553, 0.001]])
    assert found.middle() == pytest.approx(1.5)


def test_classes_are_mixed_by_their_share():
    below = [[0.9, 0.8, 0.2, 0.0], [0.9, 0.8, 0.8, 0.0]]
    first, second = rising(below[:1]), rising(below[1:])
    assert rising(below, share=(1.0, 0.0)).ends(0.3, 0.3) == first.ends(0.3, 0.3)
    mixed = rising(below, share=(0.5, 0.5)).ends(0.3, 0.3)[1]
    assert first.ends(0.3, 0.3)[1] < mixed < second.ends(0.3, 0.3)[1]

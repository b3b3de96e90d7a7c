"""Joint draws: their law, their tiles and their seeds.

A mean of N draws scatters by u / sqrt(N), a variance by sqrt(2 / N) of itself and a correlation r
by (1 - r²) / sqrt(N): four times that is allowed.
"""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.uncertain import draws as module
from metrolib.uncertain.draws import draw_tiles, joint_draws, whole

N = 40_000


def drawn(values, cov, draws=N, seed=1):
    return np.concatenate(list(draw_tiles(np.array(values), np.array(cov), draws, seed=seed)))


def test_independent_heights():
    z = drawn([5.0, -1.0, 0.0], [4.0, 0.25, 0.0])
    u = np.array([2.0, 0.5, 0.0])
    assert (np.abs(z.mean(axis=0) - [5, -1, 0]) <= 4 * u / np.sqrt(N)).all()
    np.testing.assert_allclose(z.std(axis=0), u, rtol=4 / np.sqrt(2 * N))
    assert abs(np.corrcoef(z[:, 0], z[:, 1])[0, 1]) < 4 / np.sqrt(N)


def test_joint_heights():
    cov = np.array([[4.0, 1.0], [1.0, 1.0]])
    z = drawn([1.0, 2.0], cov)
    np.testing.assert_allclose(z.std(axis=0), [2.0, 1.0], rtol=4 / np.sqrt(2 * N))
    assert np.corrcoef(z.T)[0, 1] == pytest.approx(0.5, abs=4 * 0.75 / np.sqrt(N))


def test_a_singular_covariance_keeps_what_is_sure():
    # three heights with one common error; and a fourth one that is known
    cov = np.zeros((4, 4))
    cov[:3, :3] = 1.0
    z = drawn([0.0, 1.0, 2.0, 3.0], cov, draws=3000)
    np.testing.assert_allclose(np.diff(z[:, :3]), 1.0, atol=1e-7)
    assert (z[:, 3] == 3.0).all()
    assert z[:, 0].std() == pytest.approx(1.0, rel=4 / np.sqrt(6000))


def test_small_uncertainties_survive_beside_a_large_common_one():
    # heights known to 1 um against each other while all may lie 10 mm higher
    cov = np.full((3, 3), 100.0) + 1e-6 * np.eye(3)
    z = drawn([0.0, 0.0, 0.0], cov)
    bow = z @ [1.0, -2.0, 1.0]
    assert bow.std() == pytest.approx(np.sqrt(6) * 1e-3, rel=4 / np.sqrt(2 * N))


def test_the_same_seed_draws_the_same_and_another_does_not():
    one, two = drawn([0.0], [1.0], 5000), drawn([0.0], [1.0], 5000)
    np.testing.assert_array_equal(one, two)
    assert not np.isin(drawn([0.0], [1.0], 5000, seed=2), one).any()


def test_tiles_are_streams_of_their_own():
    source = joint_draws(np.zeros(2), np.ones(2), seed=7)
    assert source.tile_size == 2048
    tiles = list(source.tiles(0, 5000))
    assert [len(tile) for tile in tiles] == [2048, 2048, 904]
    np.testing.assert_array_equal(source.tile(1, 2048), tiles[1])  # in any order
    np.testing.assert_array_equal(source.tile(2, 2048)[:904], tiles[2])
    assert not np.isin(tiles[0], tiles[1]).any()
    # the children that the seed itself would give, in their order
    children = np.random.SeedSequence(7).spawn(2)
    again = np.random.default_rng(children[1]).standard_normal((2048, 2))
    np.testing.assert_array_equal(tiles[1], again)


def test_many_heights_make_smaller_tiles(monkeypatch):
    monkeypatch.setattr(module, "_NUMBERS", 300)
    assert [len(tile) for tile in draw_tiles(np.zeros(100), np.ones(100), 8, seed=1)] == [3, 3, 2]
    assert joint_draws(np.zeros(1000), np.ones(1000), seed=1).tile_size == 1


def test_no_seed_takes_a_new_one_that_is_told():
    source = joint_draws(np.zeros(1), np.ones(1), seed=None)
    other = joint_draws(np.zeros(1), np.ones(1), seed=None)
    assert source.seed != other.seed
    again = joint_draws(np.zeros(1), np.ones(1), seed=source.seed)
    np.testing.assert_array_equal(again.tile(0, 5), source.tile(0, 5))


def test_whole_numbers():
    assert [whole("n", value, at_least=0) for value in (0, 3.0, 1e5, np.int64(7))] == [
        0,
        3,
        100_000,
        7,
    ]
    assert whole("seed", 2**100 + 1, at_least=0) == 2**100 + 1
    with pytest.raises(InputError, match="n: a whole number is needed, got 2.5; round it"):
        whole("n", 2.5, at_least=0)
    with pytest.raises(InputError, match="n: it must be at least 1, got 0"):
        whole("n", 0, at_least=1)
    with pytest.raises(InputError, match="n: a number is needed, got 'many'"):
        whole("n", "many", at_least=1)


def test_refusals():
    with pytest.raises(InputError, match="seed: it must be at least 0, got -1"):
        joint_draws(np.zeros(1), np.ones(1), seed=-1)
    with pytest.raises(InputError, match="draws: it must be at least 1, got 0"):
        next(draw_tiles(np.zeros(1), np.ones(1), 0, seed=1))

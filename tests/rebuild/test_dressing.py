"""Dressing by the print alone: what every careful worker is left with."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form.print_under import print_under
from metrolib.rebuild.support.dressing import dress_by_print

X = np.arange(0, 1501, 25.0)
HOLLOW = 0.06 * (2 * X / 1500 - 1) ** 2
FILM, REACH = 0.003, 500.0


@pytest.fixture(scope="module")
def dressed():
    return {
        begin: dress_by_print(X, HOLLOW, REACH, FILM, begin=begin)
        for begin in ("middle", "near end", "far end")
    }


def test_every_placing_prints_all_over_and_metal_only_came_off(dressed):
    for found in dressed.values():
        assert not found.not_full
        for start in found.starts:
            assert print_under(X, found.after, REACH, FILM, start=start).printed.all()
        assert found.removed.min() >= 0


def test_the_ends_stay_high_by_nearly_the_hidden_bow(dressed):
    for found in dressed.values():
        assert 0.7 * found.hidden.value < found.value <= found.hidden.value
        assert found.left.value <= found.hidden.value * 1.01


def test_from_an_end_costs_more_and_tilts_the_way(dressed):
    middle, near, far = dressed.values()
    assert near.mean_removed > 2 * middle.mean_removed
    assert middle.tilted == pytest.approx(0, abs=1e-9)
    assert near.tilted < -0.08 and far.tilted > 0.08  # 3/2 of the hollow's own slope at its end
    np.testing.assert_allclose(near.removed, far.removed[::-1], atol=1e-12)


def test_a_true_way_is_left_alone():
    found = dress_by_print(X, 1e-5 * X, REACH, FILM)
    assert found.removed.max() == 0
    assert found.prints == len(found.starts)


def test_a_hidden_bow_is_left_alone_a_larger_one_is_not():
    arc = 0.027 * (2 * X / 1500 - 1) ** 2
    assert dress_by_print(X, 0.99 * arc, REACH, FILM).removed.max() == 0
    assert dress_by_print(X, 1.1 * arc, REACH, FILM).removed.max() > 0


def test_a_longer_straightedge_leaves_less():
    left = [dress_by_print(X, HOLLOW, reach, FILM).value for reach in (400, 500, 750, 1500)]
    assert left == sorted(left, reverse=True)
    assert left[-1] <= FILM


def test_low_ends_are_told():
    crowned = -HOLLOW
    found = dress_by_print(X, crowned, REACH, FILM)
    assert found.not_full and found.value < 0
    assert "ends are left" in str(found) and "low against the middle" in str(found)
    assert "it does not print all over: the way is low there" in str(found)


def test_the_two_ends_do_not_touch_each_other():
    lopsided = HOLLOW + 0.03 * np.clip((X - 1000) / 500, 0, 1) ** 2
    plain, more = (dress_by_print(X, z, REACH, FILM).after for z in (HOLLOW, lopsided))
    np.testing.assert_array_equal(plain[X <= 1000], more[X <= 1000])


def test_scaling():
    one = dress_by_print(X, HOLLOW, REACH, FILM)
    two = dress_by_print(X, 2 * HOLLOW, REACH, 2 * FILM)
    np.testing.assert_allclose(two.after, 2 * one.after, atol=1e-12)
    assert two.prints == one.prints
    moved = dress_by_print(2 * X, HOLLOW, 2 * REACH, FILM)
    np.testing.assert_allclose(moved.after, one.after, atol=1e-12)


def test_words_and_table():
    found = dress_by_print(X, HOLLOW, REACH, FILM)
    assert str(found).startswith("dressed from the middle by 80 prints")
    assert "thou" in found.in_words("thou")
    assert "hidden bow" in found._repr_html_()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"begin": "left"}, "begin: this is not one of the choices"),
        ({"lap": 1}, "lap: it must be below 1"),
        ({"lap": -0.1}, "lap: it must be at least 0"),
        ({"cut": 0}, "cut: it must be above 0"),
        ({"cut": 0.004}, "cut: it must be at most the film, 0.003"),
        ({"straightedge": 1600}, "it must be at most as long as the way, 1500 mm"),
    ],
)
def test_refusals(options, words):
    arguments = {"straightedge": REACH, "film": FILM, **options}
    with pytest.raises(InputError, match=words):
        dress_by_print(X, HOLLOW, **arguments)

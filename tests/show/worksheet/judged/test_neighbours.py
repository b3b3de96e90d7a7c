"""A reading against those beside it: wear is no slip."""

import numpy as np
import pytest

from metrolib.show.worksheet.judged.neighbours import against_neighbours

X = np.arange(0.0, 900, 100)


def judged(value, place, x=X, u=0.1):
    return against_neighbours(x[: len(value)], np.array(value), place, u, 3.5, step=16.0)


def test_by_hand_between_two():
    # the line from 2 to 4 passes 3 in the middle; 9 is 6 above; u² = 0.1² (1 + 1/4 + 1/4)
    found = judged([0.0, 1.0, 2.0, 9.0, 4.0, 5.0, 6.0], 3)
    assert (found.expected, found.off, found.between) == (3.0, 6.0, True)
    assert found.u == pytest.approx(0.1 * np.sqrt(1.5))
    assert found.doubtful


def test_unequal_places_are_weighed():
    # at 100 of 0 .. 400 the line from 0 to 4 passes 1
    x = np.array([0.0, 100, 400, 500, 600, 700, 800])
    found = against_neighbours(x, np.array([0, 1.5, 4, 5, 6, 7, 8.0]), 1, 0.1, 3.5, 16.0)
    assert found.expected == pytest.approx(1.0)
    assert found.u == pytest.approx(0.1 * np.sqrt(1 + 0.75**2 + 0.25**2))


def test_a_worn_hollow_is_no_slip():
    """Slopes of a bed worn by 0.1 mm: the steep flanks speak for each other, read to the end."""
    x = np.linspace(0, 1400, 29)
    depth = -0.1 * np.exp(-(((x - 400) / 150) ** 2))
    slope = 1e3 * np.diff(depth) / np.diff(x) / 0.05
    for end in range(2, slope.size + 1):
        for place in (end - 1, end - 2):
            found = against_neighbours(x[:end], slope[:end], place, 0.25, 3.9, step=16.0)
            assert found is None or not found.doubtful


def test_where_a_hollow_begins_the_kink_is_no_slip():
    assert not judged([0.0, 0.1, 0.0, 0.1, 0.0, -9.0], 5).doubtful
    assert not judged([0.0, 0.1, 0.0, 0.1, 0.0, -9.0], 4).doubtful


def test_a_step_beyond_all_wear_is_doubted_at_the_end():
    assert judged([0.0, 0.1, 0.0, 0.1, 0.0, -19.0], 5).doubtful
    assert judged([0.1, 0.0, 30.0], 2).doubtful


def test_too_few_tell_nothing():
    assert judged([0.0, 50.0], 1) is None
    assert judged([0.0, 9.0, 0.0], 1) is None


def test_scale_and_direction_do_not_matter():
    value = np.array([0.3, 0.1, 0.2, 4.0, 0.4, 0.1, 0.2])
    one = judged(value, 3)
    mirrored = against_neighbours(X[:7], value[::-1], 3, 0.1, 3.5, 16.0)
    larger = against_neighbours(2 * X[:7], 10 * value, 3, 1.0, 3.5, 160.0)
    assert mirrored.off == pytest.approx(one.off)
    assert (larger.off, larger.allowed) == pytest.approx((10 * one.off, 10 * one.allowed))

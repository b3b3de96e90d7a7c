import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import InputError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.removal.savings import savings
from tests.rebuild.beds import HELD, lathe_bed, one_flat

FACES = ["front", "rear"]


def _one_low_spot(**conditions):
    """Return a plan that one low spot decides: the guard is that of one height."""
    heights = lathe_bed([0, -0.05, 0], [0, 0, 0], u=0.003)
    return plan_removal(heights, faces=FACES, **HELD, **conditions)


def test_one_low_spot_by_formula():
    # guard 1.645 u; with a second reading u / sqrt 2
    k = norm.ppf(0.95)
    found = savings(_one_low_spot(), u=0.003, rate=2.0)
    assert found.depth == pytest.approx(0.003 * k, rel=0.02)
    assert found.volume == pytest.approx(found.depth * 2 * 1400 * 40, rel=1e-9)
    assert found.hours == pytest.approx(found.volume / 1000 / 2)
    (best,) = found.readings
    assert (best.face, best.x, best.station) == ("front", 700, 1)
    assert best.depth == pytest.approx(0.003 * k * (1 - np.sqrt(0.5)), rel=0.05)
    assert best.volume == pytest.approx(best.depth * 2 * 1400 * 40, rel=1e-9)


def test_a_perfect_reading_of_the_one_low_spot_saves_the_whole_guard():
    found = savings(_one_low_spot(), u=0.0)
    assert found.readings[0].depth == pytest.approx(found.depth, rel=0.01)


def test_the_least_sure_of_two_low_spots_is_read_first():
    heights = lathe_bed([-0.05, 0, 0, 0], [0, 0, 0, -0.05], u=0.002)
    cov = heights.cov.copy()
    cov[7, 7] *= 9
    heights = type(heights)(**{**vars(heights), "cov": cov})
    found = savings(plan_removal(heights, faces=FACES, **HELD), u=0.002)
    assert (found.readings[0].face, found.readings[0].x) == ("rear", 1400)
    saved = [reading.volume for reading in found.readings]
    assert saved == sorted(saved, reverse=True)


def test_the_plan_with_that_reading_costs_what_was_said():
    heights = lathe_bed([-0.05, 0, -0.045, 0], [0, 0, 0, -0.05], u=0.003)
    plan = plan_removal(heights, faces=FACES, **HELD)
    best = savings(plan, u=0.001).readings[0]
    cov = heights.cov.copy()
    place = np.flatnonzero((heights.face == best.face) & (heights.x == best.x))[0]
    cov[place, place] = 1 / (1 / 0.003**2 + 1 / 0.001**2)
    better = type(heights)(**{**vars(heights), "cov": cov})
    after = plan_removal(better, faces=FACES, **HELD)
    assert plan.volume - after.volume == pytest.approx(best.volume, rel=0.02)


def test_nothing_to_save_without_a_guard():
    found = savings(plan_removal(one_flat([0, -0.02, 0]), faces=["flat"]))
    assert found.readings == () and found.hours is None
    assert "costs nothing" in str(found)


def test_words_and_table():
    found = savings(_one_low_spot(), u=0.003, rate=2.0)
    assert "Perfect measuring would save 4.9 µm on the mean, 0.5" in str(found)
    assert "saves most at 700 mm on 'front' (1.4 µm on the mean" in str(found)
    assert found.in_words("thou").startswith("Perfect measuring would save 0.19 thou")
    table = found.to_dataframe()
    assert list(table.columns) == [
        "face",
        "x [mm]",
        "y [mm]",
        "saves [µm]",
        "saves [cm³]",
        "saves [h]",
    ]
    assert "<td>front</td>" in found._repr_html_()


@pytest.mark.parametrize(
    ("argument", "value", "words"),
    [
        ("rate", 0, "rate: it must be above 0"),
        ("u", -1, "u: it must be at least 0"),
        ("most", 0, "most: it must be at least 1"),
    ],
)
def test_refusals(argument, value, words):
    with pytest.raises(InputError, match=words):
        savings(_one_low_spot(), **{argument: value})

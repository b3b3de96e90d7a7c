import numpy as np
import pytest

from metrolib.rebuild.removal.areas import station_areas
from metrolib.survey.machine import Face, LeftOut


def test_strips_of_a_narrow_face_by_hand():
    # ends 0 and 1000, stations 100, 300, 900: middles 200 and 600
    # lengths 200, 400, 400; width 10
    face = Face("flat", y=0, width=10, x_from=0, x_to=1000)
    assert station_areas(face, np.array([100.0, 300, 900]), np.zeros(3)).tolist() == [
        2000,
        4000,
        4000,
    ]


def test_order_of_stations_does_not_matter():
    face = Face("flat", y=0, width=10, x_from=0, x_to=1000)
    assert station_areas(face, np.array([900.0, 100, 300]), np.zeros(3)).tolist() == [
        4000,
        2000,
        4000,
    ]


def test_overlapping_stretches_left_out_are_taken_off_once():
    # 250 to 350 and 300 to 400 together take 250 to 400: 150 mm off the middle strip 200 to 600
    out = (LeftOut(300, 400, "hole"), LeftOut(250, 350, "dent"))
    face = Face("flat", y=0, width=10, x_from=0, x_to=1000, left_out=out)
    assert station_areas(face, np.array([100.0, 300, 900]), np.zeros(3)).tolist() == [
        2000,
        2500,
        4000,
    ]


def test_two_stations_at_one_place_share_its_area():
    face = Face("flat", y=0, width=10, x_from=0, x_to=100)
    assert station_areas(face, np.array([50.0, 50.0]), np.zeros(2)).tolist() == [500, 500]


def test_cells_of_a_grid_by_hand():
    # 3 x 2 stations on 400 x 100: the middle column holds 200 x 50 each, the outer ones 100 x 50
    face = Face("table", y=200, width=100, x_from=0, x_to=400)
    x, y = np.tile([0.0, 200, 400], 2), np.repeat([160.0, 240], 3)
    expected = [5000, 10000, 5000] * 2
    np.testing.assert_allclose(station_areas(face, x, y), expected, rtol=1e-12)


def test_width_of_a_flank_runs_along_its_slope():
    # a 45 deg flank 20 wide covers 20 cos 45 across; two lines of stations halve it
    face = Face("flank", y=0, width=20, x_from=0, x_to=100, normal=45)
    area = station_areas(face, np.array([50.0, 50.0]), np.array([-3.0, 3.0]))
    np.testing.assert_allclose(area, [1000, 1000], rtol=1e-12)


@pytest.mark.parametrize("hole", [(), (LeftOut(333, 444, "slot"),)])
def test_scattered_cells_fill_the_face_and_agree_with_counting(hole):
    face = Face("table", y=0, width=300, x_from=0, x_to=1000, left_out=hole)
    rng = np.random.default_rng(5)
    x, y = rng.uniform(0, 1000, 40), rng.uniform(-150, 150, 40)
    counted = ~face.is_left_out(x)
    area = station_areas(face, x[counted], y[counted])
    whole = 300 * (1000 - sum(h.x_to - h.x_from for h in hole))
    assert area.sum() == pytest.approx(whole, rel=1e-12)
    # independent: throw points on the face, count those nearest to each station
    throw = rng.uniform([0, -150], [1000, 150], (40_000, 2))
    throw = throw[~face.is_left_out(throw[:, 0])]
    distance = (throw[:, :1] - x[counted]) ** 2 + (throw[:, 1:] - y[counted]) ** 2
    share = np.bincount(distance.argmin(axis=1), minlength=counted.sum()) / len(throw)
    spread = np.sqrt(share * (1 - share) / len(throw))
    assert (np.abs(share - area / whole) <= 5 * spread + 1e-4).all()

"""Stations: merging, order, and places between them."""

import numpy as np

from metrolib.heights.stations import lay_out


def places(*rows):
    face, x, y, station = zip(*rows, strict=True)
    return (
        np.array(face),
        np.array(x, dtype=float),
        np.array(y, dtype=float),
        np.array(station, dtype=bool),
    )


def test_places_within_a_hundredth_are_one_station():
    stations, low, high, share = lay_out(
        *places((0, 100.0, 0, 1), (0, 100.009, 0, 1), (0, 100.03, 0, 1), (0, 50, 0, 1))
    )
    assert stations.x.tolist() == [50.0, 100.0, 100.03]
    assert low.tolist() == high.tolist() == [1, 1, 2, 0]


def test_rounding_never_parts_one_place():
    x = 3.175 * np.arange(1, 200)  # eighths of an inch
    again = np.cumsum(np.full(199, 3.175))
    both = np.concatenate([x, again])
    zero = np.zeros(both.size)
    stations, low, _, _ = lay_out(zero.astype(int), both, zero, zero == 0)
    assert stations.x.size == 199
    assert (low[:199] == low[199:]).all()


def test_order_is_by_face_then_x_then_y():
    stations, low, _, _ = lay_out(
        *places((1, 5, 0, 1), (0, 9, 0, 1), (0, 3, 20, 1), (0, 3, -20, 1), (0, 1, 20, 1))
    )
    assert stations.face.tolist() == [0, 0, 0, 0, 1]
    assert stations.x.tolist() == [1, 3, 3, 9, 5]
    assert stations.y.tolist() == [20, -20, 20, 0, 0]
    assert low.tolist() == [4, 3, 2, 1, 0]


def test_a_place_between_takes_the_straight_line_of_its_own_face_and_y():
    stations, low, high, share = lay_out(
        *places(
            (0, 0, 0, 1), (0, 40, 0, 1), (0, 10, 7, 1), (0, 100, 0, 1), (0, 30, 0, 0), (1, 30, 0, 1)
        )
    )
    names = [(stations.face[i], stations.x[i], stations.y[i]) for i in (low[4], high[4])]
    assert names == [(0, 0, 0), (0, 40, 0)]
    assert share.tolist() == [0, 0, 0, 0, 0.75, 0]
    assert (low == high).tolist() == [True, True, True, True, False, True]


def test_places_between_are_shared_out_on_every_line_up_to_its_last_stretch():
    _, low, high, share = lay_out(
        *places(
            *((0, at, 0, 1) for at in (0, 40, 100)),
            (0, 55, 0, 0),
            (0, 10, 0, 0),
            *((1, at, 0, 1) for at in (2, 2.5)),
            (1, 2.2, 0, 0),
        )
    )
    assert list(zip(low.tolist(), high.tolist(), strict=True)) == [
        *((i, i) for i in range(3)),
        (1, 2),
        (0, 1),
        *((i, i) for i in (3, 4)),
        (3, 4),
    ]
    # 15 of 60, 10 of 40, 0.2 of 0.5
    np.testing.assert_allclose(share, [0, 0, 0, 0.25, 0.25, 0, 0, 0.4], rtol=1e-12)


def test_a_place_just_inside_the_end_is_still_between():
    stations, low, high, share = lay_out(
        *places((0, 0, 0, 1), (0, 40, 0, 1), (0, 0.004, 0, 0), (0, 39.996, 0, 0))
    )
    assert (low[2:].tolist(), high[2:].tolist()) == ([0, 0], [1, 1])
    np.testing.assert_allclose(share[2:], [1e-4, 1 - 1e-4], rtol=1e-9)


def test_no_places_make_no_stations():
    stations, low, high, share = lay_out(np.zeros(0, int), *np.zeros((2, 0)), np.zeros(0, bool))
    assert stations.x.size == low.size == high.size == share.size == 0


def test_at_the_ends_and_at_stations():
    at_station = lay_out(*places((0, 0, 0, 1), (0, 40, 0, 1), (0, 40.004, 0, 0), (0, 0, 0, 0)))
    stations, low, high, share = at_station
    assert stations.x.tolist() == [0, 40]
    value = np.array([5.0, 9.0])
    found = (1 - share) * value[low] + share * value[high]
    np.testing.assert_allclose(found, [5, 9, 9, 5], atol=1e-3)


def test_beyond_the_stations_and_where_there_are_none_a_place_becomes_one():
    stations, low, high, share = lay_out(
        *places((0, 0, 0, 1), (0, 40, 0, 1), (0, 60, 0, 0), (1, 5, 0, 0), (1, 8, 0, 0))
    )
    assert stations.x.tolist() == [0, 40, 60, 5, 8]
    assert (low == high).all()
    assert not share.any()


def test_a_single_station_carries_places_that_fall_on_it():
    stations, low, high, share = lay_out(*places((0, 7, 0, 1), (0, 7.005, 0, 0)))
    assert stations.x.tolist() == [7]
    assert low.tolist() == high.tolist() == [0, 0]
    assert np.isfinite(share).all()

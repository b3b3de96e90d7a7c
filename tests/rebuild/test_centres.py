"""Centres: height and side by hand, signs, limits, the turned spindle, refusals."""

import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.lowering.centres import centre_offset
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.survey.carried import Carried, Drive
from tests.rebuild.carriers import FLATS

HEAD = Carried("headstock", tuple(FLATS), feet=(-100, 100), travel=(150, 150))
TAIL = Carried("tailstock", tuple(FLATS), feet=(-100, 100), travel=(500, 900))
LINE = Drive(spindle=(100, 150), spindle_nose=250)


def moved(head, tail, at=700, own=None):
    return (
        lowering(HEAD, FLATS, head),
        lowering(TAIL, FLATS, tail, at=at, own=own),
    )


def test_both_on_the_same_lowered_ways_stay_in_line():
    down = {"front": 0.1, "rear": 0.1}
    found = centre_offset(*moved(down, down), LINE)
    assert found.height == pytest.approx(0, abs=1e-12)
    assert "at the headstock's height; not aside; inside 0.0 µm to 40.0 µm high" in str(found)


def test_a_headstock_seat_that_was_not_cut():
    found = centre_offset(*moved({}, {"front": 0.1, "rear": 0.1}), LINE)
    assert found.height == pytest.approx(-0.1)
    assert found.raise_by == pytest.approx(0.12)
    assert "tailstock centre low by 100.0 µm" in str(found)
    assert "outside 0.0 µm to 40.0 µm high: raise it by 120.0 µm" in str(found)


def test_signs_of_height_and_side():
    # headstock lowered: the tailstock is high; the guide of the tailstock lets it go towards +y
    found = centre_offset(*moved({"front": 0.03, "rear": 0.03}, {"guide": 0.02}), LINE)
    assert found.height == pytest.approx(0.03)
    assert found.side == pytest.approx(0.02)
    assert "high by 30.0 µm; towards +y by 20.0 µm; inside" in str(found)
    # 0.02 off the tailstock's front flat: rolls +0.1 mm/m, the centre leans 150 x that towards -y
    found = centre_offset(*moved({}, {"front": 0.02}), LINE)
    assert found.side == pytest.approx(-0.015)
    assert found.height == pytest.approx(-0.01)


def test_the_spindle_turns_with_its_headstock():
    # 0.02 off the far feet, 200 mm apart: it nods by 0.1 mm/m; the nose is 100 beyond the middle
    nod = ([50, 250], [0.0, 0.02])
    found = centre_offset(*moved({"front": nod, "rear": nod}, {}), LINE)
    assert found.spindle_up == pytest.approx(-0.1)
    assert found.spindle_side == pytest.approx(0, abs=1e-12)
    assert found.height == pytest.approx(0.02)  # the nose stands over the far feet
    furthest_foot = Drive(spindle=(100, 150))
    assert centre_offset(*moved({"front": nod, "rear": nod}, {}), furthest_foot).height == (
        pytest.approx(0.02)
    )


def test_what_was_there_before_and_a_shim():
    shim = {"front": -0.05, "rear": -0.05}
    found = centre_offset(*moved({}, {}, own=shim), LINE, before=(ufloat(-0.03, 0.002), 0.01))
    assert found.height[0].n == pytest.approx(0.02)
    assert found.height[0].s == pytest.approx(0.002)
    assert found.side == pytest.approx(0.01)


def test_along_the_travel_and_tables():
    ramp = ([400, 1000], [0.0, 0.06])
    found = centre_offset(*moved({}, {"front": ramp, "rear": ramp}, at=[500, 900]), LINE)
    assert found.height == pytest.approx([-0.01, -0.05])
    assert "low by 10.0 to 50.0 µm (most at 900 mm)" in str(found)
    assert found.to_dataframe()["height [µm]"].tolist() == pytest.approx([-10, -50])
    assert "<th>towards +y</th>" in found._repr_html_()
    assert "thou" in found.in_words("thou")


def test_refusals():
    pair = moved({}, {})
    with pytest.raises(InputError, match="drive: it has no spindle line"):
        centre_offset(*pair, Drive())
    with pytest.raises(InputError, match="headstock: it stands at one place, got 9"):
        centre_offset(lowering(TAIL, FLATS, {}), pair[1], LINE)
    with pytest.raises(InputError, match="limits: they are not ascending"):
        centre_offset(*pair, LINE, limits=(0.04, 0.0))
    with pytest.raises(InputError, match="limits: one row of numbers is needed"):
        centre_offset(*pair, LINE, limits=0.04)
    with pytest.raises(InputError, match="before: two numbers are needed, got 0.01; give"):
        centre_offset(*pair, LINE, before=0.01)
    with pytest.raises(InputError, match="tailstock: a Lowering is needed, got None"):
        centre_offset(pair[0], None, LINE)

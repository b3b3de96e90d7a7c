"""Turned diameter: worked numbers from geometry, taper, axis, signs, refusals."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.rebuild.lowering.turned import turned_diameter
from metrolib.survey.carried import Carried, Drive
from tests.rebuild.carriers import FLATS, saddle

LINE = Drive(spindle=(100, 150), spindle_nose=200)


def lowered(at=500, **removed):
    return lowering(saddle(FLATS), FLATS, removed, at=at)


def circle_through(into, above, radius):
    """Return the radius turned by a tool tip, as the distance from the axis."""
    return np.hypot(radius - into, above)


def test_height_alone_hardly_matters():
    # worked from geometry: 0.1 mm at r = 10 mm is 0.5 µm of radius
    found = turned_diameter(lowered(front=0.1, rear=0.1), LINE, 10)
    assert found.error[0] / 2 == pytest.approx(0.0005, rel=1e-4)
    assert found.error[0] == pytest.approx(2 * (circle_through(0, 0.1, 10) - 10), rel=1e-9)


def test_roll_counts_by_height():
    # worked from geometry: 10 µm over 200 mm, 150 mm high: 7.5 µm of radius, 15 µm of diameter
    found = turned_diameter(lowered(front=0.01), LINE, 20)
    assert found.error[0] == pytest.approx(0.015, rel=1e-3)
    found = turned_diameter(lowered(rear=0.01), LINE, 20)
    assert found.error[0] == pytest.approx(-0.015, rel=1e-3)


def test_a_sidestep_counts_in_full_and_the_tool_s_side_turns_the_sign():
    lower = lowered(guide=0.02)  # towards +y, into the work from the front
    front, rear = turned_diameter(lower, LINE, 20), turned_diameter(lower, LINE, 20, tool="rear")
    assert front.error[0] == pytest.approx(-0.04)
    assert rear.error[0] == pytest.approx(0.04)
    assert front.into_work[0] == pytest.approx(0.02) == -rear.into_work[0]


def test_exact_radius():
    found = turned_diameter(lowered(front=0.3, guide=0.1), LINE, 5)
    into, above = found.into_work[0], found.above[0]
    assert found.error[0] == pytest.approx(2 * (circle_through(into, above, 5) - 5))


def test_taper_along_the_travel():
    ramp = ([100, 900], [0.0, 0.02])
    found = turned_diameter(lowered(at=[200, 500, 800], guide=ramp), LINE, 20)
    np.testing.assert_allclose(found.error, [-0.005, -0.02, -0.035], atol=1e-9)
    assert found.taper == pytest.approx(-0.03)
    assert found.value == pytest.approx(0.03)
    assert "varies by 30.0 µm from 200 to 800 mm, 30.0 µm larger at the headstock end" in str(found)


def test_what_is_alike_along_the_travel_leaves_no_taper():
    found = turned_diameter(lowered(at=[200, 800], front=0.02), LINE, 20)
    assert found.value == pytest.approx(0, abs=1e-12)
    assert found.error[0] == pytest.approx(0.03, rel=1e-3)


def _bodies(head, tail):
    shape = {"rides_on": tuple(FLATS), "feet": (-100, 100)}
    head_at, tail_at = (
        Carried("headstock", travel=(100, 100), **shape),
        Carried("tailstock", travel=(800, 800), **shape),
    )
    return {
        "headstock": lowering(head_at, FLATS, head),
        "tailstock": lowering(tail_at, FLATS, tail),
    }


def test_a_tailstock_aside_makes_a_taper_of_twice_its_offset():
    # common practice, no published source: set over by s, the diameter's taper is 2 s
    centres = _bodies({}, {"guide": 0.02})
    found = turned_diameter(lowered(at=[200, 500, 800]), LINE, 20, **centres)
    np.testing.assert_allclose(found.error, [0.0, 0.02, 0.04], atol=1e-9)
    assert found.taper == pytest.approx(0.04)


def test_all_lowered_together_changes_nothing():
    down = {"front": 0.1, "rear": 0.1, "guide": 0.03}
    found = turned_diameter(lowered(at=[200, 800], **down), LINE, 20, **_bodies(down, down))
    np.testing.assert_allclose(found.error, 0, atol=1e-12)


def test_work_in_a_chuck_follows_the_spindle_s_direction():
    yaw = {"guide": ([0, 200], [0.0, 0.02])}  # far end towards +y by 0.1 mm/m, nose 0.02
    headstock = _bodies(yaw, {})["headstock"]
    found = turned_diameter(lowered(at=[200, 500]), LINE, 20, headstock=headstock)
    # the axis moves away from a tool at the front: 0.02 at the nose, 0.03 mm more 300 mm further
    np.testing.assert_allclose(found.error, [0.04, 0.10], rtol=1e-9)


def test_uncertainty():
    found = turned_diameter(lowered(guide=ufloat(0.02, 0.001)), LINE, 20)
    assert found.error[0].s == pytest.approx(0.002)


def test_words_and_tables():
    found = turned_diameter(lowered(guide=0.0254), LINE, 20)
    assert found.in_words("thou") == "diameter off by -2.00 thou"
    assert found.to_dataframe("thou")["diameter [thou]"].tolist() == pytest.approx([-2.0])
    assert "<th>error</th><td>diameter off by" in found._repr_html_()


def test_refusals():
    lower = lowered(guide=0.02)
    with pytest.raises(InputError, match="drive: it has no spindle line"):
        turned_diameter(lower, Drive(), 20)
    with pytest.raises(InputError, match="radius: it must be above 0"):
        turned_diameter(lower, LINE, 0)
    with pytest.raises(InputError, match="radius: the tool moved beyond the axis"):
        turned_diameter(lower, LINE, 0.01)
    with pytest.raises(InputError, match="tool: this is not one of the choices"):
        turned_diameter(lower, LINE, 20, tool="top")
    with pytest.raises(InputError, match="saddle: a Lowering is needed, got 'saddle'"):
        turned_diameter("saddle", LINE, 20)
    with pytest.raises(InputError, match="headstock: a Lowering is needed"):
        turned_diameter(lower, LINE, 20, headstock="headstock")
    with pytest.raises(InputError, match="spindle: two numbers are needed, got 3"):
        turned_diameter(lower, Drive(spindle=(100, 150, 0)), 20)
    centres = _bodies({}, {})
    with pytest.raises(InputError, match="between centres has a headstock too; give both"):
        turned_diameter(lower, LINE, 20, tailstock=centres["tailstock"])
    centres["tailstock"] = lowered(at=[300, 700])
    with pytest.raises(InputError, match="tailstock: it stands at one place, got 2"):
        turned_diameter(lower, LINE, 20, **centres)
    centres["tailstock"] = lowered(at=150)
    with pytest.raises(InputError, match="it stands before the spindle nose at 200 mm, got 150"):
        turned_diameter(lower, LINE, 20, **centres)


def test_no_taper_is_said_so():
    found = turned_diameter(lowered(guide=0.02, at=[200, 800]), LINE, 20)
    assert str(found).endswith("from 200 to 800 mm, no taper")

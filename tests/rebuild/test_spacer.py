"""The spacer-stopped cut: exact lines, a rigid body that rests on what it meets, and refusals."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.section import Bridge, CrossSection, FaceAcross, cross_section
from metrolib.rebuild.stages.spacer import bridged, spacer_cut
from metrolib.survey.machine import LeftOut
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat


def _section(front=0.12, rear=0.12, middle=None, tilt=0.0):
    """Faces at y 0, 100 and 200, 20 mm wide, so much above a target at 10 mm."""
    heights = {"front": (0, front), "middle": (100, middle), "rear": (200, rear)}
    faces = {
        name: FaceAcross(name, y, 20, 10 + tilt * y / 1e3 + over, 10 + tilt * y / 1e3)
        for name, (y, over) in heights.items()
        if over is not None
    }
    return CrossSection(300, faces, tilt)


def resting_line(points, weight_at):
    """Return height and slope of a straight rigid bar that lies on points under its own weight.

    It comes to rest where its centre of gravity is lowest: the least p + q y_g with p + q y >= z at
    every point, a linear programme.
    """
    y, z = np.array(points, dtype=float).T
    found = linprog(
        [1.0, weight_at],
        A_ub=-np.column_stack([np.ones_like(y), y]),
        b_ub=-z,
        bounds=[(None, None), (None, None)],
    )
    return found.x


def test_by_hand():
    # spacer at -50, rest at 200 on a pad of 30 um: E = 150; the allowance 50 in the middle;
    # tilt 100 um in 200 mm, so 10 um over 20 mm; the spacer's top is 25 um lower than the middle
    cut = spacer_cut(_section(), "front", Bridge("rear", -50, 9.0), allowance=0.05, pad=0.03)
    assert cut.tilt == pytest.approx(0.5)
    assert cut.across == pytest.approx(0.010)
    assert cut.edges == pytest.approx((0.045, 0.055))
    assert cut.value == pytest.approx(1.025)
    assert cut.fault == ""


def test_in_fractions():
    """The line through two points, in exact arithmetic."""
    spacer_y, seat, size = Fraction(-37), Fraction(95, 10), Fraction(57, 100)
    rest_y, top = Fraction(200), Fraction(10) + Fraction(9, 100) + Fraction(2, 100)
    slope = (top - seat - size) / (rest_y - spacer_y)
    middle = seat + size - slope * spacer_y - 10
    bridge = Bridge("rear", -37, 9.5)
    cut = spacer_cut(_section(rear=0.09), "front", bridge, height=0.57, pad=0.02)
    assert cut.allowance == pytest.approx(float(middle), abs=1e-12)
    assert cut.tilt == pytest.approx(float(1000 * slope), abs=1e-12)
    assert cut.edges[1] == pytest.approx(float(middle + 10 * slope), abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(
    front=st.floats(0.06, 0.3),
    rear=st.floats(0.0, 0.3),
    pad=st.floats(0.0, 0.1),
    spacer_y=st.floats(-80, -15),
    allowance=st.floats(0.03, 0.06),
    tilt=st.floats(-0.2, 0.2),
)
def test_a_rigid_bar_comes_to_rest_as_the_cut_says(front, rear, pad, spacer_y, allowance, tilt):
    section = _section(front, rear, tilt=tilt)
    cut = spacer_cut(section, "front", Bridge("rear", spacer_y, 5.0), allowance=allowance, pad=pad)
    spacer = (spacer_y, 5.0 + cut.value)
    rest = (200, section.faces["rear"].height + pad)
    p, q = resting_line([spacer, rest], weight_at=90)
    assert p - 10 == pytest.approx(allowance, abs=1e-7)
    assert 1e3 * q - tilt == pytest.approx(cut.tilt, abs=1e-6)
    for y, edge in zip((-10, 10), cut.edges, strict=True):
        assert p + q * y - 10 - tilt * y / 1e3 == pytest.approx(edge, abs=1e-7)


@settings(max_examples=60, deadline=None)
@given(middle=st.floats(0.0, 0.3), rear=st.floats(0.05, 0.3), spacer_y=st.floats(-60, -15))
def test_a_face_in_the_way_is_found_as_a_rigid_bar_finds_it(middle, rear, spacer_y):
    section = _section(0.3, rear, middle)
    bridge = Bridge("rear", spacer_y, 9.0)
    height = 1.04
    cut = bridged(section, "front", bridge, height, 0.02)
    spacer, rest = (spacer_y, 9.0 + height), (200, 10.0 + rear + 0.02)
    edges = [(90, 10.0 + middle), (110, 10.0 + middle)]
    p, q = resting_line([spacer, rest, *edges], weight_at=120)
    gaps = [p + q * y - z for y, z in edges]
    assume(min(abs(gap) for gap in gaps) > 1e-6 or min(gaps) < 1e-9)
    # the bar rests on the middle face, or on spacer and pad alone
    lifted = p + q * spacer_y - spacer[1] > 1e-9 or p + q * 200 - rest[1] > 1e-9
    assert (cut.lies_on == "middle") == lifted


def test_the_spacer_may_stand_anywhere_the_tilt_is_the_same():
    cuts = [
        spacer_cut(_section(), "front", Bridge("rear", y, 8.0), allowance=0.05)
        for y in (-10, -40, -80)
    ]
    assert [cut.tilt for cut in cuts] == pytest.approx([0.35] * 3)
    assert len({round(cut.value, 6) for cut in cuts}) == 3


def test_from_either_side():
    # mirrored: y -> -y; the same spacer and the edges the other way round
    one = spacer_cut(_section(), "front", Bridge("rear", -50, 9.0), allowance=0.05, pad=0.03)
    faces = {
        name: FaceAcross(name, -face.y, face.width, face.height, face.target)
        for name, face in _section().faces.items()
    }
    section = CrossSection(300, faces)
    other = spacer_cut(section, "front", Bridge("rear", 50, 9.0), allowance=0.05, pad=0.03)
    assert other.value == pytest.approx(one.value)
    assert other.tilt == pytest.approx(-one.tilt)
    assert other.edges == pytest.approx(one.edges[::-1])


def test_a_target_that_leans_is_what_the_tilt_is_told_against():
    level = spacer_cut(_section(), "front", Bridge("rear", -50, 9.0), allowance=0.05)
    leaning = _section(tilt=0.2)
    seat = 9.0 - 0.2 * 50 / 1e3  # the seat leans with the machine
    cut = spacer_cut(leaning, "front", Bridge("rear", -50, seat), allowance=0.05)
    assert (cut.value, cut.tilt) == pytest.approx((level.value, level.tilt))


def test_a_pad_that_gives_is_an_uncertainty():
    section = _section()
    pad = ufloat(0.03, 0.01)
    cut = spacer_cut(section, "front", Bridge("rear", -50, 9.0), allowance=0.05, pad=pad)
    # the face lies a fifth of the way from spacer to pad: a fifth of 10 um in its middle,
    # 10 um over 250 mm in its tilt; the same pad moves both
    assert cut.allowance.std_dev == pytest.approx(0.002)
    assert cut.tilt.std_dev == pytest.approx(0.04)
    assert (cut.allowance - 50 * cut.tilt / 1e3).std_dev == pytest.approx(0, abs=1e-12)
    assert isinstance(cut.value, float)
    softer = spacer_cut(section, "front", Bridge("rear", -50, 9.0), height=cut.value, pad=0.02)
    assert softer.allowance - 0.05 == pytest.approx(-0.002)


def test_a_spacer_is_ground_down_by_the_steps_of_the_stages():
    """Common practice, no published source: once the rest is cut along, step for step the same."""
    sizes = []
    for allowance in (0.05, 0.025, 0.0125):
        section = _section(front=0.3, rear=0.3).cut("rear", allowance)
        bridge = Bridge("rear", -50, 9.0)
        sizes.append(spacer_cut(section, "front", bridge, allowance=allowance, pad=0.03).value)
    assert np.diff(sizes) == pytest.approx([-0.025, -0.0125])


def test_a_spacer_is_ground_to_the_larger_step():
    arguments = (_section(), "front", Bridge("rear", -50, 9.0))
    exact = spacer_cut(*arguments, allowance=0.0512)
    rounded = spacer_cut(*arguments, allowance=0.0512, division=0.01)
    assert rounded.value == pytest.approx(np.ceil(exact.value * 100) / 100)
    assert 0.0512 <= rounded.allowance < 0.0612
    kept = spacer_cut(*arguments, allowance=rounded.allowance, division=0.01)
    assert kept.value == pytest.approx(rounded.value)


@settings(max_examples=40, deadline=None)
@given(rear=st.floats(0.05, 0.4), pad=st.floats(0, 0.1), seat=st.sampled_from([9.0, 9.97, 10.02]))
def test_the_limit_that_is_told_holds(rear, pad, seat):
    section, bridge = _section(0.5, rear), Bridge("rear", -50, seat)
    with pytest.raises(InputError) as error:
        spacer_cut(section, "front", bridge, allowance=-0.2, pad=pad)
    limit = float(str(error.value).split("leave more than ")[1].split(" µm")[0]) / 1000
    assert spacer_cut(section, "front", bridge, allowance=limit + 0.0001, pad=pad).lowest >= 0
    with pytest.raises(InputError):
        spacer_cut(section, "front", bridge, allowance=limit - 0.0001, pad=pad)


def test_refusals_name_the_limit():
    arguments = (_section(rear=0.22), "front", Bridge("rear", -50, 9.0))
    # h at the edge: a (1 + 10 / 200) - 220 * 10 / 200 > 0, so a > 11 / 1.05 um
    with pytest.raises(InputError, match="lower edge of 'front' would end 5.8 µm below .* 10.5 µm"):
        spacer_cut(*arguments, allowance=0.005)
    with pytest.raises(InputError, match="height: .* by a spacer above 0.958 mm"):
        spacer_cut(*arguments, height=0.95)
    low = (_section(), "front", Bridge("rear", -50, 10.2))
    with pytest.raises(InputError, match="no room for a spacer under this cut of 'front'"):
        spacer_cut(*low, allowance=0.05)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "allowance and height: exactly one is needed"),
        ({"allowance": 0.05, "height": 1.0}, "allowance and height: exactly one is needed"),
        ({"allowance": 0.05, "division": 0}, "division: it must be above 0"),
        ({"allowance": np.nan}, "allowance: a finite number is needed"),
        ({"height": "thick"}, "height: a number is needed, got 'thick'"),
        ({"allowance": 0.05, "pad": "tissue"}, "pad: a number is needed, got 'tissue'"),
        ({"allowance": 0.05, "pad": -0.04}, "pad: it must be at least 0, got -0.04"),
        ({"face": "side", "allowance": 0.05}, "face: this is not one of the choices, got 'side'"),
        ({"bridge": Bridge("side", -50, 9), "allowance": 0.05}, "rest: this is not one of the"),
        ({"bridge": Bridge("rear", 50, 9), "allowance": 0.05}, "'front' lies from y -10 to 10 mm"),
    ],
)
def test_refusals(change, words):
    arguments = {"face": "front", "bridge": Bridge("rear", -50, 9.0), **change}
    with pytest.raises(InputError, match=words):
        spacer_cut(_section(), **arguments)


def test_a_face_in_the_way_is_refused():
    with pytest.raises(InputError, match="would lie on 'middle', which is still .* cut 'middle' f"):
        spacer_cut(_section(middle=0.12), "front", Bridge("rear", -50, 9.0), allowance=0.05)


def test_a_tool_that_does_not_come_down_to_the_face_is_refused():
    arguments = (_section(), "front", Bridge("rear", -50, 9.0))
    with pytest.raises(InputError, match="allowance: .* 'front', which stands 120.0 µm .* 130.0"):
        spacer_cut(*arguments, allowance=0.130)
    with pytest.raises(InputError, match="height: .* grind the spacer down"):
        spacer_cut(*arguments, height=1.13)
    # 1 um lower than the face in the middle, and leaning: one edge is cut, the other is not
    part = spacer_cut(_section(rear=0.32), *arguments[1:], allowance=0.119)
    assert part.misses == (10.0,)
    assert part.in_words().endswith("; at its edge y 10 mm it lies lower already, and stays so")


def test_words():
    pad = ufloat(0.03, 0.01)
    cut = spacer_cut(_section(), "front", Bridge("rear", -50, 9.0), allowance=0.05, pad=pad)
    assert "'front' keeps 50.0 µm, U = 4.0 µm (k = 2) in its middle, 45.0 µm and 55.0" in str(cut)
    assert cut.in_words("thou").startswith("spacer 0.0404 in at y -50, pad on 'rear': 'front' keep")
    assert "<caption>Spacer-stopped cut of front</caption>" in cut._repr_html_()


def test_section_of_a_plan():
    heights = lathe_bed([0, -0.05, 0.1], [0, 0, 0], u=0.002)
    plan = plan_removal(heights, faces=["front", "rear"], confidence=None, clean_up=0.03, **HELD)
    section = cross_section(plan, 350)
    front, rear = section.faces["front"], section.faces["rear"]
    # midway between two stations of 80 and 30 um; rear 80 um
    assert front.height.nominal_value - front.target == pytest.approx(0.055)
    assert rear.height.nominal_value - rear.target == pytest.approx(0.080)
    # two stations of 2 um halved, beside an exact datum
    assert front.height.std_dev == pytest.approx(0.002 / np.sqrt(2))
    assert (front.y, rear.y, rear.width, section.tilt) == (0, 300, 40, 0.0)
    lower = section.cut("front", 0.01)
    assert lower.faces["front"].height == pytest.approx(front.target + 0.01)
    assert section.faces["front"] is front


def test_section_leans_with_its_target():
    plan = plan_removal(
        lathe_bed([0, 0, 0], [0.3, 0.3, 0.3]),
        faces=["front", "rear"],
        confidence=None,
        datum=["front ledge", "rear ledge"],
        tilt_along=0.0,
    )
    section = cross_section(plan, 700)
    assert section.tilt == pytest.approx(1.0)
    front, rear = section.faces["front"], section.faces["rear"]
    assert rear.target - front.target == pytest.approx(0.3)


def test_section_refusals():
    heights = one_flat([0, -0.05, 0], left_out=(LeftOut(490, 500, "dent"),))
    plan = plan_removal(heights, faces=["flat"])
    with pytest.raises(InputError, match="x: 'flat' was measured from 0 to 250 mm, got 300"):
        cross_section(plan, 300)
    from metrolib.heights.result import given_heights

    flank = given_heights([flat("flank", normal=45)], {"flank": ([0, 500], [0.0, 0.0])})
    with pytest.raises(InputError, match="faces that look up, 'flank' does not, got normal 45"):
        cross_section(plan_removal(flank, faces=["flank"]), 100)

"""Levels: every way of standing one down gives back a shape that is known beforehand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.constants import arcsecond

from metrolib.errors import InputError
from metrolib.heights.adjust import adjust
from metrolib.survey.instruments import Instrument
from tests.heights.build import (
    LEVEL,
    Leg,
    assert_exact,
    assert_within_uncertainty,
    flat,
    noisy,
    survey,
    together,
    worn,
)

SHAPE = worn(0.08, 350, 250, bow=0.02)
PITCH = 200.0
REAR = np.arange(0.0, 1400.0, PITCH)


def rise(shape, x, spacing=PITCH):
    """Slope of the line from a foot at x to one at x + spacing, in mm/m."""
    return (shape(x + spacing) - shape(x)) / (spacing / 1000)


def along(value, name="along", x=REAR, **keys):
    settings = {"foot_spacing": PITCH, "face": "flat", **keys.pop("settings", {})}
    return Leg(name, "level along", keys.pop("instrument", LEVEL), x, value, settings, **keys)


def test_one_pass_gives_the_form_whatever_the_zero():
    heights = adjust(survey([flat()], [along(rise(SHAPE, REAR) + 0.37)]))
    assert_exact(heights, {"flat": SHAPE})
    assert heights.x.tolist() == [0, 200, 400, 600, 800, 1000, 1200, 1400]


def test_noise_stays_within_its_stated_uncertainty():
    legs = [
        along(noisy(rise(SHAPE, REAR) + 0.05, LEVEL, 1)),
        along(noisy(rise(SHAPE, REAR) - 0.05, LEVEL, 2), "back", settings={"turned": True}),
    ]
    heights = adjust(survey([flat()], legs))
    assert_within_uncertainty(heights, {"flat": SHAPE})
    assert heights.checks.agrees


def test_by_hand():
    # z = 0, 2, 3, 3 um over feet 100 mm apart: slopes 0.02, 0.01, 0.00 mm/m
    leg = along([0.02, 0.01, 0.0], x=[0.0, 100, 200], settings={"foot_spacing": 100})
    z = adjust(survey([flat()], [leg])).on("flat").z
    middle = z[1] - (2 * z[0] + z[3]) / 3
    assert middle.n == pytest.approx(0.001, abs=1e-12)  # 2 - 3/3 um
    # the heights above the end line are sums of the steps: (2 s1 - s2 - s3) / 3 times 0.1 m
    assert middle.s == pytest.approx(0.1 * 0.004 * np.sqrt(4 + 1 + 1) / 3, rel=1e-6)


def test_turning_end_for_end_separates_the_zero_from_the_slope():
    slope = rise(lambda x: SHAPE(x) + 0.3 * x / 1e3, REAR)
    legs = [along(slope + 0.11), along(slope - 0.11, "turned", settings={"turned": True})]
    heights = adjust(survey([flat()], legs))
    assert_exact(heights, {"flat": lambda x: SHAPE(x) + 0.3 * x / 1e3}, lambda f, x, y: [x * 0 + 1])
    assert heights.extras["zero of level"].n == pytest.approx(0.11, abs=1e-9)
    assert heights.extras["zero of level"].s < 0.002


def test_sign_minus_one_turns_the_slope_but_not_the_zero():
    legs = [
        along(0.1 - rise(SHAPE, REAR), keys={"sign": -1}),
        along(0.1 + rise(SHAPE, REAR), "plus"),
    ]
    heights = adjust(survey([flat()], legs))
    assert_exact(heights, {"flat": SHAPE}, lambda f, x, y: [x * 0 + 1])
    assert heights.extras["zero of level"].n == pytest.approx(0.1, abs=1e-9)


@pytest.mark.parametrize(
    ("instrument", "one"),
    [
        (Instrument("arc-seconds", "arcsec", 0.0, 0.5), arcsecond * 1e3),
        (Instrument("vial", "division", 0.0, 0.1, sensitivity=0.02, sensitivity_unit="mm/m"), 0.02),
        (
            Instrument("inches", "division", 0.0, 0.1, sensitivity=0.5, sensitivity_unit="thou/ft"),
            0.5 / 12,
        ),
        (Instrument("micrometres", "um/m", 0.0, 2.0), 1e-3),
    ],
)
def test_units_of_the_reading(instrument, one):
    heights = adjust(survey([flat()], [along(rise(SHAPE, REAR) / one, instrument=instrument)]))
    assert_exact(heights, {"flat": SHAPE})


def test_an_underside_is_read_with_its_own_sign():
    down = flat("flat", normal=180.0)
    # outward is down: where the height along the normal grows, the metal comes lower
    heights = adjust(survey([down], [along(-rise(SHAPE, REAR))]))
    assert_exact(heights, {"flat": SHAPE})


def test_one_missing_station_leaves_the_rest_tied_by_a_longer_step():
    legs = [along(rise(SHAPE, REAR[[0, 1, 2, 5, 6]]), x=REAR[[0, 1, 2, 5, 6]])]
    bridge = along(
        rise(SHAPE, np.array([600.0]), 400.0), "bridge", [600.0], settings={"foot_spacing": 400.0}
    )
    heights = adjust(survey([flat()], [*legs, bridge]))
    assert 800.0 not in heights.x
    assert_exact(heights, {"flat": SHAPE})
    assert not heights.not_determined


def test_a_level_in_a_vee_reads_the_vertical_movement_of_the_seat():
    left, right = worn(0.06, 400, 200), worn(0.03, 500, 300)
    faces = [flat("left", y=-20, normal=-45.0), flat("right", y=20, normal=45.0), flat()]

    def seat(x):  # v = (z1 + z2) / (2 cos phi) for equal half angles
        return (left(x) + right(x)) / (2 * np.cos(np.pi / 4))

    legs = [
        along(rise(seat, REAR), settings={"face": ["left", "right"]}),
        along(rise(SHAPE, REAR), "on flat"),
    ]
    heights = adjust(survey(faces, legs))
    z = dict(zip(heights.face, [None] * heights.x.size, strict=True))
    z = {name: heights.on(name) for name in z}
    vertical = (z["left"].values + z["right"].values) / np.sqrt(2)
    basis = [np.ones(8), z["flat"].x]
    found = np.linalg.lstsq(np.column_stack(basis), vertical - seat(z["left"].x), rcond=None)
    assert np.abs(vertical - seat(z["left"].x) - np.column_stack(basis) @ found[0]).max() < 1e-9
    # what the level cannot see is said, and what it does see is not
    said = [item.what for item in heights.not_determined]
    assert any("shape of 'left'" in what for what in said)
    assert any("shape of 'right'" in what for what in said)
    assert not any("twist" in what for what in said)


def test_a_vee_of_unequal_flanks():
    shallow, steep = np.deg2rad(-20.0), np.deg2rad(70.0)
    shapes = {"shallow": worn(0.05, 300, 200), "steep": worn(0.02, 800, 300)}
    faces = [flat("shallow", y=-20, normal=-20.0), flat("steep", y=20, normal=70.0)]

    def seat(x):  # the two contact lines n . (h, v) = z, crossed by hand (Cramer's rule)
        a, b = shapes["shallow"](x), shapes["steep"](x)
        return (np.sin(shallow) * b - np.sin(steep) * a) / (
            np.sin(shallow) * np.cos(steep) - np.sin(steep) * np.cos(shallow)
        )

    leg = along(rise(seat, REAR), settings={"face": ["shallow", "steep"]})
    heights = adjust(survey(faces, [leg]))
    a, b = heights.on("shallow").values, heights.on("steep").values
    det = np.sin(shallow) * np.cos(steep) - np.sin(steep) * np.cos(shallow)
    x = heights.on("steep").x
    gap = (np.sin(shallow) * b - np.sin(steep) * a) / det - seat(x)
    assert np.abs(gap - np.interp(x, x[[0, -1]], gap[[0, -1]])).max() < 1e-9


FRONT, REAR_WAY = worn(0.09, 300, 200), worn(0.02, 700, 300)
PLACES = np.arange(0.0, 1401.0, 200.0)


def roll(low, high, width, x=PLACES):
    return (high(x) - low(x)) / (width / 1000)


def bed(extra, seed=None, zero=0.07):
    faces = [flat("front", y=0.0, nominal=20.0), flat("rear", y=250.0, nominal=22.0)]

    def read(value, number):
        return value if seed is None else noisy(value, LEVEL, seed + number)

    legs = [
        along(read(rise(FRONT, REAR), 0), "front", settings={"face": "front"}),
        along(read(rise(REAR_WAY, REAR), 1), "rear", settings={"face": "rear"}),
    ]
    for number, (x, turned) in enumerate(extra):
        level = roll(
            lambda p: FRONT(p) + 20, lambda p: REAR_WAY(p) + 22, 250.0, np.asarray(x, float)
        )
        legs.append(
            Leg(
                f"across {number}",
                "level across",
                LEVEL,
                x,
                read(level - zero if turned else level + zero, 2 + number),
                {"face": "front", "other_face": "rear", "turned": turned},
            )
        )
    return survey(faces, legs)


TRUTH = {"front": lambda x: FRONT(x) + 20, "rear": lambda x: REAR_WAY(x) + 22}


def test_levels_across_tie_two_faces_in_height_and_twist():
    # the common slope of both faces is not seen, as the level of the long steps was never turned
    heights = adjust(bed([(PLACES, False), (PLACES, True)]))
    assert_exact(heights, TRUTH, lambda f, x, y: [x * 0 + 1, x / 1e3])
    assert not heights.not_determined
    heights = adjust(bed([(PLACES, False), (PLACES, True)], seed=5))
    assert_within_uncertainty(heights, TRUTH, lambda f, x, y: [x * 0 + 1, x / 1e3])


def test_levels_across_never_turned_give_the_twist_but_not_the_height():
    heights = adjust(bed([(PLACES, False)]))
    assert_exact(heights, TRUTH, together({}))
    (open_item,) = heights.not_determined
    assert open_item.what == "height of 'rear' against 'front'"
    assert (
        open_item.remedy
        == "take a level reading across 'front' and 'rear' at one place, both ways round"
    )


def test_the_order_in_which_faces_are_named_across_does_not_matter():
    usual = bed([(PLACES, False)])
    swapped = bed([(PLACES, False)])
    settings = swapped.traverses["across 0"].settings
    settings["face"], settings["other_face"] = settings["other_face"], settings["face"]
    first, second = adjust(usual), adjust(swapped)
    np.testing.assert_allclose(first.values, second.values, atol=1e-12)


def test_a_vee_and_a_flat_bridged():
    left, right = worn(0.06, 400, 200), worn(0.03, 500, 300)
    faces = [flat("left", -20, normal=-45.0), flat("right", 20, normal=45.0), flat("rear", y=300)]

    def seat(x):
        return (left(x) + right(x)) / np.sqrt(2)

    leg = Leg(
        "across",
        "level across",
        LEVEL,
        PLACES,
        (REAR_WAY(PLACES) - seat(PLACES)) / 0.3,
        {"face": ["left", "right"], "other_face": "rear"},
    )
    steps = along(rise(REAR_WAY, REAR), settings={"face": "rear"})
    heights = adjust(survey(faces, [leg, steps]))
    z = {name: heights.on(name).values for name in ("left", "right", "rear")}
    gap = z["rear"] - (z["left"] + z["right"]) / np.sqrt(2) - (REAR_WAY(PLACES) - seat(PLACES))
    assert np.ptp(gap) < 1e-9


def test_a_stated_distance_is_used():
    slope = (REAR_WAY(PLACES) - FRONT(PLACES)) / 0.5  # feet 500 mm apart, faces 250
    settings = {"face": "front", "other_face": "rear", "distance": 500.0}
    legs = [
        along(rise(FRONT, REAR), settings={"face": "front"}),
        Leg("across", "level across", LEVEL, PLACES, slope, settings),
    ]
    heights = adjust(survey([flat("front"), flat("rear", y=250.0)], legs))
    assert_exact(heights, {"front": FRONT, "rear": REAR_WAY}, together({}))


def surface(x, y):
    return 0.01 * np.sin(x / 150) * np.cos(y / 200) + 2e-7 * x * y


def lines_on_a_table(diagonal_steps):
    table = replace(flat("table"), width=400.0)
    legs = []
    corners = {"a": ((0, 0), (400, 0)), "b": ((0, 300), (400, 300)), "c": ((0, 0), (0, 300))}
    corners |= {"d": ((400, 300), (400, 0)), "e": ((0, 0), (400, 300)), "f": ((0, 300), (400, 0))}
    for zero, (name, (start, end)) in enumerate(corners.items()):
        start, end = np.array(start, float), np.array(end, float)
        length = np.hypot(*(end - start))
        pitch = length / (diagonal_steps if length == 500 else 4 if length == 400 else 3)
        at = np.arange(round(length / pitch)) * pitch
        points = [start + (at[:, None] + step) * (end - start) / length for step in (0, pitch)]
        slope = (surface(*points[1].T) - surface(*points[0].T)) / (pitch / 1000)
        settings = {"face": "table", "foot_spacing": pitch, "line": {"from": start, "to": end}}
        legs.append(
            along(slope + 0.01 * zero, name, at, settings=settings, keys={"setup": f"s{name}"})
        )
    return adjust(survey([table], legs))


def test_lines_on_a_wide_face_run_from_their_start():
    heights = lines_on_a_table(diagonal_steps=4)
    assert len(heights.x) == 4 + 2 * 3 + 2 * 2 + 2 * 3 - 1  # the diagonals share the middle
    assert not heights.not_determined
    true = surface(heights.x, heights.y)
    plane = np.column_stack([np.ones(true.size), heights.x, heights.y])
    error = heights.values - true
    error -= plane @ np.linalg.lstsq(plane, error, rcond=None)[0]
    assert np.abs(error).max() < 1e-9
    order = np.lexsort((heights.y, heights.x))
    assert (order == np.arange(order.size)).all()


def test_diagonals_without_a_common_station_leave_the_twist_of_a_wide_face_open():
    (open_item,) = lines_on_a_table(diagonal_steps=5).not_determined
    assert open_item.what.startswith("flatness of 'table' (")
    assert open_item.remedy.startswith("run further lines of level readings over 'table'")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"foot_spacing": 0.0}, "foot_spacing: it must be above 0"),
        ({"foot_spacing": None}, "foot_spacing is missing"),
        ({"face": "flatt"}, "unknown face 'flatt'"),
        ({"face": ["flat", "flat"]}, "two flanks that lean differently"),
        ({"face": None}, "a reading names no face"),
        ({"line": {"from": [0, 0], "to": [0, 0]}}, "line ends where it begins"),
    ],
)
def test_refusals(change, words):
    with pytest.raises(InputError, match=words):
        adjust(survey([flat()], [along(rise(SHAPE, REAR), settings=change)]))


def test_refusals_across():
    def across(**settings):
        leg = Leg("a", "level across", LEVEL, [0.0], [0.0], {"face": "front", **settings})
        return survey([flat("front"), flat("above"), flat("flank", 50, normal=45.0)], [leg])

    with pytest.raises(InputError, match="other_face is missing"):
        adjust(across())
    with pytest.raises(InputError, match="one place across"):
        adjust(across(other_face="above"))
    with pytest.raises(InputError, match="inclined face 'flank' alone"):
        adjust(across(other_face="flank"))

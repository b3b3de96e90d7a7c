"""Carriage, micrometer, gauge and comparison, read off a machine that stands in space."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.adjust import adjust
from metrolib.survey.instruments import Instrument
from tests.heights.build import (
    INDICATOR,
    LEVEL,
    Leg,
    assert_exact,
    assert_within_uncertainty,
    errors,
    flat,
    noisy,
    survey,
    together,
    worn,
)

X = np.arange(0.0, 1201.0, 100.0)
INNER = X[1:-1]
A, B, C = worn(0.07, 400, 200), worn(0.03, 600, 300, bow=0.01), worn(0.05, 300, 250)
PLATE = Instrument("height gauge", "mm", 0.0, 0.001)


def compared(shapes, seed=None, name="plate", **keys):
    """Heights along each normal against a plate that lies askew in space."""
    normals = keys.pop("normals", {})
    ys = keys.pop("ys", {})
    xs, faces, values = [], [], []
    for face, shape in shapes.items():
        angle = np.deg2rad(normals.get(face, 0.0))
        lift = 0.4 + 0.2 * X / 1000 - 0.1 * ys.get(face, 0.0) / 1000  # of the plate
        aside = 0.3 - 0.15 * X / 1000
        xs.append(X)
        faces += [face] * X.size
        values.append(shape(X) + np.cos(angle) * lift + np.sin(angle) * aside)
    value = np.concatenate(values)
    value = value if seed is None else noisy(value, PLATE, seed)
    return Leg(
        name, "comparison", PLATE, np.concatenate(xs), value, face=np.array(faces, object), **keys
    )


# -- comparison ----------------------------------------------------------------------------------


def test_comparison_gives_all_but_the_lie_of_the_machine():
    normals, ys = {"flank": 40.0}, {"flank": 80.0, "rear": 200.0}
    faces = [flat("a", nominal=3.0), flat("rear", 200.0), flat("flank", 80.0, normal=40.0)]
    shapes = {"a": lambda x: A(x) + 3.0, "rear": B, "flank": C}
    heights = adjust(survey(faces, [compared(shapes, normals=normals, ys=ys)]))
    assert_exact(heights, shapes, together(normals))
    # the roll of the plate hides how high the rear flat stands against the front one
    assert [item.what for item in heights.not_determined] == ["height of 'rear' against 'a'"]
    heights = adjust(survey(faces, [compared(shapes, seed=6, normals=normals, ys=ys)]))
    assert_within_uncertainty(heights, shapes, together(normals))


def test_two_plates_share_nothing_unless_they_are_one_set_up():
    faces = [flat("a"), flat("b")]
    legs = [compared({"a": A}, name="p"), compared({"b": B}, name="q")]
    apart = adjust(survey(faces, legs))
    (open_item,) = apart.not_determined
    assert open_item.what == "height of 'b' against 'a', and the parallelism between them,"
    for leg in legs:
        leg.keys["setup"] = "one plate"
    one = adjust(survey(faces, legs))
    assert not one.not_determined
    assert_exact(one, {"a": A, "b": B}, together({}))


# -- carriage ------------------------------------------------------------------------------------


def carried(riding, feet, x=INNER):
    """Height of the carriage above the stylus place, on the line through its two feet."""
    rear, front = riding(x + feet[0]), riding(x + feet[1])
    return rear + (front - rear) * (0 - feet[0]) / (feet[1] - feet[0])


@pytest.mark.parametrize("feet", [(-100.0, 100.0), (-100.0, 0.0), (0.0, 100.0), (-50.0, 100.0)])
def test_a_carriage_copies_the_face_it_rides(feet):
    def riding(x):  # straight between the stations, as the library takes it
        return np.interp(x, X, A(X))

    read = B(INNER) - carried(riding, feet) - 0.35
    legs = [
        compared({"a": A}),
        Leg("sled", "carriage", INDICATOR, INNER, read, {"riding": "a", "feet": feet}, "b"),
    ]
    heights = adjust(survey([flat("a"), flat("b", 120.0)], legs))
    assert heights.on("b").x.tolist() == INNER.tolist()
    assert heights.on("a").x.tolist() == X.tolist()
    assert_exact(
        heights, {"a": A, "b": B}, lambda f, x, y: [(f == "b") * 1.0, np.ones(x.size), x / 1e3]
    )


def test_carriage_with_noise_and_the_other_sign():
    def riding(x):
        return np.interp(x, X, A(X))

    settings = {"riding": "a", "feet": [-100.0, 100.0], "face": "b"}
    read = noisy(0.35 - B(INNER) + carried(riding, (-100, 100)), INDICATOR, 12)
    legs = [
        compared({"a": A}, seed=13),
        Leg("sled", "carriage", INDICATOR, INNER, read, settings, keys={"sign": -1}),
    ]
    heights = adjust(survey([flat("a"), flat("b", 120.0)], legs))
    assert_within_uncertainty(
        heights, {"a": A, "b": B}, lambda f, x, y: [(f == "b") * 1.0, np.ones(x.size), x / 1e3]
    )


def test_riding_an_underside_and_touching_a_top():
    # outward normal of the underside points down: metal added to it lowers the carriage
    settings = {"riding": "under", "feet": [-100.0, 100.0]}
    read = B(INNER) + carried(lambda x: np.interp(x, X, C(X)), (-100, 100)) + 1.0
    faces = [flat("under", normal=180.0), flat("b")]
    legs = [
        compared({"under": C}, normals={"under": 180.0}),
        Leg("sled", "carriage", INDICATOR, INNER, read, settings, "b"),
    ]
    heights = adjust(survey(faces, legs))
    assert_exact(
        heights,
        {"under": C, "b": B},
        lambda f, x, y: [
            (f == "b") * 1.0,
            np.where(f == "b", 1, -1),
            np.where(f == "b", x, -x) / 1e3,
        ],
    )


def test_a_carriage_in_a_vee_moves_sideways_too():
    phi = np.pi / 4
    left, right, side = worn(0.06, 300, 200), worn(0.02, 700, 200), worn(0.01, 500, 300)
    normals = {"left": -45.0, "right": 45.0, "side": 90.0, "top": 0.0}
    faces = [flat(name, 10.0 * i, normal=normals[name]) for i, name in enumerate(normals)]

    def lift(x):  # v = (z1 + z2) / 2 cos phi
        return np.interp(x, X, (left(X) + right(X)) / (2 * np.cos(phi)))

    def aside(x):  # h = (z2 - z1) / 2 sin phi, toward +y where the left flank is the one at -45
        return np.interp(x, X, (right(X) - left(X)) / (2 * np.sin(phi)))

    settings = {"riding": ["left", "right"], "feet": [-100.0, 100.0]}
    top = B(INNER) - carried(lift, (-100, 100))
    face = side(INNER) - carried(aside, (-100, 100))
    legs = [
        compared({"left": left, "right": right}, normals=normals),
        Leg("to top", "carriage", INDICATOR, INNER, top, settings, "top"),
        Leg("to side", "carriage", INDICATOR, INNER, face, settings, "side"),
    ]
    heights = adjust(survey(faces, legs))
    truth = {"left": left, "right": right, "side": side, "top": B}

    def motions(f, x, y):
        own = [(f == name) * 1.0 for name in ("top", "side")]
        return [*own, *together(normals)(f, x, y)]

    assert_exact(heights, truth, motions)


def test_a_foot_beyond_the_stations_becomes_one():
    settings = {"riding": "a", "feet": [-150.0, 150.0]}
    leg = Leg("sled", "carriage", INDICATOR, X, np.zeros(X.size), settings, "b")
    heights = adjust(survey([flat("a"), flat("b", 120.0)], [compared({"a": A}), leg]))
    assert heights.on("a").x.tolist() == [-150.0, -50.0, *X, 1250.0, 1350.0]


def test_carriage_refusals():
    def ask(**settings):
        leg = Leg(
            "sled", "carriage", INDICATOR, INNER, INNER, {"feet": [-1.0, 1.0], **settings}, "a"
        )
        return adjust(survey([flat("a")], [leg]))

    with pytest.raises(InputError, match="riding is missing"):
        ask()
    with pytest.raises(InputError, match="they stand at one place"):
        ask(riding="a", feet=[3.0, 3.0])
    with pytest.raises(InputError, match="two numbers are needed"):
        ask(riding="a", feet=[3.0, 4.0, 5.0])


# -- micrometer ----------------------------------------------------------------------------------


def sizes(top, under, zero=0.0, **instrument):
    micrometer = Instrument("micrometer", "mm", 0.0, 0.002, **instrument)
    read = top(X) + under(X) + zero
    return Leg("over", "micrometer", micrometer, X, read, {"opposite_face": "under"}, "top")


TOP_AND_UNDER = [flat("top", nominal=26.15), flat("under", normal=180.0)]


def test_a_micrometer_gives_the_sum_of_both_sides_absolutely():
    def thick(x):
        return B(x) + 26.15

    legs = [compared({"under": C}, normals={"under": 180.0}), sizes(thick, C)]
    heights = adjust(survey(TOP_AND_UNDER, legs))
    assert not heights.not_determined
    assert_exact(heights, {"top": thick, "under": C}, together({"under": 180.0}))
    # absolute: at each station the sum is the size itself
    total = heights.on("top").z + heights.on("under").z
    assert [t.n for t in total] == pytest.approx(thick(X) + C(X), abs=1e-9)
    assert max(t.s for t in total) < 0.0021


def test_the_zero_of_a_micrometer_is_common_to_all_its_readings():
    legs = [
        compared({"under": C}, seed=21, normals={"under": 180.0}),
        sizes(lambda x: B(x) + 26.15, C, zero=0.004, calibration_uncertainty=0.005),
    ]
    legs[1].value = noisy(legs[1].value, legs[1].instrument, 22)
    heights = adjust(survey(TOP_AND_UNDER, legs))
    truth = {"top": lambda x: B(x) + 26.15, "under": C}
    assert_within_uncertainty(heights, truth, together({"under": 180.0}))
    mean = (heights.on("top").z + heights.on("under").z).mean()
    assert mean.s > 0.005  # averaging over the stations does not help against it
    drop = heights.on("top").z[0] - heights.on("top").z[-1]
    assert heights.extras["zero of micrometer"].s == pytest.approx(0.005, rel=1e-6)
    assert drop.s > 0.0


def test_micrometer_refusals():
    leg = sizes(B, C)
    with pytest.raises(InputError, match="do not face opposite ways"):
        adjust(survey([flat("top"), flat("under")], [leg]))
    leg.settings.clear()
    with pytest.raises(InputError, match="opposite_face is missing"):
        adjust(survey(TOP_AND_UNDER, [leg]))


# -- gauge ---------------------------------------------------------------------------------------


def test_a_gauge_bridges_its_two_rests():
    faces = [flat("a", 0.0), flat("b", 200.0), flat("flank", 150.0, normal=60.0)]
    # the bridge stands at 150/200 of the way from a to b; its stylus looks along the flank's normal
    bridge = A(X) + (B(X) - A(X)) * 0.75
    read = C(X) - bridge * np.cos(np.pi / 3) + 0.8
    legs = [
        compared({"a": A, "b": B}, ys={"b": 200.0}),
        Leg("gauge", "gauge", INDICATOR, X, read, {"resting_on": ["a", "b"]}, "flank"),
    ]
    truth, normals = {"a": A, "b": B, "flank": C}, {"flank": 60.0}

    def motions(f, x, y):
        return [(f == "flank") * 1.0, (f == "flank") * x / 1e3, *together(normals)(f, x, y)]

    assert_exact(adjust(survey(faces, legs)), truth, motions)
    legs[1].settings["weights"] = [0.25, 0.75]
    assert_exact(adjust(survey(faces, legs)), truth, motions)
    legs[1].value = noisy(read, INDICATOR, 31)
    legs[0] = compared({"a": A, "b": B}, seed=32, ys={"b": 200.0})
    assert_within_uncertainty(adjust(survey(faces, legs)), truth, motions)


def test_a_gauge_may_rest_in_a_vee():
    left, right = worn(0.06, 300, 200), worn(0.02, 700, 200)
    normals = {"left": -45.0, "right": 45.0}
    faces = [flat("left", -10, normal=-45.0), flat("right", 10, normal=45.0)]
    faces += [flat("b", 300.0), flat("c", 100.0)]
    seat = (left(X) + right(X)) / np.sqrt(2)
    read = C(X) - seat - (B(X) - seat) / 3
    legs = [
        compared(
            {"left": left, "right": right, "b": B},
            normals=normals,
            ys={"left": -10, "right": 10, "b": 300},
        ),
        Leg("gauge", "gauge", INDICATOR, X, read, {"resting_on": [["left", "right"], "b"]}, "c"),
    ]
    heights = adjust(survey(faces, legs))
    truth = {"left": left, "right": right, "b": B, "c": C}
    assert_exact(heights, truth, lambda f, x, y: [(f == "c") * 1.0, *together(normals)(f, x, y)])


def test_gauge_refusals():
    def ask(**settings):
        faces = [flat("a"), flat("b"), flat("c", 100.0), flat("flank", 50.0, normal=45.0)]
        return adjust(survey(faces, [Leg("g", "gauge", INDICATOR, X, X, settings, "c")]))

    with pytest.raises(InputError, match="resting_on is missing"):
        ask()
    with pytest.raises(InputError, match="two are needed, got a"):
        ask(resting_on="a")
    with pytest.raises(InputError, match="both rests lie at one place across"):
        ask(resting_on=["a", "b"])
    with pytest.raises(InputError, match="inclined face 'flank' alone"):
        ask(resting_on=["a", "flank"])


# -- all together --------------------------------------------------------------------------------


def test_every_kind_at_once_within_its_uncertainty():
    top, rear, under = (lambda x: A(x) + 26.15), (lambda x: B(x) + 26.15), C
    faces = [flat("top", nominal=26.15), flat("rear", 220.0, 26.15), flat("under", normal=180.0)]
    rear_feet = X[:-1]
    legs = [
        Leg(
            "level",
            "level along",
            LEVEL,
            rear_feet,
            noisy((top(rear_feet + 100) - top(rear_feet)) / 0.1 + 0.2, LEVEL, 41),
            {"foot_spacing": 100.0},
            "top",
        ),
        Leg(
            "across",
            "level across",
            LEVEL,
            X,
            noisy((rear(X) - top(X)) / 0.22 + 0.1, LEVEL, 42),
            {"face": "top", "other_face": "rear"},
        ),
        Leg(
            "across, turned",
            "level across",
            LEVEL,
            X,
            noisy((rear(X) - top(X)) / 0.22 - 0.1, LEVEL, 43),
            {"face": "top", "other_face": "rear", "turned": True},
        ),
        sizes(top, under),
    ]
    legs[-1].value = noisy(legs[-1].value, legs[-1].instrument, 44)
    heights = adjust(survey(faces, legs))
    assert not heights.not_determined
    truth = {"top": top, "rear": rear, "under": under}
    assert_within_uncertainty(heights, truth, together({"under": 180.0}))
    error, cov = errors(heights, truth, together({"under": 180.0}))
    assert np.sqrt(np.diag(cov)).max() < 0.01

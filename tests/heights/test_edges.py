"""Straightedge, feeler gap and wire: where the sole and the wire really are gives the readings."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.adjust import adjust
from metrolib.survey.instruments import Instrument, Straightedge
from tests.heights.build import (
    INDICATOR,
    Leg,
    assert_exact,
    assert_within_uncertainty,
    flat,
    noisy,
    survey,
    worn,
)

SHAPE = worn(0.05, 500, 220)
X = np.arange(100.0, 1101.0, 100.0)
EDGE = Straightedge("edge", length=1000.0, profile_uncertainty=0.02)
START = 100.0


def profile(u):
    """Bump of the sole, out of its own metal; not symmetric along the edge."""
    return 0.006 * np.sin(np.asarray(u) / 180.0) + 5e-6 * np.asarray(u)


def sole(x, *, up, turned, sag=None, height=0.7, tilt=0.2):
    """Height of the sole in space, the straightedge lying at some height and tilt."""
    u = 1000.0 - (x - START) if turned else x - START
    droop = 0.0 if sag is None else sag(u)
    return height + tilt * x / 1000 + (profile(u) if up else -profile(u)) - droop


def run(name, *, up=False, turned=False, sag=None, seed=None, shape=SHAPE, **keys):
    instrument = keys.pop("instrument", INDICATOR)
    sign = keys.pop("sign", 1)
    settings = {
        "straightedge": "edge",
        "face": "flat",
        "start": START,
        "sole_up": up,
        "end_for_end": turned,
        **keys.pop("settings", {}),
    }
    kind = keys.pop("kind", "straightedge")
    reading = sign * (shape(X) - sole(X, up=up, turned=turned, sag=sag, **keys.pop("lie", {})))
    reading = reading / instrument.factor
    if seed is not None:
        reading = noisy(reading, instrument, seed)
    return Leg(name, kind, instrument, X, reading, settings, **keys)


def form(z, x):
    """Form above the line through the ends."""
    return z - np.interp(x, x[[0, -1]], z[[0, -1]])


def test_turning_over_separates_the_edge_from_the_face():
    legs = [run("down"), run("up", up=True, lie={"height": -0.2, "tilt": 0.1})]
    heights = adjust(survey([flat()], legs, [EDGE]))
    form_error = form(heights.on("flat").values - SHAPE(X), X)
    # the profile is known beforehand to 20 um, the readings to 1 um: a share of (1/20)²/2 of the
    # profile's own form stays at the face
    assert np.abs(form_error).max() < (1 / 20) ** 2 * np.ptp(profile(X - START))
    found = np.array([heights.extras[f"profile of edge at {u:.2f} mm"].n for u in X - START])
    np.testing.assert_allclose(form(found, X), form(profile(X - START), X), atol=4e-5)


def test_reversal_is_exact_where_nothing_is_known_of_the_edge():
    unknown = Straightedge("edge", length=1000.0, profile_uncertainty=10.0)
    legs = [run("down"), run("up", up=True, lie={"height": -0.2, "tilt": 0.1})]
    heights = adjust(survey([flat()], legs, [unknown]))
    assert_exact(heights, {"flat": SHAPE})
    assert not heights.not_determined


def test_end_for_end_needs_the_profile_to_be_known_and_says_so():
    unknown = Straightedge("edge", length=1000.0, profile_uncertainty=10.0)
    once = adjust(survey([flat()], [run("down")], [unknown]))
    (open_item,) = once.not_determined
    assert open_item.what == "shape of 'flat' along its length"
    # turned end for end, only what is not mirror-symmetric about the middle is separated
    both = adjust(survey([flat()], [run("down"), run("turned", turned=True)], [unknown]))
    assert [item.what for item in both.not_determined] == [open_item.what]
    z = both.on("flat")
    odd = (z.values - z.values[::-1]) / 2 - (SHAPE(X) - SHAPE(X)[::-1]) / 2
    assert np.abs(form(odd, X)).max() < 1e-9


def test_noise_and_a_known_profile_stay_within_their_uncertainty():
    rng = np.random.default_rng(5)
    bumps = dict(zip(X - START, 0.004 * rng.normal(size=X.size), strict=True))
    edge = Straightedge("edge", length=1000.0, profile_uncertainty=0.004)
    down = np.array([SHAPE(x) + bumps[x - START] for x in X])
    turned = np.array([SHAPE(x) + bumps[1100.0 - x] for x in X])
    legs = []
    lies = (("a", down, {}), ("b", turned, {"end_for_end": True}))
    for seed, (name, truth, settings) in enumerate(lies):
        settings = {"straightedge": "edge", "face": "flat", "start": START, **settings}
        legs.append(
            Leg(name, "straightedge", INDICATOR, X, noisy(truth, INDICATOR, seed), settings)
        )
    heights = adjust(survey([flat()], legs, [edge]))
    assert_within_uncertainty(heights, {"flat": SHAPE})
    assert heights.checks.agrees


def ends_held(u):
    """Sag of a bar held at its ends: w u (l³ - 2 l u² + u³) / 24 EI (any handbook), by itself."""
    load = 7850e-9 * 9.80665 * 60 * 12
    stiffness = 206_000 * 12 * 60**3 / 12
    return load * u * (1e9 - 2 * 1000 * u**2 + u**3) / (24 * stiffness)


HEAVY = Straightedge("edge", length=1000.0, profile_uncertainty=10.0, height=60, width=12)


@pytest.mark.parametrize("turned", [False, True])
def test_sag_is_taken_out_in_both_positions(turned):
    held = {"supports_at": [0.0, 1000.0]}
    legs = [
        run("down", sag=ends_held, settings=held),
        run("up", up=True, turned=turned, sag=ends_held, settings=held),
    ]
    if turned:
        legs.append(run("down, turned", turned=True, sag=ends_held, settings=held))
    heights = adjust(survey([flat()], legs, [HEAVY]))
    assert_exact(heights, {"flat": SHAPE})


@pytest.mark.parametrize(
    "section",
    [
        # 120 x 50 with a web of 12 and flanges of 15: 2 * 50 * 15 + 90 * 12 = 2580 mm2, and
        # (50 * 120^3 - 38 * 90^3) / 12 = 4 891 500 mm4
        {"height": 120, "width": 50, "web": 12, "flange": 15},
        {"area": 2580, "second_moment": 4_891_500},
    ],
)
def test_sag_of_an_iron_edge_of_another_section(section):
    iron = Straightedge(
        "edge", 1000.0, 0.02, modulus=115e3, density=7200, note="ribbed casting", **section
    )

    def droop(u):  # w u (l^3 - 2 l u^2 + u^3) / 24 EI, a beam held at its ends
        load = 7200e-9 * 9.80665 * 2580
        return load * u * (1e9 - 2000 * u**2 + u**3) / (24 * 115e3 * 4_891_500)

    held = {"supports_at": [0.0, 1000.0]}
    legs = [
        run("down", sag=droop, settings=held),
        run("up", up=True, sag=droop, settings=held),
    ]
    assert_exact(adjust(survey([flat()], legs, [iron])), {"flat": SHAPE})


def test_turning_over_does_not_cancel_the_sag():
    legs = [run("down", sag=ends_held), run("up", up=True, sag=ends_held)]
    z = adjust(survey([flat()], legs, [HEAVY])).on("flat")
    false_crown = form(z.values - SHAPE(X), X)
    assert false_crown.max() == pytest.approx(0.0162, abs=1e-4)  # unsafe: it hides a hollow


def test_on_a_side_face_there_is_no_sag():
    side = flat(normal=90.0)
    held = {"supports_at": [0.0, 1000.0]}
    legs = [run("a", settings=held), run("b", up=True, settings=held)]
    assert_exact(adjust(survey([side], legs, [HEAVY])), {"flat": SHAPE})


def test_sign_minus_one_turns_face_edge_and_sag_alike():
    held = {"supports_at": [0.0, 1000.0]}
    legs = [
        run("down", sag=ends_held, settings=held, sign=-1, keys={"sign": -1}),
        run("up", up=True, sag=ends_held, settings=held),
    ]
    assert_exact(adjust(survey([flat()], legs, [HEAVY])), {"flat": SHAPE})


def test_feelers_measure_the_gap_between_sole_and_face():
    feelers = Instrument("feelers", "thou", resolution=0.5, repeatability=0.2)
    held = {"supports_at": [0.0, 1000.0]}
    gap = (sole(X, up=False, turned=False, sag=ends_held) - SHAPE(X)) / 0.0254
    settings = {"straightedge": "edge", "face": "flat", "start": START, **held}
    over = run("up", up=True, sag=ends_held, settings=held)
    legs = [Leg("gap", "feeler gap", feelers, X, gap, settings), over]
    assert_exact(adjust(survey([flat()], legs, [HEAVY])), {"flat": SHAPE})


def test_a_perfect_edge_has_no_profile():
    perfect = Straightedge("edge", length=1000.0, profile_uncertainty=0.0)
    leg = Leg(
        "a",
        "straightedge",
        INDICATOR,
        X,
        SHAPE(X),
        {"straightedge": "edge", "start": 100.0},
        "flat",
    )
    heights = adjust(survey([flat()], [leg], [perfect]))
    assert_exact(heights, {"flat": SHAPE})
    assert sorted(heights.extras) == ["offset of a", "tilt of a"]


def test_stations_in_inches_meet_whichever_way_they_are_summed():
    places = 25.4 * np.arange(1, 32) * 0.125  # many end in 5 in the third digit
    there = Leg(
        "a", "straightedge", INDICATOR, places, SHAPE(places), {"straightedge": "edge"}, "flat"
    )
    back = Leg(
        "b",
        "straightedge",
        INDICATOR,
        [3.175 * k for k in range(1, 32)],
        SHAPE(places),
        {"straightedge": "edge"},
        "flat",
    )
    heights = adjust(survey([flat()], [there, back], [EDGE]))
    assert heights.x.size == 31
    assert sum(name.startswith("profile") for name in heights.extras) == 31


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"straightedge": "rod"}, "straightedge: this is not one of the choices, got 'rod'"),
        ({"straightedge": None}, "straightedge is missing"),
        ({"start": 300.0}, "lies from 300 to 1300 mm, but there is a reading at x = 100"),
        ({"supports_at": [0.0]}, "two numbers are needed, got 1"),
        ({"supports_at": [0.0, 300.0]}, "so it tips"),
        ({"supports_at": [1.0, 2.0, 3.0]}, "two numbers are needed, got 3"),
    ],
)
def test_refusals(settings, words):
    with pytest.raises(InputError, match=words):
        adjust(survey([flat()], [run("a", settings=settings)], [HEAVY]))


# -- wire ----------------------------------------------------------------------------------------

WIRE = {"wire_ends": [0.0, 2000.0], "wire_weight": 0.01, "wire_tension": 100.0, "face": "flat"}
PLACES = np.arange(0.0, 2001.0, 200.0)
MICROSCOPE = Instrument("microscope", "um", resolution=0.0, repeatability=5.0)


def hang(x):
    """Parabola w s (l - s) / 2 T, in mm; at this sag it equals the catenary to a picometre."""
    return 0.01 * (x / 1000) * (2 - x / 1000) / (2 * 100.0) * 1000


def test_the_sag_of_a_wire_is_taken_out():
    wire_height = 5.0 + 0.3 * PLACES / 1000 - hang(PLACES)
    leg = Leg("w", "wire", MICROSCOPE, PLACES, (SHAPE(PLACES) - wire_height) * 1000, WIRE)
    heights = adjust(survey([flat()], [leg]))
    assert_exact(heights, {"flat": SHAPE})
    leg = Leg("w", "wire", MICROSCOPE, PLACES, noisy(leg.value, MICROSCOPE, 4), WIRE)
    assert_within_uncertainty(adjust(survey([flat()], [leg])), {"flat": SHAPE})


def test_sideways_a_wire_has_no_sag():
    leg = Leg("w", "wire", MICROSCOPE, PLACES, SHAPE(PLACES) * 1000, WIRE)
    assert_exact(adjust(survey([flat(normal=90.0)], [leg])), {"flat": SHAPE})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"wire_ends": [0.0, 1500.0]}, "the wire runs from 0.0 to 1500.0 mm"),
        ({"wire_ends": [10.0, 10.0]}, "two different places"),
        ({"wire_tension": 0.0}, "wire_tension: it must be above 0"),
        ({"wire_weight": -1.0}, "wire_weight: it must be above 0"),
    ],
)
def test_wire_refusals(change, words):
    leg = Leg("w", "wire", MICROSCOPE, PLACES, PLACES, {**WIRE, **change})
    with pytest.raises(InputError, match=words):
        adjust(survey([flat()], [leg]))

"""Restoring: the thickness chain by hand, vees, shims, limits; putting it back brings it back."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.rebuild.lowering.restoring import restoring
from tests.rebuild.carriers import FLATS, VEE, faces, saddle


def lowered(bed=FLATS, at=500, own=None, **removed):
    return lowering(saddle(bed), bed, removed, at=at, own=own)


def by_face(found, what):
    return {foot.face: getattr(foot, what) for foot in found.feet}


def test_thickness_chain_by_hand():
    # common practice, no published source: strip 0.8 + glue 0.08 - scraped off 0.1 - height 0.3
    found = restoring(lowered(front=0.3, rear=0.2), strip=0.8, glue_line=0.08, scraped_off=0.1)
    machine = by_face(found, "machine")
    assert machine["front"] == pytest.approx(0.48)
    assert machine["rear"] == pytest.approx(0.58)
    assert machine["guide"] == pytest.approx(0.78)
    assert found.left == pytest.approx(0.7)
    assert "'front': machine 480.0 µm into the seat" in str(found)
    assert "strip of 800.0 µm, 700.0 µm after scraping" in str(found)


def test_drop_of_the_way_and_wear_of_the_saddle_add():
    found = restoring(lowered(front=0.2, rear=0.2, own={"front": 0.05, "rear": 0.08}))
    assert by_face(found, "height") == pytest.approx({"front": 0.25, "rear": 0.28, "guide": 0})
    assert found.value == pytest.approx({"front": 0.25, "rear": 0.28, "guide": 0})
    assert "'guide': nothing" in str(found)


@pytest.mark.parametrize("half", [30, 45])
def test_a_flank_gets_the_vertical_times_the_sine_of_the_half_angle(half):
    bed = {**faces(near=(40, half - 90), far=(40, 90 - half)), "flat": VEE["flat"]}
    sine = np.sin(np.deg2rad(half))
    flank = 0.2 * sine
    found = restoring(lowered(bed, near=flank, far=flank, flat=0.2), high=0.1)
    assert by_face(found, "shim") == pytest.approx(
        {"near": 0.3 * sine, "far": 0.3 * sine, "flat": 0.3}
    )


def test_a_strip_that_is_too_thin_to_be_let_in():
    found = restoring(lowered(front=0.9, rear=0.2), strip=0.8)
    front = found.feet[0]
    assert front.machine == pytest.approx(-0.12)
    assert front.shim == pytest.approx(0.12)
    assert front.strip_needed == pytest.approx(0.92)
    words = "machine nothing, a shim of 120.0 µm under the strip, or a strip of 920.0 µm"
    assert f"'front': {words}; 'rear': machine 580.0 µm" in str(found)


def test_the_shims_bring_the_body_back():
    # put back what `restoring` asks for, at each foot: the body has not moved
    ramp = ([300, 700], [0.05, 0.12])
    removed = {"near": ramp, "far": 0.03, "flat": ([300, 700], [0.2, 0.02])}
    shims = {}
    for foot in restoring(lowered(VEE, **removed)).feet:
        shims.setdefault(foot.face, []).append(-foot.shim)
    back = lowering(saddle(VEE), VEE, removed, at=500, own=shims)
    np.testing.assert_allclose(back.motion.astype(float), 0, atol=1e-12)
    assert not back.hangs


def test_feet_that_differ_are_told_apart():
    ramp = ([400, 600], [0.1, 0.2])
    found = restoring(lowered(front=ramp, rear=0.1))
    assert "'front': at -100 mm a shim of 100.0 µm; at +100 mm a shim of 200.0 µm" in str(found)
    assert "'rear': a shim of 100.0 µm" in str(found)


def test_no_strip_follows_a_bed_that_is_not_straight():
    ramp = ([100, 500, 900], [0.0, 0.1, 0.0])
    found = restoring(lowered(at=[200, 500, 800], front=ramp, rear=ramp))
    # at the feet, 100 mm from 200, 500 and 800: 0 to 0.075
    assert found.varies == pytest.approx(0.075)
    assert "varies by 75.0 µm along the travel, which nothing here mends" in str(found)
    assert "varies" not in str(restoring(lowered(at=[200, 500], front=0.1, rear=0.1)))


def test_metal_must_come_off_where_the_body_stands_too_high():
    found = restoring(lowered(front=0.0, rear=0.0), high=-0.05)
    assert "'front': take off 50.0 µm" in str(found)
    assert found.feet[0].shim == 0.0


def test_undersides_get_nothing():
    bed = {**FLATS, **faces(ledge=(0, 180))}
    found = restoring(lowered(bed, front=0.1, rear=0.1, ledge=0.1))
    assert "ledge" not in by_face(found, "shim")


def test_uncertainty_of_the_chain():
    lower = lowered(front=ufloat(0.3, 0.003), rear=0.2)
    strip, glue, scraped = ufloat(0.8, 0.004), ufloat(0.08, 0.012), 0.1
    front = restoring(lower, strip=strip, glue_line=glue, scraped_off=scraped).feet[0]
    assert front.machine.s == pytest.approx(0.013)  # 3, 4, 12 make 13
    assert (front.machine - strip - glue).s == pytest.approx(0.003)


def test_thou_and_the_table():
    found = restoring(lowered(front=0.0254, rear=0.0254), strip=0.8)
    assert "thou into the seat" in found.in_words("thou")
    table = found.to_dataframe("thou")
    assert table["height [thou]"].tolist()[:2] == pytest.approx([1.0, 1.0])
    assert "machine" in found._repr_html_()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (
            {"strip": 0.3, "least": 0.25},
            "strip: 0.2 mm is left after 0.1 mm are scraped off, the least is 0.25, got 0.3; "
            "take a strip of at least 0.35 mm",
        ),
        ({"strip": 0.1}, "strip: 0 mm is left after 0.1 mm are scraped off"),
        ({"strip": 0}, "strip: it must be above 0"),
        ({"strip": 0.8, "glue_line": -0.1}, "glue_line: it must be at least 0"),
        ({"strip": 0.8, "scraped_off": -0.1}, "scraped_off: it must be at least 0"),
        ({"least": 0.2}, "least: only a strip has one, got 0.2; give strip= too"),
        (
            {"strip": 0.8, "seat_most": 0.5},
            "the seat on 'front' would lose 0.58 mm, more than seat_most, got 0.8; "
            "take a strip of at most 0.72 mm",
        ),
        ({"high": np.nan}, "high: a finite number is needed"),
        ({"strip": "x"}, "strip: a number is needed, got 'x'"),
    ],
)
def test_refusals(options, words):
    with pytest.raises(InputError, match=words):
        restoring(lowered(front=0.2, rear=0.2), **options)


def test_a_lowering_is_needed():
    with pytest.raises(InputError, match="lowering: a Lowering is needed, got 0.2; give what"):
        restoring(0.2)

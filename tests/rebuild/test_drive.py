"""Drive: offsets by hand, backlash against the geometry of the teeth, verdicts, refusals."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError, NotDeterminedError
from metrolib.rebuild.lowering.drive import drive_offsets
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.survey.carried import Drive
from tests.rebuild.carriers import FLATS, saddle

SCREW = Drive(lead_screw=(-40, -80), feed_rod=(-40, -120), rack=(-20, -50), thread_depth=2.0)


def lowered(front, rear, at=500, u=None):
    return lowering(saddle(FLATS), FLATS, {"front": front, "rear": rear}, u, at=at)


def test_a_pure_drop():
    found = drive_offsets(lowered(0.2, 0.2), SCREW)
    assert found.screw_height == pytest.approx(-0.2)
    assert found.rod_height == pytest.approx(-0.2)
    assert found.screw_side == pytest.approx(0, abs=1e-12)
    assert found.rack_opening == pytest.approx(0.2)
    # common practice, no published source: 0.15 mm of backlash for 0.2 mm at 20 degrees
    assert found.backlash == pytest.approx(0.1456, abs=1e-4)
    assert found.value == pytest.approx(-0.2)


def test_the_sign_depends_on_where_the_pinion_runs():
    over = drive_offsets(lowered(0.2, 0.2), Drive(rack=(-20, -50), pinion="over the rack"))
    assert over.rack_opening == pytest.approx(-0.2)
    assert "pinion runs deeper by 200.0 µm, backlash shrinks by 145.6 µm" in str(over)
    under = drive_offsets(lowered(0.2, 0.2), Drive(rack=(-20, -50), pinion="under the rack"))
    assert under.backlash == pytest.approx(-over.backlash)


def tooth_play(opening, teeth=24, module=2.0, angle=20.0):
    """Return the play of an involute pinion in a straight-flanked rack, from points on its tooth.

    Module and pressure angle of the rack; the pinion's centre is `opening` further off than where
    there is no backlash. A tooth points straight into a space of the rack.
    """
    alpha, pitch = np.deg2rad(angle), module * teeth / 2
    base = pitch * np.cos(alpha)
    radius = np.linspace(base, pitch + module, 400_001)
    at = np.arccos(base / radius)
    # half the tooth's angle at a radius: involute of the pitch circle's angle less that of its own
    half = np.pi / (2 * teeth) + (np.tan(alpha) - alpha) - (np.tan(at) - at)
    x, y = radius * np.sin(half), radius * np.cos(half)
    space = np.pi * module / 4 - (y - pitch - opening) * np.tan(alpha)
    return 2 * (space - x).min()  # the rack may move so far either way


@pytest.mark.parametrize("angle", [14.5, 20.0, 25.0])
def test_backlash_against_explicit_teeth(angle):
    assert tooth_play(0.0, angle=angle) == pytest.approx(0, abs=1e-9)
    for drop in (0.05, 0.2):
        drive = Drive(rack=(-20, -50), pressure_angle=angle)
        found = drive_offsets(lowered(drop, drop), drive)
        assert found.backlash[0] == pytest.approx(tooth_play(drop, angle=angle), rel=1e-6)


def test_roll_moves_the_screw_aside():
    # 0.02 off the front only: roll +0.1 mm/m about the rear flat; the screw is 80 below the flats
    found = drive_offsets(lowered(0.02, 0), SCREW)
    assert found.screw_side == pytest.approx(0.1e-3 * 80)
    assert found.screw_height == pytest.approx(-0.1e-3 * 240)
    assert found.rod_side == pytest.approx(0.1e-3 * 120)


def test_thread_of_the_half_nut():
    found = drive_offsets(lowered(0.2, 0.2), SCREW)
    assert found.nut_opening == pytest.approx(0.2)
    assert found.engagement == pytest.approx(0.9)
    assert found.nut_play == pytest.approx(2 * 0.2 * np.tan(np.deg2rad(15)))
    aside = Drive(lead_screw=(-40, -80), half_nut="sideways", thread_depth=2.0)
    assert drive_offsets(lowered(0.2, 0.2), aside).engagement == pytest.approx(1.0)
    gone = Drive(lead_screw=(-40, -80), thread_depth=0.1)
    assert drive_offsets(lowered(0.2, 0.2), gone).engagement == pytest.approx(0.0)


def test_the_verdict_counts_both_ends():
    ramp = ([100, 900], [0.05, 0.15])
    found = drive_offsets(lowered(ramp, ramp, at=[200, 500, 800]), SCREW)
    assert found.too_far.tolist() == [800]
    assert "further off than 100 µm from 800 to 800 mm" in str(found)
    assert "brackets in height by -62.5 µm at x 200 mm and -137.5 µm at x 800 mm" in str(found)
    # the front alone, 0.36 lower: roll moves the screw aside as well, beyond the limit
    found = drive_offsets(lowered(0.36, 0.0), SCREW)
    assert "in height by -432.0 µm, sideways by +144.0 µm" in str(found)
    # just at the limit, but for rounding
    assert drive_offsets(lowered(0.1, 0.1), SCREW).too_far.size == 0
    found = drive_offsets(lowered(0.15, 0.15, at=[200, 800]), SCREW)
    assert "in height by -150.0 µm, or restore the saddle" in str(found)
    found = drive_offsets(lowered(0.05, 0.05), SCREW)
    assert found.too_far.size == 0 and str(found).endswith("nowhere further off than 100 µm.")
    assert drive_offsets(lowered(0.05, 0.05), SCREW, limit=0.04).too_far.size == 1


def test_uncertainty_stays_with_the_drop():
    depth = ufloat(0.2, 0.005)
    lower = lowered(depth, depth)
    found = drive_offsets(lower, SCREW)
    assert found.backlash[0].s == pytest.approx(2 * 0.005 * np.tan(np.deg2rad(20)))
    assert (found.rack_opening[0] - depth).s == pytest.approx(0, abs=1e-12)
    assert (found.nut_opening[0] + found.screw_height[0]).s == pytest.approx(0, abs=1e-12)


def test_words_in_thou_and_the_tables():
    found = drive_offsets(lowered(0.0254, 0.0254), SCREW)
    assert "pinion runs less deep by 1.00 thou" in found.in_words("thou")
    assert found.to_dataframe("thou")["rack opening [thou]"].tolist() == pytest.approx([1.0])
    assert "<th>feed-rod drive</th><td>below the rod by 25.4 µm" in found._repr_html_()
    only = drive_offsets(lowered(0.1, 0.1), Drive(feed_rod=(-40, -120)))
    assert (only.value, only.engagement, only.too_far.size) == (None, None, 0)
    assert list(only.to_dataframe().columns) == ["x [mm]", "rod height [µm]", "rod side [µm]"]


def test_refusals():
    with pytest.raises(InputError, match="drive: it has neither screw, rod nor rack"):
        drive_offsets(lowered(0.1, 0.1), Drive())
    with pytest.raises(InputError, match="limit: it must be above 0"):
        drive_offsets(lowered(0.1, 0.1), SCREW, limit=0)
    with pytest.raises(InputError, match="pinion: this is not one of the choices"):
        drive_offsets(lowered(0.1, 0.1), Drive(rack=(0, 0), pinion="beside"))
    with pytest.raises(InputError, match="saddle: a Lowering is needed, got None"):
        drive_offsets(None, SCREW)
    with pytest.raises(InputError, match="lead_screw: two numbers are needed, got 3"):
        drive_offsets(lowered(0.1, 0.1), Drive(lead_screw=(-40, -80, 0)))
    with pytest.raises(InputError, match="pressure_angle: it must be below 45 degrees, got 90"):
        drive_offsets(lowered(0.1, 0.1), Drive(rack=(0, 0), pressure_angle=90))
    flats = {name: FLATS[name] for name in ("front", "rear")}
    free = lowering(saddle(flats), flats, {"front": 0.1, "rear": 0.1}, at=500)
    with pytest.raises(NotDeterminedError, match="is not held sideways: name the vee flank"):
        drive_offsets(free, SCREW)

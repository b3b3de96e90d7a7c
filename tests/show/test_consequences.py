"""Pictures of a lowering: the section before and after, the drive and the diameter."""

import numpy as np
import pytest

from metrolib.rebuild.lowering.drive import drive_offsets
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.rebuild.lowering.turned import turned_diameter
from metrolib.show.figures import plot
from metrolib.survey.carried import Drive
from tests.rebuild.carriers import FLATS, VEE, faces, saddle
from tests.show.drawn import assert_inside_figure, band_at, labels, line, overlaps

DRIVE = Drive(lead_screw=(-40, -80), rack=(-20, -50), spindle=(100, 150))


def lowered(bed=VEE, at=500, u=None, **removed):
    return lowering(saddle(bed), bed, removed, u, at=at)


def times(ax):
    """Return the magnification that is written in."""
    (word,) = [w for w in ax.get_xlabel().split() if w.replace(",", "").isdigit()]
    return int(word.replace(",", ""))


def test_the_faces_before_and_after():
    bed = faces(front=0, rear=200)
    ax = plot(lowered(bed, front=0.1, rear=0.1))
    x, before = line(ax, "face before")
    assert (x.tolist(), before.tolist()) == ([-10, 10], [0, 0])
    x, after = line(ax, "face after")
    assert x.tolist() == [-10, 10]
    np.testing.assert_allclose(after, -0.1 * times(ax))
    assert times(ax) == 100  # 0.6 of a face's width, 12 mm, for 0.1 mm, with one digit


def test_the_body_moves_as_the_result_says():
    result = lowered(near=0.03, flat=0.1)
    ax = plot(result)
    (y, z), (moved_y, moved_z) = line(ax, "saddle before"), line(ax, "saddle after")
    for k in range(4):
        side, up = result.at(y[k], z[k])
        assert moved_y[k] - y[k] == pytest.approx(side[0] * times(ax))
        assert moved_z[k] - z[k] == pytest.approx(up[0] * times(ax))


def test_a_flank_is_drawn_along_itself_and_loses_along_its_normal():
    ax = plot(lowered(near=0.1))
    y, z = line(ax, "face before")
    np.testing.assert_allclose(np.diff(z) / np.diff(y), 1)  # 45 degrees, leaning to the operator
    after_y, after_z = line(ax, "face after")
    np.testing.assert_allclose(after_y - y, 0.1 * times(ax) / np.sqrt(2))
    np.testing.assert_allclose(after_z - z, -0.1 * times(ax) / np.sqrt(2))


def test_the_place_that_moves_most_is_drawn():
    ramp = ([100, 900], [0.0, 0.1])
    ax = plot(lowered(FLATS, at=[200, 500, 800], front=ramp, rear=ramp))
    assert "saddle at 800 mm, seen along +x; largest movement" in ax.get_title(loc="left")


def test_it_survives_a_grey_print_and_nothing_is_cut_off():
    bed = {**FLATS, **faces(ledge=(0, 180))}
    ax = plot(lowered(bed, front=0.1, rear=0.1))
    assert labels(ax) == ["face before", "face after", "came off", "saddle before", "saddle after"]
    hatched = [patch for patch in ax.patches if patch.get_hatch()]
    assert len(hatched) == 2  # the ledge and the guide lost nothing
    assert {text.get_text() for text in ax.texts} == {"guide", "front\nledge", "rear"}
    assert not overlaps(ax)
    assert_inside_figure(ax)
    low, high = ax.get_ylim()
    assert all(low < text.get_position()[1] < high for text in ax.texts)


def test_nothing_moved():
    ax = plot(lowered())
    np.testing.assert_allclose(line(ax, "saddle before"), line(ax, "saddle after"))


def test_a_dollar_in_a_name_starts_no_formula():
    bed = faces(**{"a $x$ flat": 0, "rear": 200})
    assert_inside_figure(plot(lowered(bed, rear=0.1)))


def test_the_drive_along_the_travel():
    result = drive_offsets(lowered(FLATS, at=[200, 800], u=0.002, front=0.12, rear=0.12), DRIVE)
    ax = plot(result)
    np.testing.assert_allclose(line(ax, "half-nut above the screw")[1], [-120, -120])
    np.testing.assert_allclose(line(ax, "change of the rack's backlash")[1], 2 * 43.68, rtol=1e-3)
    u = 1000 * result.screw_height[0].s
    np.testing.assert_allclose(band_at(ax, 200), [-120 - 2 * u, -120 + 2 * u])
    assert line(ax, "limit of the half-nut")[1].tolist() == [100, 100]
    assert ax.get_ylabel() == "offset [µm]"
    assert "heights drawn about" in ax.get_xlabel()
    assert len({one.get_marker() for one in ax.lines[:3]}) == 3
    assert_inside_figure(ax)


def test_a_rack_alone_has_no_limit():
    drive = Drive(rack=(-20, -50))
    ax = plot(drive_offsets(lowered(FLATS, front=0.1, rear=0.1), drive), unit="thou")
    assert labels(ax) == ["change of the rack's backlash"]
    assert ax.get_ylabel() == "offset [thou]"


def test_the_diameter_along_the_travel():
    ramp = ([100, 900], [0.0, 0.02])
    result = turned_diameter(lowered(FLATS, at=[200, 800], guide=ramp), DRIVE, 20)
    ax = plot(result)
    np.testing.assert_allclose(line(ax, "error")[1], [-5, -35], atol=1e-6)
    assert "radius 20 mm, varies by 30.0 µm" in ax.get_title(loc="left")
    assert ax.get_ylabel() == "error of the diameter [µm]"
    assert_inside_figure(ax)

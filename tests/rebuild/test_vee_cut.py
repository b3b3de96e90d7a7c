"""Depths off the flanks of a vee, and the saddle's drop and shift: by hand, by geometry."""

import numpy as np
import pytest
from scipy.optimize import fsolve
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form.vee import vee
from metrolib.rebuild.removal.vee_cut import vee_cut


@pytest.mark.parametrize("half_angle", [30, 45, 55, 60])
def test_the_factors_of_the_trade(half_angle):
    """t off both flanks: t / sin(theta); off one: half of it and t / (2 cos(theta)) sideways.

    Common practice, no published source; 90 deg: 1.41 t.
    """
    theta, normals = np.deg2rad(half_angle), (half_angle - 90, 90 - half_angle)
    both = vee_cut(normals, depths=(0.1, 0.1))
    assert both.drop == pytest.approx(0.1 / np.sin(theta))
    assert both.shift == pytest.approx(0, abs=1e-15)
    one = vee_cut(normals, depths=(0.1, 0))
    assert one.drop == pytest.approx(0.1 / np.sin(theta) / 2)
    assert one.shift == pytest.approx(0.1 / (2 * np.cos(theta)))
    other = vee_cut(normals, depths=(0, 0.1))
    assert (other.drop, other.shift) == pytest.approx((one.drop, -one.shift))
    assert vee_cut((-45, 45), depths=(1, 1)).drop == pytest.approx(1.41, abs=0.005)


@pytest.mark.parametrize("normals", [(-45, 45), (-30, 62), (60, -20)])
def test_a_block_let_down_on_the_cut_flanks(normals):
    depths, drop, shift = (0.08, 0.03), *_let_down(normals, (0.08, 0.03))
    found = vee_cut(normals, depths=depths)
    assert (found.drop, found.shift) == pytest.approx((drop, shift), abs=1e-9)
    back = vee_cut(normals, drop=found.drop, shift=found.shift)
    assert back.depths == pytest.approx(depths)


def _let_down(normals, depths):
    """Return drop and shift of a block, by scipy: its planes reach the cut ones."""
    toward = [np.array([np.sin(np.deg2rad(n)), np.cos(np.deg2rad(n))]) for n in normals]
    shift, lift = fsolve(
        lambda move: [move @ n + t for n, t in zip(toward, depths, strict=True)], [0.0, 0.0]
    )
    return -lift, shift


def test_flats_and_vees_are_cut_by_different_depths():
    found = vee_cut((-45, 45), drop=0.1)
    assert found.depths == pytest.approx((0.1 / np.sqrt(2),) * 2)
    assert found.on() == pytest.approx(0.1)
    # on a flank of the same vee it gives that flank's depth; an underside would gain a gap
    aside = vee_cut((-35, 50), drop=0.1, shift=0.02)
    assert (aside.on(-35), aside.on(50)) == pytest.approx(aside.depths)
    assert aside.on(180) == pytest.approx(-0.1)
    assert aside.on(-90) == pytest.approx(0.02)


def test_it_undoes_what_the_worn_vee_did():
    # cut what is left over a worn straight saddle path: the same matrix, seen from above
    x = np.array([0.0, 400, 800])
    worn = vee(x, [0, -0.03, 0], [0, -0.01, 0], (-40, 50))
    cut = vee_cut((-40, 50), depths=(np.array([0, 0.03, 0]), np.array([0, 0.01, 0])))
    np.testing.assert_allclose(cut.drop, -worn.lift, atol=1e-15)
    np.testing.assert_allclose(cut.shift, worn.shift, atol=1e-15)


def test_numbers_keep_their_kind():
    a, b = ufloat(0.1, 0.002), ufloat(0.1, 0.001)
    found = vee_cut((-45, 45), depths=(a, b))
    assert found.drop.s == pytest.approx(np.hypot(0.002, 0.001) / np.sqrt(2))
    difference = found.drop - (a + b) / np.sqrt(2)
    assert abs(difference.n) + difference.s < 1e-15
    assert vee_cut((-45, 45), drop=ufloat(0.1, 0.003)).depths[0].s == pytest.approx(
        0.003 / np.sqrt(2)
    )
    many = vee_cut((-45, 45), depths=(np.array([a, b]), np.array([0.1, 0.2])))
    assert many.drop[1].n == pytest.approx(0.3 / np.sqrt(2))


def test_twice_the_depths():
    one, two = vee_cut((-30, 50), depths=(0.1, 0.02)), vee_cut((-30, 50), depths=(0.2, 0.04))
    assert (two.drop, two.shift) == pytest.approx((2 * one.drop, 2 * one.shift))


def test_words():
    found = vee_cut((-45, 45), depths=(np.array([0.1, 0.05]), np.array([0.1, 0.1])))
    assert "drops by 106.1 µm to 141.4 µm and goes -35.4 µm to +0.0 µm toward +y" in str(found)
    assert "must lose the drop itself, or the roll of the saddle changes" in str(found)
    assert "thou" in found.in_words("thou")
    assert "<th>off a flat beside the vee</th>" in found._repr_html_()
    sure = vee_cut((-45, 45), depths=(ufloat(0.1, 0.001), ufloat(0.1, 0.001)))
    assert "drops by 141.4 µm, U = 2.0 µm (k = 2)" in str(sure)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({}, "depths: either depths or drop is needed, got none; give one"),
        ({"depths": (1, 1), "drop": 1}, "either depths or drop is needed, got both"),
        ({"depths": (1, 1), "shift": 0}, "either depths or drop is needed, got both"),
        ({"shift": 0.1}, "either depths or drop is needed, got none"),
        ({"depths": (1, 1, 1)}, r"depths: two are needed, got \(1, 1, 1\)"),
        ({"depths": (0.1, -0.01)}, "depths: nothing can be put on, got -0.01"),
        ({"drop": 0.1, "shift": 0.2}, "shift: the flank at 45 deg would have to grow by 70.7 µm"),
        ({"drop": 0.1, "shift": -0.2}, "shift: the flank at -45 deg would have to grow"),
        ({"drop": -0.1}, "would have to grow by 70.7 µm"),
        ({"drop": 0.1, "shift": 0.2}, "or let the saddle drop 100.0 µm deeper"),
        ({"depths": 0.1}, "depths: two are needed, got 0.1"),
        ({"depths": (np.ones(3), np.ones(2))}, "off A and off B: lengths differ"),
        ({"drop": np.ones(3), "shift": np.zeros(2)}, "drop and shift: lengths differ"),
        ({"drop": ufloat(np.nan, 0.1)}, "drop: a finite number is needed"),
        ({"drop": np.inf}, "drop: a finite number is needed"),
        ({"drop": [0.1, np.nan]}, "drop: item 1 is not a finite number"),
    ],
)
def test_refusals(options, words):
    with pytest.raises(InputError, match=words):
        vee_cut((-45, 45), **options)


def test_no_deeper_drop_helps_a_flank_that_stands_upright():
    with pytest.raises(InputError, match="ask for a smaller shift or a deeper drop$"):
        vee_cut((90, 0), drop=0.1, shift=0.1)


def test_flanks_that_make_no_vee():
    with pytest.raises(InputError, match="make no vee; its half angle must lie between 5 and 85"):
        vee_cut((0, 3), drop=0.1)
    assert vee_cut((-45, 45), drop=0.1, shift=0.1).depths == pytest.approx((0.1 * np.sqrt(2), 0))

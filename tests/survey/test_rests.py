"""What an instrument stands on: a face, or a vee by both flanks."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.survey.layouts import LAYOUTS
from metrolib.survey.machine import Face
from metrolib.survey.rests import Vee, rest_cell, rest_toml, vees
from metrolib.survey.sheets import Spacing, plan_sheets

FRONT, REAR, FLAT = LAYOUTS["an inverted vee and a flat"]
VEE = Vee(FRONT, REAR)


def flank(name, y, normal):
    return Face(name, y=y, width=20, x_from=0, x_to=500, normal=normal)


@pytest.mark.parametrize("layout", ["an inverted vee and a flat", "a hollow vee and a flat"])
def test_two_flanks_that_lean_opposite_ways_make_a_vee(layout):
    (vee,) = vees(LAYOUTS[layout])
    assert (vee.first.name, vee.second.name) == ("front flank", "rear flank")
    assert (vee.y, vee.x_from, vee.x_to) == (0, 100, 900)


def test_the_order_of_the_faces_does_not_matter():
    assert [vee.name for vee in vees([FLAT, REAR, FRONT])] == [VEE.name]


def test_two_vees_beside_each_other_are_two():
    faces = [flank(f"flank {n}", y=20 * n, normal=45 if n % 2 else -45) for n in range(4)]
    assert [(vee.first.name, vee.second.name) for vee in vees(faces)] == [
        ("flank 0", "flank 1"),
        ("flank 2", "flank 3"),
    ]


@pytest.mark.parametrize(
    "faces",
    [
        [],
        [FRONT],
        [flank("a", 0, 45), flank("b", 20, 45)],  # both lean the same way
        [flank("a", 0, -135), flank("b", 20, 135)],  # a dovetail: they look down
        [flank("a", 0, 90), flank("b", 20, -90)],  # two sides
    ],
)
def test_what_makes_no_vee(faces):
    assert vees(faces) == []


def test_a_rest_as_the_files_write_it():
    assert rest_toml(VEE) == '["front flank", "rear flank"]'
    assert rest_toml(FLAT) == '"flat"'
    assert (rest_cell(VEE), rest_cell(FLAT)) == ("", "flat")


def test_a_level_on_a_vee_stands_on_a_block_with_a_zero_of_its_own():
    out, back = plan_sheets("level along", [VEE])
    assert 'face = ["front flank", "rear flank"]' in out.keys
    assert any(key.startswith('setup = "block on the vee"') for key in out.keys)
    assert out.stations == tuple(("", float(x)) for x in range(100, 900, 100))
    assert back.stations == out.stations[::-1]
    assert (out.y, out.name) == (0, "level along vee of front flank and rear flank")


def test_a_sled_rides_on_a_vee():
    (sheet,) = plan_sheets("carriage", [VEE, FLAT])
    assert sheet.keys[1].startswith('riding = ["front flank", "rear flank"]')
    assert sheet.stations[0] == ("flat", 200.0)  # the rear foot stands at the vee's end


def test_a_pitch_of_ones_own():
    out, _ = plan_sheets("level along", [FLAT], Spacing(pitch=125))
    assert any(key.startswith("foot_spacing = 125 ") for key in out.keys)
    assert np.allclose([x for _, x in out.stations], np.arange(0, 1000, 125))
    (wire,) = plan_sheets("wire", [FLAT], Spacing(pitch=300))
    assert [x for _, x in wire.stations] == [0, 300, 600, 900, 1000]


def test_feet_and_straightedge_of_ones_own():
    (sheet,) = plan_sheets("carriage", [FLAT, FRONT], Spacing(foot=62.5))
    assert sheet.keys[2].startswith("feet = [-62.5, 62.5]")
    down, up = plan_sheets("straightedge", [FLAT], Spacing(edge=500))
    assert down.stations[-1] == up.stations[-1] == ("flat", 500.0)
    # Bessel: supports 0.5594 of the length apart
    assert down.keys[4].startswith("supports_at = [110, 390]")


def test_a_pitch_that_leaves_no_two_steps():
    with pytest.raises(InputError, match="room for two steps of 600 mm on 'flat'"):
        plan_sheets("level along", [FLAT], Spacing(pitch=600))

"""Pictures of stages, pass numbers, spacer-stopped cuts and orders of faces: what they hold."""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.face_order import order_of_faces
from metrolib.rebuild.stages.passes import pass_numbers
from metrolib.rebuild.stages.section import Bridge, CrossSection, FaceAcross
from metrolib.rebuild.stages.spacer import spacer_cut
from metrolib.rebuild.stages.stages import stages
from metrolib.show.figures import plot
from metrolib.survey.machine import LeftOut
from metrolib.survey.methods import Method
from tests.rebuild.beds import HELD, lathe_bed, one_flat
from tests.show.drawn import assert_inside_figure, cells, labels, line, numbers, overlaps

METHODS = (Method("file", 0.05, 0.01, 1.5), Method("scraper", 0.0, 0.005, 0.35))


def _stages(**more):
    plan = plan_removal(
        lathe_bed([0, -0.05, 0.1], [0, 0, 0]),
        **{"faces": ["front", "rear"], "confidence": None, "clean_up": 0.03, **HELD, **more},
    )
    return stages(plan, METHODS)


def test_stop_lines_on_the_face_with_the_deepest_cut():
    ax = plot(_stages())
    assert ax.get_title("left") == "front: where each stage stops"
    x, now = line(ax, "as it stands")
    assert x.tolist() == [0, 700, 1400]
    _, file = line(ax, "file stops 50.0 µm above the target")
    _, last = line(ax, "scraper stops at the target")
    # depths 80, 30, 180: the file takes 30, 0 and 130
    assert now - file == pytest.approx([30, 0, 130])
    assert now - last == pytest.approx([80, 30, 180])
    assert "taken by scraper" in labels(ax)
    assert "times larger" in ax.get_xlabel()
    assert_inside_figure(ax)


def test_stages_differ_in_hatching_dashes_and_marks():
    ax = plot(_stages(), face="rear")
    assert ax.get_title("left").startswith("rear")
    hatches = [one.get_hatch() for one in ax.collections]
    assert len({*hatches}) == len(hatches) == 2
    looks = [(one.get_marker(), one.get_linestyle()) for one in ax.lines]
    assert len({mark for mark, _ in looks}) == 3
    with pytest.raises(InputError, match="face: this is not one of the choices, got 'ledge'"):
        plot(_stages(), face="ledge")


def test_what_is_left_out_leaves_no_point():
    heights = one_flat([0, -0.05, 0, 0, 0], left_out=(LeftOut(240, 260, "oil hole"),))
    ax = plot(stages(plan_removal(heights, faces=["flat"]), METHODS), unit="thou")
    x, _ = line(ax, "as it stands")
    assert x.tolist() == [0, 125, 375, 500]
    assert ax.get_ylabel() == "height [thou]"


def test_pass_numbers_in_large_figures():
    depth = [0.010, 0.042, 0.021, 0.0, 0.012, 0.04]
    faces = ["front"] * 3 + ["rear"] * 3
    found = pass_numbers([100, 200, 300] * 2, depth, per_pass=ufloat(0.005, 0.001), face=faces)
    ax = plot(found)
    written = sorted((round(x), round(y, 1), text) for x, y, text in numbers(ax))
    assert written == sorted(
        (x, y, str(n))
        for x, y, n in zip([100, 200, 300] * 2, [0.5] * 3 + [1.5] * 3, found.passes, strict=True)
    )
    assert all(text.get_fontsize() >= 12 for text in ax.texts)
    assert len(cells(ax)) == 6
    assert "Stop after 5" in ax.get_title("left").replace("\n", " ")
    assert not overlaps(ax)
    assert_inside_figure(ax)


def test_many_zones_still_have_room_for_their_numbers():
    found = pass_numbers(np.arange(40) * 50.0, np.linspace(0, 0.5, 40), per_pass=0.005)
    ax = plot(found)
    assert len(numbers(ax)) == 40
    assert not overlaps(ax)


def test_a_single_zone():
    ax = plot(pass_numbers([300], [0.02], per_pass=0.005))
    assert [text for _, _, text in numbers(ax)] == ["4"]


def _cut(unit="um", pad=0.03):
    front = FaceAcross("front", 0, 20, 10.12, 10.0)
    rear = FaceAcross("rear", 200, 30, 10.12, 10.0)
    section = CrossSection(300, {"front": front, "rear": rear})
    return spacer_cut(section, "front", Bridge("rear", -50, 9.0), allowance=0.05, pad=pad)


@pytest.mark.parametrize("unit", ["um", "thou"])
def test_cross_section_to_scale(unit):
    cut = _cut(pad=ufloat(0.03, 0.01))
    ax = plot(cut, unit=unit)
    scale = {"um": 1.0, "thou": 25.4}[unit]
    tool = max(ax.lines, key=lambda one: one.get_linewidth())
    y, z = tool.get_xdata(), np.asarray(tool.get_ydata()) * scale
    # the tool's line: 50 um in the middle of the face, 0.5 mm/m
    assert z == pytest.approx(50 + 0.5 * np.asarray(y))
    tops = sorted(
        (round(one.get_x() + one.get_width() / 2), one.get_y() + one.get_height())
        for one in cells(ax)
    )
    found = {place: top * scale for place, top in tops}
    assert found[0] == pytest.approx(120)
    assert found[-56] == pytest.approx(25)  # the spacer, its inner edge under the line at -50
    assert found[200] == pytest.approx(150)  # the pad on the rear face
    assert "spacer" in labels(ax) and "pad" in labels(ax)
    assert ax.get_xlabel().startswith("place across the ways y [mm]; heights drawn about")
    assert ax.get_title("left").startswith("at x 300 mm: spacer")
    assert_inside_figure(ax)


def test_no_pad_no_entry():
    assert "pad" not in labels(plot(_cut(pad=0.0)))


def test_orders_of_faces():
    faces = {
        name: FaceAcross(name, y, 20, 10 + over, 10.0)
        for name, y, over in (("front", 0, 0.1), ("middle", 100, 0.3), ("rear", 200, 0.12))
    }
    bridges = {
        "front": Bridge("rear", -50, 9.0),
        "middle": Bridge("rear", 50, 9.0),
        "rear": Bridge("middle", 250, 9.0),
    }
    found = order_of_faces(CrossSection(300, faces), bridges, allowance=0.03)
    ax = plot(found)
    rows = [tick.get_text() for tick in ax.get_yticklabels()]
    assert rows[0] == "front, middle, rear" and rows[-1] == "once all are down"
    for name in bridges:
        across, row = line(ax, name)
        expected = [cuts[name].across * 1e3 for cuts in found.first_go.values()]
        assert across[:-1] == pytest.approx(expected)
        assert row.tolist() == list(range(7))
    marks = [one.get_marker() for one in ax.lines[:3]]
    assert len({*marks}) == 3
    faults = sum(bool(cut.fault) for cuts in found.first_go.values() for cut in cuts.values())
    crossed, _ = line(ax, "cannot be done")
    assert len(crossed) == faults > 0
    assert_inside_figure(ax)

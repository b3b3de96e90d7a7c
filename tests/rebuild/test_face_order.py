"""The order of faces: by hand, and by a rigid bar laid on the faces one after the other."""

from itertools import permutations

import pytest

from metrolib.errors import InputError
from metrolib.rebuild.stages.face_order import order_of_faces
from metrolib.rebuild.stages.section import Bridge, CrossSection, FaceAcross
from tests.rebuild.test_spacer import resting_line


def _section(**over):
    """Faces 20 mm wide, 100 mm apart, so much above a target at 10 mm."""
    faces = {
        name: FaceAcross(name, 100 * place, 20, 10 + height, 10)
        for place, (name, height) in enumerate(over.items())
    }
    return CrossSection(300, faces)


THREE = _section(front=0.05, middle=0.09, rear=0.15)
BRIDGES = {
    "front": Bridge("middle", -50, 9.0),
    "middle": Bridge("rear", 50, 9.0),
    "rear": Bridge("middle", 250, 9.0),
}


def test_by_hand():
    found = order_of_faces(
        _section(front=0.06, rear=0.12),
        {
            "front": Bridge("rear", -50, 9.0),
            "rear": Bridge("front", 150, 9.0),
        },
        allowance=0.02,
    )
    # 100 mm apart, 20 mm wide: the fifth part of how much the other is higher than the cut
    first = found.first_go["front", "rear"]
    assert first["front"].across == pytest.approx((0.12 - 0.02) / 5)
    assert first["rear"].across == pytest.approx(0, abs=1e-12)
    second = found.first_go["rear", "front"]
    assert second["rear"].across == pytest.approx(-(0.06 - 0.02) / 5)
    assert second["front"].across == pytest.approx(0, abs=1e-12)
    assert found.value == ("rear", "front")


def test_the_pad_is_left_in_every_order():
    found = order_of_faces(THREE, BRIDGES, allowance=0.03, pad=0.02)
    assert found.all_down["front"].across == pytest.approx(0.02 / 5)
    assert found.all_down["rear"].across == pytest.approx(-0.02 / 5)
    last = {order[-1] for order in found.first_go}
    for name in last:
        orders = [order for order in found.first_go if order[-1] == name]
        for order in orders:
            assert found.first_go[order][name].across == pytest.approx(found.all_down[name].across)


@pytest.mark.parametrize("order", list(permutations(BRIDGES)))
def test_each_order_against_a_rigid_bar(order):
    found = order_of_faces(THREE, BRIDGES, allowance=0.03, pad=0.02).first_go[order]
    height = {name: face.height for name, face in THREE.faces.items()}
    for name in order:
        bridge, face = BRIDGES[name], THREE.faces[name]
        spacer = (bridge.spacer_y, 9.0 + found[name].value)
        rest = (THREE.faces[bridge.rest].y, height[bridge.rest] + 0.02)
        p, q = resting_line([spacer, rest], weight_at=(spacer[0] + rest[0]) / 2)
        assert p + q * face.y == pytest.approx(10.03, abs=1e-7), "the allowance in its middle"
        assert 20 * q == pytest.approx(found[name].across, abs=1e-7)
        height[name] = 10.03


def test_the_best_order_leaves_the_least_worst_tilt():
    found = order_of_faces(THREE, BRIDGES, allowance=0.03)
    worst = {
        order: max(abs(cut.across) for cut in cuts.values())
        for order, cuts in found.first_go.items()
        if not any(cut.fault for cut in cuts.values())
    }
    assert worst[found.value] == pytest.approx(min(worst.values()))
    assert len(found.first_go) == 6


def test_an_order_that_cannot_be_done_is_told_and_not_chosen():
    section = _section(front=0.05, middle=0.12, rear=0.12)
    bridges = {"front": Bridge("rear", -50, 9.0), "middle": Bridge("rear", 50, 9.0)}
    found = order_of_faces(section, bridges, allowance=0.03)
    # over the middle face the line from the front to the rear is lower than the face still is
    assert found.first_go["front", "middle"]["front"].fault == "the tool lies on 'middle'"
    assert found.value == ("middle", "front")
    table = found.to_dataframe()
    assert table["cannot be done"].tolist() == ["front: the tool lies on 'middle'", "", ""]


def test_words_and_tables():
    found = order_of_faces(THREE, BRIDGES, allowance=0.03, pad=0.02)
    assert str(found).startswith(f"Cut '{found.value[0]}', '{found.value[1]}' and")
    assert "a second go, with all faces down," in str(found)
    table = found.to_dataframe("thou")
    assert table["order"].iloc[-1] == "once all are down"
    assert table["across front [thou]"].iloc[-1] == pytest.approx(0.004 / 0.0254)
    assert "once all are down" in found._repr_html_()
    deep = order_of_faces(
        _section(front=0.3, rear=0.9),
        {"front": Bridge("rear", -50, 9.0), "rear": Bridge("front", 150, 9.0)},
        allowance=0.01,
    )
    assert "But at " in str(deep) and "an edge ends below the target" in str(deep)


def test_refusals():
    with pytest.raises(InputError, match="bridges: 1 to 6 faces are needed, got 0"):
        order_of_faces(THREE, {}, allowance=0.03)
    with pytest.raises(InputError, match="with all faces down, allowance: .* leave more than"):
        order_of_faces(THREE, BRIDGES, allowance=0.001, pad=0.1)
    with pytest.raises(InputError, match="allowance: a number is needed"):
        order_of_faces(THREE, BRIDGES, allowance="a hair")
    with pytest.raises(InputError, match="bridges: a bridge by the name of each face is needed"):
        order_of_faces(THREE, [BRIDGES["front"]], allowance=0.03)


def test_a_face_that_lies_lower_already_is_not_raised():
    section = _section(front=0.034, rear=0.12)
    assert section.cut("front", 0.05).faces["front"].height == pytest.approx(10.034)
    bridges = {"front": Bridge("rear", -50, 9.0), "rear": Bridge("front", 150, 9.0)}
    with pytest.raises(InputError, match="does not come down to 'front', which stands 34.0 µm"):
        order_of_faces(section, bridges, allowance=0.05)
    # the rear face alone: its rest stays 16 um lower than the allowance
    alone = order_of_faces(section, {"rear": bridges["rear"]}, allowance=0.05)
    assert alone.all_down["rear"].across == pytest.approx((0.05 - 0.034) / 5)

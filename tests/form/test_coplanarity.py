"""Coplanarity: by hand, against flatness, what must not matter, refusals."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form.coplanarity import coplanarity
from metrolib.form.flatness import flatness

X = [0.0, 500.0, 1000.0]
# the middle face lies 12 below the plane of the outer two, which is z = 10
FACES = {
    "front": (X, 0, [10.0, 10, 10]),
    "middle": (X, [100, 100, 100], [-2.0, -2, -2]),
    "rear": (X, 200, [10.0, 10, 10]),
}


def test_by_hand():
    found = coplanarity(FACES, reference="minimum zone")
    assert found.value == pytest.approx(12.0)
    assert found.plane.at([0, 1000], [0, 200]) == pytest.approx([4.0, 4.0])
    heights = {name: face.height for name, face in found.faces.items()}
    assert heights == pytest.approx({"front": 6, "middle": -6, "rear": 6})
    assert found.faces["rear"].tilt == pytest.approx(0, abs=1e-12)
    assert {face for face, _ in found.contacts} == {"front", "middle", "rear"}
    assert all(0 <= station < 3 for _, station in found.contacts)


def test_nominal_steps_are_taken_off():
    steps = {"front": 10, "middle": -2, "rear": 10}
    assert coplanarity(FACES, steps=steps).value == pytest.approx(0, abs=1e-14)
    assert coplanarity(FACES, steps={"middle": -12}).value == pytest.approx(0, abs=1e-14)


def test_height_and_tilt_of_a_face_by_hand():
    # least squares through four corner stations of a plane, and a face between them that climbs
    # 2 over 100 about a mean of 3
    corners = {"a": ([0, 100], 0, [0, 0]), "b": ([0, 100], 100, [0, 0])}
    face = ([0, 100], 50, [2.0, 4.0])
    found = coplanarity({**corners, "c": face}, 0.3, reference="least squares")
    # the fitted plane: mean 1, slope along x (4 - 2) * 50 / (6 * 2500) = 1 / 150
    assert found.faces["c"].height.n == pytest.approx(2.0)
    assert found.faces["c"].tilt.n == pytest.approx(1000 * (0.02 - 1 / 150))
    # the height is 2/3 of the face's mean less 1/6 of the sum of the others:
    # u2 = 0.09 (2 (1/3)^2 + 4 (1/6)^2) = 0.09 / 3
    assert found.faces["c"].height.s == pytest.approx(0.3 / np.sqrt(3))
    assert found.faces["c"].deviation_u.shape == (2,)


def test_it_is_the_flatness_of_all_faces_together():
    rng = np.random.default_rng(1)
    x, y, z = rng.normal(size=(3, 12))
    faces = {"a": (x[:5], y[:5], z[:5]), "b": (x[5:], y[5:], z[5:])}
    found, flat = coplanarity(faces, 0.1), flatness(x, y, z, 0.1)
    assert (found.value.n, found.value.s) == pytest.approx((flat.value.n, flat.value.s))
    joint = [station + (0 if face == "a" else 5) for face, station in found.contacts]
    assert tuple(joint) == flat.contacts


def test_order_of_faces_and_a_common_plane_do_not_matter():
    tilted = {
        name: (x, y, np.array(z) + 0.01 * np.array(x) + 0.02 * np.array(y))
        for name, (x, y, z) in reversed(FACES.items())
    }
    assert coplanarity(tilted).value == pytest.approx(12.0)


def test_scaling():
    twice = {name: (x, y, 2 * np.array(z)) for name, (x, y, z) in FACES.items()}
    one, two = coplanarity(FACES, 0.1), coplanarity(twice, 0.2)
    assert (two.value.n, two.value.s) == pytest.approx((2 * one.value.n, 2 * one.value.s))


def test_a_face_at_one_x_has_no_tilt():
    found = coplanarity({**FACES, "pad": ([0.0], 300, [10.0])})
    assert found.faces["pad"].tilt is None
    assert "pad: " in str(found)


def test_the_sentence_and_the_table():
    found = coplanarity(FACES)
    assert str(found).startswith("coplanarity of front, middle and rear 12000.0 µm (minimum zone)")
    assert "middle: 6000.0 µm below the plane" in str(found)
    odd = coplanarity({"<a>": FACES["front"], "b": FACES["middle"]})
    assert "&lt;a&gt;" in odd._repr_html_()


@pytest.mark.parametrize(
    ("faces", "options", "words"),
    [
        ({}, {}, "faces: none given"),
        (FACES, {"steps": {"top": 1}}, "steps: this is not one of the choices, got 'top'"),
        ({"a": ([0, 1], 0, [1])}, {}, "x of 'a' and z of 'a': lengths differ"),
        ({"a": ([0, 1], [0], [1, 2])}, {}, "x of 'a' and y of 'a': lengths differ"),
        ({"a": ([0, np.nan], 0, [1, 2])}, {}, "x of 'a': item 1 is not a finite number"),
    ],
)
def test_refusals(faces, options, words):
    with pytest.raises(InputError, match=words):
        coplanarity(faces, **options)

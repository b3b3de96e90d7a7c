"""The adjustment as a whole: states, order, what is shown, and what must not matter."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.adjust import adjust
from metrolib.survey.instruments import Instrument
from metrolib.survey.machine import LeftOut
from tests.heights.build import LEVEL, Leg, flat, noisy, survey, worn

A, B = worn(0.07, 400, 200), worn(0.03, 600, 300, bow=0.01)
X = np.arange(0.0, 1201.0, 200.0)
REAR = X[:-1]


def legs(scale=1.0, u=1.0, pitch=1.0):
    """Two faces by level and cross-level; heights, uncertainties and places can be stretched."""
    level = Instrument("level", "mm/m", 0.0, LEVEL.repeatability * u)

    def steps(shape, seed):
        noise = noisy(np.zeros(REAR.size), LEVEL, seed)
        return (scale * (shape(REAR + 200) - shape(REAR)) / 0.2 + u * noise) / pitch

    across = scale * (B(X) - A(X)) / 0.25 + u * noisy(np.zeros(X.size), LEVEL, 3)
    spacing = {"foot_spacing": 200.0 * pitch}
    if pitch != 1:
        level = replace(level, repeatability=level.repeatability / pitch)
    cross = replace(level, name="cross", repeatability=LEVEL.repeatability * u)
    return [
        Leg("a", "level along", level, REAR * pitch, steps(A, 1), spacing, "a"),
        Leg("b", "level along", level, REAR * pitch, steps(B, 2), spacing, "b"),
        Leg("x", "level across", cross, X * pitch, across, {"face": "a", "other_face": "b"}),
    ]


FACES = [flat("a"), flat("b", y=250.0)]


def dip(heights, face="a"):
    z = heights.on(face).z
    return z[2] - (z[0] + 2 * z[3]) / 3


def test_heights_times_two():
    once, twice = (
        dip(adjust(survey(FACES, legs()))),
        dip(adjust(survey(FACES, legs(scale=2.0, u=2.0)))),
    )
    assert twice.n == pytest.approx(2 * once.n, abs=1e-9)
    assert twice.s == pytest.approx(2 * once.s, rel=1e-5)


def test_places_times_two_with_slopes_halved_change_no_height():
    near, far = adjust(survey(FACES, legs())), adjust(survey(FACES, legs(pitch=2.0)))
    assert dip(far).n == pytest.approx(dip(near).n, abs=1e-9)
    assert dip(far).s == pytest.approx(dip(near).s, rel=1e-5)


def test_the_order_of_traverses_and_readings_does_not_matter():
    usual = adjust(survey(FACES, legs()))
    turned = legs()[::-1]
    for leg in turned:
        leg.x, leg.value = leg.x[::-1], leg.value[::-1]
    other = adjust(survey(FACES, turned))
    assert other.face.tolist() == usual.face.tolist()
    np.testing.assert_allclose(other.values, usual.values, atol=1e-12)
    np.testing.assert_allclose(other.cov, usual.cov, rtol=1e-7, atol=1e-9)


def test_the_nominal_height_pulls_at_nothing():
    """The form is the same to a picometre if the drawing is out by 3 mm."""
    right = adjust(survey(FACES, legs()))
    wrong = adjust(survey([replace(FACES[0], nominal_height=3.0), FACES[1]], legs()))
    assert dip(wrong).n == pytest.approx(dip(right).n, abs=1e-12)


def test_faces_come_in_the_order_of_the_survey_and_stations_ascend():
    heights = adjust(survey(FACES[::-1], legs()))
    assert heights.face.tolist() == ["b"] * 7 + ["a"] * 7
    assert heights.x.tolist() == [*X, *X]
    assert heights.y.tolist() == [250.0] * 7 + [0.0] * 7


def test_left_out_stretches_are_marked_and_still_measured():
    face = replace(FACES[0], left_out=(LeftOut(350, 650, "oil hole"),))
    heights = adjust(survey([face, FACES[1]], legs()))
    assert heights.left_out.tolist() == [False, False, True, True] + [False] * 10
    assert heights.on("a").left_out.sum() == 2


def test_an_unmeasured_face_is_refused_only_when_asked_for():
    heights = adjust(survey([*FACES, flat("spare", 400.0)], legs()))
    with pytest.raises(InputError, match="no reading reaches it; measure it first"):
        heights.on("spare")


def in_states(*states):
    all_legs = legs()
    for leg, state in zip(all_legs, states, strict=True):
        leg.keys["state"] = state
    return survey(FACES, all_legs)


def test_states_are_not_mixed_unasked():
    assert adjust(in_states("bolted", "bolted", "bolted")).x.size == 14
    mixed = in_states("free", "bolted", "bolted")
    with pytest.raises(InputError) as refusal:
        adjust(mixed)
    assert str(refusal.value) == (
        "states: the readings were taken in 2 states of the machine, which may be as many shapes, "
        "got 'free', 'bolted'; choose one, states=['free'], or name several to say "
        "that they are one shape"
    )
    assert set(adjust(mixed, states=["free"]).face) == {"a"}
    assert adjust(mixed, states="free").x.size == 7
    together = adjust(mixed, states=["free", "bolted"])
    np.testing.assert_array_equal(together.values, adjust(survey(FACES, legs())).values)
    with pytest.raises(InputError, match="states: this is not one of the choices, got 'levelled'"):
        adjust(mixed, states=["levelled"])


def test_no_readings_and_unknown_names():
    empty = survey(FACES, legs())
    empty.readings = empty.readings.select(np.zeros(len(empty.readings), dtype=bool))
    with pytest.raises(InputError, match="there are none to adjust"):
        adjust(empty)
    lost = survey(FACES, legs())
    del lost.traverses["a"]
    with pytest.raises(
        InputError, match="readings: traverse: this is not one of the choices, got 'a'"
    ):
        adjust(lost)
    without = survey(FACES, legs())
    del without.instruments["cross"]
    with pytest.raises(InputError, match="unknown instrument 'cross'"):
        adjust(without)
    nameless = survey(FACES, legs())
    nameless.readings.face[0] = "c"
    with pytest.raises(InputError, match="traverse 'a': unknown face 'c'; use one of 'a', 'b'"):
        adjust(nameless)
    stray = survey(FACES, legs())
    stray.readings.face[-1] = "b"
    with pytest.raises(InputError, match="rests on 'a'; leave the face of its readings empty"):
        adjust(stray)


def test_extras_are_numbers_made_when_asked_for():
    extras = adjust(survey(FACES, legs())).extras
    assert sorted(extras) == ["zero of cross over a and b", "zero of level"]
    assert len(extras) == 2
    assert extras["zero of level"].s > 1  # never turned: it cannot be told from the tilt of the bed
    assert "zero of level" in repr(extras)
    with pytest.raises(KeyError):
        extras["zero of nothing"]


def test_what_is_shown_names_stations_agreement_and_what_is_open():
    heights = adjust(survey(FACES, legs()))
    lines = str(heights).split("\n")
    assert lines[0] == "Heights at 14 stations (a 7, b 7)."
    assert lines[1] == heights.checks.verdict
    assert lines[-1] == (
        "height of 'b' against 'a' is not determined: "
        "take a level reading across 'a' and 'b' at one place, both ways round"
    )
    html = heights._repr_html_()
    assert "<td>a</td><td>7</td><td>0 to 1200</td>" in html
    assert "&#x27;b&#x27; against &#x27;a&#x27; is not determined" in html
    assert html.count("<table>") == html.count("</table>") == 1


def test_correlation_between_faces_survives():
    heights = adjust(survey(FACES, legs()))
    a, b = heights.on("a").z, heights.on("b").z
    roll = (b - a) / 0.25
    twist = roll[-1] - roll[0]
    assert twist.s < 3 * LEVEL.u
    assert a[0].s > 1 and b[0].s > 1

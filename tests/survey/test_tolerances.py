"""Tolerances in survey.toml, and in Python: how they scale, and what is wrong with them."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.survey.folder import read_survey
from metrolib.survey.tolerances import Tolerance, check_tolerance
from tests.survey.example import TOML

GOOD = """
[tolerances."bed straight"]
test = "straightness"
limit = 0.02
sign = "convex only"
faces = ["front flat", "rear flat"]
length_from = 500
add_per_metre = 0.01
least = 0.005
rounded_to = 0.002
source = "shop rule"
clause = "3"
from_memory = true
confidence = "low"

[tolerances."spindle"]
test = "number"
limit = 0.02
per = 300
sign = "positive only"
positive = "free end high"
"""


def test_they_are_read(folder):
    (folder / "survey.toml").write_text(TOML + GOOD)
    survey = read_survey(folder)
    assert list(survey.tolerances) == ["bed straight", "spindle"]
    bed = survey.tolerances["bed straight"]
    assert bed.faces == ("front flat", "rear flat") and bed.sign == "convex only"
    assert bed.origin == "shop rule, 3 [from memory, low confidence]"
    assert survey.tolerances["spindle"].origin == "no source given"
    assert survey.tolerances["spindle"].limit_at(150) == pytest.approx(0.01)


def test_a_survey_needs_none(folder):
    assert read_survey(folder).tolerances == {}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"straightness"', '"straightnes"', "test names the unknown test 'straightnes'; did you"),
        ("limit = 0.02\nsign", "limit = 0\nsign", "limit is 0; it must be above 0"),
        ("limit = 0.02\nsign", "sign", "limit is missing; add limit = a number"),
        (
            '"convex only"',
            '"positive only"',
            "sign is 'positive only'; did you mean 'convex",
        ),
        ('"rear flat"]', '"rear"]', "faces names the unknown face 'rear'"),
        ("length_from = 500", "length_from = 500\nlength_to = 400", "it is not beyond length_from"),
        ("length_from = 500", "in_any = 250", "a local tolerance has no sign"),
        ("per = 300", "in_any = 300", "only straightness and parallelism have local tolerances"),
        ("least = 0.005", "least = 0.005\nmost = 0.001", "it is below least"),
        ("from_memory = true", 'from_memory = "yes"', "from_memory is 'yes'; write true or false"),
        ('confidence = "low"', 'confidence = "none"', "confidence is 'none'; use one of"),
        ("per = 300", "pre = 300", "unknown key 'pre'; did you mean 'per'?"),
    ],
)
def test_faults_are_told_with_their_line(folder, old, new, words):
    text = TOML + GOOD.replace(old, new, 1)
    (folder / "survey.toml").write_text(text)
    with pytest.raises(SurveyError) as error:
        read_survey(folder)
    (fault,) = error.value.faults
    assert words in str(fault)
    first = text.split("[tolerances")[0].count("\n") + 1
    assert fault.file == "survey.toml" and fault.line >= first


def test_a_change_of_the_decision_keeps_them(folder):
    (folder / "survey.toml").write_text(TOML + GOOD)
    changed = read_survey(folder).with_decision(clean_up=0.05)
    assert list(changed.tolerances) == ["bed straight", "spindle"]


def test_scaling_by_hand():
    # IS 6040:1993, 3.5: at least 0.005, steps of 0.002
    rule = {"least": 0.005, "rounded_to": 0.002}
    spindle = Tolerance("s", "number", 0.02, per=300, **rule)
    found = [spindle.limit_at(length) for length in (20, 75, 100, 150, 300, 450)]
    np.testing.assert_allclose(found, [0.005, 0.005, 0.006, 0.01, 0.02, 0.03], atol=1e-12)
    bed = Tolerance("b", "straightness", 0.02, length_from=1000, add_per_metre=0.01, **rule)
    np.testing.assert_allclose([bed.limit_at(x) for x in (1001, 2000, 3000)], [0.02, 0.03, 0.04])
    flat = Tolerance("f", "flatness", 0.04, length_from=1000, add_per_metre=0.005, most=0.05)
    np.testing.assert_allclose([flat.limit_at(x) for x in (2000, 9000)], [0.045, 0.05])


def test_a_limit_never_falls_with_length():
    for one in (
        Tolerance("a", "number", 0.02, per=300, least=0.005, rounded_to=0.002),
        Tolerance("b", "straightness", 0.02, add_per_metre=0.013, rounded_to=0.002, most=0.03),
    ):
        limits = [one.limit_at(length) for length in np.linspace(1, 4000, 500)]
        assert (np.diff(limits) >= 0).all()


def test_signs_are_bounds():
    either = Tolerance("t", "number", 0.02)
    assert either.bounds() == (-0.02, 0.02)
    assert replace(either, sign="positive only").bounds() == (0.0, 0.02)
    assert replace(either, sign="negative only").bounds() == (-0.02, 0.0)
    line = Tolerance("t", "straightness", 0.02)
    assert line.bounds() == (0.0, 0.02) and line.peak_to_valley
    assert replace(line, sign="concave only").bounds() == (-0.02, 0.0)
    assert Tolerance("t", "parallelism", 0.02, in_any=300).bounds() == (-0.02, 0.02)


def test_the_length_must_be_known():
    with pytest.raises(InputError, match="'spindle' depends on the length, got none; give the le"):
        Tolerance("spindle", "number", 0.02, per=300).limit_at()
    with pytest.raises(InputError, match="length: it must be above 0"):
        Tolerance("spindle", "number", 0.02, per=300).limit_at(0)
    assert Tolerance("centres", "number", 0.02).limit_at() == 0.02


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"test": "roundness"}, "test of tolerance 't': this is not one of the choices"),
        ({"limit": 0.0}, "limit of tolerance 't': it must be above 0"),
        ({"limit": -0.01}, "limit of tolerance 't': it must be above 0"),
        ({"sign": "high only"}, "sign of tolerance 't': this is not one of the choices"),
        ({"per": 0.0}, "per of tolerance 't': it must be above 0"),
        ({"rounded_to": -1.0}, "rounded_to of tolerance 't': it must be at least 0"),
        ({"in_any": 300.0, "per": 300.0}, "a local tolerance is not scaled by length"),
    ],
)
def test_refusals_in_python(change, words):
    with pytest.raises(InputError, match=words):
        check_tolerance(replace(Tolerance("t", "straightness", 0.02), **change))

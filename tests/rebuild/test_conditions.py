import numpy as np
import pytest

from metrolib.errors import ImpossiblePlanError, InputError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.machine import LeftOut
from tests.rebuild.beds import HELD, flat, lathe_bed

FACES = ["front", "rear"]


@pytest.fixture
def heights():
    return lathe_bed([0, 0.05, 0.1], [0, 0.05, 0.1])


@pytest.mark.parametrize(
    ("conditions", "words"),
    [
        ({"faces": []}, "faces: no face is to be cut"),
        ({"faces": ["saddle"]}, "faces: this is not one of the choices, got 'saddle'"),
        ({"faces": "front"}, "faces: a list of faces is needed, got 'front'"),
        ({"datum": ["saddle"]}, "datum: this is not one of the choices, got 'saddle'"),
        ({"together": "straight"}, "together: .* use one of 'coplanar', 'parallel'"),
        ({"minimise": "hours"}, "minimise: .* use one of 'volume', 'deepest cut'"),
        ({"clean_up": -0.01}, "clean_up: it must be at least 0, got -0.01"),
        ({"band": -0.01}, "band: it must be at least 0, got -0.01"),
        ({"band": np.nan}, "band: a finite number is needed"),
        ({"band": 0.02, "clean_up": 0.01}, "clean_up: .* no depth can be promised"),
        ({"confidence": 1.0}, "confidence: it must be below 1, got 1.0"),
        ({"confidence": 0}, "confidence: it must be above 0"),
        ({"confidence": 95}, "confidence: it must be below 1, got 95.0"),
        ({"tilt_along": 0.0}, "datum: a tilt can be held only against a datum, got none"),
        ({"tilt_across": 0.02}, "datum: a tilt can be held only against a datum"),
        ({"datum": HELD["datum"], "tilt_along": -1}, "tilt_along: it must be at least 0"),
        ({"untouchable": ["front ledge"]}, "untouchable: this is not one of the choices"),
        ({"untouchable": FACES}, "untouchable: no face is left to cut"),
        ({"greatest_cut": {"saddle": 0.1}}, "greatest_cut: this is not one of the choices"),
        ({"greatest_cut": {"front": -0.1}}, "greatest_cut of 'front': it must be at least 0"),
        ({"depth": 0.1}, "conditions: this is not one of the choices, got 'depth'"),
    ],
)
def test_conditions_that_make_no_sense(heights, conditions, words):
    with pytest.raises(InputError, match=words):
        plan_removal(heights, **{"faces": FACES, **conditions})


def test_zero_is_a_condition_and_none_is_not(heights):
    held = plan_removal(heights, faces=FACES, datum=HELD["datum"], tilt_along=0.0)
    free = plan_removal(heights, faces=FACES, datum=HELD["datum"], tilt_along=None)
    assert held.depth.max() == pytest.approx(0.1)
    assert free.depth.max() == pytest.approx(0, abs=1e-12)


def test_faces_that_are_not_measured_or_wholly_left_out():
    hole = LeftOut(0, 500, "sawn off")
    faces = [flat("front"), flat("rear", 200), flat("gone", 300, left_out=(hole,))]
    heights = given_heights(faces, {"front": ([0, 500], [0, 0]), "gone": ([0, 500], [0, 0])})
    for name in ("rear", "gone"):
        with pytest.raises(InputError, match=f"no station of this face counts.* got '{name}'"):
            plan_removal(heights, faces=["front", name])


def test_greatest_cut_that_is_too_small_says_what_is_needed_and_where(heights):
    with pytest.raises(
        ImpossiblePlanError,
        match="'front' may lose at most 0.050 mm, but 0.083 mm must come off at 1400 mm",
    ):
        plan_removal(
            heights, faces=FACES, greatest_cut={"front": 0.05}, **HELD | {"tilt_along": 0.017 / 1.4}
        )


def test_untouchable_face_that_stands_above_the_band(heights):
    with pytest.raises(
        ImpossiblePlanError,
        match="'rear' must stay untouched, but 0.080 mm must come off at 1400 mm",
    ):
        plan_removal(heights, faces=FACES, untouchable=["rear"], band=0.02, **HELD)


def test_each_condition_that_helps_alone_is_a_way_out(heights):
    with pytest.raises(ImpossiblePlanError) as error:
        plan_removal(heights, faces=FACES, greatest_cut={"front": 0.04, "rear": 0.2}, **HELD)
    words = str(error.value)
    assert "'front' may lose at most 0.040 mm, but 0.100 mm must come off at 1400 mm" in words
    # or let the target rise by 60 um over 1.4 m
    assert "may tilt at most 0.000 mm/m along against the datum, but must tilt 0.043 mm/m" in words
    assert "; or else " in words
    assert "'rear'" not in words.split("conditions:")[1]


def test_conditions_that_help_only_together_are_all_named(heights):
    greatest = {"front": 0.04, "rear": 0.06}
    humped = lathe_bed([0, 0.15, 0], [0, 0.15, 0])
    with pytest.raises(ImpossiblePlanError) as error:
        plan_removal(humped, faces=FACES, greatest_cut=greatest, **HELD)
    words = str(error.value)
    assert "'front' may lose at most 0.040 mm, but 0.150 mm must come off at 700 mm" in words
    assert "; and 'rear' may lose at most 0.060 mm, but 0.150 mm must come off at 700 mm" in words
    assert "tilt" not in words


def test_the_amounts_named_are_enough(heights):
    tight = {"faces": FACES, "greatest_cut": {"front": 0.04}, **HELD}
    with pytest.raises(ImpossiblePlanError):
        plan_removal(heights, **tight)
    plan = plan_removal(heights, **tight | {"greatest_cut": {"front": 0.1}})
    assert plan.depth[plan.face == "front"].max() == pytest.approx(0.1)
    plan = plan_removal(heights, **tight | {"tilt_along": 0.06 / 1.4})
    assert plan.depth[plan.face == "front"].max() <= 0.04 + 1e-9


def test_faces_that_look_against_each_other_may_lack_metal():
    # a key 10 um thinner than the drawing: no rigid motion of the drawing fits into it
    faces = [flat("top", 0), flat("bottom", 0, normal=180)]
    points = {"top": ([0, 500], [-0.004] * 2), "bottom": ([0, 500], [-0.006] * 2)}
    with pytest.raises(ImpossiblePlanError, match="look against each other .* 0.005 mm of metal"):
        plan_removal(given_heights(faces, points), faces=["top", "bottom"])

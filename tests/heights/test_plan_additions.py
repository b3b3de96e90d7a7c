"""plan_survey: which readings to add, beside even spacing, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.plan import plan_survey
from metrolib.heights.rows import At
from metrolib.survey.folder import read_survey
from metrolib.survey.instruments import Straightedge
from tests.heights.build import INDICATOR, LEVEL, flat
from tests.heights.plans import EXACT, MICROMETER, NOISY, SURVEYS, leg, planned, stepped, with_more

X = np.arange(0, 1600, 200.0)
LAYOUTS = {
    "one pass of a level": ([flat()], [stepped(x=X)], ()),
    "out and back turned": (
        [flat()],
        [stepped("out", X), leg("back", "level along", LEVEL, X, foot_spacing=200.0, turned=True)],
        (),
    ),
    "level and micrometer": (
        [flat(nominal=20.0), flat("under", normal=180.0)],
        [
            stepped(x=X),
            leg("over", "micrometer", MICROMETER, np.arange(0, 1700, 400), opposite_face="under"),
        ],
        (),
    ),
    "two ways and a bridge": (
        [flat("near"), flat("far", y=300.0)],
        [
            stepped("near", X, "near"),
            stepped("far", X, "far"),
            leg("across", "level across", LEVEL, [0, 1600], "", face="near", other_face="far"),
        ],
        (),
    ),
    "straightedge": (
        [flat()],
        [
            leg(
                "edge", "straightedge", INDICATOR, np.arange(0, 1001, 125.0), straightedge="edge"
            ),
            leg(
                "edge over", "straightedge", INDICATOR, np.arange(0, 1001, 125.0),
                straightedge="edge", sole_up=True,
            ),
        ],
        (Straightedge("edge", 1000.0, 0.01),),
    ),
    "sled and level": (
        [flat("guide"), flat("other", y=200.0)],
        [
            stepped("guide", X, "guide"),
            leg("sled", "carriage", INDICATOR, np.arange(200, 1500, 200), "other",
                riding="guide", feet=(-100.0, 100.0)),
        ],
        (),
    ),
}  # fmt: skip


def even_choices(made, count):
    """Yield so many repeats spread evenly over each traverse, from end to end and in mid-span."""
    rows = made.planned
    for name in dict.fromkeys(rows.traverse):
        places = np.flatnonzero(rows.traverse == name)
        ends = np.linspace(0, places.size - 1, count) if count > 1 else [places.size // 2]
        middles = (np.arange(count) + 0.5) / count * places.size - 0.5
        for spread in (ends, middles):
            yield places[np.round(spread).astype(int).clip(0, places.size - 1)]


LENGTHS = ("straightness", "bow", "height", "slope")


def worst_length(plan, after=False, kinds=LENGTHS):
    return max(
        each.worst_after if after else each.worst for each in plan.results if each.kind in kinds
    )


@pytest.mark.parametrize("layout", LAYOUTS)
def test_never_worse_than_even_spacing_and_mostly_better(layout):
    made = planned(*LAYOUTS[layout])
    # to the bow of one face all steps of a level count alike: even spacing is best there
    alone = len(made.machine.faces) == 1
    kinds, wanted = (("straightness",), {"straightness": NOISY}) if alone else (LENGTHS, NOISY)
    won = 0
    for count in (1, 2, 3, 4, 6):
        chosen = plan_survey(made, wanted, most=count)
        assert len(chosen.additions) == count and not chosen.reached
        reached = []
        for places in even_choices(made, count):
            more = made
            for place in places:
                rows = made.planned
                more = with_more(more, rows.traverse[place], rows.face[place], rows.x[place])
            reached.append(worst_length(plan_survey(more), kinds=kinds))
        best = worst_length(chosen, after=True, kinds=kinds)
        assert best <= min(reached) * (1 + EXACT)
        won += best < 0.99 * min(reached)
    assert won >= 3


@pytest.mark.parametrize("layout", LAYOUTS)
def test_what_is_promised_is_kept(layout):
    """The readings added, written as rows and planned anew, give the same uncertainties."""
    made = planned(*LAYOUTS[layout])
    plan = plan_survey(made, 0.8 * worst_length(plan_survey(made)))
    assert plan.reached and plan.additions
    again = made
    for each in plan.additions:
        again = with_more(again, each.traverse, each.face, each.x)
    kept = plan_survey(again)
    assert len(kept.results) >= len(plan.results)
    for each in plan.results:
        np.testing.assert_allclose(kept[each.name].u, each.u_after, rtol=EXACT)
    assert worst_length(kept) == pytest.approx(plan.additions[-1].worst * 0.8 * worst_length(plan))


def test_each_addition_says_where_it_leads():
    made = planned(*LAYOUTS["level and micrometer"])
    plan = plan_survey(made, NOISY, most=4)
    ratios = [each.worst for each in plan.additions]
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[-1] * NOISY == pytest.approx(worst_length(plan, after=True), rel=1e-9)
    assert {each.limits for each in plan.additions} <= {each.name for each in plan.results}


def test_a_micrometer_is_offered_where_it_was_not_set():
    made = planned(*LAYOUTS["level and micrometer"])
    plan = plan_survey(made, {"slope": 0.0015, "height": 0.0012}, most=10)
    # the far ledge has stations only where the micrometer stood, so only repeats help there
    assert {each.traverse for each in plan.additions} == {"over"}
    both = [*LAYOUTS["level and micrometer"][1], stepped("under", X, "under")]
    plan = plan_survey(planned(LAYOUTS["level and micrometer"][0], both), {"height": 0.0010})
    new = [each for each in plan.additions if each.repeat == 1]
    assert new and all(each.x % 400 == 200 for each in new)


def test_repeats_are_numbered_on():
    made = planned([flat()], [stepped(x=[0, 200])])
    plan = plan_survey(made, 1e-5, most=5)
    numbers = {}
    for each in plan.additions:
        numbers.setdefault(each.x, []).append(each.repeat)
    assert all(found == list(range(2, 2 + len(found))) for found in numbers.values())


def test_own_candidates_only():
    made = planned([flat()], [stepped(x=X)])
    mine = [{"traverse": "along", "x": 400}, {"traverse": "along", "x": 800, "face": "flat"}]
    plan = plan_survey(made, NOISY, candidates=mine, most=4)
    assert {each.x for each in plan.additions} == {400.0, 800.0}


def test_own_candidates_of_a_traverse_that_has_no_rows_yet():
    survey_to_plan = read_survey(SURVEYS / "planer_to_measure")
    across = [{"traverse": name, "x": x} for name in ("across", "across turned") for x in (0, 1800)]
    twist = "twist between 'front way' and 'rear way'"
    plan = plan_survey(survey_to_plan, {twist: 0.011}, candidates=across)
    # a bridge of which nothing is known yet tells a twist from two places on
    assert plan.reached and plan[twist].worst > 0.02
    assert {each.x for each in plan.additions} == {0.0, 1800.0}
    assert all(each.repeat < 3 for each in plan.additions)


def test_own_row_functions_are_planned_too():
    def ball(traverse, readings, survey):
        return [At("flat", readings.x, 1.0), At("flat", readings.x + 100.0, 1.0)]

    made = planned([flat()], [stepped(), leg("balls", "own: ball", INDICATOR, [100, 900])])
    made.traverses["balls"].settings["face"] = "flat"
    plan = plan_survey(made, NOISY, row_functions={"ball": ball}, most=2)
    assert len(plan.additions) == 2


def test_what_no_repeat_can_reach_is_said():
    # the micrometer's zero is common to all its readings: 0.002 mm stays
    faces = [flat("top", nominal=20.0), flat("under", normal=180.0)]
    zeroed = replace(MICROMETER, calibration_uncertainty=0.002)
    over = leg("over", "micrometer", zeroed, [0, 500, 1000], "top", opposite_face="under")
    plan = plan_survey(planned(faces, [over]), {"height": 0.001}, most=3)
    assert not plan.reached and plan.floor == pytest.approx(2.0, rel=1e-2)
    assert "would leave 2.00 times what is wanted; take a better instrument" in plan.in_words()


def test_states_are_not_mixed_unasked():
    legs = [stepped("out", X), stepped("bolted down", X, state="bolted")]
    made = planned([flat()], legs)
    with pytest.raises(InputError, match=r"states: .* 2 states .* got 'levelled', 'bolted'"):
        plan_survey(made)
    one = plan_survey(made, NOISY, states=["bolted"], most=2)
    assert {each.traverse for each in one.additions} == {"bolted down"}
    with pytest.raises(InputError, match=r"candidates\[0\]: traverse: .* got 'out'"):
        plan_survey(made, NOISY, states="bolted", candidates=[{"traverse": "out", "x": 0}])


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (0, "wanted: it must be above 0, got 0"),
        ("fine", "wanted: a number is needed, got 'fine'"),
        ({}, "wanted: nothing is named"),
        ({"roundness": 1}, "wanted: this is not one of the choices, got 'roundness'"),
        ({"twist": 0.01}, "wanted: no such result is determined, got 'twist'"),
        ({"bow": -1}, r"wanted\['bow'\]: it must be above 0, got -1"),
    ],
)
def test_refuses_what_cannot_be_wanted(wanted, words):
    with pytest.raises(InputError, match=words):
        plan_survey(planned([flat()], [stepped()]), wanted)


@pytest.mark.parametrize(
    ("candidates", "words"),
    [
        ("along", "candidates: a list is needed"),
        ([], "candidates: there is none"),
        ([("along", 0)], r"candidates\[0\]: this is no reading"),
        ([{"traverse": "along"}], r"candidates\[0\]: this is no reading"),
        ([{"traverse": "along", "x": 0, "y": 0}], r"candidates\[0\]: this is no reading"),
        ([{"traverse": "across", "x": 0}], r"candidates\[0\]: traverse: .* got 'across'"),
        ([{"traverse": "along", "x": "0 mm"}], r"candidates\[0\]: x: a number is needed"),
        (
            [{"traverse": "along", "x": 0}, {"traverse": "along", "x": 100}],
            r"candidates\[1\]: .* no other reading stands at its place.* got 'along' at x = 100",
        ),
    ],
)
def test_refuses_candidates_that_cannot_be_used(candidates, words):
    with pytest.raises(InputError, match=words):
        plan_survey(planned([flat()], [stepped()]), 0.001, candidates=candidates)


def test_refuses_a_survey_without_rows_and_a_wrong_number_of_readings():
    empty = planned([flat()], [stepped()])
    empty.planned = empty.planned.select(np.zeros(6, dtype=bool))
    with pytest.raises(InputError, match="there are none to plan with"):
        plan_survey(empty)
    with pytest.raises(InputError, match="most: it must be at least 0, got -1"):
        plan_survey(planned([flat()], [stepped()]), 0.001, most=-1)

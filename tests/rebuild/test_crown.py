"""A crown on the target: by hand, against a plane under lower heights, and by an own programme."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form.vee import vee
from metrolib.form.wording import nominal
from metrolib.heights.result import given_heights
from metrolib.rebuild.acceptance.acceptance import accept
from metrolib.rebuild.acceptance.tolerance_tables import tolerances
from metrolib.rebuild.removal.crown import crown_at
from metrolib.rebuild.removal.options import compare
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.removal.savings import savings
from metrolib.rebuild.removal.study import study_plan
from metrolib.survey.decision import Decision
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat
from tests.rebuild.reference import least_removal

FACES = ["front", "rear"]
QUARTERS = np.array([0, 0.75, 1, 0.75, 0])  # of a parabola from end to end


def planned(heights, **conditions):
    return plan_removal(heights, faces=FACES, **{**HELD, **conditions})


def parabola(n, crown):
    """A parabola over n stations from end to end, written in another way: 4 c s (1 - s)."""
    share = np.linspace(0, 1, n)
    return 4 * crown * share * (1 - share)


def test_level_ways_lose_the_crown_at_their_ends():
    plan = planned(lathe_bed([0] * 5, [0] * 5), crown=0.04)
    np.testing.assert_allclose(plan.target, np.tile(0.04 * QUARTERS - 0.04, 2), atol=1e-12)
    np.testing.assert_allclose(plan.depth, np.tile([0.04, 0.01, 0, 0.01, 0.04], 2), atol=1e-12)
    # 0.04 over an eighth of the length at either end, 0.01 over a quarter on either side
    assert plan.volume == pytest.approx(2 * 1400 * 40 * 2 * (0.04 / 8 + 0.01 / 4))
    # the mean over the faces is that of these depths, crown and all
    assert plan.value == pytest.approx(-0.015)
    assert [station.x for station in plan.governing] == [700]


def test_a_hollow_costs_the_middle():
    plan = planned(lathe_bed([0] * 5, [0] * 5), crown=-0.04)
    np.testing.assert_allclose(plan.depth, np.tile(0.04 * QUARTERS, 2), atol=1e-12)


def test_wear_in_the_middle_lies_under_the_crown():
    # the plane passes 0.01 below the wear of 0.05; a quarter on it is 0.0075 under the target
    plan = planned(lathe_bed([0, -0.03, -0.05, -0.03, 0], [0] * 5), crown=0.01)
    expected = [0.06, 0.0225, 0, 0.0225, 0.06, 0.06, 0.0525, 0.05, 0.0525, 0.06]
    np.testing.assert_allclose(plan.depth, expected, atol=1e-12)


def test_it_runs_from_end_to_end_of_the_ways_wherever_they_were_measured():
    faces = [flat("front", length=1000), replace(flat("rear", 200), x_from=200, x_to=1200)]
    at = {"front": ([250, 500], [0, 0]), "rear": ([600, 1150], [0, 0])}
    group = plan_removal(given_heights(faces, at), faces=FACES, crown=0.036).group
    # over 1200 mm, 600 from the middle to each end
    expected = 0.036 * (1 - (np.array([350, 100, 0, 550]) / 600) ** 2)
    np.testing.assert_allclose(group.crown, expected, atol=1e-12)


def test_a_station_more_or_less_moves_no_target():
    x, z = np.linspace(0, 1400, 9), np.array([0, -1, -3, -5, -6, -5, -3, -1, 0]) / 100
    way = [flat("way", length=1400)]
    targets = []
    for kept in ([0, 1, 2, 3, 4, 5, 6, 7, 8], [2, 4, 6]):
        heights = given_heights(way, {"way": (x[kept], z[kept])})
        plan = plan_removal(heights, faces=["way"], crown=0.02, datum=["way"], tilt_along=0)
        targets.append(plan.target[plan.x == 350] - plan.relative_height[plan.x == 700])
    # at a quarter 5 below the middle
    assert targets == [pytest.approx(-0.005, abs=1e-12)] * 2


FREE = {"tilt_along": None, "tilt_across": None}
CASES = [
    {"clean_up": 0.01},
    {"clean_up": 0.01, **FREE, "minimise": "deepest cut"},
    {"band": 0.02},
    {"together": "parallel"},
    {"band": 0.06, "untouchable": ("rear",), **FREE},
    {"clean_up": 0.01, "between_stations": True},
    {"clean_up": 0.01, "target_height": -0.05},
]


@pytest.mark.parametrize("conditions", CASES)
def test_it_is_a_plane_under_heights_lower_by_the_crown(conditions):
    rng, crown = np.random.default_rng(3), 0.015
    z = rng.normal(0, 0.01, (2, 7))
    level = planned(lathe_bed(*z, u=0.002, ledge_u=0.001), **conditions)
    if "target_height" in conditions:
        mean = level.group.mean(np.tile(parabola(7, crown), 2))
        conditions = {**conditions, "target_height": conditions["target_height"] + mean}
    raised = lathe_bed(*(z + parabola(7, crown)), u=0.002, ledge_u=0.001)
    plan = planned(raised, crown=crown, **conditions)
    # a last digit of what hides in a gap leads the guard's search, to 0.1 % of its cost, elsewhere
    gaps = 1e-3 * level.guard_depth if plan.decision.between_stations else 0
    np.testing.assert_allclose(plan.depth, level.depth, rtol=0, atol=1e-9 + gaps)
    np.testing.assert_allclose(plan.depth_u, level.depth_u, atol=1e-12)
    assert plan.volume == pytest.approx(level.volume, rel=1e-9, abs=gaps * plan.area.sum())
    assert plan.volume_u == pytest.approx(level.volume_u, rel=1e-3 if gaps else 1e-9)
    assert plan.guard == pytest.approx(level.guard, abs=1e-6 + gaps / 0.002)
    assert plan.confidence == pytest.approx(level.confidence, abs=1e-4)
    assert [g.station for g in plan.governing] == [g.station for g in level.governing]
    assert nominal(plan.value) == pytest.approx(plan.group.mean(plan.target), abs=1e-12)


@pytest.mark.parametrize("together", ["coplanar", "parallel"])
def test_a_crowned_bed_askew_needs_no_more_than_its_allowance(together):
    x = np.linspace(0, 1400, 9)
    tilted = parabola(9, 0.012) + 0.03 * x / 1400
    heights = lathe_bed(tilted, tilted + 0.02, u=0.001)
    plan = plan_removal(
        heights, faces=FACES, together=together, crown=0.012, clean_up=0.01, confidence=None
    )
    np.testing.assert_allclose(plan.depth, 0.01, atol=1e-9)
    # as a plane it would cost the whole crown at the middle
    level = replace(plan.decision, crown=0.0)
    assert plan_removal(heights, level).depth.max() == pytest.approx(0.022, abs=1e-9)


@pytest.mark.parametrize("minimise", ["volume", "deepest cut"])
@pytest.mark.parametrize("band", [0.0, 0.01])
def test_agrees_with_scipy_on_rows_of_its_own(minimise, band):
    # unknown lift, pitch and roll; T + c <= z with c the crown written out for each station
    rng, x = np.random.default_rng(17), np.linspace(0, 1400, 6)
    columns = np.array([[1, at / 1e3, y / 1e3] for y in (0, 300) for at in x])
    crowns = np.array([0.013 * (1 - ((at - 700) / 700) ** 2) for _ in (0, 300) for at in x])
    area = np.tile([140, 280, 280, 280, 280, 140], 2) * 40.0
    for _ in range(6):
        z = rng.normal(0, 0.02, (2, 6))
        plan = plan_removal(
            lathe_bed(*z), faces=FACES, crown=0.013, band=band, minimise=minimise, confidence=None
        )
        volume, deepest = least_removal(columns, z.ravel() - crowns, area, band=band)
        if minimise == "volume":
            assert plan.volume == pytest.approx(volume, abs=2e-3, rel=1e-7)
        else:
            assert plan.depth.max() == pytest.approx(deepest, abs=1e-7)


@pytest.mark.parametrize("conditions", [{"clean_up": 0.01}, FREE, {"between_stations": True}])
def test_the_guard_reaches_the_confidence_on_fresh_surfaces(conditions):
    draws, x = 40_000, np.linspace(0, 1400, 9)
    front = parabola(9, 0.02) + 0.002 * np.sin(x / 90)
    heights = lathe_bed(front, parabola(9, 0.02), u=0.002, ledge_u=0.0005)
    plan = planned(heights, crown=0.02, confidence=0.9, **conditions)
    assert plan.guard > 1
    rng = np.random.default_rng(20)
    errors = rng.normal(size=(draws, len(heights.values))) * np.sqrt(np.diag(heights.cov))
    seen = (heights.values + errors) @ plan.group.law.T
    clean = (seen >= plan.target + plan.decision.clean_up - 1e-12).all(axis=1).mean()
    scatter = 4 * np.sqrt(0.9 * 0.1 * (1 / draws + 1 / 40_000))
    if "between_stations" in conditions:  # the gaps share the risk
        assert clean >= 0.9 - scatter
    else:
        assert clean == pytest.approx(0.9, abs=scatter)
    study = study_plan(plan, draws=20_000)
    assert study.cleaned_all == pytest.approx(0.9, abs=4 * np.sqrt(0.09 * (1 / 20e3 + 1 / 40e3)))
    low, high = study.target.T
    assert (low <= plan.target + 1e-12).all() and (plan.target <= high + 1e-12).all()


def test_what_is_found_again_from_other_heights_has_the_crown_too():
    heights = lathe_bed([0, -0.03, 0.01, 0], [0, 0, -0.02, 0.01], u=0.002)
    plan = planned(heights, crown=0.02, confidence=None)
    rng = np.random.default_rng(1)
    z = heights.values + np.vstack([np.zeros(12), rng.normal(0, 0.01, (4, 12))])
    again = [planned(replace(heights, values=one), crown=0.02, confidence=None) for one in z]
    expected = [one.group.mean(one.target) for one in again]
    np.testing.assert_allclose(plan.redo(z), expected, rtol=0, atol=1e-12)
    assert nominal(plan.value) == pytest.approx(expected[0], abs=1e-12)
    by_hand = planned(heights, crown=0.02, target_height=expected[0])
    np.testing.assert_allclose(by_hand.target, plan.target, atol=1e-12)
    assert savings(planned(heights, crown=0.02)).depth > 0


def test_a_saddle_on_vee_and_flat_rises_and_does_nothing_else():
    x = np.linspace(0, 1000, 5)
    shape = {"length": 1000}
    faces = [
        flat("a", 90, normal=-30, **shape),
        flat("b", 110, normal=60, **shape),
        flat("flat", 300, **shape),
        flat("side", 320, normal=90, **shape),
        flat("keeper", 305, normal=180, **shape),
    ]
    names = np.repeat([face.name for face in faces], 5)
    decision = Decision(faces=tuple(face.name for face in faces), crown=0.03)
    crown = crown_at(decision, {face.name: face for face in faces}, names, np.tile(x, 5))
    a, b, top, side, keeper = crown.reshape(5, 5)
    path = vee(x, a, b, (-30, 60))
    np.testing.assert_allclose(path.vertical.deviation, 0.03 * QUARTERS - 0.015, atol=1e-12)
    assert path.horizontal.value == pytest.approx(0, abs=1e-12)
    np.testing.assert_allclose(top, 0.03 * QUARTERS)
    np.testing.assert_allclose(top + keeper, 0, atol=1e-15)  # what is between keeps its play
    assert not side.any()


def test_it_is_an_arc_of_a_circle():
    """Height of a segment, as in any handbook (from memory): s = R - sqrt(R² - (L / 2)²)."""
    length, crown = 1400.0, 0.01
    radius = length**2 / (8 * crown)
    x = np.linspace(0, length, 57)
    way = {"way": flat("way", length=length)}
    found = crown_at(Decision(("way",), crown=crown), way, np.full(57, "way"), x)
    # sqrt(R² - d²) = R - d² / (R + sqrt(R² - d²)), which keeps the digits
    drop = [d**2 / (radius + np.sqrt(radius**2 - d**2)) for d in (x - 700, 700.0)]
    np.testing.assert_allclose(found, drop[1] - drop[0], rtol=0, atol=1e-11)


def test_a_crown_passes_the_classic_chart_where_a_plane_does_not():
    """Lathe bed along: 0 to +0.02 mm in 1000, convex only (classic charts, from memory).

    Scraped with ripples of 1.5 µm, both ways; common practice, no published source.
    """
    chart = tolerances("lathe, classic chart")["bed level along"].on(*FACES)
    x = np.linspace(0, 1400, 15)
    ripple = 0.0015 * np.cos(x / 40)
    for crown, decision in ((0.012, "accepted"), (0.0, "not accepted"), (-0.012, "not accepted")):
        bed = lathe_bed(0 * x, -0.05 * np.sin(np.pi * x / 1400), u=0.0005)
        plan = planned(bed, crown=crown)
        left = plan.target.reshape(2, -1) + ripple - ripple[0]
        verdicts = accept(lathe_bed(*left, u=0.0002), [chart], length=1000).verdicts
        assert {verdict.decision for verdict in verdicts} == {decision}


def test_words_pictures_and_tables_say_it():
    bed = lathe_bed([0] * 5, [0, 0, -0.02, 0, 0], u=0.001)
    plan = planned(bed, crown=0.01)
    said = "The target has a crown of 10.0 µm: so much higher at 700 mm than at 0 and 1400 mm."
    assert said in str(plan) and said in plan._repr_html_()
    assert "a crown of 0.39 thou" in plan.in_words("thou")
    assert "has a hollow of 10.0 µm: so much lower at" in str(planned(bed, crown=-0.01))
    assert "crown" not in str(planned(bed))
    options = {"crown": plan.decision, "plane": replace(plan.decision, crown=0.0)}
    assert "off from coplanar with a crown of 10.0 µm." in str(compare(bed, options))
    assert "off from coplanar." in str(compare(bed, {"plane": options["plane"]}))


def test_what_is_off_from_a_crown():
    bed = lathe_bed([0] * 5, [0] * 5)
    alone = compare(bed, {"crown": Decision(tuple(FACES), crown=0.04)}).outcomes[0][1]
    assert alone.deviation == pytest.approx(0.04, abs=1e-9)


@pytest.mark.parametrize(
    ("crown", "words"),
    [
        ("high", "crown: a number is needed, got 'high'"),
        (np.nan, "crown: a finite number is needed"),
        (None, "crown: a number is needed, got None"),
    ],
)
def test_a_crown_is_a_height(crown, words):
    with pytest.raises(InputError, match=words):
        planned(lathe_bed([0] * 3, [0] * 3), crown=crown)


def test_faces_that_look_sideways_show_none():
    side = one_flat([0, 0, 0], normal=90)
    with pytest.raises(InputError, match="crown: these faces look sideways, so none of them rises"):
        plan_removal(side, faces=["flat"], crown=0.01)
    assert not plan_removal(side, faces=["flat"], crown=0.0).depth.any()

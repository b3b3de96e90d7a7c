"""A crown followed to the bench: stops, cross-sections, gaps, rounds, overcuts, ways."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.heights.result import given_heights
from metrolib.rebuild.lowering.taken import taken_off
from metrolib.rebuild.removal.gaps import between_stations
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.overcut import after_overcut
from metrolib.rebuild.rounds.progress import progress
from metrolib.rebuild.stages.gauges import Gauge
from metrolib.rebuild.stages.section import cross_section
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.ways.choosing import choose_way
from metrolib.survey.decision import Decision
from metrolib.survey.instruments import Instrument
from metrolib.survey.methods import Method
from metrolib.survey.readings import Traverse
from metrolib.survey.tolerances import Tolerance
from tests.rebuild import rounds_given
from tests.rebuild.beds import HELD, flat, lathe_bed
from tests.rebuild.rounds_given import bed_rounds

X = np.linspace(0, 500, 5)
CROWN = 0.04 * np.array([0, 0.75, 1, 0.75, 0])


def way_over_a_ledge():
    """A level way, nominally 25 over a ledge that is hollow by 0.004, and its plan with a crown."""
    faces = [flat("way", nominal_height=25), flat("ledge", normal=180)]
    ledge = np.array([2, -1, -2, -1, 2]) / 1000  # its fitted line is level and at 0
    heights = given_heights(faces, {"way": (X, np.full(5, 25.0)), "ledge": (X, ledge)})
    held = {"datum": ["ledge"], "tilt_along": 0.0}
    return plan_removal(heights, faces=["way"], crown=0.04, **held), ledge


def test_stops_and_stages_follow_the_crown():
    plan, ledge = way_over_a_ledge()
    over = {"face": "way", "opposite_face": "ledge"}
    over = Traverse("over the ledge", "micrometer", "micrometer", settings=over)
    micrometer = Instrument("micrometer", "mm", resolution=0.001, repeatability=0.002)
    file, scraper = Method("file", 0.02, 0.01, 0.5), Method("scraper", 0.0, 0.005, 0.3)
    work = stages(plan, [file, scraper], gauges=[Gauge("way", over, micrometer)])
    np.testing.assert_allclose(work["file"].taken, [0.02, 0, 0, 0, 0.02], atol=1e-12)
    np.testing.assert_allclose(work["scraper"].taken, [0.02, 0.01, 0, 0.01, 0.02], atol=1e-12)
    # a size across is the way's height and the ledge's, each along its own normal
    done = work["scraper"].readings["way"]
    np.testing.assert_allclose(done.exact, 25 - 0.04 + CROWN + ledge, atol=1e-9)


def test_in_a_cross_section_the_target_is_that_of_the_crown_not_of_a_chord():
    plan, _ = way_over_a_ledge()
    for x in (0, 62.5, 250, 300):
        way = cross_section(plan, x).faces["way"]
        assert way.target == pytest.approx(24.96 + 4 * 0.04 * x / 500 * (1 - x / 500), abs=1e-9)
        assert way.height == pytest.approx(25)


@pytest.mark.parametrize("places", [np.linspace(0, 500, 6), [0, 60, 200, 290, 500]])
def test_a_crowned_way_has_nothing_to_hide_between_stations(places):
    places = np.asarray(places, float)
    z = 4 * 0.04 * places / 500 * (1 - places / 500)
    heights = given_heights([flat("way")], {"way": (places, z)}, u=0.001)
    plan = plan_removal(heights, faces=["way"], crown=0.04, clean_up=0.01, confidence=None)
    room = [gap.room for gap in between_stations(plan).gaps]
    np.testing.assert_allclose(room, 0, atol=1e-9)


def test_what_is_new_stands_at_the_crown():
    plan, _ = way_over_a_ledge()
    new = taken_off(plan, faces=["way"], since="new")
    np.testing.assert_allclose(new.values, 0.04 - CROWN, atol=1e-9)


#: Rounds on a level top that gets a crown: all stations at first, three at the end.
STATIONS = [X, X[[0, 2, 4]]]


def test_a_round_with_fewer_stations_is_bent_as_the_target_is():
    rounds = bed_rounds(np.zeros(5), [-0.04, 0.0, -0.04], stations=STATIONS)
    plan = plan_removal(rounds["start"], **rounds_given.HELD, crown=0.04, confidence=None)
    now = progress(rounds, plan)
    assert now.seen.between[-1].tolist() == [False, True, False, True, False]
    np.testing.assert_allclose(now.left, 0, atol=1e-9)
    np.testing.assert_allclose(now.taken, 0.04 - CROWN, atol=1e-9)
    assert set(now.verdict) == {"stop"}
    # cut to a plane it would be 0.04 too low in the middle
    level = bed_rounds(np.zeros(5), np.full(3, -0.04), stations=STATIONS)
    spoilt = progress(level, plan)
    assert spoilt.left[2] == pytest.approx(-0.04) and spoilt.verdict[2] == "overcut"


def test_after_an_overcut_the_crown_is_lowered_as_a_whole():
    last = -0.04 + CROWN
    last[2] -= 0.006
    rounds = bed_rounds(np.zeros(5), last)
    plan = plan_removal(rounds["start"], **rounds_given.HELD, crown=0.04, confidence=None)
    found = after_overcut(progress(rounds, plan), tolerance=0.001)
    assert found.value == pytest.approx(0.006)
    assert found.plan.decision.crown == 0.04
    np.testing.assert_allclose(found.plan.depth, [0.006, 0.006, 0, 0.006, 0.006], atol=1e-9)
    assert found.remedies[-1].lowered == pytest.approx(0.006)


def test_ways_foretell_that_a_crown_passes_convex_only():
    convex = Tolerance("convex", "straightness", 0.02, sign="convex only").on("front", "rear")
    bed = lathe_bed([0, -0.02, -0.03, -0.02, 0], [0, 0, -0.01, 0, 0], u=0.0005, ledge_u=0.0005)
    plane = Decision(("front", "rear"), confidence=None, **HELD)
    found = choose_way(
        bed,
        {"plane": plane, "crown": replace(plane, crown=0.012)},
        finishing_u=0.001,
        tolerances=[convex],
        draws=4000,
    )
    # of a plane each of three inner stations on two ways lies high or low by luck
    assert found["plane"].chances["convex"] < 0.5
    assert found["crown"].chances["convex"] > 0.99
    assert found["crown"].left["straightness"][0] == pytest.approx(0.012, abs=0.002)

"""The sections of the report on the work ahead."""

from dataclasses import replace

import pytest

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.show.ahead import sections
from metrolib.survey.folder import read_survey
from tests.show.conftest import SAMPLES

TITLES = ["Stages and stop readings", "What the lowering does", "Against the tolerances"]


@pytest.fixture(scope="module")
def job():
    survey = read_survey(SAMPLES / "toolroom_lathe")
    with pytest.warns(DoubtfulReadingsWarning):
        heights = adjust(survey)
    return survey, heights, plan_removal(heights, survey.decision, draws=4000)


@pytest.fixture(scope="module")
def told(job):
    return {section.title: section for section in sections(*job)}


def test_each_description_in_the_survey_gets_its_section(job, told):
    survey, heights, plan = job
    assert list(told) == TITLES
    bare = replace(survey, methods=(), carried={}, drive=None, tolerances={})
    assert sections(bare, heights, plan) == []
    assert [each.title for each in sections(survey, heights, None)] == TITLES[2:]


def test_every_station_has_its_stop(job, told):
    survey, _, plan = job
    summary, *benches = told["Stages and stop readings"].tables
    assert [caption for caption, _ in benches] == [
        f"{face}, station by station" for face in plan.faces
    ]
    for method in survey.methods:
        assert method.name in summary[1]
        assert all(method.name in table for _, table in benches)
    assert all("stop at [" in table for _, table in benches)


def test_what_rides_on_the_ways_is_followed_to_screw_and_centres(told):
    section = told["What the lowering does"]
    words = " ".join(section.said)
    for part in ("saddle", "tailstock", "headstock", "half-nut", "rack", "tailstock centre"):
        assert part in words, part
    assert [title for title, _ in section.pictures] == [
        f"Motion of the {body}" for body in ("saddle", "tailstock", "headstock")
    ]


def test_shims_are_told_where_all_that_carries_is_planned(job, told):
    survey, heights, plan = job
    assert not any("shim" in said for said in told["What the lowering does"].said)
    flats = ("front flat", "rear flat")
    tray = replace(survey.carried["saddle"], name="tray", rides_on=(*flats, "rear ledge"), z={})
    bare = replace(survey, methods=(), drive=None, tolerances={}, carried={"tray": tray})
    ((*_, words),) = (section.said for section in sections(bare, heights, plan))
    assert words.startswith("under 'tray', square to each face: 'front flat'") and "a shim" in words


def test_tolerances_are_judged_as_it_stands(told):
    ((_, table),) = told["Against the tolerances"].tables
    assert "not accepted" in table and "no figure was given" in table


def test_what_cannot_be_told_says_why(job):
    survey, heights, plan = job
    # the scraper's pass, ten times as deep as what is left to it
    *first, last = survey.methods
    coarse = replace(survey, methods=(*first, replace(last, per_pass=0.25)))
    section = sections(coarse, heights, plan)[0]
    assert section.tables == () and "scraper" in section.said[0]


def test_a_face_that_nothing_can_watch_is_named(job):
    survey, heights, plan = job
    kept = {n: one for n, one in survey.traverses.items() if n != "micrometer over the rear ledge"}
    said = sections(replace(survey, traverses=kept), heights, plan)[0].said
    assert said[1].startswith("No stop readings for 'rear flat': no traverse of a micrometer")
    assert len(sections(survey, heights, plan)[0].said) == 1

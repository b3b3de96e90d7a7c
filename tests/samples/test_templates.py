"""The template folders: today's `blank_survey`, each with what its instrument cannot tell."""

from dataclasses import replace
from pathlib import Path

import pytest
from templates import TEMPLATES, template_files

from metrolib import adjust, plan_removal, plan_survey, read_survey
from metrolib.errors import InputError

SURVEYS = Path(__file__).resolve().parents[2] / "sample_surveys"


@pytest.fixture(params=TEMPLATES)
def template(request):
    return request.param


def intended(name):
    return read_survey(SURVEYS / name)


def words(name):
    return plan_survey(intended(name)).in_words()


def test_the_stored_bytes_are_those_of_today(template):
    stored = {path.name: path.read_bytes() for path in (SURVEYS / template).iterdir()}
    assert template_files(template) == {k: v for k, v in stored.items() if k != "README.md"}


def test_it_is_read_without_a_fault_and_nothing_is_read_yet(template):
    survey = intended(template)
    assert len(survey.readings) == 0
    assert set(survey.planned.traverse) == set(survey.traverses)
    with pytest.raises(InputError, match="none is taken yet.*plan_survey"):
        adjust(survey)


def test_a_filled_template_leads_to_a_decision(template):
    survey = intended(template)
    planned = survey.planned
    taken = zip(planned.traverse, planned.face, planned.x.tolist(), strict=True)
    filled = survey.with_readings(
        {"traverse": traverse, "face": face, "x": x, "reading": 0} for traverse, face, x in taken
    )
    assert len(filled.planned) == 0
    plan = plan_removal(adjust(filled), filled.decision)
    # on true ways nothing but the guard comes off, a few times what is unsure
    assert 0 < plan.depth.max() < 5 * plan.depth_u.max()


def test_its_story_says_what_to_do(template):
    story = (SURVEYS / template / "README.md").read_text(encoding="utf-8")
    assert story.startswith("# Template: I only have a")
    for heading in ("need.**", "is read.**", "tells.**", "go on.**", "Cautions.**"):
        assert heading in story
    assert "cannot tell alone" in story and "plan_survey" in story


def test_a_level_leaves_nothing_open():
    assert "not determined" not in words("template_level")


def test_feelers_leave_the_bow_of_the_sole():
    """Both runs see the same place of the sole in the middle, so its profile stays there.

    The mean of two runs there has the variance r²/2 + e²; less the mean of all 11 stations, of
    which the sum of each mirrored pair has r² + 2 e², ten elevenths of that remain.
    """
    name = "template_straightedge_and_feelers"
    feelers, edge = intended(name).instruments["feelers"], intended(name).straightedges
    reading = feelers.repeatability**2 + feelers.resolution**2 / 12
    profile = edge["straightedge"].profile_uncertainty ** 2
    expected = plan_survey(intended(name))["straightness of 'way'"]
    assert expected.x[expected.u.argmax()] == 500
    assert expected.worst == pytest.approx(((reading / 2 + profile) * 10 / 11) ** 0.5, rel=1e-3)


def test_an_indicator_without_its_straightedge_knows_no_shape():
    survey = intended("template_indicator")
    carriage = survey.planned.traverse == "carriage, rear flat"
    alone = replace(survey, planned=survey.planned.select(carriage))
    said = plan_survey(alone).in_words()
    for face in ("front flat", "rear flat"):
        assert f"Shape of '{face}' along its length is not determined" in said


def test_an_indicator_with_its_straightedge_leaves_one_height_open():
    said = words("template_indicator")
    assert said.count("not determined") == 1
    assert "Height of 'rear flat' against 'front flat' is not determined" in said

"""The sample surveys: made again byte for byte, read without a fault, and true to what they hide.

The readings come from points in space (simulate.py), not from the equations that reduce them.
"""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.survey.folder import read_survey
from tests.samples.templates import TEMPLATES

HERE = Path(__file__).parent
SURVEYS = HERE.parents[1] / "sample_surveys"
MADE = ("toolroom_lathe", "milling_table", "rectangular_face", "long_rails")
PUBLISHED = ("published_autocollimator", "published_forward_backward")
PLANNED = ("planer_to_measure",)  # nothing read yet: tests/heights/test_plan.py


def truth_of(name):
    return json.loads((HERE / "truth" / f"{name}.json").read_text(encoding="utf-8"))


def is_reading(readings, place):
    """Tell which readings stand at a place that the truth names: traverse, face and x."""
    here = (readings.traverse == place["traverse"]) & (readings.x == place["x"])
    return here if place["face"] is None else here & (readings.face == place["face"])


def without_blunder(survey, truth):
    wrong = is_reading(survey.readings, truth["blunder"])
    assert wrong.sum() == 1
    return replace(survey, readings=survey.readings.select(~wrong))


def true_heights(heights, truth):
    """Return the true height at each station of `heights`."""
    known = {
        (face, round(x, 2), round(y, 2)): height
        for face, columns in truth["faces"].items()
        for x, y, height in zip(columns["x"], columns["y"], columns["height"], strict=True)
    }
    stations = list(zip(heights.face, heights.x.round(2), heights.y.round(2), strict=True))
    assert set(stations) == set(known)
    return np.array([known[station] for station in stations])


def rigid_motions(heights):
    """Return the heights per unit of lift, pitch, roll, shift and yaw of the whole machine."""
    normal = np.deg2rad([heights.faces[face].normal for face in heights.face])
    up, across = np.cos(normal), np.sin(normal)
    x, y = heights.x / 1000, heights.y / 1000
    return np.column_stack([up, up * x, up * y, across, across * x])


def less_motions(stations, motions, heights, error):
    """Return errors of chosen stations less what motions explain, and their covariance."""
    motions = motions[stations]
    keep = np.eye(len(motions)) - motions @ np.linalg.pinv(motions)
    return keep @ error[stations], keep @ heights.cov[np.ix_(stations, stations)] @ keep.T


def assert_plausible(error, cov, what):
    normalised = np.abs(error) / np.sqrt(cov.diagonal())
    assert normalised.max() < 5, f"{what}: {normalised.round(1)}"
    rank = np.linalg.matrix_rank(cov, tol=1e-6 * np.linalg.norm(cov, 2), hermitian=True)
    squares = error @ np.linalg.pinv(cov, rcond=1e-6, hermitian=True) @ error
    low, high = chi2.ppf([1e-4, 1 - 1e-4], rank)
    assert low < squares < high, f"{what}: {squares:.1f} outside {low:.1f} to {high:.1f}"


def test_the_script_makes_the_same_bytes(tmp_path):
    script = [sys.executable, str(HERE / "make_samples.py")]
    into = ["--surveys", str(tmp_path / "surveys"), "--truth", str(tmp_path / "truth")]
    subprocess.run([*script, *into], check=True)
    for name in (*MADE, *PUBLISHED):
        made = (tmp_path / "surveys" / name / "readings.csv").read_bytes()
        assert made == (SURVEYS / name / "readings.csv").read_bytes(), name
    for name in MADE:
        made = (tmp_path / "truth" / f"{name}.json").read_bytes()
        assert made == (HERE / "truth" / f"{name}.json").read_bytes(), name


def test_every_folder_is_tested():
    folders = {path.name for path in SURVEYS.iterdir() if path.is_dir()}
    assert folders == {*MADE, *PUBLISHED, *PLANNED, *TEMPLATES}


@pytest.mark.parametrize("name", (*MADE, *PUBLISHED))
def test_reads_without_a_fault_and_tells_its_story(name):
    survey = read_survey(SURVEYS / name)
    assert set(survey.readings.traverse) == set(survey.traverses), "a traverse without readings"
    story = (SURVEYS / name / "README.md").read_text(encoding="utf-8")
    assert story.startswith("# ")
    for heading in ("**Measured.**", "**The question.**", "**Planted.**", "**Cautions.**"):
        assert heading in story


@pytest.mark.parametrize("name", MADE)
def test_the_story_names_what_is_planted(name):
    truth = truth_of(name)
    story = (SURVEYS / name / "README.md").read_text(encoding="utf-8")
    planted = story[story.index("**Planted.**") : story.index("**Cautions.**")]
    blunder = truth["blunder"]
    told = (f"{float(blunder['x']):g} mm", blunder["reading"], blunder["should_be"])
    assert [word for word in told if word not in planted] == []


@pytest.mark.parametrize("name", MADE)
def test_no_reading_is_beyond_its_instrument(name):
    survey = read_survey(SURVEYS / name)
    for traverse in survey.traverses.values():
        instrument = survey.instruments[traverse.instrument]
        if instrument.reading_range is not None:
            readings = survey.readings.of(traverse.name).value
            assert np.abs(readings).max() <= instrument.reading_range, traverse.name


@pytest.mark.parametrize("name", MADE)
def test_form_of_each_face_is_recovered(name):
    truth = truth_of(name)
    survey = without_blunder(read_survey(SURVEYS / name), truth)
    heights = adjust(survey)
    error = heights.values - true_heights(heights, truth)
    for face in dict.fromkeys(heights.face):
        motions = np.column_stack([np.ones_like(heights.x), heights.x, heights.y])
        result = less_motions(np.flatnonzero(heights.face == face), motions, heights, error)
        assert_plausible(*result, f"{name}, form of {face}")


@pytest.mark.parametrize("name", MADE)
def test_faces_are_recovered_against_each_other_and_their_datum(name):
    truth = truth_of(name)
    survey = without_blunder(read_survey(SURVEYS / name), truth)
    heights = adjust(survey)
    error = heights.values - true_heights(heights, truth)
    decision = survey.decision
    to_cut = np.isin(heights.face, [*decision.faces, *decision.datum])
    for group in (np.flatnonzero(to_cut), np.arange(len(heights.face))):
        result = less_motions(group, rigid_motions(heights), heights, error)
        assert np.sqrt(result[1].diagonal().max()) < 0.03, "the survey ties them together"
        assert_plausible(*result, f"{name}, {len(group)} stations")


@pytest.mark.parametrize("name", MADE)
def test_stated_uncertainties_agree_with_the_noise(name):
    truth = truth_of(name)
    checks = adjust(without_blunder(read_survey(SURVEYS / name), truth)).checks
    low, high = chi2.ppf([0.001, 0.999], checks.dof)
    assert low < checks.chi_square < high
    assert len(checks.suspects) == 0


@pytest.mark.parametrize("name", MADE)
def test_the_blunder_is_the_first_suspect(name):
    truth = truth_of(name)
    survey = read_survey(SURVEYS / name)
    with pytest.warns(DoubtfulReadingsWarning, match="suspect"):
        checks = adjust(survey).checks
    line = survey.readings.line[is_reading(survey.readings, truth["blunder"])]
    suspected = np.asarray(checks.line)[np.asarray(checks.suspects)]
    assert line in suspected
    assert checks.line[np.abs(checks.normalised).argmax()] == line


@pytest.mark.parametrize("name", MADE)
def test_a_missing_reading_leaves_its_station_determined(name):
    truth = truth_of(name)
    survey = read_survey(SURVEYS / name)
    with pytest.warns(DoubtfulReadingsWarning):
        heights = adjust(survey)
    for place in truth["missing"]:
        assert not is_reading(survey.readings, place).any()
    assert [str(quantity) for quantity in heights.not_determined] == []
    assert len(heights.checks.unchecked) == 0

import warnings
from pathlib import Path
from types import SimpleNamespace

import matplotlib
import pytest

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.rebuild.findings import findings
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.folder import read_survey

matplotlib.use("agg")
SAMPLES = Path(__file__).resolve().parents[2] / "sample_surveys"


def _worked(name):
    survey = read_survey(SAMPLES / name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # the samples hold a blunder
        heights = adjust(survey)
    plan = plan_removal(heights, survey.decision)
    found = findings(heights, survey.decision)
    return SimpleNamespace(survey=survey, heights=heights, plan=plan, found=found)


@pytest.fixture(scope="session")
def lathe():
    """The worked survey of a bed with flats, flanks and ledges."""
    return _worked("toolroom_lathe")


@pytest.fixture(scope="session")
def rectangle():
    """The worked survey of one wide face."""
    return _worked("rectangular_face")


@pytest.fixture(autouse=True)
def _close_figures():
    """Close what a test drew with pyplot."""
    yield
    from matplotlib import pyplot

    pyplot.close("all")

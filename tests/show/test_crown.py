"""A crown on pictures, job sheet and report."""

import numpy as np
import pytest

from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.progress import progress
from metrolib.show.figures import plot
from metrolib.show.jobsheet import job_sheet
from metrolib.show.report import report
from tests.rebuild.rounds_given import HELD, bed_rounds
from tests.show.drawn import assert_inside_figure, labels, line

SAID = "The target has a crown of 10.0 µm: so much higher at 700 mm than at 0 and 1400 mm."


@pytest.fixture(scope="module")
def crowned(lathe):
    return plan_removal(lathe.heights, lathe.survey.decision, crown=0.01)


def test_the_target_is_drawn_bent_and_named(crowned):
    ax = plot(crowned, face="front flat")
    x, y = line(ax, "target with a crown of 10.0 µm")
    # parallel to the ledges, so its ends are level
    np.testing.assert_allclose(y - y[0], 40 * x / 1400 * (1 - x / 1400), atol=1e-6)
    assert_inside_figure(ax)
    ax = plot(crowned, face="front flat", unit="thou")
    assert "target with a crown of 0.39 thou" in labels(ax)


def test_the_plan_view_says_to_what_target(crowned, lathe):
    ax = plot(crowned)
    assert ax.get_title("left").endswith("(seen from above); target with a crown of 10.0 µm")
    assert_inside_figure(ax)
    assert "crown" not in plot(lathe.plan).get_title("left")


def test_rounds_are_drawn_down_to_it():
    rounds = bed_rounds(np.zeros(5), np.full(5, -0.01))
    plan = plan_removal(rounds["start"], **HELD, crown=-0.02, confidence=None)
    ax = plot(progress(rounds, plan), face="top")
    x, y = line(ax, "target with a hollow of 20.0 µm")
    np.testing.assert_allclose(y, [0, -15, -20, -15, 0], atol=1e-6)


def test_job_sheet_and_report_say_it(crowned, lathe, tmp_path):
    for write, name in ((job_sheet, "sheet.html"), (report, "report.html")):
        page = write(lathe.survey, lathe.heights, crowned, tmp_path / name)
        assert SAID in page.read_text(encoding="utf-8")

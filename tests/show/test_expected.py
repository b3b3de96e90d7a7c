"""The picture of a planned survey."""

from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure

from metrolib.errors import InputError
from metrolib.heights.plan import plan_survey
from metrolib.show.figures import plot
from metrolib.survey.folder import read_survey
from tests.heights.build import flat
from tests.heights.plans import MICROMETER, leg, planned

SAMPLE = Path(__file__).parents[2] / "sample_surveys" / "planer_to_measure"


def lines_of(ax):
    return {line.get_label(): line for line in ax.lines if not line.get_label().startswith("_")}


def test_before_and_after_and_what_is_wanted():
    plan = plan_survey(read_survey(SAMPLE), {"straightness of 'rear way'": 0.0015})
    ax = plot(plan, Figure().add_subplot())
    drawn = lines_of(ax)
    assert len(drawn) == 6  # three faces, each before and after
    rear = plan["straightness of 'rear way'"]
    np.testing.assert_allclose(drawn["rear way, as intended"].get_ydata(), 1e3 * rear.u)
    np.testing.assert_allclose(drawn["rear way, 6 readings more"].get_ydata(), 1e3 * rear.u_after)
    assert ax.get_ylabel() == "standard uncertainty u [µm]" and ax.get_ylim()[0] == 0
    limit = [line for line in ax.lines if line.get_label().startswith("_")]
    assert [line.get_ydata()[0] for line in limit] == [1.5]
    assert [text.get_text() for text in ax.texts] == ["wanted"]


def test_without_additions_and_in_thou():
    plan = plan_survey(read_survey(SAMPLE))
    drawn = lines_of(plot(plan, Figure().add_subplot(), unit="thou"))
    front = plan["straightness of 'front way'"]
    assert list(drawn) == [
        f"{face}, as intended" for face in ("front way", "rear way", "front ledge")
    ]
    np.testing.assert_allclose(drawn["front way, as intended"].get_ydata(), front.u / 0.0254)


def test_nothing_to_draw_is_said():
    faces = [flat("top", nominal=20.0), flat("under", normal=180.0)]
    over = leg("over", "micrometer", MICROMETER, [0, 1000], "top", opposite_face="under")
    with pytest.raises(InputError, match="no shape of a face is determined"):
        plot(plan_survey(planned(faces, [over])), Figure().add_subplot())

"""The lathe's print log says what its true faces would print, its story what is planted."""

from pathlib import Path

import numpy as np
import pytest
from lathe import lathe
from scipy.optimize import linprog

from metrolib.survey.folder import read_survey

FOLDER = Path(__file__).resolve().parents[2] / "sample_surveys" / "toolroom_lathe"


def blue_on(face, y, laid, film):
    """Return from where to where a rigid straightedge on the true face leaves blue."""
    x = np.arange(laid[0], laid[1] + 1, 2.0)
    z = np.array([lathe().form[face](at, y) for at in x])
    arm = (x - x.mean()) / np.ptp(x)
    above = np.column_stack([-np.ones_like(x), -arm])
    # the lowest line above the face at the middle of the straightedge, in micrometres
    found = linprog([1, 0], A_ub=above, b_ub=-1000 * z, bounds=[(None, None)] * 2).x
    blue = found[0] + found[1] * arm - 1000 * z < 1000 * film
    ends = np.flatnonzero(np.diff(np.r_[0, blue.astype(int), 0]))
    return [(x[i], x[j - 1]) for i, j in ends.reshape(-1, 2)]


@pytest.mark.parametrize("number", [0, 1])
def test_prints_are_those_of_the_true_face(number):
    survey = read_survey(FOLDER)
    entry = survey.prints[number]
    found = blue_on(entry.face, survey.machine.faces[entry.face].y, entry.laid, entry.film)
    assert np.array(entry.printed) == pytest.approx(np.array(found), abs=5)  # written to 10 mm


def test_the_planted_one_is_not_and_is_told():
    entry = read_survey(FOLDER).prints[2]
    ((start, end),) = blue_on(entry.face, 0.0, entry.laid, entry.film)
    assert entry.printed == (entry.laid,) and end - start < 0.5 * entry.length
    story = (FOLDER / "README.md").read_text(encoding="utf-8")
    planted = story[story.index("**Planted.**") : story.index("**Cautions.**")]
    assert "750 to 1250 mm" in planted and "rocked" in planted

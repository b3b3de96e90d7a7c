"""Back where the traverse began."""

import numpy as np
import pytest

from metrolib.show.worksheet.judged.closure import closure
from metrolib.survey.folder import read_survey
from tests.show.worksheet.benches import LEVEL, stepped, survey


def test_by_hand_at_the_first_station():
    # u = 0.00202 mm of one reading: sqrt(0.002² + 0.001²/12); of the difference sqrt(2) times that
    rows = [*stepped([25.0, 25.01, 25.0], "over the ledge"), ("over the ledge", 0.0, 25.005, 2)]
    found = closure(survey(rows), "over the ledge")
    assert (found.kind, found.misclosure) == ("station", pytest.approx(0.005))
    assert found.u == pytest.approx(np.sqrt(2) * np.hypot(0.002, 0.001 / np.sqrt(12)))
    assert found.within
    assert str(found) == (
        "Closure: back at 0 mm the misclosure is 0.005 mm, within the 0.006 mm that instrument and "
        "drift allow (two standard uncertainties)."
    )


def test_too_large_and_what_to_do():
    rows = [*stepped([25.0, 25.01, 25.0], "over the ledge"), ("over the ledge", 0.0, 25.009, 2)]
    found = closure(survey(rows), "over the ledge")
    assert not found.within
    assert "more than the 0.006 mm" in str(found) and "drift_uncertainty" in str(found)
    toml = LEVEL + "drift_uncertainty = 0.01\n"
    assert closure(survey(rows, toml), "over the ledge").within


def test_two_readings_at_the_start_count_as_their_mean():
    rows = [("over the ledge", 0.0, 25.0, 1), ("over the ledge", 0.0, 25.004, 2)]
    rows += [("over the ledge", 100.0, 25.0, 1), ("over the ledge", 0.0, 25.005, 3)]
    found = closure(survey(rows), "over the ledge")
    assert found.misclosure == pytest.approx(0.003)
    assert found.u == pytest.approx(np.sqrt(1.5) * np.hypot(0.002, 0.001 / np.sqrt(12)))


def test_nothing_closes_before_the_return():
    assert closure(survey(stepped([25.0, 25.01, 25.0], "over the ledge")), "over the ledge") is None
    rows = [("out", 0.0, 0.1), ("out", 100.0, None)]
    assert closure(survey(rows), "out") is None


def test_out_and_back_over_the_same_steps_by_hand():
    """Heights of the far end: 0.1 m times the sums of slopes, 0.02 mm/m a division."""
    toml = LEVEL.replace("turned = true", "turned = false")
    back = list(reversed(stepped([1.0, 2.5, 3.2], "back")))
    found = closure(survey([*stepped([1.0, 2.0, 3.0]), *back], toml), "back")
    assert found.kind == "way"
    assert found.misclosure == pytest.approx(-0.1 * 0.02 * 0.7)
    u = 0.02 * np.hypot(0.1, 0.1 / np.sqrt(12))
    assert found.u == pytest.approx(0.1 * u * np.sqrt(6))
    assert not closure(survey([*stepped([1.0, 2.0, 3.0]), *back[:2]], toml), "back")


def test_turned_end_for_end_closes_nothing():
    rows = [*stepped([1.0, 2.0, 3.0]), *reversed(stepped([0.6, 1.6, 2.6], "back"))]
    assert closure(survey(rows), "back") is None


def test_the_printed_way_out_and_back():
    """D. L. Martin's lecture as in sample_surveys/published_forward_backward: sums out and back.

    Out: 128 + 131 + 135 + 128 + 129 + 134 = 785", back: 139 + ... = 799"; 14" on steps of 100 mm is
    14 x 4.848e-6 x 100 mm = 6.8 µm.
    """
    made = read_survey("sample_surveys/published_forward_backward")
    out, back = (made.readings.of(name).value for name in ("forward", "backward"))
    assert abs(closure(made, "backward").misclosure) == pytest.approx(
        abs(back.sum() - out.sum()) * 4.8481e-6 * 100, rel=1e-4
    )


def test_good_closures_pass_as_often_as_two_standard_uncertainties_promise():
    """Of 400 with normal noise some 95.4 % lie within; 4 standard deviations of that are 4.2 %."""
    rng = np.random.default_rng(3)
    u = np.hypot(0.002, 0.001 / np.sqrt(12))
    within = 0
    for _ in range(400):
        noise = 25 + u * rng.standard_normal(4)
        rows = [*stepped(noise[:3], "over the ledge"), ("over the ledge", 0.0, noise[3], 2)]
        within += closure(survey(rows), "over the ledge").within
    assert within / 400 == pytest.approx(0.954, abs=0.042)

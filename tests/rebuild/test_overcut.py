"""After an overcut: the dip, the decision on it, and the cost of each way, by hand."""

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import ImpossiblePlanError, InputError
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.overcut import after_overcut
from metrolib.rebuild.rounds.progress import progress
from tests.rebuild.rounds_given import HELD, bed_rounds

#: Target -0.05 from the start; then one place went 6 um too deep, 10 um are left at the others.
START = np.array([0.0, 0.0, -0.05, 0.0, 0.0])
CUT = np.array([-0.04, -0.04, -0.05, -0.056, -0.04])
AREA = np.array([62.5, 125, 125, 125, 62.5]) * 30


def overcut(cut=CUT, u=0.0, *, tolerance=0.010, plan=None, rate=None, **choices):
    rounds = bed_rounds(START, cut, u=u)
    made = plan_removal(rounds["start"], **HELD, confidence=None, **(plan or {}))
    return after_overcut(progress(rounds, made, **choices), tolerance=tolerance, rate=rate)


def test_by_hand():
    found = overcut(rate=0.1)
    assert found.value == pytest.approx(0.006)
    assert found.progress.plan.x[found.station] == 375
    assert found.verdict == "accepted" and found.within == 1
    leave, lower = found.remedies
    assert leave.volume == pytest.approx(AREA @ [0.01, 0.01, 0, 0, 0.01])
    assert lower.volume == pytest.approx(AREA @ [0.016, 0.016, 0.006, 0, 0.016])
    assert (leave.lowered, lower.lowered) == pytest.approx((0, 0.006))
    assert (leave.deepest, lower.deepest) == pytest.approx((0.010, 0.016))
    assert leave.hours == pytest.approx(leave.volume / 1e3 / 0.1)
    assert isinstance(found.plan, RemovalPlan)


def test_just_so_far_that_it_is_accepted():
    found = overcut(tolerance=0.002)
    assert found.verdict == "not accepted" and found.within == 0
    _, enough, clean = found.remedies
    assert enough.lowered == pytest.approx(0.004)
    assert enough.volume == pytest.approx(AREA @ [0.014, 0.014, 0.004, 0, 0.014])
    assert enough.volume < clean.volume


@pytest.mark.parametrize(
    "tolerance, verdict", [(0.0095, "accepted"), (0.0090, "not decided"), (0.0025, "not accepted")]
)
def test_decision_counts_the_uncertainty(tolerance, verdict):
    """ISO 14253-1: 6 um with u = 2 um; the guard is 1.645 u = 3.29 um."""
    found = overcut(u=0.002, tolerance=tolerance)
    assert found.verdict == verdict
    # one station alone: the normal law; four standard deviations of a share from 40 000 draws
    assert found.within == pytest.approx(norm.cdf((tolerance - 0.006) / 0.002), abs=0.01)
    assert found.value.std_dev == pytest.approx(0.002)


def test_a_dip_over_several_stations_is_one():
    found = overcut(np.array([-0.04, -0.052, -0.055, -0.056, -0.049]), u=0.001)
    assert found.progress.plan.x[found.stations].tolist() == [125, 250, 375]
    assert "at 3 stations from 125 to 375 mm" in str(found)


def test_the_rest_of_the_decision_is_kept():
    """All would lose 56 um from the start: that must not be more than the greatest cut."""
    assert isinstance(overcut(plan={"greatest_cut": {"top": 0.0561}}).plan, RemovalPlan)
    found = overcut(plan={"greatest_cut": {"top": 0.055}})
    assert isinstance(found.plan, ImpossiblePlanError)
    assert [way.name for way in found.remedies] == ["leave the dip"]
    assert "cannot be planned: 'top' would lose 56.0 µm in all at 0 mm" in str(found)


def test_the_hours_are_those_of_the_work_so_far():
    found = overcut(hours={"1": 2.0})
    rate = found.progress.finish[1].rate
    assert found.remedies[0].hours == pytest.approx(found.remedies[0].volume / 1e3 / rate)
    assert overcut().remedies[0].hours is None


def test_words_and_tables():
    found = overcut(u=0.001, rate=0.1)
    assert "Overcut at 375 mm on 'top': 6.0 µm below the target, U = 2.0 µm (k = 2)" in str(found)
    assert "within 10.0 µm: accepted (probability over 0.99)" in str(found)
    assert "0.24 thou below the target" in found.in_words("thou")
    table = found.to_dataframe()
    assert table["way"].tolist() == [way.name for way in found.remedies]
    assert table["deepest cut [µm]"][0] == pytest.approx(10)
    assert "leaving the dip: accepted" in found._repr_html_()


def test_refuses_where_nothing_is_too_deep():
    with pytest.raises(InputError, match="no place lies below the target, got 0.0 µm above it"):
        overcut(np.array([-0.04, -0.04, -0.05, -0.04, -0.04]))


@pytest.mark.parametrize(
    "choices, words",
    [
        ({"tolerance": -0.1}, "tolerance: it must be at least 0"),
        ({"rate": 0}, "rate: it must be abo"),
    ],
)
def test_refuses(choices, words):
    with pytest.raises(InputError, match=words):
        overcut(**choices)

"""Progress: by hand on a small bed, against multivariate normal, and what it refuses."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.progress import progress
from tests.rebuild.rounds_given import HELD, bed_rounds

START = np.array([0.0, -0.05, 0.0])
FIRST = np.array([-0.03, -0.05, -0.02])
SECOND = np.array([-0.045, -0.05, -0.054])


def worked(*tops, u=0.0, shared=0.0, plan=None, **choices):
    """Return the progress on a bed, planned from its first heights with target -0.05."""
    rounds = bed_rounds(*tops, u=u, shared=shared)
    return progress(rounds, plan_removal(rounds["start"], **HELD, confidence=None, **(plan or {})),
                    **choices)  # fmt: skip


def test_by_hand():
    now = worked(START, FIRST, SECOND)
    assert now.last == pytest.approx([0.015, 0.0, 0.034])
    assert now.taken == pytest.approx([0.045, 0.0, 0.054])
    assert now.left == pytest.approx([0.005, 0.0, -0.004])
    assert now.verdict.tolist() == ["go on", "stop", "overcut"]
    assert now.probability.tolist() == [0, 0, 1] and now.anywhere == 1
    assert now.nearest == 2
    assert now.height == pytest.approx(np.array([START, FIRST, SECOND]))
    # nobody knows the scatter: half of what is left
    assert now.at_most == pytest.approx([0.0025, 0.0, 0.0])
    # 5 um left on a quarter of 500 x 30 mm
    assert now.value == pytest.approx(0.005 * 125 * 30)


def test_lifting_and_tilting_all_heights_changes_nothing():
    rounds = bed_rounds(START, FIRST, u=0.002)
    plan = plan_removal(rounds["start"], **HELD, confidence=None)
    base = progress(rounds, plan)
    motion = {name: 0.3 + 0.04 * h.x / 100 + 0.02 * h.y / 100 for name, h in rounds.heights.items()}
    up = {name: np.where(h.face == "top", 1, -1) for name, h in rounds.heights.items()}
    values = rounds.values.copy()
    for name, at in rounds.index.items():
        values[at] = rounds.values[at] + up[name] * motion[name]
    lifted = {
        name: replace(h, values=h.values + up[name] * motion[name])
        for name, h in rounds.heights.items()
    }
    moved = progress(replace(rounds, values=values, heights=lifted), plan)
    assert moved.left == pytest.approx(base.left, abs=1e-12)
    assert moved.taken == pytest.approx(base.taken, abs=1e-12)


def test_a_shared_error_counts_in_what_is_left_and_drops_out_of_what_came_off():
    now = worked(START, FIRST, u=0.001, shared=0.003)
    assert now.left_u == pytest.approx(np.full(3, np.hypot(0.001, 0.003)))
    assert now.taken_u == pytest.approx(np.full(3, 0.001 * np.sqrt(2)))
    assert now.value.std_dev > 0


def test_probability_of_an_overcut_agrees_with_the_multivariate_normal():
    now = worked(START, np.array([-0.046, -0.05, -0.048]), u=0.002, shared=0.003)
    cov = 0.002**2 * np.eye(3) + 0.003**2
    room = np.array([0.004, 0.0, 0.002])
    assert now.probability == pytest.approx(norm.cdf(-room / np.sqrt(np.diag(cov))))
    # P(any below) = 1 - P(all above) = 1 - P(-errors < room), scipy.stats.multivariate_normal
    exact = 1 - multivariate_normal(np.zeros(3), cov).cdf(room)
    # four standard deviations of a share from 40 000 draws
    assert now.anywhere == pytest.approx(exact, abs=4 * np.sqrt(0.25 / 40_000))


def test_verdicts_follow_the_uncertainty_and_the_tolerance():
    heights = np.array([-0.044, -0.0455, -0.0533])  # left 6, 4.5 and -3.3 um at u = 2.5 um
    start = np.array([0.0, 0.0, -0.05])
    assert worked(start, heights, u=0.0025).verdict.tolist() == ["go on", "slow down", "stop"]
    surer = worked(start, heights, u=0.0015)  # 3.3 um are 2.2 u: beyond the one-sided 1.64
    assert surer.verdict.tolist() == ["go on", "go on", "overcut"]
    loose = worked(start, heights, u=0.0015, tolerance=0.005)
    assert loose.verdict.tolist() == ["go on", "stop", "stop"]
    assert not loose.done
    assert worked(start, heights, u=0.0015, tolerance=0.0061).done


def test_a_band_may_stay():
    now = worked(START, FIRST, plan={"band": 0.01})
    # the target stays at the low spot, and 10 um above it need not come off
    assert now.left == pytest.approx(FIRST - now.plan.target - 0.01)
    assert now.room == pytest.approx(FIRST - now.plan.target)


def test_stations_between_are_read_off_the_straight_line_and_marked():
    x = np.array([0.0, 100.0, 200.0, 300.0])
    start, some = np.zeros(4), np.array([-0.01, -0.03])
    rounds = bed_rounds(start, some, stations=[x, [0.0, 200.0]], length=300, u=0.002)
    now = progress(rounds, plan_removal(rounds["start"], **HELD, clean_up=0.05, confidence=None))
    assert now.taken[:3] == pytest.approx([0.01, 0.02, 0.03])
    assert now.seen.between[-1].tolist() == [False, True, False, False]
    # half of each neighbour: u / sqrt(2); against the station's own first height
    assert now.left_u[:3] == pytest.approx([0.002, 0.002 / np.sqrt(2), 0.002])
    assert now.verdict.tolist() == ["go on", "go on", "go on", "not known"]
    assert np.isnan(now.left[3]) and np.isnan(now.probability[3]) and np.isnan(now.rate[3])
    assert now.counts.tolist() == [True, True, True, False]
    assert now.finish == ()  # nobody knows how much is left at the missing station
    assert "1 more is not known: not measured, or not tied to the datum" in str(now)
    assert "a place is not known in every round" in str(now)


def test_what_no_reading_ties_to_the_datum_gets_no_number():
    rounds = bed_rounds(START, FIRST, u=0.001)
    cov = rounds.cov.copy()
    cov[4, 4] = 100.0  # the second station of round 1: as unknown as its prior
    now = progress(replace(rounds, cov=cov), plan_removal(rounds["start"], **HELD))
    assert now.verdict[1] == "not known" and np.isnan(now.taken[1])
    assert not now.done
    cov[[3, 5], [3, 5]] = 100.0
    blind = progress(replace(rounds, cov=cov), now.plan)
    assert str(blind).startswith("After round '1' no place of the plan is known")
    assert not blind.counts.any() and blind.anywhere == 0


def test_left_out_stations_are_shown_but_do_not_count():
    from metrolib.survey.machine import LeftOut

    rounds = bed_rounds(START, SECOND)
    hole = LeftOut(490, 500, "hole")
    for heights in rounds.heights.values():
        heights.faces["top"] = replace(heights.faces["top"], left_out=(hole,))
        heights.left_out[2] = True
    now = progress(rounds, plan_removal(rounds["start"], **HELD, confidence=None))
    assert now.verdict.tolist() == ["go on", "stop", "left out"]
    assert now.anywhere == 0 and "overcut at" not in str(now).replace("overcut is", "")


def test_rates_and_work_left_by_hand():
    # 30, 20 and 10 um off everywhere in 3, 2 and 1 hours, 15 um left of 75: 10 um an hour
    tops = [np.full(3, z) for z in (0.0, -0.03, -0.05, -0.06)]
    hours = {"1": 3.0, "2": 2.0, "3": 1.0}
    now = worked(*tops, plan={"clean_up": 0.075}, hours=hours)
    by_round, by_hour = now.finish
    area = 500 * 30
    assert by_hour.rate == pytest.approx(0.010 * area / 1e3)
    assert (by_hour.value, by_hour.low, by_hour.high) == pytest.approx((1.5, 1.5, 1.5))
    assert by_hour.scatter == pytest.approx(0, abs=1e-9)
    assert by_round.rate == pytest.approx(0.020 * area / 1e3)
    assert by_round.scatter == pytest.approx(0.5)
    assert by_round.rounds == ("1", "2", "3")
    assert now.rate == pytest.approx(np.full(3, 0.02))
    assert now.rounds_left == pytest.approx(np.full((3, 3), 0.75))
    assert now.to_dataframe()["an hour [µm]"].tolist() == pytest.approx([10.0] * 3)
    only = worked(*tops, plan={"clean_up": 0.075}, hours=hours, rate_from=["3"]).finish[0]
    assert only.scatter is None and only.value == pytest.approx(1.5)
    assert "if all go as this one" in str(only)


def test_a_rate_from_a_log_takes_the_place_of_the_measured_one():
    now = worked(START, FIRST, rate=ufloat(0.5, 0.05))
    per = {each.per: each for each in now.finish}
    metal = 0.02 * 3.75 + 0.03 * 3.75  # cm³ on the two outer quarters of the face
    assert per["hour"].value == pytest.approx(metal / 0.5)
    # heights exact: the interval is that of the rate alone, metal / (0.5 ± 1.96 x 0.05)
    ends = metal / (0.5 + 1.96 * 0.05), metal / (0.5 - 1.96 * 0.05)
    assert (per["hour"].low, per["hour"].high) == pytest.approx(ends, rel=1e-4)


def test_a_plan_made_later_is_seen_from_its_own_round():
    rounds = bed_rounds(START, FIRST, SECOND, u=0.001)
    later = plan_removal(rounds["1"], **HELD, confidence=None)
    now = progress(rounds, later, planned_from="1")
    assert now.left == pytest.approx([0.005, 0.0, -0.004])


def test_without_a_datum_the_frame_is_that_of_the_planned_heights():
    rounds = bed_rounds(START, FIRST, u=0.001)
    plan = plan_removal(rounds["start"], faces=["top"], confidence=None)
    now = progress(rounds, plan)
    assert now.taken == pytest.approx(START - FIRST)
    assert now.left == pytest.approx(plan.depth - now.taken)
    assert now.taken_u == pytest.approx(np.full(3, 0.001 * np.sqrt(2)))


def test_words_tables_and_html():
    now = worked(START, FIRST, SECOND, u=0.001)
    said = str(now)
    assert said.startswith("After round '2', of 3 places: go on at 1, stop at 1 and overcut at 1.")
    assert "Up to 34.0 µm came off since the round before (500 mm on 'top')" in said
    assert "Nearest to an overcut is 500 mm on 'top', 4.0 µm below the target" in said
    assert "1.34 thou came off" in now.in_words("thou")
    table = now.to_dataframe()
    assert table["verdict"].tolist() == now.verdict.tolist()
    assert table["left [µm]"].tolist() == pytest.approx([5.0, 0.0, -4.0])
    assert "-4.0 ± 2.0 !" in now.to_text()
    assert "<td>-4.0 ± 2.0 !</td>" in now.to_html()
    assert "<th>overcut</th>" in now._repr_html_()


ROUNDS = bed_rounds(START, FIRST)
PLAN = plan_removal(ROUNDS["start"], **HELD, confidence=None)
OTHER = plan_removal(bed_rounds(np.zeros(5), np.zeros(5))["start"], **HELD)


@pytest.mark.parametrize(
    "rounds, plan, choices, words",
    [
        (ROUNDS, OTHER, {}, "plan: its station at 125 mm on 'top' is none of round 'start'; plan"),
        (ROUNDS, PLAN, {"planned_from": "9"}, "planned_from: .*'9'.*'start', '1'"),
        (ROUNDS, PLAN, {"tolerance": -1}, "tolerance: it must be at least 0, got -1"),
        (
            ROUNDS,
            PLAN,
            {"hours": 9.0},
            "hours: hours by the name of each round are needed, got 9.0",
        ),
        (ROUNDS, PLAN, {"rate": "quick"}, "rate: a number is needed, got 'quick'"),
        (ROUNDS, PLAN, {"coverage": 0.5}, "coverage: it must be above 0.5, got 0.5"),
        (ROUNDS, PLAN, {"coverage": 1.0}, "coverage: it must be below 1, got 1.0"),
        (ROUNDS, PLAN, {"scatter": -0.1}, "scatter: it must be at least 0"),
        (ROUNDS, PLAN, {"hours": {"2": 1.0}}, "hours: round: .*'2'.*'1'"),
        (ROUNDS, PLAN, {"hours": {}}, "hours: a round of work has none, got 1; give"),
        (ROUNDS, PLAN, {"hours": {"1": 0}}, "hours of round '1': it must be above 0"),
        (ROUNDS, PLAN, {"rate_from": "1"}, "rate_from: a list of rounds is needed, got '1'"),
        (ROUNDS, PLAN, {"rate_from": ["start"]}, "rate_from: .*'start'.*'1'"),
        (ROUNDS, PLAN, {"rate_from": []}, "rate_from: no round is named, got none"),
        (ROUNDS, PLAN, {"rate": 0}, "rate: it must be above 0"),
        (replace(ROUNDS, cut=()), PLAN, {}, "plan: it cuts 'top', but the rounds take that face"),
    ],
)
def test_refuses(rounds, plan, choices, words):
    with pytest.raises(InputError, match=words):
        progress(rounds, plan, **choices)


def test_refuses_a_last_round_that_lacks_a_face():
    rounds = bed_rounds(START, FIRST)
    last = rounds["1"]
    kept = last.face != "top"
    bare = replace(
        last,
        face=last.face[kept],
        x=last.x[kept],
        y=last.y[kept],
        values=last.values[kept],
        cov=last.cov[np.ix_(kept, kept)],
        left_out=last.left_out[kept],
    )
    short = replace(
        rounds,
        heights={"start": rounds["start"], "1": bare},
        index={**rounds.index, "1": rounds.index["1"][kept]},
    )
    with pytest.raises(InputError, match="round '1': 'top' was not measured, so nothing tells"):
        progress(short, PLAN)

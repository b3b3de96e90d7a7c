"""Prints held against heights: made prints of known faces, contradictions planted and not."""

import numpy as np
import pytest
from scipy.optimize import linprog

from metrolib.errors import DoubtfulReadingsWarning, InputError
from metrolib.heights.adjust import adjust
from metrolib.heights.result import given_heights
from metrolib.rebuild.bearing.print_contradictions import took_blue
from metrolib.rebuild.bearing.print_log import print_log
from metrolib.rebuild.bearing.print_reasons import pattern_of
from metrolib.survey.folder import read_survey
from metrolib.survey.machine import Face, LeftOut
from metrolib.survey.prints import Print
from tests.samples.test_samples import SURVEYS

X = np.arange(0, 1201, 100.0)


def heights_of(z, u=0.001, x=X, **more):
    face = Face("flat", y=0, width=30, x_from=0, x_to=1200, **more)
    return given_heights([face], {"flat": (x, z)}, u)


def bow(rise, low=0.0, high=1200.0, x=X):
    return 4 * rise * (x - low) * (high - x) / (high - low) ** 2


def true_print(x, z, film):
    """Return where a rigid edge in its lowest place leaves blue, by a linear programme."""
    arm = x / np.ptp(x) - x.mean() / np.ptp(x)
    above = np.column_stack([-np.ones_like(x), -arm])
    scale = 1000.0  # the solver works to 1e-7
    found = linprog([1, 0], A_ub=above, b_ub=-scale * z, bounds=[(None, None)] * 2).x
    blue = (found[0] + found[1] * arm) / scale - z < film
    ends = np.flatnonzero(np.diff(np.r_[0, blue.astype(int), 0]))
    return tuple((x[i], x[j - 1]) for i, j in ends.reshape(-1, 2))


def test_a_rocking_hump_that_prints_all_over_is_named():
    log = print_log(heights_of(bow(0.030)), [Print("flat", (0, 1200), ((0, 1200),))])
    (item,) = log.contradictions
    assert (
        item.printed and "rocks under the edge" in item.why and "pivots near the middle" in item.why
    )
    assert item.gap == pytest.approx(0.030, abs=1e-6)  # it balances on the middle station
    # 30 (x / 600)² µm away from the middle: 0.8, 3.3, 7.5 µm ... under a film of 3
    assert item.x.tolist() == [0, 100, 200, 300, 900, 1000, 1100, 1200]
    assert (log.layings[0].rocking > 0.95).all()  # rocked it comes down everywhere
    assert str(log).startswith("1 print in the log: 0 go with the heights, 1 contradicts them")


def test_a_hollow_that_grips_at_its_ends_is_no_contradiction():
    log = print_log(heights_of(-bow(0.030)), [Print("flat", (0, 1200), ((0, 60), (1150, 1200)))])
    assert log.contradictions == () and log.hidden == ()
    assert log.layings[0].carried_from == 0 and log.layings[0].carried_to == 1200
    assert str(log) == "1 print in the log: 1 goes with the heights, 0 contradict them"


@pytest.mark.parametrize(
    ("rise", "printed", "words"),
    [
        (-0.030, ((0, 1200),), "pressed or sagged into the hollow"),
        (0.030, ((0, 150), (1050, 1200)), "its back is warmer than its sole"),
        (-0.030, ((450, 750),), "its sole is warmer than its back"),
        (0.0, ((0, 150), (1050, 1200)), "its back is warmer than its sole"),
        (0.0, ((450, 750),), "lifted it in the middle"),
        (0.0, (), "burr or dirt lifted the edge"),
    ],
)
def test_reasons_follow_from_the_print_and_the_shape(rise, printed, words):
    log = print_log(heights_of(bow(rise), u=0.0005), [Print("flat", (0, 1200), printed)])
    assert log.contradictions and all(words in item.why for item in log.contradictions)


def test_a_short_edge_hides_a_bow():
    # 24 µm over 1200 mm look like 24 (400/1200)² = 2.7 µm to 400 mm: below the film
    entries = [Print("flat", (low, low + 400), ((low, low + 400),)) for low in (0, 400, 800)]
    log = print_log(heights_of(-bow(0.024), u=0.0003), entries)
    assert log.contradictions == ()
    (hidden,) = log.hidden
    assert hidden.out_of_straight.n == pytest.approx(0.024)
    assert hidden.hides == pytest.approx(0.003 * 9)
    assert "shows no even bow below 27.0 µm" in str(log)
    assert "1.06 thou" in log.in_words("thou")
    # a longer one, or one place that stays bare, tells
    assert print_log(heights_of(-bow(0.024)), [Print("flat", (0, 1200), ((0, 1200),))]).hidden == ()
    bare = [*entries, Print("flat", (200, 1000), ((200, 260), (940, 1000)))]
    assert print_log(heights_of(-bow(0.024)), bare).hidden == ()


def test_an_unsure_height_contradicts_nothing():
    full = [Print("flat", (0, 1200), ((0, 1200),))]
    assert print_log(heights_of(bow(0.03), u=0.001), full).contradictions
    assert not print_log(heights_of(bow(0.03), u=0.05), full).contradictions


def test_a_tilt_common_to_all_and_its_uncertainty_do_not_matter():
    full = [Print("flat", (100, 900), ((100, 900),))]
    plain = print_log(heights_of(bow(0.02)), full).layings[0]
    motions = np.column_stack([np.ones_like(X), X / 1000])
    cov = 1e-6 * np.eye(X.size) + motions @ np.diag([1.0, 0.25]) @ motions.T
    moved = print_log(heights_of(bow(0.02) + 1 + X / 5000, u=cov), full).layings[0]
    assert moved.gap == pytest.approx(plain.gap, abs=1e-9)
    assert moved.gap_u == pytest.approx(
        plain.gap_u, rel=0.1
    )  # 2000 draws: 1/sqrt(4000), four times
    assert moved.still == pytest.approx(plain.still, abs=0.06)


def test_a_poor_straightedge_tells_less():
    full = Print("flat", (0, 1200), ((0, 1200),))
    poor = Print("flat", (0, 1200), ((0, 1200),), straightedge_u=0.02)
    known, unknown = print_log(heights_of(bow(0.02)), [full, poor]).layings
    assert (unknown.gap_u > 5 * known.gap_u).all()
    assert unknown.rise_u > 5 * known.rise_u


def test_where_stations_stand_aside():
    z = bow(0.0) + np.where(X == 600, -0.045, 0.0)
    dent = {"left_out": (LeftOut(580, 620, "bruise"),)}
    log = print_log(heights_of(z, **dent), [Print("flat", (0, 1200), ((0, 1200),))])
    assert 600 not in log.layings[0].x and log.contradictions == ()
    assert print_log(heights_of(z), log.entries).contradictions[0].x.tolist() == [600]


def test_near_the_end_of_a_stretch_nobody_tells():
    entry = Print("flat", (0, 500), ((0, 205), (395, 500)))
    told = took_blue(entry, np.array([0.0, 100.0, 200.0, 300.0, 400.0, 500.0]))
    assert told == [True, True, None, False, None, True]


@pytest.mark.parametrize(
    ("laid", "words"),
    [((-900, 100), "would tip over"), ((-10, 90), "fewer than two stations")],
)
def test_what_cannot_be_laid_is_said(laid, words):
    log = print_log(heights_of(bow(0.01)), [Print("flat", laid, ())])
    assert words in log.layings[0] and words in str(log)
    assert log.to_dataframe().empty


def test_an_edge_that_hangs_over_rests_on_what_is_there():
    # middle at 1000; beyond the end of the face nothing carries
    log = print_log(
        heights_of(-bow(0.03)), [Print("flat", (700, 1300), ((700, 710), (1190, 1200)))]
    )
    assert log.layings[0].carried_to == 1200
    assert log.layings[0].x.tolist() == [700, 800, 900, 1000, 1100, 1200]


@pytest.mark.parametrize(
    ("printed", "pattern"),
    [
        (((0, 600),), "all over"),
        ((), "nowhere"),
        (((0, 20), (580, 600)), "ends"),
        (((250, 350),), "middle"),
        (((0, 200),), "in places"),
    ],
)
def test_patterns(printed, pattern):
    assert pattern_of(Print("flat", (0, 600), printed)) == pattern


def test_true_prints_are_seldom_called_contradictions():
    # smooth faces of known shape, printed by a linear programme on a grid of 10 mm, surveyed at
    # every 100 mm with u = 1 µm and with films that are as unsure as stated
    random = np.random.default_rng(12)
    fine = np.arange(0, 1201, 10.0)
    named = 0
    for trial in range(60):
        amplitudes, phases = random.normal(0, 0.006, 3), random.uniform(0, 6.3, 3)
        lengths = np.array([[3e-3], [6e-3], [9e-3]])
        waves = amplitudes[:, None] * np.sin(fine * lengths + phases[:, None])
        z = np.sum(waves, axis=0)
        film = 0.003 * max(1 + 0.4 * random.standard_normal(), 0.1)
        start = 100 * int(random.integers(0, 7))
        under = (fine >= start) & (fine <= start + 600)
        entry = Print("flat", (start, start + 600), true_print(fine[under], z[under], film))
        surveyed = z[::10] + random.normal(0, 0.001, X.size)
        log = print_log(heights_of(surveyed), [entry], draws=500, seed=trial)
        named += bool(log.contradictions)
    # a place is named where a true print would be so with less than 5 %: 3 of 60, and four standard
    # deviations of that count, 1.7; 2 were seen
    assert named <= 9


def test_the_prints_of_the_sample_follow_from_its_truth_but_the_one_that_is_planted():
    survey = read_survey(SURVEYS / "toolroom_lathe")
    with pytest.warns(DoubtfulReadingsWarning):
        heights = adjust(survey)
    log = print_log(heights, survey.prints)
    assert [item.number for item in log.contradictions] == [2]
    assert "rocks" in log.contradictions[0].why
    assert [item.face for item in log.hidden] == ["front flat"]
    table = log.to_dataframe()
    assert table["print"].tolist() == [1] * 11 + [2] * 5 + [3] * 5
    assert set(table["took blue"]) == {"yes", "no"}


@pytest.mark.parametrize(
    ("prints", "words"),
    [
        ([Print("no face", (0, 500), ())], "face: this is not one of the choices, got 'no face'"),
        ([("flat", 0, 500)], "prints: a Print is needed, got"),
        (Print("flat", (0, 500), ()), "prints: a list of Print is needed, got Print"),
        ([Print("flat", (0, 500), True)], "printed: stretches are needed, got True; give"),
        ([Print("flat", (0, 500), (90, 80))], "printed: stretches are needed"),
        ([Print("flat", (0, 500, 900), ())], "laid: two numbers are needed, got 3"),
        ([Print("flat", (500, 0), ())], "laid: its ends do not ascend"),
        ([Print("flat", (0, 500), ((90, 80),))], "printed: its ends do not ascend"),
        ([Print("flat", (0, 500), ((90, 600),))], "printed: it lies beyond what was laid"),
        ([Print("flat", (0, 500), (), film=0)], "film: it must be above 0"),
        ([Print("flat", (0, 500), (), straightedge_u=-1)], "straightedge_u: it must be at least 0"),
        ([Print("flat", (0, float("inf")), ())], "laid: item 1 is not a finite number"),
    ],
)
def test_refusals(prints, words):
    with pytest.raises(InputError, match=words):
        print_log(heights_of(bow(0.01)), prints)


def test_heights_are_needed():
    with pytest.raises(InputError, match="heights: a Heights is needed, got 0.01"):
        print_log(0.01, [])


def test_draws_must_be_enough():
    with pytest.raises(InputError, match="draws: it must be at least 100"):
        print_log(heights_of(bow(0.01)), [], draws=10)

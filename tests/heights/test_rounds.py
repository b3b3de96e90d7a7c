"""Rounds adjusted together: against dense generalised least squares, against many played jobs."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from metrolib.errors import DoubtfulReadingsWarning, InputError
from metrolib.heights.adjust import adjust
from metrolib.heights.rounds import adjust_rounds
from metrolib.survey.decision import Decision
from metrolib.survey.instruments import Instrument, Straightedge
from tests.heights.build import INDICATOR, Leg, flat, survey

X = np.array([0.0, 200.0, 400.0, 600.0])
TOP, LEDGE = flat("top"), flat("ledge", normal=180.0)
#: Shared errors far larger than the noise: a zero of 10 um, a scale of 2 %.
COMPARATOR = Instrument(
    "comparator",
    "mm",
    resolution=0.0,
    repeatability=0.001,
    calibration_uncertainty=0.010,
    sensitivity_uncertainty=0.02,
)
EDGE = Straightedge("edge", length=600.0, profile_uncertainty=0.006)


def across(values, x=X, instrument=COMPARATOR):
    """Return a traverse of a comparator across top and ledge."""
    return Leg("across", "micrometer", instrument, x, values, {"opposite_face": "ledge"}, "top")


def under_edge(values, x=X):
    """Return a traverse of an indicator along a straightedge over the top."""
    keys = {"straightedge": "edge", "start": 0.0}
    return Leg("edge on top", "straightedge", INDICATOR, x, values, keys, "top")


def one_round(*legs, cut=("top",), faces=(TOP, LEDGE)):
    made = survey(faces, legs, [EDGE])
    made.decision = Decision(faces=cut)
    return made


def places(rounds, name, face="top"):
    """Return where the heights of a face stand among those of all rounds."""
    return rounds.index[name][rounds[name].face == face]


def off(rounds, before, after):
    """Return what came off the top, and its covariance."""
    a, b = places(rounds, before), places(rounds, after)
    law = np.zeros((len(a), len(rounds.values)))
    law[np.arange(len(a)), a], law[np.arange(len(a)), b] = 1.0, -1.0
    return law @ rounds.values, law @ rounds.cov @ law.T


def test_agrees_with_dense_generalised_least_squares():
    """The shared errors in the covariance of the readings, not as unknowns: another way round.

    y = A z + e, cov(e) = noise + zero² 1 1' + scale² y y' + profile² P P' + offsets and tilts;
    z = (A' V^-1 A)^-1 A' V^-1 y (C. R. Rao, Linear Statistical Inference, 4a: from memory).
    """
    before, after = np.array([0.08, 0.05, 0.07, 0.09]), np.array([0.02, 0.01, 0.015, 0.02])
    y_across = [before + 0.0004, after - 0.0003]
    y_edge = [before - 0.01, after + 0.02]
    rounds = adjust_rounds(
        {
            "start": one_round(across(y_across[0]), under_edge(y_edge[0])),
            "1": one_round(across(y_across[1]), under_edge(y_edge[1])),
        }
    )
    n = len(X)
    eye, nothing = np.eye(n), np.zeros((n, n))
    # unknown: top before, top after, ledge; rows: across, edge, across, edge
    A = np.block([[eye, nothing, eye], [eye, nothing, nothing], [nothing, eye, eye],
                  [nothing, eye, nothing]])  # fmt: skip
    y = np.concatenate([y_across[0], y_edge[0], y_across[1], y_edge[1]])
    is_across = np.repeat([1.0, 0.0, 1.0, 0.0], n)
    fitted = is_across * y
    profile = np.vstack([nothing, eye, nothing, eye])
    V = np.eye(4 * n) * 0.001**2
    V += 0.010**2 * np.outer(is_across, is_across) + 0.006**2 * profile @ profile.T
    for block in (1, 3):  # the lie of the straightedge is free in each round
        for lie in (np.ones(n), X / 1e3):
            row = np.zeros(4 * n)
            row[block * n : (block + 1) * n] = lie
            V += 10.0**2 * np.outer(row, row)
    # a scale error acts on what should have been read, so on fitted readings: iterate
    for _ in range(5):
        whole = V + 0.02**2 * np.outer(fitted, fitted)
        weight = np.linalg.inv(whole)
        cov = np.linalg.inv(A.T @ weight @ A + np.eye(3 * n) / 10.0**2)
        z = cov @ A.T @ weight @ y
        # the noise part of the residual is taken out of the reading
        noise = 0.001**2 * weight @ (y - A @ z)
        fitted = is_across * (y - noise)
    law = np.hstack([eye, -eye, nothing])
    taken, taken_cov = off(rounds, "start", "1")
    assert taken == pytest.approx(law @ z, abs=2e-8)  # weak priors pull by (u / 10 mm)²
    assert taken_cov == pytest.approx(law @ cov @ law.T, rel=1e-5, abs=1e-12)


def _played(rng, before, after, jobs):
    """Yield surveys of both rounds with shared errors drawn from what is stated of them."""
    for _ in range(jobs):
        zero, scale = rng.normal(0, 0.010), rng.normal(0, 0.02)
        profile = rng.normal(0, EDGE.profile_uncertainty, len(X))
        made = []
        for height in (before, after):
            seen = (height + zero) / (1 - scale) + rng.normal(0, 0.001, len(X))
            along = height + profile + rng.normal(0, 0.001, len(X)) + rng.normal(0, 0.1)
            made.append(one_round(across(seen), under_edge(along)))
        yield made


@pytest.mark.filterwarnings("ignore::metrolib.errors.DoubtfulReadingsWarning")  # one in twenty
@pytest.mark.parametrize(
    "before, after, plain_covers",
    [
        # readings on both sides of zero: the scale error adds up, squares are too small
        (2.0, -2.0, (0.75, 0.92)),
        # near each other: zero and scale drop out, squares are ten times too large
        (0.05, 0.03, (0.999, 1.0)),
    ],
)
def test_intervals_of_what_came_off_hold_the_truth_and_plain_subtraction_does_not(
    before, after, plain_covers
):
    """95 % of the jobs, within four standard deviations of such a share: 0.055 for 250."""
    rng = np.random.default_rng(5)
    truth, jobs, plain_jobs = before - after, 250, 100
    held, plain_held = 0, 0
    played = _played(rng, np.full(4, before), np.full(4, after), jobs)
    for job, (first, second) in enumerate(played):
        taken, cov = off(adjust_rounds({"start": first, "1": second}), "start", "1")
        held += abs(taken[1] - truth) < 1.96 * np.sqrt(cov[1, 1])
        if job >= plain_jobs:
            continue
        plain, u = 0.0, 0.0
        for sign, alone in ((1, adjust(first)), (-1, adjust(second))):
            # alone, top and ledge together are known: the size across
            law = (alone.x == X[1]).astype(float)
            plain += sign * law @ alone.values
            u += law @ alone.cov @ law
        plain_held += abs(plain - truth) < 1.96 * np.sqrt(u)
    assert abs(held / jobs - 0.95) < 4 * np.sqrt(0.95 * 0.05 / jobs)
    assert plain_covers[0] <= plain_held / plain_jobs <= plain_covers[1]


def test_a_shared_zero_drops_out_and_one_set_anew_does_not():
    surveys = {"start": one_round(across(X * 0 + 0.05)), "1": one_round(across(X * 0 + 0.03))}
    _, shared = off(adjust_rounds(surveys), "start", "1")
    _, anew = off(adjust_rounds(surveys, reset=["comparator"]), "start", "1")
    # by hand: two readings of u 0.001 and a scale of 2 % on 0.02 mm; then two zeros of 0.010 too
    assert np.sqrt(shared[0, 0]) == pytest.approx(np.hypot(0.001 * np.sqrt(2), 0.0004), rel=0.01)
    expected = np.sqrt(2 * 0.001**2 + 2 * 0.010**2 + 0.02**2 * (0.05**2 + 0.03**2))
    assert np.sqrt(anew[0, 0]) == pytest.approx(expected, rel=0.01)


def test_only_the_instrument_named_is_set_anew():
    second = replace(COMPARATOR, name="comparator 2")
    legs = (across(X * 0 + 0.05), replace(across(X * 0 + 0.05, instrument=second), name="again"))
    surveys = {"start": one_round(*legs), "1": one_round(*legs)}
    extras = [*adjust_rounds(surveys, reset=["comparator"]).extras]
    assert "zero of comparator 2" in extras and "scale of comparator 2" in extras
    assert "zero of comparator, round 1" in extras and "zero of comparator" not in extras


def test_a_straightedge_dressed_anew_has_another_shape():
    made = one_round(across(X * 0), under_edge(X * 0))
    surveys = {"start": made, "1": made}
    profiles = [name for name in adjust_rounds(surveys).extras if name.startswith("profile")]
    anew = [
        name for name in adjust_rounds(surveys, reset=["edge"]).extras if name.startswith("profile")
    ]
    assert len(profiles) == len(X) and len(anew) == 2 * len(X)


def test_a_bed_put_down_otherwise_has_lost_no_metal():
    level = Instrument("level", "mm/m", resolution=0.0, repeatability=0.002)
    true = np.array([0.0, -0.02, -0.03, 0.0])

    def legs(pitch, gone):
        slope = np.diff(true - gone) / 200.0 * 1e3 + pitch
        own = Leg("along", "level along", level, X[:3], slope, {"foot_spacing": 200.0}, "top")
        return across(true - gone), own

    rounds = adjust_rounds(
        {"start": one_round(*legs(0.05, 0.0)), "1": one_round(*legs(-0.31, 0.01))}
    )
    taken, cov = off(rounds, "start", "1")
    assert taken == pytest.approx(np.full(4, 0.01), abs=1e-9)
    assert np.sqrt(np.diag(cov)).max() < 0.002
    assert rounds.checks.agrees


def test_a_round_that_names_its_faces_in_another_order_is_understood():
    first = one_round(across(X * 0 + 0.05))
    second = one_round(across(X * 0 + 0.02), faces=(LEDGE, TOP))
    rounds = adjust_rounds({"start": first, "1": second})
    assert off(rounds, "start", "1")[0] == pytest.approx(np.full(4, 0.03))
    assert rounds["1"].face.tolist() == rounds["start"].face.tolist()


def test_a_round_may_measure_less():
    some = X[[0, 2]]
    rounds = adjust_rounds(
        {"start": one_round(across(X * 0 + 0.05)), "1": one_round(across(some * 0 + 0.02, some))}
    )
    assert rounds["1"].x[rounds["1"].face == "top"].tolist() == some.tolist()
    assert rounds["1"].x[rounds["1"].face == "ledge"].tolist() == X.tolist()
    assert rounds.names == ("start", "1") and rounds.cut == ("top",)


def test_a_datum_that_was_touched_is_told():
    edge_below = Leg(
        "edge on ledge", "straightedge", INDICATOR, X, X * 0, {"straightedge": "edge"}, "ledge"
    )
    cut_into = replace(edge_below, value=np.array([0.0, -0.04, 0.0, 0.0]))
    quiet = {
        "start": one_round(across(X * 0 + 0.05), edge_below),
        "1": one_round(across(X * 0 + 0.02), edge_below),
    }
    assert adjust_rounds(quiet).checks.agrees
    with pytest.warns(DoubtfulReadingsWarning, match="1: edge on ledge"):
        adjust_rounds({**quiet, "1": one_round(across(X * 0 + 0.02), cut_into)})


def test_until_leaves_the_later_rounds_out():
    surveys = {name: one_round(across(X * 0 + 0.05)) for name in ("start", "1", "2")}
    assert adjust_rounds(surveys, until="1").names == ("start", "1")


def test_says_what_it_did():
    made = one_round(across(X * 0), under_edge(X * 0))
    text = str(adjust_rounds({"start": made, "1": made}))
    assert "2 surveys adjusted together (start, 1)" in text
    assert "untouched in all of them: 'ledge'." in text
    assert "The 16 readings agree" in text
    assert "1: shape of 'top'" not in text


def _with(machine=None, **faces):
    made = one_round(across(X * 0))
    machine = made.machine if machine is None else replace(made.machine, name=machine)
    machine = replace(machine, faces={**machine.faces, **faces})
    return SimpleNamespace(**{**vars(made), "machine": machine})


GOOD = one_round(across(X * 0))
EMPTY = SimpleNamespace(
    **{**vars(GOOD), "readings": GOOD.readings.select(np.zeros(len(X), dtype=bool))}
)
SURER = one_round(across(X * 0, instrument=replace(COMPARATOR, sensitivity_uncertainty=0.01)))
BOLTED = one_round(replace(across(X * 0), keys={"state": "bolted"}))
NO_LEDGE = one_round(under_edge(X * 0))


@pytest.mark.parametrize(
    "second, choices, words",
    [
        (None, {}, "surveys: two rounds at least are needed, got 1; use adjust"),
        (GOOD, {"until": "7"}, "until: .*'7'.*'start', '1'"),
        (GOOD, {"cut": "top"}, "cut: a list of faces is needed, got 'top'"),
        (GOOD, {"cut": ["side"]}, "cut: .*'side'.*'top', 'ledge'"),
        (GOOD, {"cut": []}, "cut: no face is named that the work cuts, got none"),
        (
            GOOD,
            {"cut": ["top", "ledge"]},
            "shares no untouched face .* got none; measure the datum",
        ),
        (GOOD, {"reset": "comparator"}, "reset: a list of names is needed"),
        (GOOD, {"reset": ["level"]}, "reset: .*'level'.*'comparator'"),
        (EMPTY, {}, "round '1': there is no reading to adjust"),
        (BOLTED, {"states": "free"}, "states: .*'free'.*'levelled'.*'bolted'"),
        (BOLTED, {"states": "levelled"}, "round '1': there is no reading to adjust"),
        (BOLTED, {}, "states: .* 'levelled' in round 'start', 'bolted' in round '1'; measure all"),
        (NO_LEDGE, {}, "round '1': it shares no untouched face .* got none; measure the datum"),
        (SURER, {}, "'scale of comparator': .* 0.02 in one round and 0.01 in another; describe"),
        (
            _with("another lathe"),
            {},
            "round '1': it is of the machine 'another lathe', round 'start'",
        ),
        (
            _with(top=replace(TOP, y=7.0)),
            {},
            "round '1': y of 'top' is 7, in round 'start' it is 0",
        ),
        (_with(side=flat("side")), {}, "round '1': face: .*'side'"),
    ],
)
def test_refuses(second, choices, words):
    surveys = {"start": GOOD} if second is None else {"start": GOOD, "1": second}
    with pytest.raises(InputError, match=words):
        adjust_rounds(surveys, **choices)


def test_states_that_are_named_together_are_one_shape():
    rounds = adjust_rounds({"start": GOOD, "1": BOLTED}, states=["levelled", "bolted"])
    assert rounds.names == ("start", "1")


def test_asks_for_a_round_that_exists():
    rounds = adjust_rounds({"start": GOOD, "1": GOOD})
    with pytest.raises(
        InputError, match=re.escape("round: this is not one of the choices, got '2'")
    ):
        rounds["2"]

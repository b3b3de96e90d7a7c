"""The rounds of the sample: made again byte for byte, and what is told of them true."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import chi2

from metrolib.heights.adjust import adjust
from metrolib.heights.rounds import adjust_rounds
from metrolib.rebuild.findings import findings
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.rounds.overcut import after_overcut
from metrolib.rebuild.rounds.progress import progress
from metrolib.survey.rounds import read_rounds

HERE = Path(__file__).parent
LATHE = HERE.parents[1] / "sample_surveys" / "toolroom_lathe"
TRUTH = HERE / "truth" / "toolroom_lathe"
ROUNDS = ("1", "2", "3", "4_finished")


def form(name):
    """Return the true form of each face at each station, by (face, x)."""
    file = TRUTH.with_suffix(".json") if name == "start" else TRUTH / "rounds" / f"{name}.json"
    faces = json.loads(file.read_text(encoding="utf-8"))["faces"]
    return {
        (face, x): height
        for face, columns in faces.items()
        for x, height in zip(columns["x"], columns["form"], strict=True)
    }


@pytest.fixture(scope="module")
def work():
    """The rounds, the blunder of the first survey struck out, and the plan made from that one."""
    surveys = read_rounds(LATHE)
    start = surveys["start"]
    struck = (start.readings.traverse == "sled to front flat") & (start.readings.x == 500)
    surveys["start"] = replace(start, readings=start.readings.select(~struck))
    plan = plan_removal(adjust(surveys["start"]), start.decision)
    return SimpleNamespace(surveys=surveys, plan=plan, rounds=adjust_rounds(surveys))


def test_the_script_makes_the_same_bytes(tmp_path):
    script = [sys.executable, str(HERE / "make_samples.py")]
    into = ["--surveys", str(tmp_path / "surveys"), "--truth", str(tmp_path / "truth")]
    subprocess.run([*script, *into], check=True)
    for name in ROUNDS:
        made = tmp_path / "surveys" / "toolroom_lathe" / "rounds" / name / "readings.csv"
        assert made.read_bytes() == (LATHE / "rounds" / name / "readings.csv").read_bytes()
        truth = tmp_path / "truth" / "toolroom_lathe" / "rounds" / f"{name}.json"
        assert truth.read_bytes() == (TRUTH / "rounds" / f"{name}.json").read_bytes()


def test_metal_only_comes_off():
    before = form("start")
    for name in ROUNDS:
        after = form(name)
        assert all(after[key] <= before[key] + 1e-7 for key in after), name
        before = before | after


def test_all_rounds_agree_with_each_other(work):
    assert work.rounds.checks.agrees
    low, high = chi2.ppf([0.001, 0.999], work.rounds.checks.dof)
    assert low < work.rounds.checks.chi_square < high
    assert all(work.rounds[name].not_determined == () for name in work.rounds.names)


def test_a_round_that_is_not_tied_alone_is_tied_by_the_others(work):
    bare = work.surveys["1"]
    across = np.char.startswith(bare.readings.traverse.astype(str), "across front to rear")
    bare = replace(bare, readings=bare.readings.select(~across))
    alone = {str(item) for item in adjust(bare).not_determined}
    assert any("'rear flat'" in item for item in alone)
    together = adjust_rounds({"start": work.surveys["start"], "1": bare})
    assert not any("rear flat" in str(item) for item in together["1"].not_determined)


@pytest.mark.parametrize("until", ROUNDS)
def test_what_came_off_is_true(work, until):
    """Errors against their covariance: chi-square, and none beyond five uncertainties."""
    now = progress(adjust_rounds(work.surveys, until=until), work.plan)
    before, after = form("start"), form(until)
    true = [before[key] - after[key] for key in zip(now.face, now.plan.x, strict=True)]
    error = now.taken - true
    law = now.seen.law[0] - now.seen.law[-1]
    cov = law @ now.seen.cov @ law.T
    assert (np.abs(error) < 5 * now.taken_u).all()
    squares = error @ np.linalg.pinv(cov, rcond=1e-9, hermitian=True) @ error
    low, high = chi2.ppf([1e-4, 1 - 1e-4], len(error))
    assert low < squares < high


def test_the_overcut_is_found_where_it_is_and_may_stay(work):
    now = progress(adjust_rounds(work.surveys, until="3"), work.plan)
    assert (now.verdict == "overcut").sum() == 1
    assert (now.plan.face[now.nearest], now.plan.x[now.nearest]) == ("front flat", 900)
    found = after_overcut(now, tolerance=0.010)
    assert found.verdict == "accepted"
    front = {x: height for (face, x), height in form("3").items() if face == "front flat"}
    assert front.pop(900.0) < min(front.values()) - 0.003
    assert found.remedies[0].volume < found.remedies[-1].volume / 2


def test_the_finished_state_passes(work):
    done = progress(work.rounds, work.plan, tolerance=0.010)
    assert done.done and done.anywhere < 0.05
    flats = findings(work.rounds["4_finished"], work.surveys["start"].decision).coplanarity
    assert flats.value.n + 2 * flats.value.s < 0.020


def test_the_story_tells_of_the_rounds():
    story = (LATHE / "README.md").read_text(encoding="utf-8")
    assert "**The rounds.**" in story and "900 mm on the front flat" in story

"""Stop readings beside the prompt, and a warning before an overcut."""

import shutil
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.show.worksheet.rounds.round_stop import round_work
from metrolib.survey.folder import read_survey

SAMPLE = Path(__file__).resolve().parents[4] / "sample_surveys" / "toolroom_lathe"

FIRST = """
[machine]
name = "made for a test"
[faces.flat]
y = 0.0
width = 30.0
x_from = 0.0
x_to = 400.0
nominal_height = 25.0
[faces.ledge]
y = 0.0
width = 20.0
x_from = 0.0
x_to = 400.0
normal = "down"
[instruments.micrometer]
unit = "mm"
resolution = 0.001
repeatability = 0.001
[instruments.plate]
unit = "mm"
resolution = 0.0001
repeatability = 0.0001
[traverses.over]
kind = "micrometer"
instrument = "micrometer"
face = "flat"
opposite_face = "ledge"
[traverses.plate]
kind = "comparison"
instrument = "plate"
face = "ledge"
[decision]
faces = ["flat"]
datum = ["ledge"]
tilt_along = 0.0
confidence = "none"
[methods.file]
leaves = 0.02
per_pass = 0.01
per_pass_uncertainty = 0.002
rate = 1.0
[methods.scraper]
leaves = 0.0
per_pass = 0.004
per_pass_uncertainty = 0.001
rate = 0.3
"""

#: The flat stands 25.06, 25.00, 25.03 over a straight ledge; 25.00 sets the target.
SIZES = {0: 25.06, 200: 25.0, 400: 25.03}


def write(folder, sizes, toml=FIRST):
    folder.mkdir(parents=True)
    (folder / "survey.toml").write_text(toml, encoding="utf-8")
    rows = ["traverse,x,reading"]
    rows += [f"plate,{x},0" for x in SIZES]
    rows += [f"over,{x},{'' if size is None else size}" for x, size in sizes.items()]
    (folder / "readings.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


@pytest.fixture
def bed(tmp_path):
    first = write(tmp_path / "bed", SIZES)
    now = write(first / "rounds" / "1", dict.fromkeys(SIZES))
    return round_work(now), read_survey(now)


def test_a_first_survey_is_no_round(tmp_path):
    assert round_work(write(tmp_path / "bed", SIZES)) is None
    assert round_work(write(tmp_path / "rounds" / "1", SIZES)) is None


def test_a_fault_in_an_earlier_survey_is_told_and_one_in_a_later_does_no_harm(tmp_path):
    first = write(tmp_path / "bed", SIZES)
    now = write(first / "rounds" / "1", dict.fromkeys(SIZES))
    write(first / "rounds" / "2", {0: "wrong"})
    survey = read_survey(now)
    prompt = SimpleNamespace(traverse="over", face="flat", x=0.0)
    assert "25.020 mm" in round_work(now).told_stop(survey, prompt)
    (first / "readings.csv").write_text("traverse,x,reading\nover,0,wrong\n", encoding="utf-8")
    work = round_work(now)
    assert "There are no stop readings: 1 fault" in work.told_stop(survey, prompt)
    assert work.told_reach(survey, prompt, 25.0) is None


def test_the_stop_reading_of_the_present_stage_by_hand(bed):
    """The file leaves 0.02 over the target of 25.00: it stops at 25.020; at 200 mm is nothing."""
    work, survey = bed
    assert work.method("flat").name == "file"
    assert work.stop(survey, "over", "flat", 0.0) == (
        "Stop 'file' here at 25.020 mm. To come off at the start: 60.0 µm."
    )
    assert work.stop(survey, "over", "flat", 200.0) == (
        "Nothing to do here with 'file'. To come off at the start: 0.0 µm."
    )


def test_the_next_stage_follows_when_the_round_before_came_down_to_it(tmp_path):
    first = write(tmp_path / "bed", SIZES)
    write(first / "rounds" / "1", {0: 25.018, 200: 25.0, 400: 25.015})
    now = write(first / "rounds" / "2", dict.fromkeys(SIZES))
    work = round_work(now)
    assert work.method("flat").name == "scraper"
    assert work.stop(read_survey(now), "over", "flat", 0.0).startswith(
        "Stop 'scraper' here at 25.000 mm. Left after round 1: 18."
    )


def test_it_is_told_in_the_display_unit(tmp_path):
    first = write(tmp_path / "bed", SIZES)
    now = write(first / "rounds" / "1", dict.fromkeys(SIZES), 'display = "thou"\n' + FIRST)
    words = round_work(now).stop(read_survey(now), "over", "flat", 0.0)
    assert "at 25.020 mm" in words and "2.36 thou" in words  # a metric micrometer; 60 µm


def test_how_near_the_target_by_hand(bed):
    """25.011 read: 11 µm left; a pass of 10 ± 2 µm ends below with Phi(-1 / sqrt(u² + 2²))."""
    work, survey = bed
    found = work.reach(survey, "over", "flat", 0.0, 25.011)
    assert found.left == pytest.approx(0.011, abs=1e-6)
    assert found.next_pass == pytest.approx(norm.cdf(-0.001 / np.hypot(found.u, 0.002)), abs=1e-6)
    assert found.overcut == pytest.approx(norm.cdf(-0.011 / found.u), abs=1e-6)
    assert found.near and "Careful" in str(found)
    # u: this reading, and of the target what the first survey's readings know of it
    assert np.hypot(0.00104, 0.0) < found.u < np.hypot(0.00104, 0.0015)


def test_far_from_the_target_it_only_reports(bed):
    work, survey = bed
    found = work.reach(survey, "over", "flat", 0.0, 25.045)
    assert not found.near
    assert str(found).startswith("At 0 mm on 'flat' 45.0 µm are left")


def test_below_the_target_it_says_stop(bed):
    work, survey = bed
    found = work.reach(survey, "over", "flat", 400.0, 24.994)
    assert found.left == pytest.approx(-0.006, abs=1e-6) and found.overcut > 0.99
    assert "6.0 µm below the target" in str(found)
    assert "over 0.99: take nothing more off here" in str(found)


def test_without_methods_the_uncertainty_alone_warns(tmp_path):
    plain = FIRST[: FIRST.index("[methods.file]")]
    first = write(tmp_path / "bed", SIZES, plain)
    now = write(first / "rounds" / "1", dict.fromkeys(SIZES), plain)
    work, survey = round_work(now), read_survey(now)
    assert work.stop(survey, "over", "flat", 0.0).startswith("Stop here at 25.000 mm.")
    found = work.reach(survey, "over", "flat", 0.0, 25.002)
    assert found.next_pass is None and found.near and "light passes" in str(found)


def test_the_stated_probability_is_kept(bed):
    """Passes on simulated places: as many end below the target as was said, within 4 sigma."""
    work, survey = bed
    found = work.reach(survey, "over", "flat", 0.0, 25.0115)
    rng, count = np.random.default_rng(11), 20_000
    true_left = found.left + found.u * rng.standard_normal(count)
    after = true_left - (0.010 + 0.002 * rng.standard_normal(count))
    said = found.next_pass
    assert np.mean(after < 0) == pytest.approx(said, abs=4 * np.sqrt(said * (1 - said) / count))


def test_what_tells_nothing_by_itself(bed):
    work, survey = bed
    assert work.reach(survey, "plate", "ledge", 0.0, 0.0) is None
    assert work.reach(survey, "over", "flat", 100.0, 25.0) is None
    assert work.stop(survey, "plate", "ledge", 0.0) == ""


@pytest.fixture(scope="module", params=["1", "3"])
def lathe(request):
    folder = SAMPLE / "rounds" / request.param
    return round_work(folder), read_survey(folder)


def test_one_reading_agrees_with_the_joint_adjustment(lathe):
    """Two ways to the same figure: they differ by less than four of their uncertainties."""
    work, survey = lathe
    now, off = work.progress(survey), []
    for traverse in ("micrometer over the ledge", "micrometer over the rear ledge"):
        readings = survey.readings.of(traverse)
        columns = (readings.face.tolist(), readings.x.tolist(), readings.value.tolist())
        for face, x, value in zip(*columns, strict=True):
            one = work.reach(survey, traverse, face, x, value)
            if one is not None:
                at = (now.plan.face == face) & (now.plan.x == x)
                off += ((one.left - now.left[at]) / np.hypot(one.u, now.left_u[at])).tolist()
    assert len(off) > 25 and np.abs(off).max() < 4
    assert np.std(off) < 1.5


def test_the_planted_overcut_of_round_three_is_told():
    work, survey = round_work(SAMPLE / "rounds" / "3"), read_survey(SAMPLE / "rounds" / "3")
    assert "overcut" in work.standing(survey, "front flat", 900.0)
    readings = survey.readings.of("micrometer over the ledge")
    value = float(readings.value[readings.x == 900.0][0])
    found = work.reach(survey, "micrometer over the ledge", "front flat", 900.0, value)
    assert found.near and found.overcut > 0.9


def test_what_is_left_is_known_only_when_enough_is_read(tmp_path):
    shutil.copytree(SAMPLE, tmp_path / "bed")
    folder = tmp_path / "bed" / "rounds" / "1"
    lines = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
    (folder / "readings.csv").write_text("\n".join(lines[:6]) + "\n", encoding="utf-8")
    assert round_work(folder).standing(read_survey(folder), "rear flat", 300.0) in (
        "",
        "At 300 mm on 'rear flat' it is not known yet what is left.",
    )

"""Deciding without widgets: what is changed, pinned, told, and written into the folder."""

import shutil

import numpy as np
import pytest
from scipy.stats import norm

from metrolib.errors import ImpossiblePlanError, InputError, NotDeterminedError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.ways.consequences import consequences
from metrolib.show.worksheet.deciding.decided import write_decision
from metrolib.show.worksheet.deciding.deciding import Deciding, typed_amount
from metrolib.show.worksheet.deciding.deciding_words import (
    moved_words,
    option_table,
    sentences,
    summary,
)
from metrolib.show.worksheet.deciding.plan_drawing import plan_drawing, plan_sentence
from metrolib.survey.folder import read_survey
from tests.rebuild.beds import HELD, flat, lathe_bed
from tests.show.conftest import SAMPLES

SMALL = SAMPLES / "published_forward_backward"


@pytest.fixture
def work(lathe):
    return Deciding(lathe.survey, lathe.heights)


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(SAMPLES / "toolroom_lathe", tmp_path / "lathe")


def test_it_begins_with_what_the_survey_has_decided(work, lathe):
    np.testing.assert_array_equal(work.outcome.depth, lathe.plan.depth)
    assert list(work.pinned) == ["as decided"]
    assert list(work.starts) == ["as decided", *lathe.survey.options]


def test_a_change_gives_the_plan_of_the_changed_decision(work, lathe):
    assert work.change(clean_up=0.02) == []
    expected = plan_removal(lathe.heights, lathe.survey.decision, clean_up=0.02)
    np.testing.assert_array_equal(work.outcome.depth, expected.depth)
    assert work.outcome is work.outcome  # worked out once


def test_hours_and_consequences_are_those_of_the_plan(work, lathe):
    survey = lathe.survey
    hours = stages(lathe.plan, survey.methods).value
    assert work.hours_of(work.choice).nominal_value == pytest.approx(hours.nominal_value)
    moved = consequences(lathe.plan, survey.carried, survey.drive)
    assert work.moved_by(work.choice) == moved
    assert f"saddle drops: {1000 * moved['saddle drops']:+.1f} µm" in moved_words(work)
    assert f"{hours.nominal_value:.1f} ± {2 * hours.std_dev:.1f} h" in summary(work)


def test_tolerance_and_allowance_put_each_other_to_nothing_and_it_is_told(work):
    (told,) = work.change(band=0.02)
    assert "The allowance was set to 0" in told
    assert (work.choice.band, work.choice.clean_up) == (0.02, 0)
    (told,) = work.change(clean_up=0.03)
    assert "The tolerance was set to 0" in told
    assert (work.choice.band, work.choice.clean_up) == (0, 0.03)


def test_without_a_datum_the_tilt_is_free_and_it_is_told(work):
    (told,) = work.change(datum=())
    assert "The tilt was set free" in told
    assert (work.choice.tilt_along, work.choice.tilt_across) == (None, None)


def test_a_face_that_leaves_the_group_takes_its_limits_along(work):
    work.change(untouchable=("rear flat",), greatest_cut={"front flat": 0.2})
    work.change(faces=("tailstock flat",))
    assert (work.choice.untouchable, work.choice.greatest_cut) == ((), {})


def test_what_cannot_be_done_is_told_in_the_words_of_the_error(work):
    work.change(greatest_cut={"front flat": 0.05})
    assert isinstance(work.outcome, ImpossiblePlanError)
    said = summary(work)
    assert said == f"This cannot be done: {work.outcome}" and "may lose at most 0.050 mm" in said
    assert sentences(work) == ["Nothing can be planned so; the reason stands above."]
    assert moved_words(work) == [] and work.deepest_on("front flat") == 0
    assert option_table(work)["on screen"]["deepest"] == "cannot be done"
    with pytest.raises(InputError, match="no plan to put on a sheet"):
        work.print_sheet(SAMPLES)


def test_a_raised_target_names_the_stations_that_would_not_clean_up_and_their_chance():
    # least: -50. At -47 the front hollow lacks 3 um, which are 1.5 standard uncertainties; all
    # else has 27 and more of room
    heights = lathe_bed([0, -0.05, 0], [0, -0.02, 0], u=0.002, ledge_u=1e-9)
    work = Deciding(read_survey(SMALL), heights)
    work.change(faces=("front", "rear"), confidence=None, **HELD, target_height=-0.047)
    said = " ".join(sentences(work))
    assert "One station would not clean up: most lacks at 700 mm on 'front', 3.0 µm" in said
    assert f"700 mm on 'front' {100 * norm.cdf(-1.5):.0f} %" in said
    assert work.outcome.confidence == pytest.approx(norm.cdf(-1.5), abs=0.006)
    assert plan_drawing(work.outcome, "um").count('class="lacks"') == 1


def test_options_stand_side_by_side_with_what_is_on_screen(work):
    work.change(clean_up=0.0)
    work.pin("bare")
    work.change(band=0.02)
    work.pin("dressed")
    table = option_table(work)
    assert list(table) == ["as decided", "bare", "dressed", "on screen"]
    assert table["dressed"].tolist() == table["on screen"].tolist()
    deepest = [float(text.split()[0]) for text in table.loc["deepest"]]
    assert deepest == [
        pytest.approx(1000 * work.outcome_of(decision).depth.max(), abs=0.051)
        for decision in (*work.pinned.values(), work.choice)
    ]
    work.unpin("bare")
    assert "bare" not in option_table(work)


def test_an_option_without_a_name_gets_one(work, lathe):
    work.start_from("tilt within 0.02 mm/m")
    assert work.choice == lathe.survey.options["tilt within 0.02 mm/m"]
    work.pin()
    work.change(clean_up=0.011)
    work.pin(" ")
    assert list(work.pinned) == ["as decided", "tilt within 0.02 mm/m", "option 3"]


def test_no_option_takes_the_name_of_another(work):
    work.change(clean_up=0.01)
    for taken in ("as decided", "tilt within 0.02 mm/m"):
        with pytest.raises(InputError, match="another one has this name"):
            work.pin(taken)
    with pytest.raises(InputError, match="option: this is not one of the choices"):
        work.unpin("never pinned")
    with pytest.raises(InputError, match="option: this is not one of the choices"):
        work.start_from("never pinned")


def test_without_heights_there_is_nothing_to_decide():
    with pytest.raises(NotDeterminedError, match="take the readings first"):
        Deciding(read_survey(SMALL), None)


def test_exact_heights_and_no_methods_are_told_without_chances_and_hours():
    heights = given_heights([flat("way")], {"way": ([0, 250, 500], [0, -0.05, 0])})
    work = Deciding(read_survey(SMALL), heights)
    work.change(clean_up=0.01)
    # 60 um at either end over a quarter of 15 000 mm2 each, 10 um over the half between
    assert summary(work) == "deepest 60.0 µm  |  0.53 cm³"
    assert len(sentences(work)) == 1 and work.hours_of(work.choice) is None


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("12,5", "um", 0.0125), (" 2 ", "thou", 0.0508), ("\u22120.02", None, -0.02)],
)
def test_amounts_are_typed_with_point_or_comma(text, unit, value):
    assert typed_amount("tolerance", text, unit) == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "2x", "1,2,3"])
def test_what_is_no_amount_is_refused(text):
    with pytest.raises(InputError, match="tolerance: this is no number, got"):
        typed_amount("tolerance", text, "um")


def test_the_drawing_has_a_sentence_for_those_who_do_not_see_it(lathe):
    said = plan_sentence(lathe.plan, "um")
    part = lathe.plan.per_face[0]
    assert f"{part.face}: from {1000 * part.least:.1f} µm to {1000 * part.most:.1f} µm" in said
    assert f'aria-label="{said}"' in plan_drawing(lathe.plan, "um")


class TestUsed:
    def test_the_choice_is_written_and_what_was_decided_before_stays(self, folder, work):
        before = read_survey(folder)
        work.change(tilt_across=None, target_height=-0.1)
        said = write_decision(folder, work.choice)
        after = read_survey(folder)
        assert after.decision == work.choice
        (name,) = {*after.options} - {*before.options}
        assert repr(name) in said and name.startswith("before ")
        assert after.options[name] == before.decision
        assert after.readings_text == before.readings_text

    def test_comments_survive(self, folder, work):
        comments = [line for line in _toml(folder).splitlines() if line.startswith("#")]
        work.change(clean_up=0.02)
        write_decision(folder, work.choice)
        assert [line for line in _toml(folder).splitlines() if line.startswith("#")] == comments
        assert "# parallel to the ledges along the bed ..." in _toml(folder)

    def test_used_twice_in_a_minute_both_earlier_ones_stay(self, folder, work):
        for depth in (0.02, 0.01):
            work.change(clean_up=depth)
            write_decision(folder, work.choice)
        kept = [one for name, one in read_survey(folder).options.items() if "before" in name]
        assert [one.clean_up for one in kept] == [0.03, 0.02]

    def test_options_that_follow_the_decision_are_told(self, folder, work):
        work.change(clean_up=0.02)
        said = write_decision(folder, work.choice)
        assert "'tilt within 0.02 mm/m'" in said and "'dress the high" not in said
        assert read_survey(folder).options["tilt within 0.02 mm/m"].clean_up == 0.02

    def test_the_same_again_writes_nothing(self, folder, work):
        text = _toml(folder)
        assert "nothing was written" in write_decision(folder, work.choice)
        assert _toml(folder) == text

    def test_what_others_wrote_meanwhile_stays(self, folder, work):
        path = folder / "survey.toml"
        path.write_text(path.read_text("utf-8") + "\n# by another hand\n", encoding="utf-8")
        work.change(clean_up=0.02)
        write_decision(folder, work.choice)
        assert "# by another hand" in _toml(folder)

    def test_the_job_sheet_is_written_beside_it(self, folder, work):
        path = work.print_sheet(folder)
        assert path == folder / "job_sheet.html" and "take off, in µm" in path.read_text("utf-8")


def _toml(folder):
    return (folder / "survey.toml").read_text(encoding="utf-8")

"""Changes to a survey: only what is changed differs in the texts."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.survey.folder import read_survey, survey_from_texts

from .example import READINGS, TOML

ROW = {"traverse": "across", "x": 500, "reading": 1.5}


@pytest.fixture
def survey(folder):
    return read_survey(folder)


class TestWithReadings:
    def test_the_row_that_is_written(self, survey):
        text = survey.with_readings([ROW]).readings_text
        assert text == READINGS + "across,500,1.5,\n"

    def test_the_old_survey_stays(self, survey):
        survey.with_readings([ROW])
        assert survey.readings_text == READINGS
        assert len(survey.readings) == 10

    def test_nothing_to_add(self, survey):
        assert survey.with_readings([]).readings_text == READINGS

    def test_columns_that_the_file_lacks_are_added_to_the_headings(self, survey):
        more = survey.with_readings([{**ROW, "repeat": 1}, {**ROW, "repeat": 2, "face": None}])
        assert more.readings_text == READINGS.replace(
            "traverse,x,reading,note\n", "traverse,x,reading,note,repeat\n"
        ) + ("across,500,1.5,,1\nacross,500,1.5,,2\n")
        assert more.readings.of("across").repeat.tolist() == [1, 1, 1, 2]

    def test_numbers_come_back_to_the_last_bit(self, survey):
        values = np.random.default_rng(5).normal(size=50) * 10.0 ** np.arange(-25, 25)
        values = values[np.abs(values) < 20]
        rows = [{**ROW, "x": i / 7, "reading": value} for i, value in enumerate(values, start=1)]
        for text in (READINGS, READINGS.replace(",", ";").replace(".", ",")):
            text = text.replace("19,5 degC", "")
            more = survey_from_texts(TOML, text).with_readings(rows)
            added = more.readings.select(more.readings.line > 12)
            assert added.value.tolist() == values.tolist()
            assert added.x.tolist() == [row["x"] for row in rows]

    def test_a_frame(self, survey):
        import pandas as pd

        frame = pd.DataFrame(
            {
                "traverse": ["across", "thickness"],
                "x": [500, 600],
                "reading": [1.5, 26.125],
                "note": [None, "twice"],
                "repeat": [np.nan, 1],
            }
        )
        more = survey.with_readings(frame)
        assert more.readings_text.endswith("across,500,1.5,,\nthickness,600,26.125,twice,1\n")

    def test_a_planned_row(self, survey):
        more = survey.with_readings([{**ROW, "reading": None}])
        assert len(more.readings) == 10
        assert more.planned.x.tolist() == [500]

    def test_an_unknown_column_of_the_file_can_be_filled(self):
        text = READINGS.replace("note\n", "note,observer\n")
        more = survey_from_texts(TOML, text).with_readings([{**ROW, "observer": 'A, "B"'}])
        assert more.readings_text.endswith('across,500,1.5,,"A, ""B"""\n')

    def test_semicolons_without_any_decimal_yet_take_a_comma(self):
        text = "traverse;x;reading\nacross;0;1\nacross;1000;2\n"
        more = survey_from_texts(TOML, text).with_readings([ROW])
        assert more.readings_text.endswith("across;500;1,5\n")

    @pytest.mark.parametrize(
        ("row", "words"),
        [
            ({"traverse": "across", "x": 5}, r"rows\[0\]: 'reading' is missing"),
            ({**ROW, "raeding": 5}, r"rows\[0\]: .*no column 'raeding'.*did you mean 'reading'"),
            ({**ROW, "x": np.nan}, r"rows\[0\]\['x'\]: a finite number is needed"),
            ({**ROW, "reading": np.inf}, r"rows\[0\]\['reading'\]: a finite number"),
            ({**ROW, "reading": np.nan}, r"rows\[0\]\['reading'\]: a finite number"),
            ({**ROW, "x": None}, r"rows\[0\]\['x'\]: it is needed"),
            ({**ROW, "reading": [1]}, r"rows\[0\]\['reading'\]: a number is needed"),
            ({**ROW, "traverse": "# across"}, "would make the line a comment"),
            (["across", 5, 1], r"rows\[0\]: a dict is needed"),
        ],
    )
    def test_refusals(self, survey, row, words):
        with pytest.raises(InputError, match=words):
            survey.with_readings([row])

    @pytest.mark.parametrize(
        ("row", "words"),
        [
            ({**ROW, "traverse": "acros"}, "line 13: unknown traverse 'acros'.*'across'"),
            ({**ROW, "x": 1001}, "line 13: x = 1001 is outside the face"),
            ({**ROW, "x": 0}, "line 13: a second reading"),
            ({**ROW, "reading": "1.5 div"}, "line 13: reading '1.5 div' is no number"),
            ({**ROW, "reading": "1,5"}, "line 13: reading '1,5' has another decimal mark"),
        ],
    )
    def test_readings_that_do_not_fit(self, survey, row, words):
        with pytest.raises(SurveyError, match=words):
            survey.with_readings([row])


PLAN = """\
# to be read on the second day
traverse,face,x,reading,repeat,order,note,observer
thickness,front flat,0,26.1,,,,A.
"thickness", front flat ,250,,,,,"B, ""C"", D"
# the far end
thickness,,500, ,2,,mind the oil hole
thickness,,500,
across,,0,""
across,,1000

"""


class TestPlannedRows:
    """Readings that are planned already: only the cells that are filled change."""

    @pytest.fixture
    def plan(self):
        return survey_from_texts(TOML, PLAN)

    def fill(self, plan, *rows):
        return plan.with_readings([{"traverse": "thickness", **row} for row in rows])

    @pytest.mark.parametrize(
        ("row", "old", "new"),
        [
            ({"x": 250, "reading": 26.125}, ",250,,,", ",250,26.125,,"),
            ({"x": 250.004, "reading": 0, "face": "front flat"}, ",250,,,", ",250,0,,"),
            ({"x": "250", "reading": "26.10"}, ",250,,,", ",250,26.10,,"),
            ({"x": 250, "reading": 1, "note": "a, b"}, "0,,,,,", '0,1,,,"a, b",'),
            ({"x": 500, "repeat": 2, "reading": 26.5}, "500, ,2", "500, 26.5,2"),
            ({"x": 500, "reading": 26.5}, "500,\n", "500,26.5\n"),
            ({"x": 500, "reading": 26.5, "note": "twice"}, "500,\n", "500,26.5,,,twice\n"),
            ({"x": 500, "reading": 26.5, "observer": "D."}, "500,\n", "500,26.5,,,,D.\n"),
            ({"traverse": "across", "x": 0, "reading": -2}, '0,""', '0,"-2"'),
            ({"traverse": "across", "x": 1000, "reading": -2}, "1000\n", "1000,-2\n"),
        ],
    )
    def test_only_the_cells_given_change(self, plan, row, old, new):
        filled = self.fill(plan, row)
        assert PLAN.count(old) == 1
        assert filled.readings_text == PLAN.replace(old, new)
        assert len(filled.planned) == len(plan.planned) - 1
        assert len(filled.readings) == 2
        assert plan.readings_text == PLAN

    def test_rows_without_a_planned_place_are_appended(self, plan):
        filled = self.fill(plan, {"x": 750, "reading": 5}, {"x": 250, "reading": 4})
        assert filled.readings_text == PLAN.replace(",250,", ",250,4") + "thickness,,750,5,,,,\n"
        elsewhere = {"x": 250, "face": "rear flat", "reading": 4}
        assert len(self.fill(plan, {"x": 250, "repeat": 2, "reading": 4}).planned) == 5
        assert len(self.fill(plan, elsewhere).planned) == 5

    def test_all_of_them_at_once_in_any_order(self, plan):
        rows = [
            {"traverse": name, "x": x, "repeat": repeat, "reading": x / 1000 + repeat}
            for name, x, repeat in zip(
                plan.planned.traverse[::-1],
                plan.planned.x[::-1],
                plan.planned.repeat[::-1],
                strict=True,
            )
        ]
        filled = plan.with_readings(rows)
        assert len(filled.planned) == 0
        assert filled.readings.value.tolist() == [26.1, 1.25, 2.5, 1.5, 1.0, 2.0]
        assert filled.readings.line.tolist() == [3, 4, 6, 7, 8, 9]

    def test_a_column_that_the_file_lacks(self):
        text = "traverse,x,reading\nacross,0,\nacross,1000,2\n"
        survey = survey_from_texts(TOML, text)
        row = {"traverse": "across", "x": 0, "reading": 1, "repeat": 1, "face": "front flat"}
        assert survey.with_readings([row]).readings_text == text.replace("0,\n", "0,1\n", 1)
        noted = survey.with_readings([{**row, "note": "cold"}]).readings_text
        assert noted == "traverse,x,reading,note\nacross,0,1,cold\nacross,1000,2\n"

    def test_the_order_in_which_they_were_taken(self):
        text = "traverse,x,reading,order\nacross,0,,\nacross,1000,,1\n"
        rows = [
            {"traverse": "across", "x": 1000, "reading": 5, "order": 1},
            {"traverse": "across", "x": 0, "reading": 6, "order": 2},
        ]
        filled = survey_from_texts(TOML, text).with_readings(rows)
        assert filled.readings_text == "traverse,x,reading,order\nacross,0,6,2\nacross,1000,5,1\n"
        assert filled.readings.of("across").value.tolist() == [5, 6]
        with pytest.raises(InputError, match="line 3 has order '1', got '4'"):
            survey_from_texts(TOML, text).with_readings([{**rows[0], "order": 4}])

    def test_a_row_over_several_lines(self):
        text = 'traverse,note,x,reading\r\nacross,"two\r\nlines",0,\r\nacross,,1000,2\r\n'
        filled = survey_from_texts(TOML, text).with_readings(
            [{"traverse": "across", "x": 0, "reading": 1.5}]
        )
        assert filled.readings_text == text.replace("0,\r\n", "0,1.5\r\n", 1)

    def test_what_is_planned_already_is_not_planned_twice(self, plan):
        row = {"x": 250, "reading": None}
        assert self.fill(plan, row).readings_text == PLAN
        filled = self.fill(plan, {**row, "note": "soon"}, {"x": 250, "reading": 3})
        assert filled.readings_text == PLAN.replace("250,,,,,", "250,3,,,soon,")

    def test_filled_twice_in_one_call(self, plan):
        with pytest.raises(SurveyError, match="line 11: a second reading .*first is in line 4"):
            self.fill(plan, {"x": 250, "reading": 1}, {"x": 250, "reading": 2})

    def test_filled_before(self, plan):
        filled = self.fill(plan, {"x": 250, "reading": 1})
        with pytest.raises(SurveyError, match="line 11: a second reading .*first is in line 4"):
            self.fill(filled, {"x": 250, "reading": 1})

    def test_a_reading_that_does_not_fit_has_its_own_line(self, plan):
        with pytest.raises(SurveyError, match="line 4: reading '26.1 mm' is no number"):
            self.fill(plan, {"x": 250, "reading": "26.1 mm"})

    def test_what_stands_in_a_cell_is_not_replaced(self, plan):
        row = {"x": 500, "repeat": 2, "reading": 1, "note": "mind the oil hole"}
        assert len(self.fill(plan, row).readings) == 2
        with pytest.raises(
            InputError, match=r"rows\[0\]: .*line 6 has note 'mind the oil hole', got 'cold'"
        ):
            self.fill(plan, {**row, "note": "cold"})
        with pytest.raises(InputError, match="line 4 has observer 'B, .C., D', got 'D'"):
            self.fill(plan, {"x": 250, "reading": 1, "observer": "D"})

    def test_a_note_in_front_may_not_make_a_comment_of_the_row(self):
        text = "note,traverse,x,reading\n,across,0,\n,across,1000,2\n"
        survey = survey_from_texts(TOML, text)
        row = {"traverse": "across", "x": 0, "reading": 1, "note": " # cold"}
        with pytest.raises(InputError, match="would make the line a comment"):
            survey.with_readings([row])


class TestWithDecision:
    def test_only_the_value_changes(self, survey):
        changed = survey.with_decision(band=0.01)
        assert changed.toml_text == TOML.replace("band = 0.0 ", "band = 0.01 ")
        assert changed.decision.band == 0.01
        assert changed.readings_text == survey.readings_text

    @pytest.mark.parametrize("end", ["\r\n", "\r"])
    def test_line_ends_and_mark_stay(self, end):
        text = "\ufeff" + TOML.replace("\n", end)
        changed = survey_from_texts(text, READINGS).with_decision(band=0.01, clean_up=0.1)
        assert changed.toml_text.count(end) == TOML.count("\n") + 1
        assert changed.toml_text.startswith("\ufeff#")
        if end == "\r\n":
            assert changed.toml_text.count("\n") == changed.toml_text.count("\r\n")
        assert changed.decision.clean_up == 0.1

    def test_all_keys(self, survey):
        decision = survey.with_decision(
            faces=["front flat"],
            together="parallel",
            datum=(),
            tilt_along=np.float64(0.0),
            tilt_across=np.int64(1),
            clean_up=0.01,
            confidence=0.9,
            minimise="deepest cut",
            untouchable={"rear flat"},
            greatest_cut={"front flat": 0.3},
        ).decision
        assert (decision.faces, decision.together, decision.datum) == (
            ("front flat",),
            "parallel",
            (),
        )
        assert (decision.tilt_along, decision.tilt_across, decision.clean_up) == (0, 1, 0.01)
        assert (decision.confidence, decision.minimise) == (0.9, "deepest cut")
        assert (decision.untouchable, decision.greatest_cut) == (
            ("rear flat",),
            {"front flat": 0.3},
        )

    def test_none_takes_a_bound_or_the_confidence_off(self, survey):
        bound = survey.with_decision(tilt_along=0.0, confidence=0.5)
        assert (bound.decision.tilt_along, bound.decision.confidence) == (0, 0.5)
        free = bound.with_decision(tilt_along=None, confidence=None)
        assert (free.decision.tilt_along, free.decision.confidence) == (None, None)

    def test_a_survey_without_a_decision_gets_one(self):
        text = TOML[: TOML.index("[decision]")]
        changed = survey_from_texts(text, READINGS).with_decision(faces=["rear flat"])
        assert changed.toml_text.startswith(text)
        assert changed.decision.faces == ("rear flat",)

    def test_an_unknown_condition(self, survey):
        with pytest.raises(InputError, match="no 'bandd'; did you mean 'band'"):
            survey.with_decision(bandd=1)

    def test_a_value_that_no_file_can_hold(self, survey):
        with pytest.raises(InputError, match="band: this cannot stand in survey.toml"):
            survey.with_decision(band=object())

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"band": -1}, r"survey.toml, line \d+: decision: band is -1"),
            ({"band": np.nan}, "band is nan"),
            ({"faces": ["frnt flat"]}, "unknown face 'frnt flat'; did you mean 'front flat'"),
            ({"confidence": 1.5}, "1.5, outside 0 to 1"),
        ],
    )
    def test_a_value_at_fault(self, survey, changes, words):
        with pytest.raises(SurveyError, match=words):
            survey.with_decision(**changes)


class TestWithOption:
    def test_it_is_written_in_full_at_the_end_and_read_back(self, survey):
        decision = replace(
            survey.decision, tilt_along=None, confidence=None, greatest_cut={"front flat": 0.3}
        )
        changed = survey.with_option('before "noon"', decision)
        assert changed.toml_text.startswith(TOML.rstrip())
        assert changed.options['before "noon"'] == decision
        later = changed.with_decision(tilt_along=0.0, confidence=0.5)
        assert later.options['before "noon"'] == decision
        assert changed.decision == survey.decision

    def test_a_second_of_the_name_is_refused(self, survey):
        once = survey.with_option("gentle", survey.decision)
        with pytest.raises(InputError, match="option: there is one of this name, got 'gentle'"):
            once.with_option("gentle", survey.decision)

    def test_words_take_conditions_off_in_an_option_alone(self):
        held = TOML + '\n[options.open]\ntilt_along = "free"\ntarget_height = "least removal"\n'
        changed = survey_from_texts(held, READINGS).with_decision(
            tilt_along=0.0, target_height=-0.05
        )
        assert (changed.decision.tilt_along, changed.decision.target_height) == (0, -0.05)
        found = changed.options["open"]
        assert (found.tilt_along, found.target_height) == (None, None)

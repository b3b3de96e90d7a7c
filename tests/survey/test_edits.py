"""Changes to a survey: only what is changed differs in the texts."""

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

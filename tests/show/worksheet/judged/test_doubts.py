"""A new reading is judged while the set-up still stands."""

from dataclasses import replace

import numpy as np
import pytest

from metrolib.heights.blunders import critical_value
from metrolib.show.worksheet.judged.doubts import doubt_about
from metrolib.survey.folder import read_survey
from tests.show.worksheet.benches import LEVEL, heights_of, stepped, survey, until
from tests.studies.doubts_study import asked_about, clean_survey, fed, with_slip

SHAPE = [0.5, 0.2, -0.9, -1.6, -1.0, 0.3, 1.2, 1.5, 0.8]


def last(made, **how):
    return doubt_about(made, len(made.readings) - 1, **how)


def test_against_a_repeat_by_hand():
    # u of one reading: sqrt(0.1² + 0.1²/12) = 0.1041 div; of the difference of two 0.147
    rows = [*stepped(SHAPE), ("out", 300.0, -1.6 + 0.7, 2)]
    doubt = last(survey(rows))
    assert doubt.against == "its repeats"
    assert doubt.u == pytest.approx(0.1041 * np.sqrt(2), rel=1e-3)
    assert (doubt.off, doubt.x, doubt.repeat) == (pytest.approx(0.7), 300.0, 2)
    critical = critical_value(len(rows)) * doubt.u
    for off, asks in ((0.98 * critical, False), (1.02 * critical, True)):
        rows[-1] = ("out", 300.0, -1.6 + off, 2)
        assert (last(survey(rows)) is not None) is asks


def test_a_drift_that_the_survey_counts_with_widens_the_repeats():
    toml = LEVEL.replace("[traverses.back]", "drift_uncertainty = 1.0\n[traverses.back]")
    rows = [*stepped(SHAPE), ("out", 0.0, SHAPE[0] + 0.7, 2)]
    assert last(survey(rows)) is not None
    assert last(survey(rows, toml)) is None


def test_against_the_way_back():
    """The zero is free, so the second pass is checked once two of its readings are known."""
    way_back = [value - 0.4 for value in SHAPE]
    way_back[4] += 1.5
    rows = [*stepped(SHAPE), *reversed(stepped(way_back, "back"))]
    doubts = []
    for count in range(10, 19):
        part = until(survey(rows), count)
        doubts.append(doubt_about(part, count - 1, heights_of(part)))
    found = [doubt for doubt in doubts if doubt is not None]
    assert [(one.traverse, one.x, one.against) for one in found[:1]] == [
        ("back", 400.0, "the other readings")
    ]
    assert found[0].off == pytest.approx(1.5, abs=0.4)


def test_the_words_say_what_by_how_much_and_ask():
    values = [0.4, 0.5, 0.6, 0.5, 0.4, 0.6, -5.4, 0.5]
    doubt = last(survey(stepped(values, start=0)))
    assert str(doubt) == (
        "At 600 mm -5.4 div was read; its neighbours make it about 0.6 div, so it is 6.0 div too "
        "low: repeat it now?"
    )


def test_a_swapped_sign_is_named_once_the_next_place_is_read():
    values = [5.0, 5.2, 5.1, 5.3, 5.2, 5.4, -5.3]
    made = survey(stepped(values))
    assert last(made) is None  # such a step may be wear
    after = survey(stepped([*values, 5.5]))
    assert last(after).slip == "the sign"
    assert "5.3 div would fit" in str(last(after))


def test_it_asks_once():
    made = survey(stepped([0.4, 0.5, 0.6, 0.5, 0.4, 0.6, -5.4, 0.5]))
    doubt = last(made)
    assert last(made, asked={doubt.place}) is None


def test_a_repeat_mends_or_confirms():
    values = [0.4, 0.5, 0.6, 0.5, 0.4, 0.6, -5.4, 0.5]
    doubt = last(survey(stepped(values)))
    for again in (0.5, -5.4):  # a slip, and a dent
        made = survey([*stepped(values), ("out", 600.0, again, 2)])
        assert last(made, heights=heights_of(made), asked={doubt.place}) is None
        more = survey([*stepped(values), ("out", 600.0, again, 2), ("out", 800.0, 0.4)])
        assert last(more, asked={doubt.place}) is None
    other = survey([*stepped(values), ("out", 600.0, 4.1, 2)])
    assert last(other, asked={doubt.place}).repeat == 2


def test_what_stands_on_damage_is_left_alone():
    values = [0.4, 0.5, 0.6, 0.5, 0.4, 0.6, 0.5, 0.4, 0.5, -7.0, 8.0, 0.5]  # feet at 1000
    assert last(survey(stepped(values))) is None
    toml = LEVEL.replace('left_out = [{ x_from = 990, x_to = 1010, reason = "oil hole" }]', "")
    assert last(survey(stepped(values[:11]), toml)) is not None


def test_a_dent_that_the_way_back_confirms_is_no_slip():
    dent = [0.4, 0.5, 0.6, 0.5, 4.0, -3.1, 0.5, 0.4]
    made = survey([*stepped(dent), *reversed(stepped(dent, "back"))])
    for count in range(10, 17):
        part = until(made, count)
        found = doubt_about(part, count - 1, heights_of(part))
        assert found is None or found.traverse == "out"


def test_a_kind_of_ones_own_needs_no_row_function_to_be_judged():
    toml = LEVEL.replace('kind = "level along"', 'kind = "own: roller"', 1)
    toml = toml.replace("foot_spacing = 100\n", "", 1)
    made = survey(stepped([0.4, 0.5, 0.6, 0.5, 0.4, 0.6, -5.4, 0.5]), toml)
    assert last(made).x == 600.0


@pytest.mark.parametrize("name", ["long_rails", "rectangular_face"])
def test_good_surveys_raise_no_question(name):
    """Of 1 survey in 20 a question is expected by chance; 3 of 3 is not (p < 2e-4)."""
    surveys = [clean_survey(name, 7_000 + k) for k in range(2)]
    assert sum(len(fed(one)) for one in surveys) == 0


def test_planted_blunders_are_asked_about_at_once():
    """The milling table's dial booked -0.010 for -0.030; the rails' level with its sign swapped."""
    for name, traverse, x in (
        ("milling_table", "edge on left way sole up", 250.0),
        ("long_rails", "across the rails", 5600.0),
        ("rectangular_face", "middle crosswise back", 300.0),
    ):
        made = read_survey(f"sample_surveys/{name}")
        order = np.argsort(made.readings.order, kind="stable")
        made = replace(made, readings=made.readings.select(order))
        at = (made.readings.traverse == traverse) & (made.readings.x == x)
        assert asked_about(made, int(np.flatnonzero(at)[0])) in (0, 1, 2)


def test_power_against_gross_slips():
    """Of slips beyond 20 standard uncertainties that the way back checks, all but few are asked.

    Redundancy near 0.5 flags 3.9 + 1.6 over sqrt(0.5), some 8, in 95 of 100; 20 leaves a margin.
    """
    made = clean_survey("long_rails", 8_000)
    rows = np.flatnonzero(made.readings.traverse == "level on front rail turned")[2:]
    asked = []
    for row in rows:
        spoiled, size = with_slip(made, int(row), "ten divisions")
        assert size > 20
        asked.append(asked_about(spoiled, int(row)))
    assert asked.count(0) >= 0.9 * len(asked)

"""What is typed on the form: numbers, lengths, directions, stretches."""

import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.setting_up.form_fields import (
    ASKED,
    FACE,
    INSTRUMENT,
    typed_left_out,
    typed_length,
    typed_normal,
    typed_number,
)
from metrolib.survey.examples import INSTRUMENTS
from metrolib.survey.machine import LeftOut
from metrolib.survey.readings import KINDS


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0,25", 0.25),
        (" 12.5 ", 12.5),
        ("-3", -3),
        ("\N{MINUS SIGN}0,5", -0.5),
        ("0", 0),
        (".5", 0.5),
    ],
)
def test_numbers_take_point_or_comma(text, value):
    assert typed_number(text) == value


@pytest.mark.parametrize("text", ["12,5,3", "1.2.3", "abc", "--1", "1 2", "", "nan", "inf", "٣"])
def test_what_is_no_number_is_refused_with_what_was_typed(text):
    with pytest.raises(InputError, match=r"is no number; write digits with one decimal mark"):
        typed_number(text)


def test_zero_is_a_value_where_it_may_stand():
    assert typed_number("0", at_least=0) == 0
    with pytest.raises(InputError, match="0 is too small; it must be above 0"):
        typed_number("0", above=0)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    # 1 in = 25.4 mm exactly, by the international agreement of 1959
    [
        ("1000", 1000),
        ("39,37 in", 999.998),
        ('2"', 50.8),
        ("500thou", 12.7),
        ("40 mm", 40),
        ("-12.5in", -317.5),
        ("250 µm", 0.25),
    ],
)
def test_lengths_are_mm_unless_a_unit_stands_behind(text, millimetres):
    assert typed_length(text) == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("12 cm", "'12 cm' has no known unit; write mm, in or thou behind it"),
        ("4x", "no known unit"),
        ("in", "is no number"),
        ("1,2,3 mm", "'1,2,3' is no number"),
    ],
)
def test_lengths_that_cannot_be_read(text, words):
    with pytest.raises(InputError, match=words):
        typed_length(text)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [("up", 0), ("down", 180), ("plus y", 90), ("minus y", -90), ("-45", -45), ("30,5°", 30.5)],
)
def test_directions_are_words_or_degrees(text, degrees):
    assert typed_normal(text) == degrees


@pytest.mark.parametrize("text", ["upward", "", "400"])
def test_directions_that_are_none(text):
    with pytest.raises(InputError, match=r"no direction|once round"):
        typed_normal(text)


def test_stretches_that_are_left_out():
    hole, dent = LeftOut(610, 640, "oil hole"), LeftOut(800, 812.5, "a dent, stoned")
    assert typed_left_out("610 to 640 oil hole; 800-812,5: a dent, stoned;") == (hole, dent)
    assert typed_left_out(" ; ") == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("610 to 640", "write from, to and why"),
        ("oil hole", "write from, to and why"),
        ("640 to 610 hole", "ends before it begins; write the lower place first"),
        ("6.1.0 to 640 hole", "'6.1.0' is no number"),
    ],
)
def test_stretches_that_cannot_be_read(text, words):
    with pytest.raises(InputError, match=words):
        typed_left_out(text)


def test_every_reading_kind_is_asked_for_with_an_instrument_that_there_is():
    assert set(ASKED) == set(KINDS)
    assert {asked.tool for asked in ASKED.values()} <= set(INSTRUMENTS)
    assert all(len(asked.roles) == len(asked.vee) for asked in ASKED.values())


def test_no_field_is_asked_twice():
    for fields in (FACE, INSTRUMENT):
        keys = [field.key for field in fields]
        assert len(set(keys)) == len(keys)

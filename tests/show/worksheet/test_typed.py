import pytest

from metrolib.errors import InputError
from metrolib.show.worksheet.typed import typed_reading, unit_sign, units_of
from metrolib.survey.instruments import Instrument

DIAL = Instrument("dial", "um", 1, 0.8, reading_range=400)
LEVEL = Instrument(
    "level", "division", 0.1, 0.2, sensitivity=0.02, sensitivity_unit="mm/m", reading_range=20
)
MICROMETER = Instrument("micrometer", "mm", 0.001, 0.002)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3", 3),
        ("3.25", 3.25),
        ("3,25", 3.25),
        ("-3,25", -3.25),
        ("\N{MINUS SIGN}3.25", -3.25),
        ("+3.25", 3.25),
        (" \t-3 \n", -3),
        ("- 3", -3),
        (".5", 0.5),
        ("-,5", -0.5),
        ("3.", 3),
        ("0", 0),
        ("-0", 0),
        ("007", 7),
    ],
)
def test_digits_a_sign_and_one_decimal_mark_are_a_reading(text, value):
    typed = typed_reading(text, DIAL)
    assert typed.value == value
    assert typed.text == text
    assert float(typed.digits) == value
    assert typed.unit == "um"


def test_the_digits_keep_what_was_typed_with_a_decimal_point():
    assert typed_reading("26,150", MICROMETER).digits == "26.150"
    assert typed_reading("+0,50", DIAL).digits == "0.50"
    assert typed_reading("-,5", DIAL).digits == "-0.5"
    assert typed_reading("7.", DIAL).digits == "7"


@pytest.mark.parametrize(
    ("text", "instrument", "value"),
    [
        # 1 in is 25.4 mm by definition, so 1 thou is 25.4 µm
        ("2 thou", DIAL, 50.8),
        ("0,05mm", DIAL, 50),
        ("-3 µm", DIAL, -3),
        ("-3 μm", DIAL, -3),
        ("3UM", DIAL, 3),
        ('1"', MICROMETER, 25.4),
        ("1.0295 in", MICROMETER, 26.1493),
        ("26150 um", MICROMETER, 26.15),
        ("3 div", LEVEL, 3),
        ("0.06 mm/m", LEVEL, 3),
        ("20 um/m", LEVEL, 1),
        # 1 arc-second is pi / 648000 rad: 0.00484814 mm/m
        ("10 arcsec", LEVEL, 0.0484813681 / 0.02),
        ("1'", LEVEL, 0.290888209 / 0.02),
        # a foot is 304.8 mm, so 1 thou in a foot is 1/12 mm/m
        ("1 thou/ft", LEVEL, 1 / 12 / 0.02),
    ],
)
def test_a_unit_behind_the_number_is_converted_to_that_of_the_instrument(text, instrument, value):
    typed = typed_reading(text, instrument)
    assert typed.value == pytest.approx(value, rel=1e-8)
    assert float(typed.digits) == typed.value
    assert "e" not in typed.digits
    assert typed.text == text


def test_the_unit_that_was_chosen_counts_for_a_number_without_one():
    assert typed_reading("2", DIAL, "thou").value == 50.8
    assert typed_reading("2", DIAL, "thou").unit == "thou"
    assert typed_reading("50 um", DIAL, "thou").value == 50


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing is typed"),
        ("   ", "nothing is typed"),
        ("abc", "this is no number, got 'abc'"),
        ("-", "this is no number, got '-'"),
        ("--3", "this is no number"),
        ("3-", "this is no unit, got '-'"),
        ("1,234.5", "two decimal marks, got '1,234.5'"),
        ("1.2.3", "two decimal marks"),
        (",", "this is no number"),
        ("1 2", "a blank inside the number"),
        ("1e3", "this is no unit, got 'e3'"),
        ("٣", "this is no number"),
        ("nan", "this is no number"),
        ("3 furlongs", "this is no unit, got 'furlongs'; use one of µm, mm, in, thou"),
        ("3 arcsec", "'dial' shows no arcsec; use one of µm, mm, in, thou, or leave the unit out"),
        ("3 div", "'dial' shows no div"),
        ("401", "401 µm is beyond the range of 'dial', ±400 µm; read it again"),
        ("-400.5", "-400.5 µm is beyond the range"),
        ("1 mm", "1000 µm is beyond the range"),
    ],
)
def test_what_is_no_reading_is_refused_in_words(text, words):
    with pytest.raises(InputError) as caught:
        typed_reading(text, DIAL)
    assert words in str(caught.value)


def test_the_ends_of_the_range_are_inside_it():
    assert typed_reading("400", DIAL).value == 400
    assert typed_reading("-400", DIAL).value == -400


def test_a_number_instead_of_a_text_is_refused():
    with pytest.raises(InputError, match="a text is needed, got 3.5"):
        typed_reading(3.5, DIAL)


def test_a_level_takes_slopes_and_no_lengths():
    assert units_of(LEVEL)[0] == "division"
    assert "arcsec" in units_of(LEVEL) and "mm" not in units_of(LEVEL)
    assert set(units_of(DIAL)) == {"um", "mm", "in", "thou"}
    assert [unit_sign(unit) for unit in ("division", "um", "thou")] == ["div", "µm", "thou"]
    with pytest.raises(InputError, match="'level' shows no mm"):
        typed_reading("3 mm", LEVEL)


def test_a_chosen_unit_that_the_instrument_cannot_have_is_refused():
    with pytest.raises(InputError, match="'level' shows no µm"):
        typed_reading("3", LEVEL, "um")

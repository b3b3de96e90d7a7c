"""Usual slips are named only where they explain the reading."""

import pytest

from metrolib.show.worksheet.judged.slip_names import decimals, usual_slip
from metrolib.survey.instruments import Instrument

LEVEL = Instrument("level", "division", 0.1, 0.1, sensitivity=0.05, sensitivity_unit="mm/m")
MICROMETER = Instrument("micrometer", "mm", 0.001, 0.003)


@pytest.mark.parametrize(
    ("value", "expected", "instrument", "words", "meant"),
    [
        (6.4, -6.2, LEVEL, "the sign", -6.4),
        (64.0, 6.3, LEVEL, "a factor of ten", 6.4),
        (0.64, 6.5, LEVEL, "a factor of ten", 6.4),
        (7.4, 6.4, LEVEL, "a whole division", 6.4),
        (7.3, 3.8, LEVEL, "two digits changed places", 3.7),
        (26.633, 26.131, MICROMETER, "half a millimetre, a turn of the thimble", 26.133),
        (26.141, 26.131, MICROMETER, "a hundredth of a millimetre", 26.131),
        (26.313, 26.131, MICROMETER, "two digits changed places", 26.133),
    ],
)
def test_named(value, expected, instrument, words, meant):
    found = usual_slip(value, expected, 0.003 if instrument is MICROMETER else 0.15, instrument)
    assert (found[0], pytest.approx(found[1])) == (words, meant)


def test_no_slip_is_named_for_what_none_explains_or_for_zero():
    assert usual_slip(5.0, 2.3, 0.1, LEVEL) is None
    assert usual_slip(5.0, 0.1, 0.5, LEVEL) is None  # a tenth of it would do, but so would nothing


@pytest.mark.parametrize(("step", "digits"), [(0.1, 1), (0.002, 3), (1, 0), (0.25, 2), (0, 3)])
def test_decimals_follow_the_resolution(step, digits):
    assert decimals(Instrument("one", "mm", step, 0.1)) == digits

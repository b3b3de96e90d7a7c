"""The sample surveys with published readings give what their sources print.

Sources: Virtual Labs, Mechanical Engineering Department, IIT Kharagpur, "Measurement of alignment
using autocollimator", experiment table (printed columns below); lecture slides "Straightness and
flatness" of an Indian course in engineering metrology, autocollimator method, slides 14-15.
Both take one second of arc as 0.5 µm on their base, which is exact on a base of 103.13 mm only.
"""

import math
from pathlib import Path

import numpy as np

from metrolib.heights.adjust import adjust
from metrolib.survey.folder import read_survey

SURVEYS = Path(__file__).parents[2] / "sample_surveys"

#: µm that one second of arc really is on a base of 1 mm, by the definition of the radian.
PER_SECOND = math.pi / 648_000 * 1000

#: µm for each second of arc, as both sources take it whatever the base.
RULE_OF_THUMB = 0.5

# Printed: the sum of the rises, each reading less the first; the last digits are exact quarters.
PRINTED_SUM = [0, -28.25, -77, -136.75, -201.75, -286.5, -395.25, -520.5]

# Printed: +2 and -1 µm from the line through the end points, together 3 µm.
PRINTED_HIGHEST, PRINTED_LOWEST = 2, -1


def heights_in_micrometres(name):
    heights = adjust(read_survey(SURVEYS / name))
    assert list(dict.fromkeys(heights.face)) == ["way"]
    return heights.x, 1000 * heights.values


def less_end_line(x, z):
    return z - z[0] - (z[-1] - z[0]) * (x - x[0]) / (x[-1] - x[0])


def test_the_printed_sums_of_the_virtual_laboratory():
    x, z = heights_in_micrometres("published_autocollimator")
    rises = np.diff(z)  # the first printed rise is 0: each counts from the first reading
    true_sums = np.cumsum(rises - rises[0])
    by_rule_of_thumb = true_sums * RULE_OF_THUMB / (110 * PER_SECOND)
    np.testing.assert_allclose(by_rule_of_thumb, PRINTED_SUM, atol=0.005)


def test_what_the_rule_of_thumb_costs_on_a_base_of_110_mm():
    x, z = heights_in_micrometres("published_autocollimator")
    from_end_line = less_end_line(x, z)
    # By hand from the printed sums: over eight steps the end line falls 520.5 / 8 = 65.0625 a step;
    # farthest from it is the station after the fifth, -201.75 + 5 x 65.0625 = 123.5625.
    assert abs(np.ptp(from_end_line) - 123.5625 * 110 * PER_SECOND / RULE_OF_THUMB) < 0.001
    assert round(np.ptp(from_end_line), 1) == 131.8


def test_the_printed_straightness_of_the_lecture():
    x, z = heights_in_micrometres("published_forward_backward")
    by_rule_of_thumb = less_end_line(x, z) * RULE_OF_THUMB / (100 * PER_SECOND)
    assert abs(by_rule_of_thumb.max() - PRINTED_HIGHEST) < 0.001
    assert abs(by_rule_of_thumb.min() - PRINTED_LOWEST) < 0.001
    assert round(np.ptp(less_end_line(x, z)), 3) == 2.909


def test_nothing_checks_a_line_that_was_read_once():
    checks = adjust(read_survey(SURVEYS / "published_autocollimator")).checks
    assert len(checks.unchecked) == 8
    assert len(checks.suspects) == 0

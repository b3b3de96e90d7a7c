"""Reversal and the three-straightedge comparison, through `adjust`.

Constructed with exact answers, in um; the methods: C. J. Evans, R. J. Hocken and W. T. Estler,
Self-calibration: reversal, redundancy, error separation and absolute testing, CIRP Annals 45/2
(1996) 617-634 (from memory), and J. Whitworth's three plates (1840). No published table of numbers
was found.
"""

import numpy as np
import pytest

from metrolib.heights.adjust import adjust
from metrolib.heights.rows import At, Extra
from metrolib.survey.instruments import Instrument, Straightedge
from tests.heights.build import Leg, flat, survey

INDICATOR = Instrument("indicator", "um", 0.0, 1.0)


def above_ends(z):
    z = np.asarray(z)
    return z - np.interp(np.arange(len(z)), [0, len(z) - 1], [z[0], z[-1]])


def test_straightedge_reversal():
    x = np.arange(0.0, 601.0, 100.0)
    normal = [0, -0.5, 2, 3, 3, 0, 0]  # slide + edge
    reverse = [0, 3.5, 4, 1, -2, -2, 0]  # slide - edge
    edge = Straightedge("edge", 600.0, profile_uncertainty=10.0)
    settings = {"straightedge": "edge", "face": "slide"}
    legs = [
        Leg("normal", "straightedge", INDICATOR, x, normal, settings),
        Leg("reversed", "straightedge", INDICATOR, x, reverse, {**settings, "sole_up": True}),
    ]
    heights = adjust(survey([flat("slide")], legs, [edge]))
    slide = above_ends(heights.on("slide").values) * 1000
    np.testing.assert_allclose(slide, [0, 1.5, 3, 2, 0.5, -1, 0], atol=1e-6)
    profile = [heights.extras[f"profile of edge at {u:.2f} mm"].n * 1000 for u in x]
    np.testing.assert_allclose(above_ends(profile), [0, -2, -1, 1, 2.5, 1, 0], atol=1e-6)
    # two readings average: u / sqrt(2) at a station, and its share of the two ends
    z = heights.on("slide").z
    third = z[2] - (2 * z[0] + z[6]) / 3
    assert third.s == pytest.approx(1e-3 / np.sqrt(2) * np.sqrt(1 + 4 / 9 + 1 / 9), rel=1e-5)


def test_three_straightedges_against_each_other():
    x = np.arange(0.0, 501.0, 100.0)
    pairs = {
        "AB": [0, 1, 7, 7, -2, 0],
        "BC": [0, 0, 0, 4, -1, 0],
        "CA": [0, 3, 3, 3, 3, 0],
    }
    true = {"A": [0, 2, 5, 3, 1, 0], "B": [0, -1, 2, 4, -3, 0], "C": [0, 1, -2, 0, 2, 0]}

    def face_to_face(traverse, readings, survey):
        return [
            *(At(name, readings.x, 1.0) for name in traverse.name),
            Extra(f"offset of {traverse.name}", 1.0, 10.0),
            Extra(f"tilt of {traverse.name}", readings.x / 1000, 10.0),
        ]

    legs = [Leg(pair, "own: face to face", INDICATOR, x, sums) for pair, sums in pairs.items()]
    faces = [flat(name) for name in "ABC"]
    heights = adjust(survey(faces, legs), row_functions={"face to face": face_to_face})
    for name, profile in true.items():
        z = heights.on(name)
        np.testing.assert_allclose(above_ends(z.values) * 1000, profile, atol=1e-6)
        # A = (AB - BC + CA) / 2: sqrt(3)/2 of one gap at a station, and its share of the two ends
        station = z.z[1] - (4 * z.z[0] + z.z[5]) / 5
        expected = 1e-3 * np.sqrt(3) / 2 * np.sqrt(1 + (16 + 1) / 25)
        assert station.s == pytest.approx(expected, rel=1e-5)
    # how they lie against each other is anyone's choice, and is said
    assert [item.what for item in heights.not_determined] == [
        "height of 'B' against 'A', and the parallelism between them,",
        "height of 'C' against 'A', and the parallelism between them,",
    ]

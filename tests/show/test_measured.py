"""The record of what was measured holds every reading as it was booked."""

from types import SimpleNamespace

import numpy as np

from metrolib.show import measured
from metrolib.show.measured import SUSPECT, booked_sheets


def test_every_reading_stands_once_in_the_order_it_was_taken(lathe):
    sheets = booked_sheets(lathe.survey, lathe.heights)
    for name in lathe.survey.traverses:
        mine = [sheet for sheet in sheets if sheet.traverse == name]
        for sheet in mine:
            readings = lathe.survey.readings.of(name)
            readings = readings.select(readings.face == sheet.face)
            written = [float(one.reading.replace("−", "-")) for one in sheet.booked]
            assert written == readings.value.tolist()
            assert [float(one.x) for one in sheet.booked] == readings.x.tolist()
    assert sum(len(sheet.booked) for sheet in sheets) == len(lathe.survey.readings)


def test_the_reading_that_stands_out_is_marked(lathe):
    marked = [
        (sheet.traverse, one.x)
        for sheet in booked_sheets(lathe.survey, lathe.heights)
        for one in sheet.booked
        if one.mark == SUSPECT
    ]
    checks = lathe.heights.checks
    assert marked == [(checks.traverse[at], f"{checks.x[at]:g}") for at in sorted(checks.suspects)]


def test_units_are_told_in_words(lathe):
    units = {sheet.traverse: sheet.unit for sheet in booked_sheets(lathe.survey, lathe.heights)}
    assert units["level on front flat"] == "divisions of 0.05 mm/m"
    assert units["sled to rear flat"] == "mm"


def test_decimals_are_those_of_the_finest_reading():
    assert measured._figures(np.array([26.15, 26.149, -0.5])) == ["26.150", "26.149", "−0.500"]
    assert measured._figures(np.array([3.0, 12.0])) == ["3", "12"]


def test_too_many_readings_are_not_printed():
    survey = SimpleNamespace(readings=range(5001))
    assert booked_sheets(survey, None) == []

"""The tables [carried.NAME] and [drive]: what they say, and each fault with its line and words."""

import pytest

from metrolib.survey.carried import Carried, Drive
from metrolib.survey.folder import read_survey

from .example import TOML, line_of

TABLES = """
[carried."saddle"]
rides_on = ["front flat", "rear flat", "ledge"]
feet = [-120, 120]
travel = [120, 880]
feet_on = { "rear flat" = [-80, 80] }
y = { "rear flat" = 152 }
z = { "ledge" = -26.15 }

[carried."headstock"]
rides_on = ["front flat", "rear flat"]
feet = [-90, 90]
stands_at = 100

[drive]
lead_screw = [-45, -80]
rack = [-14, -45]
pinion = "over the rack"
thread_depth = 2.0
spindle = [75, 120]
"""


def test_what_the_tables_say(folder):
    (folder / "survey.toml").write_text(TOML + TABLES)
    survey = read_survey(folder)
    saddle, headstock = survey.carried["saddle"], survey.carried["headstock"]
    assert saddle == Carried(
        "saddle",
        ("front flat", "rear flat", "ledge"),
        (-120.0, 120.0),
        (120.0, 880.0),
        {"rear flat": (-80.0, 80.0)},
        {"rear flat": 152.0},
        {"ledge": -26.15},
    )
    assert saddle.feet_of("rear flat") == (-80.0, 80.0)
    assert saddle.feet_of("front flat") == (-120.0, 120.0)
    assert headstock.travel == (100.0, 100.0)
    assert survey.drive == Drive(
        lead_screw=(-45.0, -80.0),
        rack=(-14.0, -45.0),
        pinion="over the rack",
        thread_depth=2.0,
        spindle=(75.0, 120.0),
    )


def test_they_may_be_left_out(folder):
    survey = read_survey(folder)
    assert survey.carried == {} and survey.drive is None


def test_they_survive_a_changed_decision(folder):
    (folder / "survey.toml").write_text(TOML + TABLES)
    survey = read_survey(folder)
    changed = survey.with_decision(clean_up=0.01)
    assert changed.carried == survey.carried and changed.drive == survey.drive


#: What is replaced, by what, a part of the line at fault, what is wrong, what to do.
FAULTS = {
    "unknown face": (
        '["front flat", "rear flat"]\nfeet = [-90',
        '["front flat", "reer flat"]\nfeet = [-90',
        '"reer flat"',
        "carried 'headstock': rides_on names the unknown face 'reer flat'",
        "did you mean 'rear flat'?",
    ),
    "no face": (
        '["front flat", "rear flat"]\nfeet = [-90',
        "[]\nfeet = [-90",
        "rides_on = []",
        "rides_on is empty",
        'write ["face name"]',
    ),
    "feet": ("[-120, 120]", "[120, -120]", "feet = [120", "not ascending", "lower one first"),
    "no feet": ("feet = [-90, 90]\n", "", '[carried."headstock"]', "feet is missing", "add feet"),
    "neither": (
        "stands_at = 100\n",
        "",
        '[carried."headstock"]',
        "where it stands along the ways needs either travel or stands_at",
        "stands_at = number if bolted down",
    ),
    "both": (
        "stands_at = 100",
        "stands_at = 100\ntravel = [90, 100]",
        "stands_at",
        "needs either travel or stands_at",
        "write travel",
    ),
    "off the end": (
        "travel = [120, 880]",
        "travel = [120, 900]",
        "travel = [120, 900]",
        "a foot stands at 1020 mm, off 'front flat'",
        "that face runs from 0 to 1000",
    ),
    "headstock off the end": (
        "stands_at = 100",
        "stands_at = 80",
        "stands_at",
        "a foot stands at -10 mm, off 'front flat'",
        "0 to 1000",
    ),
    "height of another face": (
        '"ledge" = -26.15',
        '"legde" = -26.15',
        '"legde"',
        "carried 'saddle', z: it does not ride on 'legde'",
        "did you mean 'ledge'?",
    ),
    "height is a text": (
        '"ledge" = -26.15',
        '"ledge" = "low"',
        '"ledge" = "low"',
        "ledge is 'low', a number is needed",
        "plain number",
    ),
    "unknown key": ("feet_on =", "feeton =", "feeton", "unknown key 'feeton'", "'feet_on'?"),
    "pinion": ('"over the rack"', '"above"', "pinion", "pinion is 'above'", "'under the rack'"),
    "place": ("[-45, -80]", "-80", "lead_screw", "two numbers are needed", "[number, number]"),
    "angle": (
        "thread_depth = 2.0",
        "pressure_angle = 60",
        "pressure_angle",
        "pressure_angle is 60",
        "below 45 degrees",
    ),
    "depth": ("= 2.0\n", "= 0\n", "thread_depth", "thread_depth is 0", "above 0"),
    "drive key": ("spindle =", "spidle =", "spidle", "drive: unknown key 'spidle'", "'spindle'?"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault(faults_of, name):
    old, new, place, wrong, remedy = FAULTS[name]
    assert TABLES.count(old) == 1
    text = TOML + TABLES.replace(old, new)
    (fault,) = faults_of(toml=text)
    assert (fault.file, fault.line) == ("survey.toml", line_of(text, place))
    assert wrong in fault.wrong
    assert remedy in fault.remedy


def test_all_faults_in_one_pass(faults_of):
    text = TOML + TABLES.replace("[-120, 120]", "[0, 0]").replace('"over the rack"', '"above"')
    assert len(faults_of(toml=text)) == 2


def test_no_table(faults_of):
    (fault,) = faults_of(toml="drive = 3\n" + TOML)
    assert "drive is 3, which is no table" in fault.wrong
    (fault,) = faults_of(toml="carried = 3\n" + TOML)
    assert "carried is 3" in fault.wrong
    assert 'write a table [carried."NAME"] for each' in fault.remedy


def test_a_faulty_face_is_told_once(faults_of):
    text = (TOML + TABLES).replace("width = 40.0", "width = 0")
    (fault,) = faults_of(toml=text)
    assert "width is 0" in fault.wrong

"""Lines of survey.toml that are no TOML: each is told in plain words and hides nothing below it."""

import re

import pytest

from metrolib.errors import SurveyError
from metrolib.survey.folder import read_survey
from metrolib.survey.syntax import load_toml

from .example import READINGS, TOML, line_of

#: What is replaced, by what, a part of the line that is at fault, what is shown, what to do.
SLIPS = {
    "decimal comma": ("y = 150.0", "y = 150,0", "150,0", "y = 150,0", "with a point: 150.0"),
    "decimal comma in a row": ("= 610,", "= 610,5,", "610,5", "left_out =", "with a point: 610.5"),
    "unit": ("width = 40.0", "width = 40 mm", "40 mm", "width = 40 mm", "without a unit"),
    "percent": ("range = 20", "range = 20 %", "20 %", "range = 20 %", "without a unit"),
    "bare word": (
        'normal = "up"',
        "normal = up  # ward",
        "# ward",
        "normal = up",
        'quotes: normal = "up"',
    ),
    "capital": ("= 200", "= 200\nturned = True", "turned", "turned = True", "write true"),
    "open quote": (
        '"micrometer"\nface',
        '"micrometer\nface',
        '"micrometer\nface',
        'instrument = "micrometer',
        "close the quotes",
    ),
    "open list": ('["ledge"] ', '["ledge" ', '["ledge" ', 'datum = ["ledge"', "brackets"),
    "open list, comma": ('["ledge"] ', '["ledge", ', '["ledge", ', 'datum = ["ledge",', "brackets"),
    "no equals sign": ("width = 40.0", "width 40.0", "width 40.0", "width 40.0 (", "key = value"),
    "blank in a key": ("foot_spacing =", "foot spacing =", "foot spacing", "foot spacing", "key ="),
    "no value": ("y = 150.0", "y =", "y =\n", "y =", "key = value"),
    "a stray word": ("display", "hello\ndisplay", "hello", "hello", "key = value"),
    "key twice": (
        "width = 30.0",
        "width = 30.0\nwidth = 31.0",
        "width = 31.0",
        "width stands twice",
        "keep one",
    ),
    "heading not closed": (
        "[traverses.thickness]",
        "[traverses.thickness",
        "[traverses.thickness",
        "[traverses.thickness",
        '[traverses."NAME"]',
    ),
    "heading without quotes": (
        '[traverses."level on front"]',
        "[traverses.level on front]",
        "[traverses.level on front]",
        "[traverses.level on front]",
        '[traverses."NAME"]',
    ),
    "heading with one quote": (
        '[faces."front flat"]',
        '[faces."front flat]',
        '[faces."front flat]',
        '[faces."front flat]',
        '[faces."NAME"]',
    ),
    "plain heading": ("[machine]", "[machine", "[machine", "[machine", "as [machine]"),
    "heading twice": (
        "[decision]",
        '[faces."ledge"]  # again\ny = 3\n\n[decision]',
        "# again",
        'the table [faces."ledge"] stands twice',
        "a name of its own",
    ),
    "decision twice": (
        "[options.",
        "[decision]\nband = 3  # again\n\n[options.",
        "# again",
        "the table [decision] stands twice",
        "a name of its own",
    ),
}


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_one_fault_in_its_line(faults_of, name):
    old, new, part, shown, remedy = SLIPS[name]
    assert old in TOML
    toml = TOML.replace(old, new, 1)
    line = toml[: toml.index(part)].count("\n") + 1 - (name == "decision twice")
    (fault,) = faults_of(toml)
    assert (fault.file, fault.line) == ("survey.toml", line)
    assert f"this is no TOML: {shown}" in fault.wrong
    assert remedy in fault.remedy


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("value", ["0,5", "up", '"left', "[1, 2", "{ a = 1,5 }", "", "3 mm"])
def test_no_key_drags_others_along(faults_of, value, end):
    # the line of each key in turn is spoilt: one fault, and none that only follows from it
    lines = TOML.split("\n")
    keys = [at for at, line in enumerate(lines) if re.match(r"\w+ = ", line)]
    assert len(keys) == 49
    for at in keys:
        key = lines[at].split(" = ")[0]
        spoilt = [*lines[:at], f"{key} = {value}", *lines[at + 1 :]]
        (fault,) = faults_of(end.join(spoilt))
        assert (fault.file, fault.line) == ("survey.toml", at + 1)
        assert fault.wrong.startswith(f"this is no TOML: {key} =")


def test_no_heading_drags_others_along(faults_of):
    lines = TOML.split("\n")
    headings = [at for at, line in enumerate(lines) if line.startswith("[")]
    assert len(headings) == 13
    for at in headings:
        for spoilt in (lines[at][:-1], lines[at].replace('"', ""), lines[at][:-2] + "]"):
            if spoilt != lines[at] and ("." in spoilt or spoilt[-1] != "]"):
                text = "\n".join([*lines[:at], spoilt, *lines[at + 1 :]])
                if load_toml(text).faults:
                    (fault,) = faults_of(text)
                    assert fault.line == at + 1


def test_a_list_over_several_lines(faults_of):
    rows = """left_out = [
  { x_from = 610, x_to = 640, reason = "oil hole" },
  { x_from = 700,5, x_to = 710, reason = "nick" },
]"""
    old = 'left_out = [{ x_from = 610, x_to = 640, reason = "oil hole" }]'
    (fault,) = faults_of(toml := TOML.replace(old, rows))
    assert fault.line == line_of(toml, "700,5")
    assert fault.remedy == "write decimals with a point: 700.5"
    (fault,) = faults_of(toml := TOML.replace(old, rows.replace("700,5", "700").removesuffix("]")))
    assert fault.line == line_of(toml, "left_out = [")
    assert fault.remedy == "close the brackets that are opened here"


def test_what_stands_twice_does_not_make_other_names_unknown(faults_of):
    toml = TOML.replace('[faces."rear flat"]', '[faces."front flat"]')
    toml = toml.replace("range = 20", "range = -20")
    twice, other = faults_of(toml)
    assert "stands twice" in twice.wrong
    assert "range is -20" in other.wrong


def test_the_name_of_the_readings_file_is_found_past_a_slip(folder, faults_of):
    (folder / "bed.csv").write_text(READINGS.replace("26.031", "26.O31"))
    toml = TOML.replace("display", 'readings = "bed.csv"\ndisplay', 1)
    slip, reading = faults_of(toml.replace("y = 150.0", "y = 150,0"))
    assert "150,0" in slip.wrong
    assert (reading.file, reading.wrong) == ("bed.csv", "reading '26.O31' is no number")
    (folder / "readings.csv").unlink()
    (folder / "survey.toml").write_text(toml.replace('"bed.csv"', "bed.csv"))
    with pytest.raises(SurveyError, match="put the text in quotes") as caught:
        read_survey(folder)
    assert len(caught.value.faults) == 1


def test_another_kind_of_file_ends_soon():
    document = load_toml("\n".join(f"{x}, 1.5, two; three" for x in range(1000)))
    assert document.tables is None
    assert len(document.faults) <= 25


#: Slips that a rebuilder may well make in one evening, in survey.toml ...
EVENING = {
    'normal = "up"': "normal = up",
    "y = 150.0": "y = 150,0",
    "width = 30.0": "width = 30.0\nwidth = 31.0",
    "x_from = 0.0\nx_to = 1000.0\n\n[faces.": "x_from = 1000.0\nx_to = 0.0\n\n[faces.",
    'normal = "down"': 'normal = "top"',
    'sensitivity_unit = "mm/m"\n': "",
    'unit = "mm"\n': "",
    'unit = "um"\nresolution = 1': 'unit = "um"\nresolution = "1 um"',
    'face = "front flat"\nfoot': 'face = "frnt flat"\nfoot',
}

#: ... and in readings.csv.
EVENING_READINGS = """\
traverse,face,x,reading,repeat
level on front,frnt flat,0,1.2,
level on front,,200,one,
across,,0,2.0,1
across,,0,2.1,1
acros,,1000,2.5,
thickness,,0,26,150,
thickness,,500,26.031,
thickness,,1000.5,26.1,
"""

SAID = [
    'normal = up; put the text in quotes: normal = "up"',
    "y = 150,0; write decimals with a point: 150.0",
    "width stands twice in its table",
    "x_to 0 is not beyond x_from 1000",
    "unknown direction 'top'; use one of 'up', 'down', 'plus y', 'minus y', or degrees",
    "sensitivity_unit is missing",
    "unit is missing",
    "resolution is '1 um', a number is needed",
    "unknown face 'frnt flat'; did you mean 'front flat'?",
    "unknown face 'frnt flat'; did you mean 'front flat'?",
    "reading 'one' is no number",
    "a second reading of 'across' at x = 0 with repeat 1, the first is in line 4",
    "unknown traverse 'acros'; did you mean 'across'?",
    "the row has 6 cells, the headings 5",
    "x = 1000.5 is outside the face 'front flat'",
    "x = 1000.5 is outside the face 'ledge'",
]


def evening():
    toml = TOML
    for old, new in EVENING.items():
        assert old in toml
        toml = toml.replace(old, new, 1)
    return toml


def test_a_whole_evening_of_slips_in_one_pass(faults_of):
    faults = [str(fault) for fault in faults_of(evening(), EVENING_READINGS)]
    assert len(faults) == len(SAID)
    for said, fault in zip(SAID, faults, strict=True):
        assert said in fault


def test_a_missing_file_hides_nothing_of_the_other(folder):
    (folder / "survey.toml").write_text(evening())
    (folder / "readings.csv").unlink()
    with pytest.raises(SurveyError, match="no such file") as caught:
        read_survey(folder)
    assert len(caught.value.faults) == 10
    assert 'survey.toml: readings = "..."' in caught.value.faults[-1].remedy
    (folder / "survey.toml").unlink()
    (folder / "readings.csv").write_text(EVENING_READINGS)
    with pytest.raises(SurveyError, match="no such file") as caught:
        read_survey(folder)
    assert [fault.line for fault in caught.value.faults] == [None, 3, 7]


@pytest.mark.parametrize("text", ["", "# to be written\n"])
def test_an_empty_survey_toml_makes_no_fault_of_every_row(faults_of, text):
    faults = faults_of(text)
    assert len(faults) == 4
    assert str(faults[0]).startswith("survey.toml: there are no faces; add a table")


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (READINGS.encode("utf-16-le"), "no text in UTF-8 or marked UTF-16; save it as text"),
        (
            b"PK\x03\x04\x14\x00\x81",
            "but a workbook, or another packed file; save the sheet as CSV",
        ),
    ],
)
def test_readings_that_are_no_text(faults_of, raw, words):
    (fault,) = faults_of(readings=raw)
    assert words in str(fault)

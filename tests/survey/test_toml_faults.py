"""Each fault of survey.toml: its line, what is wrong with the value found, and what to do."""

import pytest

from metrolib.survey.folder import read_survey

from .example import TOML, line_of

#: What is replaced, by what, a part of the line that is at fault, what is wrong, what to do.
FAULTS = {
    "display": ('"um"', '"mm"', "display", "display is 'mm'", "'um', 'thou'"),
    "top key": ("display =", "dispaly =", "dispaly", "unknown key 'dispaly'", "'display'"),
    "machine name": (
        'name = "Bench lathe"',
        "",
        "[machine]",
        "machine: name is missing",
        "add name",
    ),
    "empty name": ('"Bench lathe"', '" "', "name =", "machine: name is empty", "write a text"),
    "name is a number": ('"Bench lathe"', "7", "name =", "name is 7, a text is needed", "quotes"),
    "face key": (
        "width = 40.0",
        "widht = 40.0",
        "widht",
        "face 'front flat': unknown key 'widht'",
        "did you mean 'width'?",
    ),
    "missing width": (
        "width = 40.0\n",
        "",
        '[faces."front flat"]',
        "width is missing",
        "add width",
    ),
    "width 0": ("width = 40.0", "width = 0", "width = 0", "width is 0", "above 0"),
    "number in quotes": (
        "width = 40.0",
        'width = "40"',
        "width =",
        "'40', a number",
        "plain number",
    ),
    "true as number": ("width = 40.0", "width = true", "width =", "True, a number", "plain number"),
    "nan": ("width = 40.0", "width = nan", "width =", "width is nan, which is not finite", "plain"),
    "infinite": ("x_from = 0.0", "x_from = -inf", "x_from = -inf", "not finite", "plain number"),
    "ends before": (
        "x_to = 1000.0",
        "x_to = -5",
        "x_to = -5",
        "not beyond x_from 0",
        "lower as x_from",
    ),
    "normal": ('"up"', '"upp"', "normal", "unknown direction 'upp'", "did you mean 'up'?"),
    "left out reversed": (
        "x_to = 640",
        "x_to = 600",
        "left_out",
        "600 is below x_from 610",
        "lower",
    ),
    "left out elsewhere": (
        "x_from = 610, x_to = 640",
        "x_from = 1610, x_to = 1640",
        "left_out",
        "1610 to 1640 is not on the face",
        "runs from 0 to 1000",
    ),
    "left out, no reason": (', reason = "oil hole"', "", "left_out", "reason is missing", "add"),
    "left out is text": (
        '[{ x_from = 610, x_to = 640, reason = "oil hole" }]',
        '"oil hole"',
        "left_out",
        "left_out is no list",
        "reason",
    ),
    "unit": ('"division"', '"divisions"', "divisions", "unknown unit 'divisions'", "'division'?"),
    "missing unit": ('unit = "division"\n', "", '"block level"]', "unit is missing", "add unit"),
    "missing sensitivity": (
        "sensitivity = 0.02\n",
        "",
        '[instruments."block level"]',
        "instrument 'block level': sensitivity is missing",
        "add sensitivity",
    ),
    "missing sensitivity unit": (
        'sensitivity_unit = "mm/m"\n',
        "",
        '[instruments."block level"]',
        "sensitivity_unit is missing",
        "add sensitivity_unit = one of",
    ),
    "sensitivity without division": (
        'unit = "um"\n',
        'unit = "um"\nsensitivity = 2\n',
        "sensitivity = 2",
        "goes only with the unit 'division', the unit is 'um'",
        "leave sensitivity out",
    ),
    "resolution below 0": ("= 0.2\n", "= -0.2\n", "-0.2", "resolution is -0.2", "at least 0"),
    "no uncertainty": (
        "resolution = 0.001\nrepeatability = 0.002",
        "resolution = 0\nrepeatability = 0  # none",
        "repeatability = 0  # none",
        "both 0",
        "standard uncertainty",
    ),
    "scale in per cent": (
        "range = 20\n",
        "range = 20\nsensitivity_uncertainty = 3\n",
        "_uncertainty = 3",
        "sensitivity_uncertainty is 3",
        "0.03 is 3 %",
    ),
    "range 0": ("range = 20", "range = 0", "range = 0", "range is 0", "above 0"),
    "edge with half a section": (
        "length = 1000\n",
        "length = 1000\nheight = 60\n",
        "height = 60",
        "straightedge 'one metre edge': its section needs both height and width",
        "give both",
    ),
    "edge with half an I": (
        "length = 1000\n",
        "length = 1000\nheight = 60\nwidth = 12\nweb = 4\n",
        "web = 4",
        "its section needs both web and flange",
        "plain rectangle",
    ),
    "edge, I of no outline": (
        "length = 1000\n",
        "length = 1000\nweb = 4\nflange = 5\n",
        "web = 4",
        "web and flange go only with height and width",
        "give all four",
    ),
    "edge told twice": (
        "length = 1000\n",
        "length = 1000\nheight = 60\nwidth = 12\narea = 4\nsecond_moment = 5\n",
        "area = 4",
        "told twice",
        "leave one of the two out",
    ),
    "edge with half of its numbers": (
        "length = 1000\n",
        "length = 1000\nsecond_moment = 5\n",
        "second_moment",
        "its section needs both area and second_moment",
        "or height and width",
    ),
    "edge, web too wide": (
        "length = 1000\n",
        "length = 1000\nheight = 60\nwidth = 12\nweb = 14\nflange = 5\n",
        "web = 14",
        "web is 14",
        "at most the width, 12",
    ),
    "edge, flanges that meet": (
        "length = 1000\n",
        "length = 1000\nheight = 60\nwidth = 12\nweb = 4\nflange = 30\n",
        "flange = 30",
        "flange is 30",
        "below half of the height, 30",
    ),
    "edge of wood": (
        "length = 1000\n",
        'length = 1000\nmaterial = "wood"\n',
        "material",
        "material is 'wood'",
        "use one of",
    ),
    "same key twice": (
        "width = 40.0",
        "width = 40.0\nwidth = 30.0",
        "width = 30.0",
        "this is no TOML: width stands twice in its table",
        "keep one of the two",
    ),
    "no TOML": (
        "width = 40.0",
        "width 40.0",
        "width 40.0",
        "this is no TOML: width 40.0 (Expected '='",
        "key =",
    ),
    "decimal comma": (
        "width = 40.0",
        "width = 40,5",
        "40,5",
        "this is no TOML: width = 40,5",
        "a point: 40.5",
    ),
    "readings above": (
        "display",
        'readings = "../readings.csv"\ndisplay',
        "readings =",
        "'../readings.csv' points outside the folder",
        "inside the folder",
    ),
    "readings absolute": (
        "display",
        'readings = "/elsewhere/readings.csv"\ndisplay',
        "readings =",
        "is no plain name inside the folder",
        "readings.csv",
    ),
    "readings on a drive": (
        "display",
        "readings = 'C:\\data\\readings.csv'\ndisplay",
        "readings =",
        "is no plain name inside the folder",
        "readings.csv",
    ),
    "readings is a number": (
        "display",
        "readings = 3\ndisplay",
        "readings =",
        "3 is no file name",
        "",
    ),
    "name with blanks": (
        "[traverses.thickness]",
        '[traverses."thickness "]',
        '"thickness "',
        "has blanks at an end",
        "rename it",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_fault(expect_fault, name):
    expect_fault(*FAULTS[name])


def test_two_faces_of_one_name(faults_of):
    toml = TOML.replace('[faces."rear flat"]', '[faces."front flat"]  # again')
    (fault,) = faults_of(toml)
    assert fault.wrong == 'this is no TOML: the table [faces."front flat"] stands twice'
    assert "a name of its own" in fault.remedy
    assert fault.line == line_of(toml, "# again")


@pytest.mark.parametrize("name", ["machine", "faces", "instruments", "traverses"])
def test_a_missing_part(faults_of, name):
    parts = TOML.split("\n\n")
    toml = "\n\n".join(part for part in parts if not part.startswith(f"[{name}"))
    words = "[machine] is missing" if name == "machine" else f"there are no {name}"
    assert any(words in fault.wrong and fault.line is None for fault in faults_of(toml))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("[faces]\nledge = 5", "face 'ledge' is 5, which is no table"),
        ('[options]\nsteep = "yes"', "option 'steep' is 'yes', which is no table"),
        ("[straightedges]\nlong = 1", "straightedge 'long' is 1, which is no table"),
    ],
)
def test_what_should_be_a_table(faults_of, table, words):
    toml = TOML.replace("[machine]", f"{table}\n[machine]", 1)
    for name in ('[faces."ledge"]\n', '[options."dress the high spots"]\nband = 0.02\n'):
        if table.startswith(name[:6]):
            start = toml.index(name)
            end = toml.find("\n\n", start)
            toml = toml[:start] + (toml[end:] if end > 0 else "")
    faults = faults_of(toml)
    assert any(words in fault.wrong for fault in faults)
    assert faults[0].line == line_of(toml, table.split("\n")[1])


def test_all_faults_come_in_one_pass_in_the_order_of_the_lines(faults_of):
    toml = TOML.replace("width = 40.0", "widht = 40.0").replace("range = 20", "range = -20")
    toml = toml.replace("foot_spacing = 200", 'foot_spacing = "wide"')
    toml = toml.replace("band = 0.0 ", "band = -1 ")
    faults = faults_of(toml, "traverse,x,reading\nacross,0,a\nacross,1,2\n")
    assert [(fault.file, fault.wrong.split(":")[0]) for fault in faults] == [
        ("survey.toml", "face 'front flat'"),  # width is missing
        ("survey.toml", "face 'front flat'"),  # widht is unknown
        ("survey.toml", "instrument 'block level'"),
        ("survey.toml", "traverse 'level on front'"),
        ("survey.toml", "decision"),
        ("readings.csv", "reading 'a' is no number"),
    ]
    lines = [fault.line for fault in faults if fault.file == "survey.toml"]
    assert lines == sorted(lines)


def test_an_entry_at_fault_is_not_called_unknown_elsewhere(faults_of):
    faults = faults_of(TOML.replace("width = 40.0", "width = -40.0"))
    assert [fault.wrong for fault in faults] == ["face 'front flat': width is -40"]


def test_the_readings_are_checked_though_the_toml_cannot_be_read(faults_of):
    faults = faults_of("a = ", "traverse,x,reading\nlevel,0,1.0 mm\n")
    assert (faults[0].file, faults[0].line) == ("survey.toml", None)  # there are no faces, ...
    assert "this is no TOML: a =" in [fault.wrong.split(" (")[0] for fault in faults]
    assert faults[-1].wrong == "reading '1.0 mm' is no number"
    assert [fault.file for fault in faults].count("readings.csv") == 1


def test_the_readings_are_checked_though_nothing_of_the_toml_can_be_read(faults_of):
    prose = "some, words\n" * 100
    faults = faults_of(prose, "traverse,x,reading\nlevel,0,1.0 mm\n")
    assert {fault.file for fault in faults[:-1]} == {"survey.toml"}
    assert faults[-1].wrong == "reading '1.0 mm' is no number"


def test_an_own_kind_takes_any_key(folder):
    own = 'kind = "own: caliper"\njaws = [1, 2]\nwhatever = "yes"'
    (folder / "survey.toml").write_text(TOML.replace('kind = "micrometer"', own))
    settings = read_survey(folder).traverses["thickness"].settings
    assert settings["jaws"] == [1, 2]
    assert settings["whatever"] == "yes"
    assert settings["opposite_face"] == "ledge"


@pytest.mark.parametrize(
    ("rests", "words"),
    [
        ('["ledge"]', "resting_on names 1 faces"),
        ('["ledge", ["rear flat"]]', "two rests are needed"),
        ('["ledge", ["rear flat", "frnt flat"]]', "unknown face 'frnt flat'"),
        ('"ledge"', "a list is needed"),
    ],
)
def test_rests_of_a_gauge(faults_of, rests, words):
    toml = TOML.replace('kind = "micrometer"', 'kind = "gauge"')
    toml = toml.replace('opposite_face = "ledge"', f"resting_on = {rests}")
    (fault,) = faults_of(toml)
    assert words in fault.wrong
    assert fault.line == line_of(toml, "resting_on")

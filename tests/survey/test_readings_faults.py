"""Each fault of readings.csv: its line, what is wrong with the value found, and what to do."""

import pytest

from metrolib.survey.folder import read_survey

from .example import READINGS, TOML, line_of

#: What is replaced, by what, a part of the line that is at fault, what is wrong, what to do.
FAULTS = {
    "no number": ("26.031", "26.O31", "26.O31", "reading '26.O31' is no number", "digits"),
    "unit in the cell": (
        "26.031",
        "26.031 mm",
        "26.031 mm",
        "reading '26.031 mm' is",
        "without unit",
    ),
    "digit grouping": ("26.031", "26_031", "26_031", "reading '26_031' is no number", "digits"),
    "nan": ("26.031", "NaN", "NaN", "reading 'NaN' is not finite", "leave the cell empty"),
    "infinite": ("26.031", "-inf", "-inf", "reading '-inf' is not finite", "leave the cell empty"),
    "too large to be finite": ("26.031", "1e999", "1e999", "reading '1e999'", "one decimal mark"),
    "x is no number": ("front,200", "front,2OO", "2OO", "x '2OO' is no number", "digits"),
    "x is nan": ("front,200", "front,nan", "nan", "x 'nan' is not finite", "plain number"),
    "no x": ("front,200", "front,", "jack moved", "the cell 'x' is empty", "place along the ways"),
    "no traverse": (
        "level on front,200",
        ",200",
        "jack moved",
        "the cell 'traverse' is empty",
        "name the traverse",
    ),
    "decimal comma, unquoted": (
        "26.031,",
        "26,031,",
        "26,031",
        "the row has 5 cells, the headings 4",
        'a decimal comma needs quotes, "0,5", or semicolons',
    ),
    "decimal comma, quoted": (
        "26.031",
        '"26,031"',
        '"26,031"',
        "reading '26,031' has another decimal mark than the rest",
        "one decimal mark",
    ),
    "thousands": ("26.031", '"1,026.031"', '"1,026', "reading '1,026.031' is no number", "digits"),
    "unknown traverse": (
        "thickness,500",
        "thicknes,500",
        "thicknes,",
        "unknown traverse 'thicknes'",
        "did you mean 'thickness'?",
    ),
    "outside the face": (
        "thickness,1000",
        "thickness,1000.5",
        "1000.5",
        "x = 1000.5 is outside the face 'front flat', which runs from 0 to 1000",
        "correct x",
    ),
    "before the face": ("across,0", "across,-3", "-3", "x = -3 is outside the face", "correct x"),
    "front foot outside the face": (
        "level on front,800",
        "level on front,801",
        "801",
        "x = 801: the front foot at 1001 is outside the face 'front flat'",
        "x is the rear foot",
    ),
    "duplicate": (
        "thickness,500",
        "thickness,0",
        "26.031",
        "a second reading of 'thickness' at x = 0 with repeat 1, the first is in line 10",
        "number repeats 1, 2",
    ),
    "duplicate to a hundredth": (
        "thickness,500",
        "thickness,0.001",
        "26.031",
        "a second reading of 'thickness'",
        "number repeats",
    ),
    "beyond the range": (
        "800,-1.2",
        "800,-20.5",
        "-20.5",
        "reading -20.5 is beyond the range 20 of 'block level'",
        "correct the reading",
    ),
    "one station": (
        "across,1000,2.5,\n",
        "",
        "across,",
        "traverse 'across' has fewer than two stations, only x = 0",
        "at least one more station",
    ),
    "misspelt heading": (
        ",reading,",
        ",raeding,",
        "raeding",
        "there is no column 'reading'",
        "is it 'raeding'?",
    ),
    "heading twice": (",note", ",x", "traverse,x", "2 columns are called 'x'", "rename"),
    "open quote": ("jack moved", '"jack moved', "jack moved", "never closed", "close it"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_fault(faults_of, name):
    old, new, part, wrong, remedy = FAULTS[name]
    assert old in READINGS
    readings = READINGS.replace(old, new, 1)
    fault = next(fault for fault in faults_of(readings=readings) if wrong in fault.wrong)
    assert (fault.file, fault.line) == ("readings.csv", line_of(readings, part))
    assert remedy in fault.remedy


def with_columns(columns, rows):
    """Return a readings file with the example's rows of two traverses and further columns."""
    return f"traverse,x,reading,{columns}\n" + "\n".join(rows) + "\n"


@pytest.mark.parametrize(
    ("columns", "rows", "wrong", "line"),
    [
        ("face", ["thickness,0,1,front", "thickness,9,1,"], "unknown face 'front'", 2),
        (
            "face",
            ["across,0,1,ledge", "across,9,1,front flat"],
            "face 'ledge', but the traverse",
            2,
        ),
        ("repeat", ["thickness,0,1,1", "thickness,9,1,0"], "repeat '0' is no whole number", 3),
        ("repeat", ["thickness,0,1,1.5", "thickness,9,1,"], "repeat '1.5' is no whole number", 2),
        (
            "repeat",
            ["thickness,0,1,2", "thickness,0,1,2", "thickness,9,1,2"],
            "with repeat 2, the first is in line 2",
            3,
        ),
        (
            "order",
            ["thickness,0,1,first", "thickness,9,1,2"],
            "order 'first' is no whole number",
            2,
        ),
        (
            "order",
            ["thickness,0,1,2", "thickness,9,1,"],
            "1 readings of 'thickness' have no order",
            3,
        ),
    ],
)
def test_optional_columns(faults_of, columns, rows, wrong, line):
    (fault,) = faults_of(readings=with_columns(columns, rows))
    assert wrong in fault.wrong
    assert fault.line == line


def test_lines_are_right_past_comments_blank_lines_and_line_breaks_in_quotes(faults_of):
    readings = (
        '\n# a comment, with a " quote\ntraverse,x,reading,note\n\n'  # lines 1 to 4
        'thickness,0,26.1,"first line\n# second line\n\nthird line"\n'  # lines 5 to 8
        "# between\n"
        'thickness,100,26.2,"say ""when"""\n'
        '"# a comment, as a spreadsheet saves it",,,\n'
        "thickness,200,oops,\n"  # line 12
        ",,,\n"
        "thickness,300,26.3 ,\n"
        "thickness,400,oops too,"  # line 15
    )
    faults = faults_of(readings=readings)
    assert [fault.line for fault in faults] == [12, 15]


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_lines_are_right_with_other_line_ends(faults_of, end):
    readings = READINGS.replace("26.031", "oops").replace("\n", end)
    (fault,) = faults_of(readings=readings.encode("utf-16"))
    assert fault.line == line_of(READINGS, "26.031")


def test_a_name_unknown_in_many_rows_is_one_fault_with_its_lines(faults_of):
    (fault,) = faults_of(readings=READINGS.replace("thickness,", "thick,"))
    assert "unknown traverse 'thick' (3 rows: lines 10, 11, 12)" in fault.wrong


def test_no_headings(faults_of):
    (fault,) = faults_of(readings="# nothing yet\n\n")
    assert fault.wrong == "no headings"
    assert "traverse,face,x,reading,repeat,order,note" in fault.remedy


def test_no_face_anywhere(faults_of):
    toml = TOML.replace(
        'instrument = "micrometer"\nface = "front flat"\n', 'instrument = "micrometer"\n'
    )
    faults = faults_of(toml)
    assert [fault.line for fault in faults] == [10, 11, 12]
    assert "neither the row nor traverse 'thickness' names one" in faults[0].wrong
    assert "fill the column face" in faults[0].remedy


def test_planned_rows_are_checked_too(faults_of):
    faults = faults_of(readings=READINGS + "thickness,2000,,\nthickness,here,,\n")
    assert {fault.line for fault in faults} == {13, 14}
    assert "outside the face" in faults[0].wrong
    assert "'here' is no number" in faults[-1].wrong


def test_several_faults_in_one_pass(faults_of):
    readings = READINGS.replace("1.2", "x").replace("across,1000", "acros,1000")
    readings = readings.replace("26.150", "").replace("thickness,1000", "thickness,1200")
    words = [fault.wrong.split(" (")[0] for fault in faults_of(readings=readings)]
    assert words[0] == "reading 'x' is no number"
    assert "reading '-x' is no number" in words
    assert any("traverse 'across' has fewer" in word for word in words)
    assert "unknown traverse 'acros'" in words
    assert any("x = 1200 is outside" in word for word in words)


class TestFootSpacing:
    ROWS = ("0", "200", "400", "600", "800")

    def readings(self, stations):
        rows = [f"level on front,{x},1" for x in stations]
        return "traverse,x,reading\n" + "\n".join(rows)

    def test_one_station_left_out_is_no_fault(self, folder):
        (folder / "readings.csv").write_text(self.readings(["0", "200", "600", "800"]))
        assert len(read_survey(folder).readings) == 4

    def test_half_of_the_steps_ending_in_the_air_is_no_fault(self, folder):
        # 0 -> 200 matches, 200 -> 400 does not; the last station is not asked
        (folder / "readings.csv").write_text(self.readings(["0", "200", "600"]))
        assert len(read_survey(folder).readings) == 3

    def test_more_than_half_is_one(self, faults_of):
        # 0 -> 200, 300 -> 500, 600 -> 800: two of three end in the air
        (fault,) = faults_of(readings=self.readings(["0", "300", "600", "800"]))
        assert "2 of 3 steps" in fault.wrong
        assert fault.file == "survey.toml"

    def test_inches_match_to_a_hundredth(self, folder):
        # 8 in = 203.2 mm, stations as sums of binary fractions
        path = folder / "survey.toml"
        path.write_text(path.read_text().replace("foot_spacing = 200", "foot_spacing = 203.2"))
        stations = [repr(step * 203.2) for step in range(3)]
        (folder / "readings.csv").write_text(self.readings(stations))
        assert len(read_survey(folder).readings) == 3


class TestLine:
    """A traverse along a line across a wide face: from (0, -15) to (300, 25), 302.7 mm long."""

    def toml(self, line):
        return TOML.replace("foot_spacing = 200", f"foot_spacing = 100\nline = {line}")

    def readings(self, *stations):
        return "traverse,x,reading\n" + "\n".join(f"level on front,{x},1" for x in stations)

    def test_on_the_face(self, folder):
        (folder / "survey.toml").write_text(self.toml("{ from = [0, -20], to = [300, 20] }"))
        (folder / "readings.csv").write_text(self.readings(0, 100, 200))
        line = read_survey(folder).traverses["level on front"].settings["line"]
        assert line == {"from": (0, -20), "to": (300, 20)}

    def test_beyond_its_end(self, faults_of):
        toml = self.toml("{ from = [0, -20], to = [300, 20] }")
        (fault,) = faults_of(toml, self.readings(0, 100, 203))
        assert fault.line == 4
        assert "outside the line of 'level on front', which runs from 0 to 302.655" in fault.wrong

    def test_beside_the_face(self, faults_of):
        # halfway along, y = 20; at the end y = 60, beyond 0 +- 20
        toml = self.toml("{ from = [0, -20], to = [0, 60] }").replace("= 100\n", "= 20\n")
        faults = faults_of(toml, self.readings(0, 20, 40))
        assert [fault.line for fault in faults] == [4]
        assert "is at (0, 20), outside the face 'front flat'" in faults[0].wrong

    def test_both_numbers(self, faults_of):
        faults = faults_of(self.toml('{ from = [0], to = [300, "20"] }'))
        assert sum("two numbers are needed" in fault.wrong for fault in faults) == 2


def test_beyond_the_straightedge(faults_of):
    toml = TOML.replace(
        'kind = "micrometer"\ninstrument = "micrometer"\nface = "front flat"\n'
        'opposite_face = "ledge"',
        'kind = "straightedge"\ninstrument = "dial indicator"\nface = "front flat"\n'
        'straightedge = "one metre edge"\nstart = 100',
    )
    (fault,) = faults_of(toml)
    assert fault.line == 10
    assert "x = 0 is beyond 'one metre edge', which lies from 100 to 1100" in fault.wrong


def test_a_wrong_instrument_does_not_hide_wrong_rows(faults_of):
    toml = TOML.replace('instrument = "block level"', 'instrument = "blok level"', 1)
    readings = READINGS.replace("front,200", "front,99999", 1)
    wrong = [fault.wrong for fault in faults_of(toml, readings)]
    assert any("unknown instrument 'blok level'" in text for text in wrong)
    assert any("x = 99999 is outside the face" in text for text in wrong)

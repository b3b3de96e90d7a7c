"""Reading and writing survey folders: what is read, and that nothing gets lost."""

import os
import subprocess
import sys

import numpy as np
import pytest

from metrolib.errors import InputError, SurveyError
from metrolib.survey.decision import Decision
from metrolib.survey.files import encode
from metrolib.survey.folder import read_survey
from metrolib.survey.machine import LeftOut

from .example import READINGS, TOML, semicolons


def test_what_is_read(folder):
    survey = read_survey(folder)
    assert survey.machine.name == "Bench lathe"
    front = survey.machine.faces["front flat"]
    assert (front.y, front.width, front.x_to, front.nominal_height) == (0, 40, 1000, 26.15)
    assert front.left_out == (LeftOut(610, 640, "oil hole"),)
    assert survey.machine.faces["ledge"].normal == 180
    level = survey.instruments["block level"]
    assert (level.unit, level.sensitivity, level.reading_range) == ("division", 0.02, 20)
    assert level.factor == 0.02
    assert survey.straightedges["one metre edge"].profile_uncertainty == 0.004
    traverse = survey.traverses["level on front"]
    assert traverse.settings == {"foot_spacing": 200, "face": "front flat"}
    assert (traverse.setup, traverse.setup_name) == (None, "level on front")
    assert (traverse.state, traverse.sign) == ("levelled", 1)
    assert traverse.line == TOML.split("\n").index('[traverses."level on front"]') + 1
    expected = Decision(faces=("front flat", "rear flat"), datum=("ledge",))
    assert survey.decision == expected
    assert survey.options["dress the high spots"].band == 0.02
    assert survey.options["dress the high spots"].datum == ("ledge",)


def test_the_section_of_a_straightedge(folder):
    path = folder / "survey.toml"
    told = 'length = 1000\nheight = 120\nwidth = 50\nweb = 12\nflange = 15\nmaterial = "grey iron"'
    path.write_text(path.read_text(encoding="utf-8").replace("length = 1000", told), "utf-8")
    edge = read_survey(folder).straightedges["one metre edge"]
    assert (edge.height, edge.width, edge.web, edge.flange) == (120, 50, 12, 15)
    assert (edge.modulus, edge.density, edge.area) == (115_000, 7_200, None)


def test_the_readings(folder):
    readings = read_survey(folder).readings
    assert len(readings) == 10
    level = readings.of("level on front")
    assert level.x.tolist() == [0, 200, 400, 600, 800]
    assert level.value.tolist() == [1.2, -0.5, 0.25, 3, -1.2]
    assert level.line.tolist() == [3, 4, 5, 6, 7]
    assert level.note.tolist() == ["", "jack moved", "", "", ""]
    assert level.repeat.tolist() == [1] * 5
    assert readings.order.tolist() == list(range(1, 11))
    assert set(readings.face) == {"front flat"}


def test_rows_name_face_repeat_and_order(folder):
    (folder / "readings.csv").write_text(
        "traverse,face,x,reading,repeat,order\n"
        "across,,0,0,,\n"
        "thickness,front flat,0,1,1,3\n"
        "thickness,,0,2,2,2\n"
        "thickness,,5,3,,1\n"
        "across,,9,0,,\n"
    )
    thickness = read_survey(folder).readings.of("thickness")
    assert thickness.value.tolist() == [3, 2, 1]
    assert thickness.repeat.tolist() == [1, 2, 1]
    assert thickness.face.tolist() == ["front flat"] * 3


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("confidence = 0", None),
        ('confidence = "none"', None),
        ("confidence = 0.5", 0.5),
        ("", 0.95),
    ],
)
def test_confidence(folder, key, value):
    (folder / "survey.toml").write_text(TOML.replace("band = 0.0 ", f"{key}\n#"))
    assert read_survey(folder).decision.confidence == value


def test_zero_is_a_value_and_a_missing_tilt_is_free(folder):
    (folder / "survey.toml").write_text(TOML.replace("band = 0.0 ", "tilt_along = 0.0\n#"))
    decision = read_survey(folder).decision
    assert decision.tilt_along == 0
    assert decision.tilt_across is None


def test_a_vee_is_two_flanks(folder):
    toml = TOML.replace(
        'opposite_face = "ledge"', 'resting_on = ["ledge", ["rear flat", "front flat"]]'
    )
    toml = toml.replace('kind = "micrometer"', 'kind = "gauge"')
    (folder / "survey.toml").write_text(toml)
    settings = read_survey(folder).traverses["thickness"].settings
    assert settings["resting_on"] == ("ledge", ("rear flat", "front flat"))


DIALECTS = {
    "as typed": READINGS.encode(),
    "byte-order mark": b"\xef\xbb\xbf" + READINGS.encode(),
    "Windows": READINGS.replace("\n", "\r\n").encode(),
    "old Mac": READINGS.replace("\n", "\r").encode(),
    "no last line end": READINGS.rstrip("\n").encode(),
    "semicolons, decimal comma": semicolons(READINGS).encode(),
    "semicolons, decimal point": READINGS.replace(",", ";").encode(),
    "tabs, decimal comma": semicolons(READINGS).replace(";", "\t").encode(),
    "quoted decimal commas": READINGS.replace("26.031", '"26,031"')
    .replace("26.150", '"26,150"')
    .replace("26.149", '"26,149"')
    .replace("1.2", '"1,2"')
    .replace('-"1,2"', '"-1,2"')
    .replace("-0.5", '"-0,5"')
    .replace("0.25", '"0,25"')
    .replace("2.0", '"2,0"')
    .replace("2.5", '"2,5"')
    .encode(),
    "UTF-16": semicolons(READINGS).replace("\n", "\r\n").encode("utf-16"),
    "UTF-16, the other way round": b"\xfe\xff" + READINGS.encode("utf-16-be"),
    "cp1252": READINGS.replace("jack moved", "Böckchen ½ µm").encode("cp1252"),
    "headings in capitals": READINGS.replace(
        "traverse,x,reading", " Traverse , X,READING"
    ).encode(),
    "every cell quoted": "\n".join(
        line if line.startswith("#") or not line else '"' + line.replace(",", '","') + '"'
        for line in READINGS.split("\n")
    ).encode(),
    "says its separator": ("sep=;\r\n" + semicolons(READINGS)).encode(),
    "empty columns and rows": "\n".join(
        line + ",," if "," in line else line for line in (READINGS + ",,,\n,,,\n").split("\n")
    ).encode(),
    "unknown columns": "\n".join(
        line + (",observer,µ" if line.startswith("traverse") else ",A. B.,½")
        if "," in line and not line.startswith("#")
        else line
        for line in READINGS.split("\n")
    ).encode(),
    "typographic minus": READINGS.replace(",-", ",\N{MINUS SIGN}").encode(),
    "blanks in cells": READINGS.replace(",", " , ").encode(),
}


@pytest.mark.parametrize("name", DIALECTS)
def test_every_dialect_reads_the_same_and_survives_byte_for_byte(folder, tmp_path, name):
    expected = read_survey(folder).readings
    raw = DIALECTS[name]
    (folder / "readings.csv").write_bytes(raw)
    survey = read_survey(folder)
    for column in ("traverse", "face", "x", "value", "repeat", "order"):
        assert getattr(survey.readings, column).tolist() == getattr(expected, column).tolist()
    survey.write(tmp_path / "copy")
    assert (tmp_path / "copy" / "readings.csv").read_bytes() == raw


@pytest.mark.parametrize("name", DIALECTS)
def test_added_readings_are_written_in_the_dialect_of_the_file(folder, name):
    raw = DIALECTS[name]
    (folder / "readings.csv").write_bytes(raw)
    survey = read_survey(folder)
    new = {"traverse": "thickness", "x": 250, "reading": np.float64(26.125), "note": "2; 3, 4"}
    more = survey.with_readings([new])
    assert more.readings_text.startswith(survey.readings_text)
    added = more.readings.select(more.readings.x == 250)
    assert added.value.tolist() == [26.125]
    assert added.note.tolist() == ["2; 3, 4"]
    assert len(more.readings) == len(survey.readings) + 1
    ends = {
        "\r\n" if "\r\n" in survey.readings_text else "\r" if "\r" in survey.readings_text else "\n"
    }
    assert {end for end in ("\r\n", "\n", "\r") if more.readings_text.endswith(end)} >= ends


@pytest.mark.parametrize("name", DIALECTS)
def test_a_planned_row_is_filled_so_that_nothing_else_changes(folder, name):
    raw = DIALECTS[name]
    (folder / "readings.csv").write_bytes(raw)
    survey = read_survey(folder)
    text = survey.readings_text
    spelled = next(
        spelling for spelling in ('"26,031"', "26,031", "26.031") if text.count(spelling) == 1
    )
    (folder / "readings.csv").write_bytes(encode(text.replace(spelled, ""), survey.encodings[1]))
    planned = read_survey(folder)
    assert (len(planned.readings), planned.planned.x.tolist()) == (9, [500])
    filled = planned.with_readings([{"traverse": "thickness", "x": 500, "reading": 26.031}])
    assert (len(filled.readings), len(filled.planned)) == (10, 0)
    filled.write(folder)
    assert (folder / "readings.csv").read_bytes() == raw


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: "\ufeff" + text,
        lambda text: text.replace("Bench", "Bänk ½"),
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "utf-16"])
def test_survey_toml_survives_byte_for_byte(folder, tmp_path, change, encoding):
    if encoding == "cp1252" and change("").startswith("\ufeff"):
        encoding = "utf-8"
    raw = change(TOML).encode(encoding)
    if encoding == "utf-16":
        raw = change(TOML).removeprefix("\ufeff").encode(encoding)
    (folder / "survey.toml").write_bytes(raw)
    survey = read_survey(folder)
    assert survey.machine.name in ("Bench lathe", "Bänk ½ lathe")
    survey.write(tmp_path / "copy")
    assert (tmp_path / "copy" / "survey.toml").read_bytes() == raw


def test_the_readings_file_may_have_another_name(folder, tmp_path):
    (folder / "day one").mkdir()
    os.replace(folder / "readings.csv", folder / "day one" / "bed.csv")
    toml = TOML.replace("display", 'readings = "day one/bed.csv"\ndisplay', 1)
    (folder / "survey.toml").write_text(toml)
    survey = read_survey(folder)
    assert survey.readings_file == "day one/bed.csv"
    survey.write(tmp_path / "copy")
    assert len(read_survey(tmp_path / "copy").readings) == 10


def test_a_link_that_leaves_the_folder(folder, tmp_path):
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "survey.toml").write_text(TOML)
    (inner / "readings.csv").symlink_to(folder / "readings.csv")
    with pytest.raises(
        SurveyError, match="readings = 'readings.csv' is a link that points outside"
    ):
        read_survey(inner)
    survey = read_survey(folder)
    with pytest.raises(SurveyError, match="points outside the folder"):
        survey.write(inner)


def test_missing_files(tmp_path):
    with pytest.raises(SurveyError, match="no such folder.*blank_survey"):
        read_survey(tmp_path / "nowhere")
    with pytest.raises(SurveyError) as caught:
        read_survey(tmp_path)
    assert [fault.file for fault in caught.value.faults] == ["survey.toml", "readings.csv"]
    assert "no such file" in caught.value.faults[1].wrong


def test_a_folder_in_place_of_a_file(tmp_path):
    (tmp_path / "survey.toml").mkdir()
    with pytest.raises(SurveyError, match="survey.toml: it cannot be read"):
        read_survey(tmp_path)


def test_bytes_that_are_no_text(folder):
    (folder / "readings.csv").write_bytes(b"\x00\x81\x8d\xff\x90")
    with pytest.raises(SurveyError, match="readings.csv: this is no text.*UTF-8"):
        read_survey(folder)


def test_no_path():
    with pytest.raises(InputError, match="folder: a path is needed, got 3"):
        read_survey(3)


class TestViews:
    def test_text(self, folder):
        text = repr(read_survey(folder))
        assert "machine: Bench lathe" in text
        assert "faces: front flat, rear flat, ledge" in text
        assert "level on front (level along, 5 readings)" in text
        assert "state: levelled" in text
        assert "front flat 610 to 640 mm (oil hole)" in text

    def test_html_escapes_names(self, folder):
        (folder / "survey.toml").write_text(TOML.replace("Bench lathe", "A <b> & C"))
        assert "A &lt;b&gt; &amp; C" in read_survey(folder)._repr_html_()


def test_import_and_reading_load_no_pandas(folder):
    code = (
        "import sys, metrolib.survey.folder as folder; folder.read_survey(sys.argv[1]);"
        "print([name for name in ('pandas', 'scipy.optimize', 'tomlkit') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"

"""The command line, in this process and in one of its own."""

import io
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from metrolib import __main__ as command
from metrolib import adjust, adjust_rounds, plan_removal, progress, read_rounds
from metrolib.survey.folder import read_survey

ROOT = Path(__file__).resolve().parents[1]
SAMPLE = ROOT / "sample_surveys" / "published_forward_backward"
LATHE = ROOT / "sample_surveys" / "toolroom_lathe"
FOLDERS = sorted(path.parent for path in (ROOT / "sample_surveys").glob("*/survey.toml"))


def _process(*arguments, cwd, **environment):
    """Run the command in a process of its own; return code, output and errors as bytes."""
    done = subprocess.run(
        [sys.executable, "-m", "metrolib", *map(str, arguments)],
        capture_output=True,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
    )
    return done.returncode, done.stdout, done.stderr


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run the command in this process, in an empty folder; return code, output and errors."""
    monkeypatch.chdir(tmp_path)

    def work(*arguments):
        code = command.main([str(argument) for argument in arguments])
        return code, *capsys.readouterr()

    return work


@pytest.fixture
def survey(tmp_path):
    """A copy of a small sample, and a way to change its text."""
    folder = tmp_path / "survey"
    shutil.copytree(SAMPLE, folder)

    def change(file, old, new):
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text
        (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")
        return folder

    return change


def test_without_arguments_says_what_it_does_and_lists_the_samples(tmp_path):
    code, out, err = _process(cwd=tmp_path)
    text = out.decode()
    assert (code, err) == (0, b"")
    assert "from the raw readings" in text and "--help" in text
    for folder in FOLDERS:
        title = (folder / "README.md").read_text(encoding="utf-8").splitlines()[0]
        assert str(folder) in text and title.removeprefix("# ").removeprefix("Template: ") in text
    assert not list(tmp_path.iterdir())


def test_templates_are_listed_apart(run):
    _, out, _ = run()
    samples, _, templates = out.partition("Templates to begin your own with")
    for folder in FOLDERS:
        apart = folder.name.startswith("template_")
        assert (str(folder) in templates, str(folder) in samples) == (apart, not apart)
    assert "I only have a level" in templates and "Template:" not in out


def test_a_template_says_that_nothing_is_read_yet(run):
    code, out, err = run(ROOT / "sample_surveys" / "template_level")
    assert (code, out) == (2, "")
    assert "none is taken yet" in err and "plan_survey" in err


def test_samples_are_spelled_as_one_types_them_from_here(run, monkeypatch):
    monkeypatch.chdir(ROOT)
    _, out, _ = run()
    spelled = re.findall(r"^  (\S+)$", out, re.M)
    assert len(spelled) == len(FOLDERS)
    assert all((ROOT / folder / "survey.toml").is_file() for folder in spelled)
    assert not any(Path(folder).is_absolute() for folder in spelled)


def test_without_samples_it_asks_for_a_folder(run, monkeypatch, tmp_path):
    monkeypatch.setattr(command, "SAMPLES", tmp_path / "none")
    code, out, _ = run()
    assert code == 0 and "python -m metrolib FOLDER" in out


def test_help_explains_each_option(run, capsys):
    with pytest.raises(SystemExit) as caught:
        run("--help")
    assert caught.value.code == 0
    text = " ".join(capsys.readouterr().out.split())
    for option in ("--report FILE", "--no-report", "--rounds", "--unit {um,thou}", "--state STATE"):
        assert re.search(re.escape(option) + r" [a-z]+ [a-z]+", text), option
    assert "folder with survey.toml and readings.csv" in text


def test_the_main_job_on_a_sample(tmp_path):
    code, out, err = _process(LATHE, cwd=tmp_path)
    text = out.decode()
    assert (code, err) == (0, b"")
    survey = read_survey(LATHE)
    assert text.startswith(survey.machine.name)
    assert "Take 'front flat' down by" in text and "The target is set by" in text
    assert "One is suspect: 'sled to front flat' at 500 mm" in text
    assert re.search(r"^400 +3[34]\.\d ± 4\.\d \*", text, re.M)  # the low spot governs
    for option in ("leave it alone", "as decided", *survey.options):
        assert option in text
    path = Path(re.search(r"^Report: (.+)$", text, re.M).group(1))
    assert path == tmp_path / "metrolib_report.html"
    assert "<svg" in path.read_text(encoding="utf-8")


def test_no_report(run, tmp_path):
    code, out, err = run(SAMPLE, "--no-report")
    assert (code, err) == (0, "")
    assert "Report:" not in out and "Take 'way' down by" in out
    assert not list(tmp_path.iterdir())


def test_unit(run):
    _, in_um, _ = run(SAMPLE, "--no-report")
    code, in_thou, _ = run(SAMPLE, "--no-report", "--unit", "thou")
    assert code == 0
    assert "µm" in in_um and "thou" not in in_um
    assert "take off, in thou" in in_thou and "µm," not in in_thou
    most = [float(re.search(r"up to ([\d.]+) ", text).group(1)) for text in (in_um, in_thou)]
    assert most[0] / 25.4 == pytest.approx(most[1], abs=0.005 + 0.05 / 25.4)


def test_report_file(run, tmp_path):
    code, out, err = run(SAMPLE, "--report", tmp_path / "new" / "page.html", "--unit", "thou")
    assert (code, err) == (0, "")
    assert out.rstrip().endswith(f"Report: {tmp_path / 'new' / 'page.html'}")
    assert "thou" in (tmp_path / "new" / "page.html").read_text(encoding="utf-8")


def test_a_report_that_cannot_be_written_comes_after_the_decision(run, tmp_path):
    (tmp_path / "file").write_text("no folder")
    code, out, err = run(SAMPLE, "--report", tmp_path / "file" / "page.html")
    assert code == 2
    assert "Take 'way' down by" in out
    assert "cannot be written" in err and "another folder" in err and "Traceback" not in err


def test_a_report_never_takes_the_place_of_the_survey(run, survey, tmp_path):
    folder = survey("readings.csv", "", "")
    before = (folder / "readings.csv").read_bytes()
    code, _, err = run(folder, "--report", folder / "readings.csv")
    assert code == 2 and "a page ends in .html" in err
    assert (folder / "readings.csv").read_bytes() == before


def test_a_folder_that_is_missing(run, tmp_path):
    code, out, err = run(tmp_path / "nowhere")
    assert (code, out) == (2, "")
    assert "there is no such folder" in err and "nowhere" in err


def test_an_unknown_option(run, capsys):
    with pytest.raises(SystemExit) as caught:
        run(SAMPLE, "--unit", "mm")
    assert caught.value.code == 2
    assert "um" in capsys.readouterr().err


def test_all_faults_of_a_folder_are_listed_with_file_and_line(run, survey, tmp_path):
    rows = (SAMPLE / "readings.csv").read_text(encoding="utf-8").splitlines()
    filled = [i for i, row in enumerate(rows) if row and not row.startswith("#")]
    first, second = filled[1], filled[2]
    survey("readings.csv", rows[first], "nobody," + rows[first].partition(",")[2])
    survey("readings.csv", rows[second], rows[second].rpartition(",")[0] + ",")
    folder = survey("survey.toml", "[decision]", "[decision]\nband = -1")
    (folder / "readings.csv").write_text(
        (folder / "readings.csv").read_text(encoding="utf-8") + "ghost,way,0,1\n", encoding="utf-8"
    )
    code, out, err = run(folder)
    assert (code, out) == (2, "")
    assert re.search(r"metrolib: \d faults in the survey:", err)
    line = (folder / "survey.toml").read_text(encoding="utf-8").splitlines().index("band = -1") + 1
    assert re.search(rf"survey.toml, line {line}: .*band.*-1.*; ", err)
    assert re.search(rf"readings.csv, line {first + 1}: unknown traverse 'nobody'; ", err)
    assert re.search(r"readings.csv, line \d+: unknown traverse 'ghost'; ", err)
    assert not (tmp_path / "metrolib_report.html").exists()


def test_an_impossible_decision_says_which_condition_and_by_how_much(run, survey, tmp_path):
    folder = survey("survey.toml", "[decision]", '[decision]\ngreatest_cut = { "way" = 0.001 }')
    code, out, err = run(folder)
    assert (code, err) == (1, "")
    assert "No removal was planned: no removal from 'way' meets all the conditions" in out
    assert re.search(r"'way' may lose at most 0\.001 mm, but 0\.00\d mm must come off", out)
    page = (tmp_path / "metrolib_report.html").read_text(encoding="utf-8")
    assert "may lose at most 0.001 mm" in page and "Form as measured" in page


def test_options_are_told_even_where_the_decision_is_impossible(run, survey):
    folder = survey("survey.toml", "[decision]", '[decision]\ngreatest_cut = { "way" = 0.001 }')
    text = (folder / "survey.toml").read_text(encoding="utf-8")
    text += '\n[options."deep enough"]\ngreatest_cut = { "way" = 1.0 }\n'
    (folder / "survey.toml").write_text(text, encoding="utf-8")
    code, out, _ = run(folder, "--no-report")
    assert code == 1
    assert re.search(r"deep enough +3\.\d", out)
    assert "as decided: cannot be done: " in out


UNTIED = """\
[machine]
name = "Two ways, Ж"

[faces."front"]
y = 0
width = 30
x_from = 0
x_to = 800

[faces."rear"]
y = 300
width = 30
x_from = 0
x_to = 800

[instruments."level"]
unit = "mm/m"
resolution = 0.01
repeatability = 0.005

[traverses."on front"]
kind = "level along"
instrument = "level"
face = "front"
foot_spacing = 200
state = "levelled"

[traverses."on rear"]
kind = "level along"
instrument = "level"
face = "rear"
foot_spacing = 200
setup = "second day"
state = "levelled"

[decision]
faces = ["front", "rear"]
together = "coplanar"
datum = ["front"]
tilt_along = 0
tilt_across = 0
"""

STEPS = "".join(
    f"on {face},{x},{value}\n"
    for face in ("front", "rear")
    for x, value in ((0, 0.02), (200, -0.05), (400, -0.01), (600, 0.04))
)


@pytest.fixture
def untied(tmp_path):
    """A folder with two ways that nothing ties to each other."""
    folder = tmp_path / "untied"
    folder.mkdir()
    (folder / "survey.toml").write_text(UNTIED, encoding="utf-8")
    (folder / "readings.csv").write_text("traverse,x,reading\n" + STEPS, encoding="utf-8")
    return folder


def test_a_decision_that_the_readings_do_not_determine(run, untied, tmp_path):
    toml = untied / "survey.toml"
    text = toml.read_text(encoding="utf-8").replace("tilt_across = 0\n", "")
    toml.write_text(text.replace("tilt_along = 0", "tilt_along = 0.1"), encoding="utf-8")
    code, out, err = run(untied)
    assert (code, err) == (1, "")
    assert "- " in out and "is not determined: " in out
    assert "No removal was planned: " in out
    page = (tmp_path / "metrolib_report.html").read_text(encoding="utf-8")
    assert "What the readings do not determine" in page and "No removal was planned" in page


def test_a_survey_in_two_states_asks_which(run, untied):
    text = (untied / "survey.toml").read_text(encoding="utf-8")
    head, _, tail = text.rpartition('state = "levelled"')
    text = f'{head}state = "bolted"{tail}'.replace('faces = ["front", "rear"]', 'faces = ["front"]')
    text = text.replace('datum = ["front"]\ntilt_along = 0\ntilt_across = 0\n', "")
    (untied / "survey.toml").write_text(text, encoding="utf-8")
    code, out, err = run(untied, "--no-report")
    assert code == 2
    assert "levelled" in err and "bolted" in err and "state" in err
    code, out, err = run(untied, "--no-report", "--state", "levelled")
    assert (code, err) == (0, "")
    assert "The 4 readings" in out or "Nothing checks the 4 readings" in out
    code, out, err = run(untied, "--no-report", "--state", "levelled", "--state", "bolted")
    assert (code, err) == (0, "")
    assert "the 8 readings" in out
    code, _, err = run(untied, "--no-report", "--state", "free")
    assert code == 2 and "free" in err


def test_a_terminal_that_lacks_characters_gets_plainer_ones(tmp_path, untied):
    code, out, err = _process(SAMPLE, "--no-report", cwd=tmp_path, PYTHONIOENCODING="cp1252")
    assert (code, err) == (0, b"")
    assert " ± ".encode("cp1252") in out and "µm".encode("cp1252") in out and b"?" not in out
    text = (untied / "survey.toml").read_text(encoding="utf-8")
    text = text.replace('faces = ["front", "rear"]', 'faces = ["front"]')
    text = text.replace('datum = ["front"]\ntilt_along = 0\ntilt_across = 0\n', "")
    (untied / "survey.toml").write_text(text, encoding="utf-8")
    code, out, err = _process(untied, "--no-report", cwd=tmp_path, PYTHONIOENCODING="ascii")
    assert (code, err) == (0, b"")
    assert out.startswith(b"Two ways, ?") and b" +- " in out and b"in um" in out and b"cm3" in out


def test_a_stream_without_encoding_is_left_alone(monkeypatch):
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    assert command.main([]) == 0
    assert "Sample surveys" in sys.stdout.getvalue()


def test_a_crown_in_the_survey_is_printed_with_the_decision(run, survey):
    folder = survey("survey.toml", "[decision]", "[decision]\ncrown = 0.01")
    code, out, err = run(folder, "--no-report")
    assert (code, err) == (0, "")
    assert (
        "The target has a crown of 10.0 µm: so much higher at 300 mm than at 0 and 600 mm." in out
    )
    _, out, _ = run(folder, "--no-report", "--unit", "thou")
    assert "has a crown of 0.39 thou: " in out
    code, out, err = run(survey("survey.toml", "crown = 0.01", 'crown = "10 um"'), "--no-report")
    assert code == 2 and "crown is '10 um', a number is needed" in err


@pytest.mark.filterwarnings("ignore::metrolib.errors.DoubtfulReadingsWarning")
def test_rounds_of_work_are_told_and_stand_in_the_report(run):
    code, out, _ = run(LATHE, "--rounds")
    assert code == 0
    plain, _, told = out.partition("Rounds of work")
    survey = read_survey(LATHE)
    plan = plan_removal(adjust(survey), survey.decision)
    now = progress(adjust_rounds(read_rounds(LATHE)), plan)
    assert now.in_words("um") in told and "After round" not in plain
    page = Path("metrolib_report.html").read_text(encoding="utf-8")
    assert "After round" in page


def test_rounds_are_left_out_unless_asked_for(run):
    run(LATHE)
    assert "After round" not in Path("metrolib_report.html").read_text(encoding="utf-8")


def test_a_survey_without_rounds_says_where_they_belong(run):
    code, _, err = run(SAMPLE, "--rounds", "--no-report")
    assert code == 2 and "make a survey folder for each round in rounds/" in err


def test_whoever_reads_the_output_may_stop_early():
    command = [sys.executable, "-m", "metrolib", str(SAMPLE), "--no-report"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment
    ) as running:
        running.stdout.close()
        assert running.stderr.read() == b""
    assert running.returncode == 1

"""Notebooks run again, in this process: on every sample survey, and to the pictures they store."""

import re
import shutil
from io import BytesIO

import nbformat
import numpy as np
import pytest
from matplotlib.figure import Figure

from metrolib import read_survey
from metrolib.errors import MetrolibError
from tests.notebook_cells import pictures_of, run_here, thumbnail
from tests.run_notebooks import NOTEBOOKS, PARAMETERS, main, with_parameters

SURVEYS = NOTEBOOKS.parent / "sample_surveys"
SAMPLES = sorted(
    path.parent.name
    for path in SURVEYS.glob("*/survey.toml")
    if len(read_survey(path.parent).readings)
)

#: Notebooks with a cell of parameters run on every sample with readings, but for these, and why.
ONLY = {
    "06_how_sure_before_measuring.ipynb": (
        ["planer_to_measure"],
        "plans readings that are not taken, and asks for the rear way of this machine",
    ),
}

_ONE_FACE = ("published_autocollimator", "published_forward_backward", "rectangular_face")
_NOT_THE_LATHE = [name for name in SAMPLES if name != "toolroom_lathe"]

#: What a notebook cannot do with a sample: the words in which it says so, and why.
REFUSED = {
    "01_a_level_along_a_way.ipynb": (
        _NOT_THE_LATHE,
        "OUT: an unknown traverse",
        "its other parameters name two traverses of the lathe",
    ),
    "03_which_faces_can_be_trusted.ipynb": (
        ["rectangular_face"],
        "no face was read along one line",
        "a plate that is read all over holds no line",
    ),
    "03_working_from_datums.ipynb": (
        [*_ONE_FACE, "long_rails"],
        "three faces read along lines are needed",
        "a chain of datums has three links or more",
    ),
    "04_parallel_twisted_coplanar.ipynb": (
        _ONE_FACE,
        "no two upward faces are tied side by side",
        "one face has nothing to be parallel to",
    ),
    "07_choosing_the_way.ipynb": (
        ["rectangular_face"],
        "ways read along one line are needed",
        "its limits are those of narrow ways",
    ),
    "08_stages_and_stop_readings.ipynb": (
        _NOT_THE_LATHE,
        "methods: at least one is needed",
        "only the lathe's survey tells of the shop's methods",
    ),
    "10_what_the_lowering_does.ipynb": (
        _NOT_THE_LATHE,
        "what rides on the ways is needed",
        "only the lathe's survey tells of saddle, screw and rack",
    ),
    "10_what_to_put_back.ipynb": (
        _NOT_THE_LATHE,
        "what rides on the ways is needed",
        "only the lathe's survey tells of saddle, screw and rack",
    ),
    "11_acceptance.ipynb": (
        _NOT_THE_LATHE,
        "tolerances: there is nothing to test",
        "only the lathe's survey has tolerances of its own",
    ),
    "11_the_record.ipynb": (
        _NOT_THE_LATHE,
        "rounds: there is no round in it",
        "only the lathe's folder holds rounds of work",
    ),
}

#: A cent of the range of grey: what a picture may differ on average, seen as a thumbnail.
ALIKE = 2.55


def _read(path):
    return nbformat.read(path, as_version=4)


def _parametrised():
    for path in sorted(NOTEBOOKS.glob("*.ipynb")):
        if any(PARAMETERS in cell.metadata.get("tags", []) for cell in _read(path).cells):
            yield path


def _pairs():
    """Give each notebook its samples, but for the one that it names itself and is run on below."""
    for path in _parametrised():
        for sample in ONLY.get(path.name, (SAMPLES,))[0]:
            if f'/{sample}\\"' not in path.read_text(encoding="utf-8"):
                yield pytest.param(path, sample, id=f"{path.stem}-{sample}")


@pytest.mark.parametrize(("path", "sample"), list(_pairs()))
def test_it_runs_on_the_sample(path, sample):
    ran = list(run_here(path, {"FOLDER": f"../sample_surveys/{sample}"}))
    error = ran[-1].error
    refused, words, _why = REFUSED.get(path.name, ((), "", ""))
    if sample in refused:
        assert isinstance(error, MetrolibError) and re.search(words, str(error))
        return
    assert error is None, f"{ran[-1].source}\n{error}"
    assert "Warning" not in "".join(one.printed for one in ran)
    assert any(one.pictures for one in ran) and any(one.printed.strip() for one in ran)


def test_what_is_left_out_of_the_samples_is_still_there():
    names = {path.name for path in _parametrised()}
    assert {*ONLY, *REFUSED} <= names
    assert all(set(samples) <= set(SAMPLES) for samples, *_ in REFUSED.values())


@pytest.mark.parametrize("path", sorted(NOTEBOOKS.glob("*.ipynb")), ids=lambda path: path.name)
def test_its_stored_pictures_show_what_it_draws_today(path):
    cells = [cell for cell in _read(path).cells if cell.cell_type == "code"]
    ran = list(run_here(path))
    assert len(ran) == len(cells), f"{ran[-1].source}\n{ran[-1].error}"
    for cell, now in zip(cells, ran, strict=True):
        stored = pictures_of(cell)
        assert len(stored) == len(now.pictures), cell.source
        for old, new in zip(stored, now.pictures, strict=True):
            assert _difference(old, new) < ALIKE, f"draws another picture:\n{cell.source}"


def _difference(old, new):
    """Return the mean difference in grey of two pictures; all where their sizes differ."""
    (old, old_size), (new, new_size) = thumbnail(old), thumbnail(new)
    # the frame is cut to what is drawn: other fonts move it by some pixels
    same_size = np.allclose(old_size, new_size, rtol=0.05, atol=5)
    return np.abs(old - new).mean() if same_size else 255.0


# ---- what the picture check lets through, and what it does not ----


def _profile(heights, label="height [µm]", font="DejaVu Sans"):
    figure = Figure(figsize=(8, 3), dpi=100, layout="constrained")
    ax = figure.subplots()
    ax.plot(heights, "s-")
    ax.fill_between(range(len(heights)), np.subtract(heights, 4), np.add(heights, 4), alpha=0.3)
    ax.set_ylabel(label, family=font)
    ax.set_ylim(-80, 20)
    file = BytesIO()
    figure.savefig(file, format="png")
    return file.getvalue()


HOLLOW = [0, -20, -45, -60, -50, -30, -12, -4, 0, 0, 0]


def test_letters_of_another_font_make_no_other_picture():
    assert _difference(_profile(HOLLOW), _profile(HOLLOW, font="DejaVu Serif")) < ALIKE


@pytest.mark.parametrize(
    "other", [HOLLOW[::-1], [-z / 5 for z in HOLLOW], [0] * 11], ids=["reversed", "sign", "gone"]
)
def test_another_shape_makes_another_picture(other):
    assert _difference(_profile(HOLLOW), _profile(other)) > ALIKE


# ---- a notebook on a survey of one's own ----


@pytest.fixture
def small(tmp_path):
    """A notebook with parameters that runs in a moment."""
    v4 = nbformat.v4
    source = 'FOLDER = "../sample_surveys/toolroom_lathe"\nSTEPS = 3'
    first = v4.new_code_cell(source, metadata={"tags": [PARAMETERS]})
    second = v4.new_code_cell("from pathlib import Path\nprint(Path(FOLDER).name, STEPS + 1)")
    path = tmp_path / "small.ipynb"
    nbformat.write(v4.new_notebook(cells=[first, second]), path)
    return path


def test_a_notebook_runs_on_a_folder_named_from_here(small, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(SURVEYS / "published_forward_backward", tmp_path / "mine")
    before = small.read_bytes()
    given = ["--with", "FOLDER=mine", "--with", "STEPS=5", "--to", "done.ipynb"]
    assert main(["small.ipynb", *given]) == 0
    assert "small.ipynb run and stored as done.ipynb" in capsys.readouterr().out
    made = _read(tmp_path / "done.ipynb")
    assert made.cells[1].outputs[0].text == "mine 6\n"
    assert made.cells[0].source.splitlines()[0] == f"FOLDER = {str(tmp_path / 'mine')!r}"
    assert small.read_bytes() == before


def test_a_name_that_is_no_parameter_is_told(small, tmp_path, capsys):
    assert main([str(small), "--with", "FOLDR=x", "--to", str(tmp_path / "done.ipynb")]) == 1
    told = capsys.readouterr().err
    assert "no parameter 'FOLDR'" in told and "['FOLDER', 'STEPS']" in told
    assert not (tmp_path / "done.ipynb").exists()


def test_a_notebook_without_a_cell_of_parameters_says_so():
    bare = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("FOLDER = 1")])
    with pytest.raises(LookupError, match="no parameter 'FOLDER'; it has .]"):
        with_parameters(bare, {"FOLDER": 2})


@pytest.mark.parametrize("given", [["--with", "A=1"], ["--to", "x.ipynb"]])
def test_the_stored_notebooks_are_not_rewritten_with_other_values(given, capsys):
    with pytest.raises(SystemExit):
        main(given)
    assert "go together, with one notebook" in capsys.readouterr().err

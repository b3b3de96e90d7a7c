"""Notebooks are for people: these tests keep their stored state honest and readable."""

import re

import nbformat
import pytest

from metrolib import read_survey
from tests.run_notebooks import NOTEBOOKS, canonical, run

ALL = sorted(NOTEBOOKS.glob("*.ipynb"))
SAMPLES = sorted(
    path.parent.name
    for path in (NOTEBOOKS.parent / "sample_surveys").glob("*/survey.toml")
    if len(read_survey(path.parent).readings)  # one sample is only planned
)


def _code(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


@pytest.fixture(params=ALL, ids=lambda path: path.name)
def notebook(request):
    return nbformat.read(request.param, as_version=4)


def test_every_cell_was_run_once_and_in_order(notebook):
    counts = [cell.execution_count for cell in _code(notebook)]
    assert counts == list(range(1, len(counts) + 1))


def test_no_cell_is_empty_or_long(notebook):
    for cell in notebook.cells:
        assert cell.source.strip(), "an empty cell"
        if cell.cell_type == "code":
            assert len(cell.source.splitlines()) <= 14, (
                f"too long to read at a glance:\n{cell.source}"
            )


def test_nothing_went_wrong_unannounced(notebook):
    for cell in _code(notebook):
        allowed = "raises-exception" in cell.metadata.get("tags", [])
        for output in cell.outputs:
            assert allowed or output.output_type != "error", cell.source
            assert output.get("name") != "stderr", cell.source


def test_spelling_is_canonical(notebook):
    before = nbformat.writes(notebook)
    assert nbformat.writes(canonical(notebook)) == before, "run python -m tests.run_notebooks"


def test_no_path_of_one_machine_is_stored(notebook):
    assert not re.search(r"(?<![\w.])/(root|home|work|tmp|Users)/", nbformat.writes(notebook))


def test_size_stays_reviewable(notebook):
    for cell in _code(notebook):
        assert len(nbformat.from_dict(cell).__repr__()) < 200_000, cell.source
    assert len(nbformat.writes(notebook)) < 1_000_000


def test_it_opens_with_a_title_and_ends_in_words(notebook):
    assert notebook.cells[0].source.startswith("# ")
    assert notebook.cells[-1].cell_type == "markdown"


@pytest.mark.parametrize("sample", SAMPLES)
def test_the_main_notebook_runs_on_every_sample(sample):
    path = NOTEBOOKS / "00_from_readings_to_removal.ipynb"
    done = run(path, {"FOLDER =": f'FOLDER = "../sample_surveys/{sample}"'})
    texts = [
        output.text
        for cell in _code(done)
        for output in cell.outputs
        if output.output_type == "stream"
    ]
    assert texts and not any("Traceback" in text for text in texts)
    pictures = [
        output
        for cell in _code(done)
        for output in cell.outputs
        if "image/png" in output.get("data", {})
    ]
    assert pictures, "no picture was drawn"

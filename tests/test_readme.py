"""README shows what the code does: its commands, its pictures, its lists; it stays readable."""

import re
import tomllib
from pathlib import Path

import nbformat
import pytest
from PIL import Image

from tests import readme_picture

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def today():
    """What each picture shows, by its file's name."""
    return {path.name: words for path, words in readme_picture.descriptions().items()}


@pytest.mark.parametrize("name", ["to_take_off.png", "front_flat.png", "job_sheet.png"])
def test_the_picture_shows_the_plan_of_today(today, name):
    assert f"/{name})" in README
    with Image.open(readme_picture.SAMPLE / name) as picture:
        assert picture.text["Description"] == today[name], "run python -m tests.readme_picture"


def test_each_command_sets_up_from_nothing():
    main, tests, lab, _ = re.findall(r"```sh\n(.*?)\n```", README, re.S)
    assert main.startswith("python3 -m venv .venv && ") and "-m metrolib sample_surveys/" in main
    assert tests.startswith("python3 -m venv .venv && ") and tests.endswith("-m pytest")
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"][
        "optional-dependencies"
    ]
    assert "[lab]" in lab
    assert set(re.findall(r'"\.\[(\w+)\]"', README)) == {"test", "lab", "voila", "pdf"}
    assert {"test", "lab", "voila", "pdf"} <= extras.keys()


def test_the_one_way_to_run_a_notebook_headless_is_the_one_that_is_there():
    *_, headless = re.findall(r"```sh\n(.*?)\n```", README, re.S)
    module, notebook = re.search(r"-m (\S+) (\S+)", headless).groups()
    assert module == "tests.run_notebooks" and (ROOT / notebook).is_file()
    first = next(
        cell
        for cell in nbformat.read(ROOT / notebook, as_version=4).cells
        if "parameters" in cell.metadata.get("tags", [])
    )
    assert "FOLDER = " in first.source and "--with FOLDER=" in headless and "--to " in headless


def test_every_notebook_is_in_the_list_once_and_in_order():
    listed = re.findall(r"\]\(notebooks/(\w+\.ipynb)\) \|$", README, re.M)
    numbered = sorted(path.name for path in (ROOT / "notebooks").glob("[0-9]*.ipynb"))
    assert listed == [*numbered, "bench_worksheet.ipynb", "index_of_functions.ipynb"]
    assert set(listed) == {path.name for path in (ROOT / "notebooks").glob("*.ipynb")}


def test_every_template_is_in_the_list():
    for folder in (ROOT / "sample_surveys").glob("template_*"):
        assert f"(sample_surveys/{folder.name}/README.md)" in README


def test_it_stays_readable():
    assert README.count("\n") < 190
    opening = README.split("\n\n")[1]
    assert opening.startswith("The ways of an old machine tool") and len(opening.split()) < 130


def test_the_top_level_holds_nothing_else():
    kept = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "LICENSE",
        "metrolib",
        "notebooks",
        "tests",
        "sample_surveys",
    }
    tracked = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    made = {"build", "metrolib.egg-info", "metrolib_report.html", "mutants", "artefacts"}
    assert tracked - made == kept

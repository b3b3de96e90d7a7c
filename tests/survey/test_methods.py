"""The tables [methods.NAME]: read in order, and each fault with its line and its words."""

import pytest

from metrolib.survey.blank import blank_survey
from metrolib.survey.folder import read_survey
from metrolib.survey.methods import Method

from .example import TOML, line_of

METHODS = """
[methods."roughing file"]
leaves = 0.05
per_pass = 0.01
per_pass_uncertainty = 0.002
rate = 1.5
rate_uncertainty = 0.3
log = "files"

[methods.scraper]
leaves = 0.0
per_pass = 0.005   # by the scraper
rate = 0.35
note = "three test patches"
"""


def test_methods_come_in_the_order_of_work(folder):
    (folder / "survey.toml").write_text(TOML + METHODS)
    assert read_survey(folder).methods == (
        Method("roughing file", 0.05, 0.01, 1.5, 0.002, 0.3, "files"),
        Method("scraper", 0.0, 0.005, 0.35, note="three test patches"),
    )


def test_they_may_be_missing(folder, tmp_path):
    assert read_survey(folder).methods == ()
    assert read_survey(blank_survey(tmp_path / "blank")).methods == ()


@pytest.mark.parametrize("mark", ["# [methods", "# leaves", "# per_pass", "# rate"])
def test_the_example_of_a_blank_survey_can_be_used(tmp_path, mark):
    text = (blank_survey(tmp_path / "blank") / "survey.toml").read_text(encoding="utf-8")
    assert mark in text
    start = text.index("# [methods")
    example = text[start:].replace("# [", "[").replace("\n# ", "\n")
    (tmp_path / "blank" / "survey.toml").write_text(text[:start] + example, encoding="utf-8")
    (method,) = read_survey(tmp_path / "blank").methods
    assert method == Method("fine file", 0.025, 0.005, 0.8, 0.001, 0.2)


@pytest.mark.parametrize(
    ("old", "new", "wrong", "remedy"),
    [
        ("rate = 0.35", "rate = 0.0", "method 'scraper': rate is 0", "it must be above 0"),
        ("per_pass = 0.005", "per_pass = -1", "per_pass is -1", "it must be above 0"),
        ("leaves = 0.0\n", "leaves = -0.1\n", "leaves is -0.1", "it must be at least 0"),
        ("rate_uncertainty = 0.3", "rate_uncertainty = -0.3", "is -0.3", "at least 0"),
        ('log = "files"', "log = 3", "log is 3, a text is needed", "put it in quotes"),
        ("note = ", "nota = ", "unknown key 'nota'", "did you mean 'note'?"),
        (
            "leaves = 0.0\n",
            "leaves = 0.05  \n",
            "leaves is 0.05 mm, not below the 0.05 mm of 'roughing file' before it",
            "write the methods in order of work, each leaving less than the one before",
        ),
        (
            "per_pass = 0.005   #",
            "per_pass = 0.06   #",
            "one pass takes 0.06 mm, but 'roughing file' leaves only 0.05 mm for it",
            "let 'roughing file' leave at least 0.06 mm, or take a finer method",
        ),
    ],
)
def test_each_fault_has_its_line(faults_of, old, new, wrong, remedy):
    toml = TOML + METHODS.replace(old, new)
    (fault,) = faults_of(toml)
    assert wrong in fault.wrong and remedy in fault.remedy
    assert fault.line == line_of(toml, new.strip("\n"))


def test_a_missing_key_is_told_and_the_others_too(faults_of):
    toml = TOML + METHODS.replace("rate = 1.5\n", "").replace("per_pass = 0.005", "per_pass = 0")
    told = [fault.wrong for fault in faults_of(toml)]
    assert told == [
        "method 'roughing file': rate is missing",
        "method 'scraper': per_pass is 0",
    ]

"""What every stored notebook keeps: a readable diff, honest outputs, the shape of the course."""

import re
from copy import deepcopy

import nbformat
import numpy as np

from tests.notebook_cells import pictures_of, thumbnail
from tests.run_notebooks import canonical

LONGEST_CELL = 14  # lines
LARGEST_PICTURE = 150_000  # bytes
LARGEST_NOTEBOOK = 1_000_000  # bytes
WIDTHS = range(200, 1401)  # pixels of a picture

# How long a notebook takes is reckoned, not measured: what reading and trying take, about.
WORDS_A_MINUTE = 200
MINUTES_A_CELL = 0.5  # of code, with what it shows
MINUTES_AN_EXERCISE = 2
SHORTEST, LONGEST = 10, 20  # minutes
FROM_WHAT_IT_SAYS = 5  # minutes a notebook may differ from what its opening says

#: What differs from run to run or from one machine to the next, and what it is.
CHANCE = {
    "a path of one machine": r"(?<![\w./])/(root|home|work|tmp|var|Users)/|\b[A-Z]:\\+Users",
    "a time of day": r"\b\d{4}-\d\d-\d\d[T ]\d\d:\d\d",
    "an address in memory": r"\b0x[0-9a-f]{6,}",
    "a random name": r"\b[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\b|\bT_[0-9a-f]{5}",
}

WIDGET = "application/vnd.jupyter.widget-view+json"


def faults(notebook):
    """Return what keeps a stored notebook from being honest and readable, in words."""
    cells = _code(notebook)
    found = []
    if [cell.execution_count for cell in cells] != list(range(1, len(cells) + 1)):
        found.append("cells were not run, or not in order")
    if nbformat.writes(canonical(deepcopy(notebook))) != nbformat.writes(notebook):
        found.append("not in the canonical spelling: run python -m tests.run_notebooks")
    if len(nbformat.writes(notebook)) > LARGEST_NOTEBOOK:
        found.append("too large to review")
    for cell in notebook.cells:
        if not cell.source.strip():
            found.append("an empty cell")
        if cell.cell_type == "code":
            found += [f"{fault}, in the cell\n{cell.source}" for fault in _faults_of_cell(cell)]
    return found


def course_faults(notebook):
    """Return where a notebook leaves the common shape of the course, in words."""
    code = "\n".join(cell.source for cell in _code(notebook))
    words = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    opening = "\n".join(words[:2])
    text = "\n".join(words)
    answers = re.findall(r"^(answer_\d+) = None", code, re.M)
    minutes = minutes_of(notebook)
    told = re.search(r"\*[^*]*?(\d+) minutes\b[^*]*\*", opening)
    wanted = {
        "a title first": notebook.cells[0].source.startswith("# "),
        "for whom and how long": told,
        f"{SHORTEST} to {LONGEST} minutes, it takes {minutes:.1f}": SHORTEST <= minutes <= LONGEST,
        f"as long as it says, it takes {minutes:.1f}": told is None
        or abs(int(told[1]) - minutes) <= FROM_WHAT_IT_SAYS,
        "the question from the bench, in bold": re.search(r"\*\*[^*]+\?\*\*", opening),
        "the answer foretold, in italics": re.search(
            r"(?<!\*)\*(?!\*)[^*]+\*(?!\*)", _after(opening)
        ),
        "a picture that follows a number: explore": "explore(" in code,
        "a section Exercises": "\n## Exercises\n" in f"\n{text}\n",
        "a section Answers": "\n## Answers\n" in f"\n{text}\n",
        "two or three exercises": 2 <= len(answers) <= 3,
        "limits": "\n## What this holds and what it leaves out\n" in f"\n{text}\n",
        "sources": "**Sources" in text,
        "one sentence at the end": "**In one sentence:**"
        in notebook.cells[-1].source.split("\n\n")[-1],
        **{
            f"a check of {name}": re.search(rf"check_answer\(\s*{name}\b", code) for name in answers
        },
    }
    return [what for what, met in wanted.items() if not met]


def minutes_of(notebook):
    """Reckon how long a notebook takes: its words, its cells of code, its exercises [min]."""
    code = "\n".join(cell.source for cell in _code(notebook))
    words = sum(len(c.source.split()) for c in notebook.cells if c.cell_type == "markdown")
    exercises = len(re.findall(r"^answer_\d+ = None", code, re.M))
    return (
        words / WORDS_A_MINUTE
        + len(_code(notebook)) * MINUTES_A_CELL
        + exercises * MINUTES_AN_EXERCISE
    )


def _after(opening):
    """Return what follows the question in bold."""
    return re.split(r"\?\*\*", opening, maxsplit=1)[-1]


def _code(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def _faults_of_cell(cell):
    if len(cell.source.splitlines()) > LONGEST_CELL:
        yield "too long to read at a glance"
    told = [cell.source]
    for output in cell.outputs:
        data = output.get("data", {})
        told += [
            output.get("text", ""),
            *(data.get(f"text/{kind}", "") for kind in ("plain", "html")),
        ]
        told += output.get("traceback", [])
        if output.output_type == "error" and "raises-exception" not in cell.metadata.get(
            "tags", []
        ):
            yield "it failed"
        if output.get("name") == "stderr":
            yield "a warning"
        if WIDGET in data:
            yield "a widget, which is gone when the notebook is opened again"
    for what, pattern in CHANCE.items():
        if re.search(pattern, "\n".join(told)):
            yield what
    for picture in pictures_of(cell):
        yield from _faults_of_picture(picture)


def _faults_of_picture(picture):
    if len(picture) > LARGEST_PICTURE:
        yield f"a picture of {len(picture) // 1000} kB"
    grey, (width, _) = thumbnail(picture)
    if width not in WIDTHS:
        yield f"a picture {width} pixels wide"
    if np.ptp(grey) < 64:
        yield "a picture that shows nothing"

"""Notebooks are for people: these tests keep their stored state honest and readable."""

from base64 import b64encode
from io import BytesIO

import nbformat
import pytest
from PIL import Image, ImageDraw

from tests.notebook_rules import course_faults, faults, minutes_of
from tests.run_notebooks import NOTEBOOKS, canonical

ALL = sorted(NOTEBOOKS.glob("*.ipynb"))
COURSE = [path for path in ALL if path.name[:2].isdigit()]


def _read(path):
    return nbformat.read(path, as_version=4)


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.name)
def test_what_is_stored_is_honest_and_readable(path):
    assert faults(_read(path)) == []


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.name)
def test_it_opens_with_a_title_and_ends_in_words(path):
    first, *_, last = _read(path).cells
    assert first.source.startswith("# ") and last.cell_type == "markdown"


@pytest.mark.parametrize("path", COURSE, ids=lambda path: path.name)
def test_it_keeps_the_shape_of_the_course(path):
    assert course_faults(_read(path)) == []


def test_the_course_is_complete():
    assert sorted({path.name[:2] for path in COURSE}) == [f"{n:02d}" for n in range(13)]


# ---- the rules themselves ----


def _picture(width=400, drawn=True, noise=False):
    image = Image.effect_noise((width, 300), 90) if noise else Image.new("L", (width, 300), 255)
    if drawn:
        ImageDraw.Draw(image).line((0, 0, width, 300), fill=0, width=30)
    file = BytesIO()
    image.save(file, "png")
    return b64encode(file.getvalue()).decode()


def _shown(**data):
    new = nbformat.v4.new_output
    return new("display_data", data={kind.replace("_", "/"): one for kind, one in data.items()})


@pytest.fixture
def sound():
    """A notebook as the course wants it."""
    cells = [
        ("markdown", "# Title\n\n*For you. 10 minutes.*\n\n**How far?**\n\n*Thus far.*"),
        ("markdown", "word " * 1000),
        ("code", "ml.explore(draw, pitch=(1, 2, 3))"),
        ("markdown", "## Exercises\n\nOne and two."),
        ("code", "answer_1 = None\nanswer_2 = None"),
        ("markdown", "## Answers"),
        ("code", "print(ml.check_answer(answer_1, 1), ml.check_answer(answer_2, 2))"),
        ("markdown", "## What this holds and what it leaves out\n\n**Sources.** A book."),
        ("markdown", "A line.\n\n**In one sentence:** so."),
    ]
    v4 = nbformat.v4
    made = v4.new_notebook(
        cells=[getattr(v4, f"new_{kind}_cell")(source) for kind, source in cells]
    )
    code = [cell for cell in made.cells if cell.cell_type == "code"]
    for count, cell in enumerate(code, 1):
        cell.execution_count = count
    code[0].outputs = [_shown(image_png=_picture(), text_plain="12.3 µm")]
    return canonical(made)


def test_a_sound_notebook_has_no_fault(sound):
    assert faults(sound) == [] and course_faults(sound) == []


def _spoil(notebook, output=None, **changes):
    """Change the first code cell, or give it an output."""
    cell = next(cell for cell in notebook.cells if cell.cell_type == "code")
    cell.update(changes)
    cell.outputs += [output] if output else []


#: Paths that only one machine has.
HOME, TEMPORARY = (f"/{folder}" for folder in ("home", "tmp"))

SPOILT = {
    "not run": (dict(execution_count=None), "not run"),
    "run out of order": (dict(execution_count=7), "not in order"),
    "timestamp in metadata": (dict(metadata={"execution": {"x": "2026-01-01"}}), "canonical"),
    "random cell id": (dict(id="3f2a91c0"), "canonical"),
    "empty": (dict(source=" "), "empty"),
    "long": (dict(source="1\n" * 15), "too long"),
    "path in the code": (dict(source=f'read("{HOME}/me/lathe")'), "path of one machine"),
    "path in words": (
        dict(output=_shown(text_plain=f"at {TEMPORARY}/x/readings.csv")),
        "path of one",
    ),
    "path on Windows": (dict(output=_shown(text_plain="C:\\Users\\me")), "path of one"),
    "time of day": (dict(output=_shown(text_plain="2026-01-01 12:30")), "time of day"),
    "address": (dict(output=_shown(text_plain="<Line at 0x7f30aa10>")), "address"),
    "random table": (dict(output=_shown(text_html='<table id="T_3f2a9">')), "random name"),
    "random name": (
        dict(output=_shown(text_html="<i id='9b2e1d3c-0a1b-4c2d-8e3f-123456789abc'>")),
        "random name",
    ),
    "warning": (dict(output=nbformat.v4.new_output("stream", name="stderr", text="!")), "warning"),
    "error": (dict(output=nbformat.v4.new_output("error", ename="E", evalue="")), "failed"),
    "large picture": (dict(output=_shown(image_png=_picture(1200, noise=True))), "a picture of"),
    "blank picture": (dict(output=_shown(image_png=_picture(drawn=False))), "shows nothing"),
    "tiny picture": (dict(output=_shown(image_png=_picture(60))), "60 pixels wide"),
}


@pytest.mark.parametrize("name", SPOILT)
def test_what_spoils_a_diff_or_a_page_is_found(sound, name):
    changes, words = SPOILT[name]
    _spoil(sound, **changes)
    found = faults(sound)
    assert found and words in "\n".join(found)


def test_a_widget_is_found_in_an_output_and_in_the_metadata(sound):
    sound.metadata["widgets"] = {"state": {}}
    assert "canonical" in "\n".join(faults(sound))
    output = _shown(text_plain="words")
    output.data["application/vnd.jupyter.widget-view+json"] = {"model_id": "ab"}
    _spoil(sound, output)
    assert "widget, which is gone" in "\n".join(faults(sound))


@pytest.mark.parametrize("number", range(9))
def test_a_course_notebook_that_lacks_a_part_is_found(sound, number):
    """Each of its cells is wanted for something."""
    del sound.cells[number]
    assert course_faults(sound)


def test_how_long_it_takes_is_reckoned_from_words_cells_and_exercises(sound):
    words = sum(len(c.source.split()) for c in sound.cells if c.cell_type == "markdown")
    assert minutes_of(sound) == pytest.approx(words / 200 + 3 / 2 + 2 * 2)


@pytest.mark.parametrize(
    ("words", "says", "what"),
    [
        (500, "10 minutes", ["10 to 20 minutes, it takes 8"]),
        (3100, "20 minutes", ["10 to 20 minutes, it takes 21"]),
        (1000, "20 minutes", ["as long as it says, it takes 10"]),
        (2500, "10 minutes", ["as long as it says, it takes 18"]),
        (2500, "20 minutes", []),
    ],
)
def test_a_notebook_too_short_too_long_or_not_as_it_says_is_found(sound, words, says, what):
    sound.cells[0].source = sound.cells[0].source.replace("10 minutes", says)
    sound.cells[1].source = "word " * words
    found = course_faults(sound)
    assert len(found) == len(what) and all(map(str.startswith, found, what))


@pytest.mark.parametrize(
    ("old", "what"),
    [
        ("10 minutes", "how long"),
        ("**How far?**", "question"),
        ("*Thus far.*", "foretold"),
        ("**Sources.**", "sources"),
        ("ml.check_answer(answer_2, 2)", "a check of answer_2"),
    ],
)
def test_a_part_that_is_missing_is_named(sound, old, what):
    for cell in sound.cells:
        cell.source = cell.source.replace(old, "")
    assert [what in fault for fault in course_faults(sound)] == [True]

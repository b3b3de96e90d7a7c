"""Every link of the guides and the notebooks leads somewhere, and none leaves the project."""

import re
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).resolve().parents[1]
TEXTS = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted(ROOT.glob("sample_surveys/*/README.md")),
    *sorted(ROOT.glob("notebooks/*.md")),
    *sorted(ROOT.glob("notebooks/*.ipynb")),
]

#: [words](target), also of a picture; the words may go on in the next line.
LINK = re.compile(r"\]\(\s*<?([^()\s>]+)>?(?:\s+\"[^\"]*\")?\s*\)|(?:href|src)=\"([^\"]+)\"")


def words_of(path):
    """Return the running text of a file: of a notebook its texts, without blocks of code."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".ipynb":
        cells = nbformat.reads(text, as_version=4).cells
        text = "\n\n".join(cell.source for cell in cells if cell.cell_type == "markdown")
    return re.sub(r"^```.*?^```|`[^`\n]*`", "", text, flags=re.S | re.M)


def anchors_of(path):
    """Return the anchors of a file's headings, as they are named where it is shown."""
    code_kept = words_of(path) if path.suffix == ".ipynb" else path.read_text(encoding="utf-8")
    headings = re.findall(r"^#{1,6} +(.+?) *$", code_kept, re.M)
    if path.suffix == ".ipynb":
        return {heading.replace(" ", "-") for heading in headings}
    plain = [re.sub(r"[^\w\- ]", "", heading.lower()) for heading in headings]
    named = set(re.findall(r'<a (?:id|name)="([^"]+)"', code_kept))
    return named | {heading.replace(" ", "-") for heading in plain}


def broken(path, text):
    """Return the links of a text that lead nowhere, or away, and why."""
    for target in ("".join(pair) for pair in LINK.findall(text)):
        file, _, anchor = target.partition("#")
        there = (path.parent / file).resolve() if file else path
        if "://" in target or target.startswith(("mailto:", "/")):
            yield f"{target} leads out of the project"
        elif not there.exists():
            yield f"{target} is not there"
        elif not there.is_relative_to(ROOT):
            yield f"{target} leads out of the project"
        elif anchor and anchor not in anchors_of(there):
            yield f"{target}: no heading is called so"


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_link_leads_to_a_file_and_a_heading(path):
    assert list(broken(path, words_of(path))) == []


def test_the_texts_do_link():
    """Guard against a pattern that finds nothing."""
    found = [target for path in TEXTS for target in LINK.findall(words_of(path))]
    assert len(found) > 30


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("see [it](nowhere.md)", "not there"),
        ("see [it\nhere](README.md#nothing-like-it)", "no heading"),
        ("see [it](#nothing-like-it)", "no heading"),
        ("![picture](gone.png)", "not there"),
        ('<img src="gone.png">', "not there"),
        ("[site](https://example.org)", "out of the project"),
        ("[up](../elsewhere)", "not there"),
        ("[root](/etc/hosts)", "out of the project"),
    ],
)
def test_what_leads_nowhere_is_found(text, why):
    (fault,) = broken(ROOT / "README.md", text)
    assert why in fault


@pytest.mark.parametrize(
    "text", ["[a](README.md#try-it)", "[b](#cautions)", "[c](LICENSE)", "no [link] (here)"]
)
def test_what_leads_somewhere_is_let_through(text):
    assert list(broken(ROOT / "README.md", text)) == []

"""Pages as files: HTML or PDF by name, with page numbers and table heads on every page."""

import os
import re
import sys
from io import BytesIO

import pytest
from pypdf import PdfReader

from metrolib.errors import InputError
from metrolib.show.pages import as_css_text, page_path, template, write_page

ROWS = "".join(f"<tr><td>row {n}</td></tr>" for n in range(120))
STYLE = """thead { display: table-header-group }
@page { size: A4; @bottom-right { content: "page " counter(page) " of " counter(pages) } }"""
LONG = f"""<html><head><style>{STYLE}</style></head><body><table>
<thead><tr><th>heading</th></tr></thead><tbody>{ROWS}</tbody></table></body></html>"""


def _texts(path):
    return [page.extract_text() for page in PdfReader(BytesIO(path.read_bytes())).pages]


def test_pdf_has_numbered_pages_and_repeats_the_heads_of_tables(tmp_path):
    if not os.environ.get("CI"):  # at home the system's text library may be missing
        pytest.importorskip("weasyprint", exc_type=OSError)
    texts = _texts(write_page("report", tmp_path / "page.pdf", LONG))
    assert len(texts) > 1
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(texts)}" in text
        assert "heading" in text
    assert re.findall(r"row (\d+)\n", "".join(texts)) == [str(n) for n in range(120)]


def test_html_is_written_as_it_stands(tmp_path):
    path = write_page("report", tmp_path / "page.html", "<p>5 µm</p>")
    assert path.read_text(encoding="utf-8") == "<p>5 µm</p>"


def test_without_its_package_pdf_is_refused_with_what_to_do(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(InputError) as caught:
        write_page("report", tmp_path / "page.pdf", "<p>5 µm</p>")
    assert "print it from a browser" in str(caught.value)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["readings.csv", "page", "page.html.txt"])
def test_only_pages_are_written_over(name, tmp_path):
    with pytest.raises(InputError, match=r"a page ends in \.html or \.pdf, got"):
        page_path("report", tmp_path / name)


def test_a_name_cannot_break_out_of_the_style_sheet():
    style = as_css_text('lathe"; } </style><script>')
    assert not {'"', "<"} & {*style}
    page = template("report.html")  # it is used there, inside a style sheet
    assert page.environment.autoescape

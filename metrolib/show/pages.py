"""Pages: how the files that a browser prints are named, filled in and written."""

import logging
from functools import cache
from importlib.resources import files
from pathlib import Path

import jinja2

from metrolib import checks
from metrolib.errors import MetrolibError, SurveyError
from metrolib.survey.files import write_files

#: What a page is named; anything else, such as a file of the survey, is not written over.
_PAGES = {".html", ".htm", ".pdf"}


def page_path(argument, path):
    """Return where a page is to be written, absolute.

    Raises
    ------
    InputError
        If the file is not named as a page.
    """
    path = Path(path).absolute()
    if path.suffix.lower() not in _PAGES:
        raise checks.wrong(argument, "a page ends in .html or .pdf", repr(path.name), "name it so")
    return path


def template(name):
    """Load a page of this folder; autoescape guards against markup in names and notes."""
    return _environment().get_template(name)


@cache
def _environment():
    """Return what fills in the pages of this folder; one may take a piece from another."""
    loader = jinja2.FunctionLoader(
        lambda name: files("metrolib.show").joinpath(name).read_text(encoding="utf-8")
    )
    return jinja2.Environment(loader=loader, autoescape=True, trim_blocks=True, lstrip_blocks=True)


def as_css_text(text):
    r"""Return a text as it may stand between the quotes of a style sheet inside a page.

    Examples
    --------
    >>> print(as_css_text('the "big" <lathe>'))
    the \22 big\22  \3c lathe>
    """
    return "".join(f"\\{ord(sign):x} " if sign in '"\\<\n\r' else sign for sign in text)


def write_page(argument, path, page):
    """Write a page in one step, as HTML or as PDF by the name of its file; return its path.

    Raises
    ------
    InputError
        If PDF is asked for and what makes it is not installed.
    MetrolibError
        If the file cannot be written: where, why, and what to do.
    """
    raw = _as_pdf(argument, page) if path.suffix.lower() == ".pdf" else page.encode("utf-8")
    try:
        write_files(path.parent, {path.name: raw})
    except SurveyError as error:
        raise MetrolibError(f"{argument}: {error.faults[0]}") from error
    return path


def _as_pdf(argument, page):
    """Return a page as PDF."""
    try:
        from weasyprint import HTML
    except (ImportError, OSError) as error:  # OSError: the system's text library is missing
        raise checks.wrong(
            argument,
            "PDF needs the package weasyprint",
            f"{type(error).__name__}",
            'install the extra "pdf", or write .html and print it from a browser',
        ) from error
    # it warns of each style of a picture that it draws all the same
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    return HTML(string=page).write_pdf()

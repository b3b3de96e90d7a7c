"""Pages: how the files that a browser prints are named, filled in and written."""

from functools import cache
from importlib.resources import files
from pathlib import Path

import jinja2

from metrolib import checks
from metrolib.errors import MetrolibError, SurveyError
from metrolib.survey.files import write_files

#: What a page is named; anything else, such as a file of the survey, is not written over.
_PAGES = {".html", ".htm"}


def page_path(argument, path):
    """Return where a page is to be written, absolute.

    Raises
    ------
    InputError
        If the file is not named as a page.
    """
    path = Path(path).absolute()
    if path.suffix.lower() not in _PAGES:
        raise checks.wrong(argument, "a page ends in .html", repr(path.name), "name it so")
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


def write_page(argument, path, page):
    """Write a page in one step, and return its path.

    Raises
    ------
    MetrolibError
        If the file cannot be written: where, why, and what to do.
    """
    try:
        write_files(path.parent, {path.name: page.encode("utf-8")})
    except SurveyError as error:
        raise MetrolibError(f"{argument}: {error.faults[0]}") from error
    return path

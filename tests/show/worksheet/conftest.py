"""A small survey folder and a worksheet open in it."""

import pytest

from metrolib.show.worksheet.worksheet import worksheet
from metrolib.survey.folder import blank_survey
from metrolib.survey.machine import Face

FACES = (
    Face("front flat", y=0, width=40, x_from=0, x_to=600),
    Face("rear flat", y=180, width=40, x_from=0, x_to=600),
)


@pytest.fixture
def folder(tmp_path):
    """A blank survey: a level along two flats, out and turned back, and across them."""
    return blank_survey(tmp_path / "bed", "Bench lathe", faces=FACES)


@pytest.fixture
def sheet(folder):
    """A worksheet open in that folder."""
    opened = worksheet(folder)
    yield opened
    opened.close()

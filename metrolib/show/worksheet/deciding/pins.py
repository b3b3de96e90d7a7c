"""Pins: the options pinned while deciding, kept beside the survey until they are taken away.

They are no part of the survey: its decision and its options are what survey.toml says.
"""

from metrolib.show.worksheet.disk.kept import HIDDEN
from metrolib.show.worksheet.disk.lock import FolderLock
from metrolib.survey.conditions import take_options
from metrolib.survey.edits import add_option, drop_option
from metrolib.survey.files import read_file, write_files
from metrolib.survey.places import Places
from metrolib.survey.sections import Book
from metrolib.survey.syntax import load_toml

FILE = "pinned.toml"


def pins_of(folder, faces):
    """Return the pinned options of a survey folder.

    Parameters
    ----------
    folder : Path
    faces : iterable of str
        Names of the machine's faces.

    Returns
    -------
    dict of str to Decision
        By name, in the order in which they were pinned; what no longer fits the survey, such as
        one for a face of another name, is left out, and stays in the file.
    """
    document = load_toml(_text(folder))
    book = Book(FILE, Places(document.text))
    return take_options(book, document.tables.get("options", {}).items(), {}, {*faces})


def keep_pin(folder, name, decision):
    """Keep an option; one of the same name is replaced.

    Raises
    ------
    SurveyError
        If the folder cannot be written.
    """
    _change(folder, lambda text: add_option(drop_option(text, name), name, decision))


def drop_pin(folder, name):
    """Take an option away; nothing happens where it is not kept.

    Raises
    ------
    SurveyError
        If the folder cannot be written.
    """
    _change(folder, lambda text: drop_option(text, name))


def _change(folder, change):
    hidden = folder / HIDDEN
    with FolderLock(hidden):
        before = _text(folder)
        after = change(before)
        if after != before:
            write_files(hidden, {FILE: after.encode("utf-8")})


def _text(folder):
    """Return what is kept as TOML; empty where nothing is, or where another hand has spoilt it."""
    text, _, _ = read_file(folder / HIDDEN / FILE, FILE)
    document = load_toml(text or "")
    sound = not document.faults and isinstance(document.tables.get("options", {}), dict)
    return text if text and sound else ""

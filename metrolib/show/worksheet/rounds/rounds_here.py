"""Rounds here: the folders in which the rounds of work on one machine are surveyed."""

import re

from metrolib import checks
from metrolib.show.worksheet.rounds.states import first_of, states_of
from metrolib.survey.rounds import FOLDER
from metrolib.survey.rounds_begun import blank_round

#: A round's name: its number, and more if its owner likes.
_NAME = re.compile(r"(\d+)(?: [\w .,-]*\w)?")


def rounds_of(folder):
    """Return the folders of the rounds of work by their names, in the order of the work.

    Parameters
    ----------
    folder : Path
        That of the first survey, or of one of its rounds.
    """
    _, *rounds = states_of(folder).values()
    return {path.name: path for path in rounds}


def folder_of_round(folder, name):
    """Return the folder of one round.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    rounds = rounds_of(folder)
    checks.choice("name", name, tuple(rounds))
    return rounds[name]


def begin_round(folder, survey, name=None, traverses=None):
    """Write the folder of a new round of work, and return it.

    Parameters
    ----------
    folder : Path
        That of the first survey, or of one of its rounds.
    survey : Survey
        Its machine, instruments and stations are taken over.
    name : str, optional
        It begins with the number of the round; the next number when not given.
    traverses : iterable of str, optional
        Those that are read again; all when not given.

    Raises
    ------
    InputError
        If the name has no number, there is a round of that number, or a traverse is unknown.
    SurveyError
        If the folder cannot be written.
    """
    inside = first_of(folder) / FOLDER
    there = [path.name for path in inside.iterdir()] if inside.is_dir() else []
    taken = {int(number[0]) for one in there if (number := re.match(r"\d+", one))}
    name = str(max(taken, default=0) + 1) if name is None else name
    number = _NAME.fullmatch(name) if isinstance(name, str) else None
    if number is None:
        remedy = "begin it with the number of the round, such as '2' or '2 after scraping'"
        raise checks.wrong("name", "this is no name of a round", repr(name), remedy)
    if int(number[1]) in taken:
        remedy = f"open it, or begin round {max(taken) + 1}"
        raise checks.wrong("name", f"there is a round {number[1]} already", repr(name), remedy)
    blank_round(survey, traverses).write(inside / name)
    return inside / name

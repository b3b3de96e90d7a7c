"""States of the work: the survey before any metal came off, and the rounds that followed it."""

import re

from metrolib.survey.rounds import FOLDER
from metrolib.survey.syntax import FILE

#: What the first survey is called.
BEFORE_WORK = "before work"


def first_of(folder):
    """Return the folder of the first survey of a machine, from that of any of its surveys."""
    return folder.parent.parent if folder.parent.name == FOLDER else folder


def states_of(folder):
    """Return the survey folders of one machine by what they are called, in the order of the work.

    Parameters
    ----------
    folder : Path
        That of the first survey, or that of a round.

    Returns
    -------
    dict of str to Path
        ``"before work"``, then ``"round 1"`` and so on.
    """
    first = first_of(folder)
    rounds = {
        int(number[0]): path
        for path in (first / FOLDER).glob("*")
        if (path / FILE).is_file() and (number := re.match(r"\d+", path.name))
    }
    return {BEFORE_WORK: first} | {
        f"round {rounds[number].name.replace('_', ' ')}": rounds[number]
        for number in sorted(rounds)
    }

"""States of the work: the survey before any metal came off, and the rounds that followed it."""

import re

from metrolib.survey.rounds import FOLDER
from metrolib.survey.syntax import FILE

#: What the first survey is called.
BEFORE_WORK = "before work"


def first_of(folder):
    """Return the folder of the first survey of a machine, from that of any of its surveys."""
    inside = folder.resolve().parent  # a relative name may not tell where it stands
    return inside.parent if inside.name == FOLDER else folder


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
    states = {BEFORE_WORK: first} | {
        f"round {rounds[number].name.replace('_', ' ')}": rounds[number]
        for number in sorted(rounds)
    }
    # the one that was asked from keeps the name by which its owner knows it
    here = folder.resolve()
    return {name: folder if path.resolve() == here else path for name, path in states.items()}

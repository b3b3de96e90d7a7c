"""Rounds: the surveys of one machine from the first to the finished state, as folders."""

import re
from dataclasses import replace
from pathlib import Path

from metrolib.errors import Fault, SurveyError
from metrolib.survey.folder import read_survey
from metrolib.survey.syntax import FILE

#: The folder, inside that of the first survey, which holds one survey folder for each round.
FOLDER = "rounds"

#: How the first survey is called, that before any metal came off.
START = "start"


def read_rounds(folder):
    """Read the survey of a machine and those of the rounds of work that followed it.

    Parameters
    ----------
    folder : str or Path
        The folder of the first survey. Its folder ``rounds`` holds one survey folder for each
        round, named by its number, and more if you like: ``1``, ``2``, ``3 after scraping``. Each
        is a survey like any other, which may name fewer traverses and other instruments.

    Returns
    -------
    dict of str to Survey
        ``"start"``, then the rounds by the names of their folders, in the order of their numbers.

    Raises
    ------
    SurveyError
        With every fault of all the surveys; also if there is no round, a name has no number, or
        two have the same, or a round is of another machine.
    InputError
        If `folder` is no path.
    """
    surveys, faults = {}, []
    _read(START, folder, surveys, faults)
    ordered = _in_order(Path(folder), faults)
    for name, path in ordered.items():
        _read(name, path, surveys, faults)
    faults += _other_machines(surveys)
    if faults:
        raise SurveyError(faults)
    return surveys


def _read(name, folder, surveys, faults):
    """Read one survey, or note its faults."""
    try:
        surveys[name] = read_survey(folder)
    except SurveyError as error:
        faults += [_within(name, fault) for fault in error.faults]


def _in_order(folder, faults):
    """Return the folders of the rounds by name, in the order of their numbers."""
    inside = folder / FOLDER
    found = sorted(path for path in inside.iterdir() if path.is_dir()) if inside.is_dir() else []
    faults += [] if found else [_none(folder)]
    numbers = {}
    for path in found:
        number = re.match(r"\d+", path.name)
        if number is None:
            faults.append(_unnumbered(path))
        elif int(number[0]) in numbers:
            faults.append(_twice(path, numbers[int(number[0])]))
        else:
            numbers[int(number[0])] = path
    return {numbers[number].name: numbers[number] for number in sorted(numbers)}


def _none(folder):
    """Return the fault of a folder without a round."""
    remedy = f"make a survey folder for each round in {FOLDER}/, named 1, 2, 3"
    return Fault(f"{folder.name}/{FOLDER}", None, "there is no round in it", remedy)


def _unnumbered(path):
    """Return the fault of a folder whose place in the order nobody can tell."""
    remedy = "begin its name with the number of the round, such as 2"
    return Fault(f"{FOLDER}/{path.name}", None, "its name does not begin with a number", remedy)


def _twice(path, other):
    """Return the fault of two folders with one number."""
    wrong = f"{other.name!r} has the same number"
    return Fault(f"{FOLDER}/{path.name}", None, wrong, "number each round once")


def _within(name, fault):
    """Return a fault with the round that it lies in."""
    if name == START:
        return fault
    there = "" if fault.file.endswith(name) else f"/{fault.file}"
    return replace(fault, file=f"{FOLDER}/{name}{there}")


def _other_machines(surveys):
    """Return a fault for each round that is of another machine than the first survey."""
    if START not in surveys:
        return []
    own = surveys[START].machine.name
    return [
        Fault(
            f"{FOLDER}/{name}/{FILE}",
            None,
            f"it is of the machine {survey.machine.name!r}, the first survey of {own!r}",
            "give the rounds the machine's name, or put them with their own machine",
        )
        for name, survey in surveys.items()
        if survey.machine.name != own
    ]

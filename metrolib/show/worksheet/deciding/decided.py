"""Decided: a choice written into survey.toml; what was decided before stays there as an option."""

from datetime import datetime

from metrolib.rebuild.removal.conditions import named
from metrolib.show.worksheet.disk.kept import HIDDEN
from metrolib.show.worksheet.disk.lock import FolderLock
from metrolib.survey.files import encode, write_files
from metrolib.survey.folder import read_survey
from metrolib.survey.syntax import FILE


def write_decision(folder, choice):
    """Write a decision into a survey folder; comments and all else stay as they are.

    Parameters
    ----------
    folder : Path
    choice : Decision

    Returns
    -------
    str
        What was done, in words.

    Raises
    ------
    SurveyError
        If a file cannot be read or written; then it is as it was.
    """
    (folder / HIDDEN).mkdir(exist_ok=True)
    with FolderLock(folder / HIDDEN):
        survey = read_survey(folder)
        before = survey.decision
        changes = {
            name: value for name, value in vars(choice).items() if value != getattr(before, name)
        }
        if not changes:
            return f"{FILE} has this decision already; nothing was written."
        kept = ""
        if before.faces:
            name = _new_name(f"before {datetime.now():%Y-%m-%d %H:%M}", survey.options)
            survey = survey.with_option(name, before)
            kept = f" What was decided before is kept as the option {name!r}."
        options, survey = survey.options, survey.with_decision(**changes)
        follow = [name for name, one in options.items() if one != survey.options[name]]
        if follow:
            kept += f" What an option leaves open follows it: so {named(follow)} changed too."
        write_files(folder, {FILE: encode(survey.toml_text, survey.encodings[0])})
    return f"Written into {FILE}.{kept}"


def _new_name(name, known):
    """Return a name that is none of the known ones."""
    new, number = name, 2
    while new in known:
        new, number = f"{name} ({number})", number + 1
    return new

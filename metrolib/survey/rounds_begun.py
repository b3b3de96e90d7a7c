"""Rounds begun: the survey of the next round of work, with the stations to be read again."""

from metrolib import checks
from metrolib.survey.additions import add_rows
from metrolib.survey.edits import keep_traverses
from metrolib.survey.folder import survey_from_texts
from metrolib.survey.table import read_table


def blank_round(survey, traverses=None):
    """Return the survey of a round of work, in which nothing is read yet.

    Parameters
    ----------
    survey : Survey
        Of the machine, before or during the work.
    traverses : iterable of str, optional
        Those to be read again; all when not given.

    Returns
    -------
    Survey
        The same machine, instruments, methods and decision; of each traverse the stations that it
        has, once each, in the same order. Prints are left out: they tell of another surface.

    Raises
    ------
    InputError
        If a traverse is unknown, or none is named.
    """
    names = tuple(survey.traverses) if traverses is None else _names(traverses)
    for name in names:
        checks.choice("traverses", name, tuple(survey.traverses))
    if not names:
        raise checks.wrong("traverses", "at least one is needed", "none", "name one")
    toml_text = keep_traverses(survey.toml_text, names)
    table = read_table(survey.readings_text, survey.readings_file)
    headings = survey.readings_text.removeprefix("\ufeff").splitlines()[table.heading_line - 1]
    rows = [row for row in _stations(survey) if row["traverse"] in names]
    if table.place("face") is None:  # the traverses name their faces
        rows = [{name: cell for name, cell in row.items() if name != "face"} for row in rows]
    text = add_rows(headings + table.line_end, rows, survey.readings_file)
    return survey_from_texts(toml_text, text, survey.readings_file)


def _names(traverses):
    return (traverses,) if isinstance(traverses, str) else tuple(traverses)


def _stations(survey):
    """Return a row without a reading for each station, in the order of the file."""
    found = {}
    for readings in (survey.planned, survey.readings):
        names = "line", "traverse", "face", "x"
        columns = (getattr(readings, name).tolist() for name in names)
        for line, traverse, face, x in zip(*columns, strict=True):
            place = traverse, face, round(x * 100)
            row = {"traverse": traverse, "face": face, "x": x, "reading": None}
            if place not in found or found[place][0] > line:
                found[place] = line, row
    return [row for _, row in sorted(found.values(), key=lambda one: one[0])]

"""Losses: what a folder would lose if a survey were written over it."""

import numpy as np

from metrolib.errors import Fault
from metrolib.survey.columns import read_columns
from metrolib.survey.files import read_file
from metrolib.survey.places import Places
from metrolib.survey.syntax import FILE, TOLD, load_toml
from metrolib.survey.table import read_table


def read_rows(text, traverses, file):
    """Return the rows of a readings file as `Columns`, and the faults of the text.

    Parameters
    ----------
    text : str
    traverses : dict of str to Traverse
        They name the face of rows that name none.
    file : str
    """
    table = read_table(text, file)
    columns = read_columns(table, default_faces(traverses))
    return columns, [*table.faults, *columns.faults]


def default_faces(traverses):
    """Return the face that each traverse gives to rows which name none, where it gives one."""
    return {
        name: face
        for name, traverse in traverses.items()
        if isinstance(face := traverse.settings.get("face"), str)
    }


def lost_readings(survey, folder):
    """Return a fault where a folder holds readings that `survey` lacks, in a list.

    Parameters
    ----------
    survey : Survey
    folder : Path
    """
    name = survey.readings_file
    if not (folder / name).exists():
        return []
    text, _, fault = read_file(folder / name, name)
    if fault is not None:
        return [fault]
    if text == survey.readings_text:
        return []
    remedy = "read that folder and add to it, or write to another folder"
    there, faults = read_rows(text, survey.traverses, name)
    if faults:
        wrong = "the file that stands there has faults, so nobody can tell what would be lost"
        return [Fault(name, faults[0].line, wrong, remedy)]
    mine = set(_keys(survey.readings))
    read = there.rows.select(~np.isnan(there.rows.value))
    keys = zip(_keys(read), read.line.tolist(), strict=True)
    lost = [line for key, line in keys if key not in mine]
    if not lost:
        return []
    lines = ", ".join(map(str, lost[:8])) + (", ..." if len(lost) > 8 else "")
    wrong = f"it holds {len(lost)} readings that this survey lacks (lines {lines})"
    return [Fault(name, lost[0], wrong, remedy)]


def lost_prints(survey, folder):
    """Return a fault where the survey.toml of a folder holds prints that `survey` lacks, in a list.

    Parameters
    ----------
    survey : Survey
    folder : Path
    """
    document, fault = _other_settings(survey, folder)
    if document is None or fault is not None:
        return []  # the fault is told with the name of the machine
    mine = _prints(load_toml(survey.toml_text))
    lost = [number for number, row in enumerate(_prints(document)) if row not in mine]
    if not lost:
        return []
    wrong = f"it holds {len(lost)} prints that this survey lacks"
    remedy = "read that folder and add to it, or write to another folder"
    return [Fault(FILE, Places(document.text).line("prints", lost[0]), wrong, remedy)]


def other_machine(survey, folder):
    """Return a fault where the survey.toml of a folder is of another machine, in a list.

    Parameters
    ----------
    survey : Survey
    folder : Path
    """
    document, fault = _other_settings(survey, folder)
    if document is None or fault is not None:
        return [] if fault is None else [fault]
    remedy = "write to another folder, or read this one again if it is the same machine"
    machine = (document.tables or {}).get("machine")
    name = machine.get("name") if isinstance(machine, dict) else None
    if not isinstance(name, str) or name == TOLD:
        wrong = "the file that stands there does not say of which machine it is"
        return [Fault(FILE, None, wrong, remedy)]
    if name == survey.machine.name:
        return []
    wrong = f"it is of the machine {name!r}, this survey is of {survey.machine.name!r}"
    return [Fault(FILE, Places(document.text).line("machine", "name"), wrong, remedy)]


def _other_settings(survey, folder):
    """Return the survey.toml of a folder where it differs from the survey's, and its fault."""
    if not (folder / FILE).exists():
        return None, None
    text, _, fault = read_file(folder / FILE, FILE)
    if fault is not None or text == survey.toml_text:
        return None, fault
    return load_toml(text), None


def _prints(document):
    """Return the tables [[prints]] as they stand, faulty or not."""
    rows = (document.tables or {}).get("prints", [])
    return rows if isinstance(rows, list) else []


def _keys(readings):
    """Return (traverse, face, x, repeat, value) of each reading."""
    columns = (readings.traverse, readings.face, readings.x, readings.repeat, readings.value)
    return zip(*(column.tolist() for column in columns), strict=True)

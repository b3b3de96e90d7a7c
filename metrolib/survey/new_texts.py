"""New texts: the two files of a survey that nobody has begun yet, and their folder."""

from pathlib import Path

from metrolib.errors import Fault, InputError, SurveyError
from metrolib.survey import wording
from metrolib.survey.agreement import check_agreement
from metrolib.survey.columns import read_columns
from metrolib.survey.examples import example_straightedge
from metrolib.survey.files import write_files
from metrolib.survey.machine import NORMALS
from metrolib.survey.rests import FLAT
from metrolib.survey.settings import FILE, read_settings
from metrolib.survey.sheets import UNDER_AN_EDGE, straightedge_length
from metrolib.survey.table import COLUMNS, read_table

READINGS_FILE = "readings.csv"


def new_texts(
    machine, faces, instruments, sheets, *, display="um", note="", edge=None, examples=None
):
    """Return the texts of survey.toml and of readings.csv, without readings yet.

    Parameters
    ----------
    machine : str
        Its name.
    faces : list of Face
    instruments : list of Instrument
        All that the sheets name.
    sheets : list of Sheet
        The traverses, with their stations.
    display : str
    note : str
        Of the machine.
    edge : Straightedge, optional
        Where a sheet is read under one; an example without it.
    examples : dict of str to container of str, optional
        By instrument the keys whose value nobody has given.

    Raises
    ------
    InputError
        If they lead to a survey that could not be read.
    """
    head = wording.HEAD.format(
        display=wording.quoted(display), machine=wording.quoted(machine), note=wording.quoted(note)
    )
    toml_text = head + _toml_text(faces, instruments, sheets, edge, examples or {})
    readings_text = _readings_text(sheets)
    _refuse_faults(toml_text, readings_text)
    return toml_text, readings_text


def traverse_tables(sheets):
    """Return the tables of survey.toml for some sheets.

    Parameters
    ----------
    sheets : iterable of Sheet
    """
    return "".join(
        wording.TRAVERSE.format(
            name=wording.quoted(sheet.name),
            kind=wording.quoted(sheet.kind),
            instrument=wording.quoted(sheet.instrument),
            keys="".join(f"{key}\n" for key in sheet.keys),
        )
        for sheet in sheets
    )


def write_new(folder, texts):
    """Write the two texts of a new survey into a folder, and return it.

    Parameters
    ----------
    folder : str or Path
        Made if it does not exist.
    texts : (str, str)
        Of survey.toml and readings.csv.

    Raises
    ------
    SurveyError
        If the folder holds a survey already, or cannot be written.
    """
    folder = Path(folder)
    for name in (FILE, READINGS_FILE):
        if (folder / name).exists():
            remedy = "choose another folder, or read_survey this one"
            raise SurveyError([Fault(name, None, f"it stands already in {str(folder)!r}", remedy)])
    toml_text, readings_text = (text.encode() for text in texts)
    write_files(folder, {READINGS_FILE: readings_text, FILE: toml_text})
    return folder


def _toml_text(faces, instruments, sheets, edge, examples):
    quoted = wording.quoted
    parts = [_face_text(face) for face in faces]
    parts.append(wording.INSTRUMENTS_HEAD)
    for tool in instruments:
        parts.append(wording.instrument_text(tool, examples.get(tool.name, ())))
    if any(sheet.kind in UNDER_AN_EDGE for sheet in sheets):
        edge = edge or example_straightedge(straightedge_length(faces))
        parts.append(wording.STRAIGHTEDGE.format(**{**vars(edge), "name": quoted(edge.name)}))
    parts.append(wording.TRAVERSES_HEAD)
    parts.append(traverse_tables(sheets))
    together = [face for face in faces if face.up > FLAT]
    together = together or [face for face in faces if face.up > 0] or faces[:1]
    names = ", ".join(quoted(face.name) for face in together)
    parts.append(wording.DECISION.format(faces=names, first=quoted(together[0].name)))
    return "".join(parts)


def _face_text(face):
    words = {angle: word for word, angle in NORMALS.items()}
    left_out = ", ".join(
        f"{{ x_from = {one.x_from:g}, x_to = {one.x_to:g}, reason = {wording.quoted(one.reason)} }}"
        for one in face.left_out
    )
    return wording.FACE.format(
        name=wording.quoted(face.name),
        y=face.y,
        width=face.width,
        x_from=face.x_from,
        x_to=face.x_to,
        normal=wording.quoted(words[face.normal]) if face.normal in words else f"{face.normal:g}",
        nominal_height=face.nominal_height,
        left_out=left_out,
        note=wording.quoted(face.note),
    )


def _readings_text(sheets):
    """Return the rows to be filled in; names with a comma are put in quotes."""
    lines = [",".join(COLUMNS)]
    for sheet in sheets:
        for face, x in sheet.stations:
            lines.append(f"{_cell(sheet.name)},{_cell(face)},{x:.10g},,,,")
    return "\n".join(lines) + "\n"


def _cell(text):
    return '"' + text.replace('"', '""') + '"' if any(sign in text for sign in ',"\n\r') else text


def _refuse_faults(toml_text, readings_text):
    """Refuse faces that lead to a survey which could not be read."""
    settings = read_settings(toml_text)
    faults = list(settings.faults)
    if not faults:
        columns = read_columns(read_table(readings_text), {})
        faults = check_agreement(settings, columns, READINGS_FILE, FILE)
    if faults:
        told = "; ".join(f"{fault.wrong}; {fault.remedy}" for fault in faults)
        raise InputError(f"faces: they make no survey: {told}")

"""Blank: a survey folder ready to fill in, with example values and the stations to be read."""

from collections.abc import Mapping
from pathlib import Path

from metrolib import checks
from metrolib.errors import Fault, InputError, SurveyError
from metrolib.survey import wording
from metrolib.survey.agreement import check_agreement
from metrolib.survey.columns import read_columns
from metrolib.survey.faces import take_face
from metrolib.survey.files import write_files
from metrolib.survey.machine import NORMALS, Face
from metrolib.survey.places import Places
from metrolib.survey.readings import KINDS, OWN
from metrolib.survey.sections import Book, Section
from metrolib.survey.settings import FILE, read_settings
from metrolib.survey.sheets import plan_sheets, straightedge_length
from metrolib.survey.table import COLUMNS, read_table
from metrolib.units import DISPLAYS

READINGS_FILE = "readings.csv"

#: The faces that a blank survey describes where none are given: a bed with two flats and a ledge.
EXAMPLE_FACES = (
    Face("front flat", y=0, width=40, x_from=0, x_to=1000),
    Face("rear flat", y=180, width=40, x_from=0, x_to=1000),
    Face("front ledge", y=0, width=20, x_from=0, x_to=1000, normal=180, nominal_height=25),
)


def blank_survey(
    folder,
    machine="My machine",
    *,
    faces=EXAMPLE_FACES,
    kinds=("level along", "level across"),
    display="um",
):
    """Write a survey folder ready to fill in.

    Its survey.toml explains each key and holds example values for instruments and set-ups; its
    readings.csv has one row for each station, with the reading left empty.

    Parameters
    ----------
    folder : str or Path
        Made if it does not exist.
    machine : str
        Name of the machine.
    faces : dict of str to dict, or iterable of Face
        The faces: as `Face`, or by name with the keys of survey.toml (``y``, ``width``,
        ``x_from``, ``x_to`` [mm], ``normal``, ...). Without them an example bed is described.
    kinds : str or iterable of str
        The reading kinds to prepare: of `metrolib.survey.readings.KINDS`, or ``"own: NAME"``.
    display : str
        ``"um"`` or ``"thou"``; it also chooses the units of the example instruments.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    InputError
        If a face, a kind or the display cannot be used, or a kind needs faces that are not there.
    SurveyError
        If the folder holds a survey already, or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> flat = {"y": 0, "width": 40, "x_from": 0, "x_to": 800}
    >>> with tempfile.TemporaryDirectory() as place:
    ...     folder = blank_survey(
    ...         f"{place}/my_lathe", "My lathe", faces={"front flat": flat}, kinds="level along"
    ...     )
    ...     print((folder / "readings.csv").read_text().splitlines()[1])
    level along front flat,front flat,0,,,,
    """
    try:
        folder = Path(folder)
    except TypeError:
        raise checks.wrong("folder", "a path is needed", repr(folder), "give a name") from None
    checks.choice("display", display, DISPLAYS)
    if not isinstance(machine, str) or not machine.strip():
        raise checks.wrong("machine", "a name is needed", repr(machine), "name the machine")
    faces = _as_faces(faces)
    sheets = [sheet for kind in _as_kinds(kinds) for sheet in plan_sheets(kind, faces)]
    toml_text, readings_text = _toml_text(machine, faces, sheets, display), _readings_text(sheets)
    _refuse_faults(toml_text, readings_text)
    for name in (FILE, READINGS_FILE):
        if (folder / name).exists():
            remedy = "choose another folder, or read_survey this one"
            raise SurveyError([Fault(name, None, f"it stands already in {str(folder)!r}", remedy)])
    contents = {READINGS_FILE: readings_text.encode(), FILE: toml_text.encode()}
    write_files(folder, contents)
    return folder


def _as_faces(faces):
    """Return the faces as a list of `Face`, whichever way they were given."""
    if not isinstance(faces, Mapping):
        faces = list(faces)
        for place, face in enumerate(faces):
            if not isinstance(face, Face):
                remedy = "give Face objects, or a dict of name to keys"
                raise checks.wrong(f"faces[{place}]", "this is no Face", repr(face)[:60], remedy)
        if len({face.name for face in faces}) < len(faces):
            names = [face.name for face in faces]
            raise checks.wrong("faces", "a name stands twice", names, "give each its own name")
    else:
        faces = [_as_face(name, face) for name, face in faces.items()]
    if not faces:
        raise InputError("faces: at least one is needed, got none; describe a face")
    return faces


def _as_face(name, face):
    if isinstance(face, Face):
        return face
    table = dict(face) if isinstance(face, Mapping) else face
    book = Book("faces", Places(""))
    section = Section(book, (name,), table, f"face {name!r}")
    taken = take_face(section)
    if not section.sound:
        told = "; ".join(f"{fault.wrong}; {fault.remedy}" for fault in book.faults)
        raise InputError(f"faces: {told}")
    return taken


def _as_kinds(kinds):
    kinds = [kinds] if isinstance(kinds, str) else list(dict.fromkeys(kinds))
    if not kinds:
        raise InputError("kinds: at least one is needed, got none; name a reading kind")
    for kind in kinds:
        if not (isinstance(kind, str) and kind.startswith(OWN) and kind.removeprefix(OWN).strip()):
            checks.choice("kinds", kind, (*KINDS, "own: NAME"))
    return kinds


def _toml_text(machine, faces, sheets, display):
    quoted = wording.quoted
    parts = [wording.HEAD.format(display=quoted(display), machine=quoted(machine))]
    parts += [_face_text(face) for face in faces]
    parts.append(wording.INSTRUMENTS_HEAD)
    for name in dict.fromkeys(sheet.instrument for sheet in sheets):
        parts.append(wording.instrument_text(name, display))
    if any(sheet.kind in ("straightedge", "feeler gap") for sheet in sheets):
        parts.append(wording.STRAIGHTEDGE.format(length=straightedge_length(faces)))
    parts.append(wording.TRAVERSES_HEAD)
    for sheet in sheets:
        text = wording.TRAVERSE.format(
            name=quoted(sheet.name),
            kind=quoted(sheet.kind),
            instrument=quoted(sheet.instrument),
            keys="".join(f"{key}\n" for key in sheet.keys),
        )
        parts.append(text)
    together = [face for face in faces if face.up > 0] or faces[:1]
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

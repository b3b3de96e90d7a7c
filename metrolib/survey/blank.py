"""Blank: a survey folder ready to fill in, with example values and the stations to be read."""

from collections.abc import Mapping
from pathlib import Path

from metrolib import checks
from metrolib.errors import InputError
from metrolib.survey.examples import example_instrument
from metrolib.survey.faces import take_face
from metrolib.survey.layouts import LAYOUTS
from metrolib.survey.machine import Face
from metrolib.survey.new_texts import new_texts, write_new
from metrolib.survey.places import Places
from metrolib.survey.readings import KINDS, OWN
from metrolib.survey.sections import Book, Section
from metrolib.survey.sheets import plan_sheets
from metrolib.units import DISPLAYS

#: The faces that a blank survey describes where none are given: a bed with two flats and a ledge.
EXAMPLE_FACES = LAYOUTS["two flats and a ledge"]


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
    tools = [
        example_instrument(name, display)
        for name in dict.fromkeys(sheet.instrument for sheet in sheets)
    ]
    return write_new(folder, new_texts(machine, faces, tools, sheets, display=display))


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

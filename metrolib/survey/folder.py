"""Folder: survey.toml and readings.csv, read with every fault in one pass, changed and written."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from metrolib import checks
from metrolib.errors import Fault, SurveyError
from metrolib.survey.additions import add_rows
from metrolib.survey.agreement import check_agreement
from metrolib.survey.blank import blank_survey
from metrolib.survey.carried import Carried, Drive
from metrolib.survey.decision import Decision
from metrolib.survey.edits import add_option, change_decision
from metrolib.survey.files import encode, inside, read_file, write_files
from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.survey.losses import (
    default_faces,
    lost_prints,
    lost_readings,
    other_machine,
    read_rows,
)
from metrolib.survey.machine import Machine
from metrolib.survey.methods import Method
from metrolib.survey.places import Places
from metrolib.survey.prints import Print
from metrolib.survey.readings import Readings, Traverse
from metrolib.survey.settings import read_settings
from metrolib.survey.summary import as_html, as_text
from metrolib.survey.syntax import FILE, TOLD, load_toml

__all__ = ["Survey", "blank_survey", "read_survey", "survey_from_texts"]

READINGS_FILE = "readings.csv"


@dataclass(frozen=True, eq=False, repr=False)
class Survey:
    """A survey: what was measured on which machine, and what is to be decided.

    The two texts are the survey; the other attributes are what they say. A change edits the text
    and reads it again, so comments, unknown columns and the spelling of numbers survive.

    Attributes
    ----------
    machine : Machine
    instruments : dict of str to Instrument
    straightedges : dict of str to Straightedge
    traverses : dict of str to Traverse
    readings : Readings
        Rows with a reading, as read.
    planned : Readings
        Rows whose reading is still empty; their value is NaN.
    decision : Decision
    options : dict of str to Decision
    methods : tuple of Method
        Ways to take metal off, in order of work; empty where none are described.
    tolerances : dict of str to Tolerance
        What its finished state is judged by; empty where it says nothing.
    display : str
        ``"um"`` or ``"thou"``.
    prints : tuple of Print
        The print log: where blue came off.
    toml_text, readings_text : str
        The files as they were read, line ends and byte-order mark included.
    readings_file : str
        Name of the readings file inside the folder.
    encodings : tuple of str
        Of the two files.
    carried : dict of str to Carried
        What rides or stands on the faces.
    drive : Drive or None
        What is fixed to the bed and stays where it is.
    """

    machine: Machine
    instruments: dict[str, Instrument]
    straightedges: dict[str, Straightedge]
    traverses: dict[str, Traverse]
    readings: Readings
    planned: Readings
    decision: Decision
    options: dict[str, Decision]
    methods: tuple[Method, ...]
    display: str
    toml_text: str
    readings_text: str
    readings_file: str = READINGS_FILE
    encodings: tuple[str, str] = field(default=("utf-8", "utf-8"))
    carried: dict[str, Carried] = field(default_factory=dict)
    drive: Drive | None = None
    tolerances: dict = field(default_factory=dict)
    prints: tuple[Print, ...] = ()

    def with_readings(self, rows):
        """Return a survey with more readings, written in the dialect of its own file.

        A reading that is planned (a row of the same traverse, face, x and repeat whose reading is
        still empty) is written into its row; the others are appended.

        Parameters
        ----------
        rows : iterable of dict, or DataFrame
            One reading each, with the columns ``traverse``, ``x``, ``reading`` and, as wanted,
            ``face``, ``repeat``, ``order``, ``note`` or any other column of the file. A reading of
            None writes a row that is planned only, unless it is planned already.

        Returns
        -------
        Survey

        Raises
        ------
        InputError
            If a key is no column, a number is missing or not finite, or a planned row has another
            order, note or the like already.
        SurveyError
            If the readings do not fit the survey; the lines are those that they would have.
        """
        faces = default_faces(self.traverses)
        text = add_rows(self.readings_text, rows, self.readings_file, faces)
        return survey_from_texts(self.toml_text, text, self.readings_file, self.encodings)

    def with_decision(self, **changes):
        """Return a survey with a changed ``[decision]``; comments survive.

        Parameters
        ----------
        **changes
            Attributes of `Decision` with their new values; None takes a tilt's bound or the
            confidence off.

        Returns
        -------
        Survey

        Raises
        ------
        InputError
            If `Decision` has no such attribute.
        SurveyError
            If a value cannot be used.
        """
        text = change_decision(self.toml_text, changes)
        return survey_from_texts(text, self.readings_text, self.readings_file, self.encodings)

    def with_option(self, name, decision):
        """Return a survey with one more option beside its decision, written out in full.

        Parameters
        ----------
        name : str
        decision : Decision

        Returns
        -------
        Survey

        Raises
        ------
        InputError
            If an option has the name already.
        SurveyError
            If a value cannot be used.
        """
        text = add_option(self.toml_text, name, decision)
        return survey_from_texts(text, self.readings_text, self.readings_file, self.encodings)

    def write(self, folder):
        """Write both files into a folder, each at one stroke.

        Parameters
        ----------
        folder : str or Path
            Made if it does not exist.

        Raises
        ------
        SurveyError
            If the folder's files hold readings or prints that this survey lacks, if its survey.toml
            names another machine, if a file is a link that points outside the folder, or if
            something cannot be written.
        """
        folder = as_path(folder)
        for name in (self.readings_file, FILE):
            if (wrong := inside(folder, name)) is not None:
                raise SurveyError([Fault(name, None, wrong, "write to another folder")])
        faults = other_machine(self, folder) + lost_readings(self, folder)
        faults += lost_prints(self, folder)
        if faults:
            raise SurveyError(faults)
        toml_encoding, readings_encoding = self.encodings
        write_files(
            folder,
            {
                self.readings_file: encode(self.readings_text, readings_encoding),
                FILE: encode(self.toml_text, toml_encoding),
            },
        )

    def __repr__(self):
        return as_text(self)

    def _repr_html_(self):
        return as_html(self)


def read_survey(folder):
    """Read a survey folder.

    Parameters
    ----------
    folder : str or Path
        It holds survey.toml and readings.csv (or the file that the key `readings` names).

    Returns
    -------
    Survey

    Raises
    ------
    SurveyError
        With every fault of both files.
    InputError
        If `folder` is no path.
    """
    folder = as_path(folder)
    if not folder.is_dir():
        remedy = "check its name, or make one with blank_survey"
        raise SurveyError([Fault(str(folder), None, "there is no such folder", remedy)])
    faults = []
    toml_text, toml_encoding, fault = _read_inside(folder, FILE, FILE)
    faults += [fault] if fault is not None else []
    document = load_toml(toml_text or "")
    name = (document.tables or {}).get("readings", READINGS_FILE)
    if name == TOLD or (document.tables is None and not (folder / name).exists()):
        # nobody can tell how the readings file is called before survey.toml is mended
        return survey_from_texts(toml_text, None, known_faults=faults)
    readings_text, readings_encoding, fault = _read_inside(folder, name, name)
    if fault is not None and fault.file == FILE:
        fault = Fault(FILE, Places(document.text).line("readings"), fault.wrong, fault.remedy)
    faults += [fault] if fault is not None else []
    return survey_from_texts(
        toml_text, readings_text, name, (toml_encoding, readings_encoding), known_faults=faults
    )


def survey_from_texts(
    toml_text,
    readings_text,
    readings_file=READINGS_FILE,
    encodings=("utf-8", "utf-8"),
    *,
    known_faults=(),
    settings=None,
):
    """Make a survey of the texts of its two files.

    Parameters
    ----------
    toml_text, readings_text : str or None
        None where a file could not be read and `known_faults` says why.
    readings_file : str
        Name of the readings file.
    encodings : tuple of str
        How `Survey.write` encodes the two files.
    known_faults : iterable of Fault
        Faults to be listed with those found here.
    settings : Settings, optional
        What `toml_text` says, where it was read before: that saves the time to read it again.

    Returns
    -------
    Survey

    Raises
    ------
    SurveyError
        With every fault of both texts.
    """
    faults = list(known_faults)
    settings = read_settings(toml_text or "") if settings is None else settings
    if toml_text is not None:
        faults += settings.faults
    columns = None
    if readings_text is not None:
        columns, found = read_rows(readings_text, settings.traverses, readings_file)
        faults += found
    if columns is not None and toml_text is not None and settings.names:
        faults += check_agreement(settings, columns, readings_file, FILE)
    if faults:
        order = {FILE: 0, readings_file: 1}
        raise SurveyError(
            sorted(faults, key=lambda fault: (order.get(fault.file, 2), fault.line or 0))
        )
    empty = np.isnan(columns.rows.value)
    return Survey(
        machine=settings.machine,
        instruments=settings.instruments,
        straightedges=settings.straightedges,
        traverses=settings.traverses,
        readings=columns.rows.select(~empty),
        planned=columns.rows.select(empty),
        decision=settings.decision,
        options=settings.options,
        methods=settings.methods,
        display=settings.display,
        toml_text=toml_text,
        readings_text=readings_text,
        readings_file=readings_file,
        encodings=tuple(encodings),
        carried=settings.carried,
        drive=settings.drive,
        tolerances=settings.tolerances,
        prints=settings.prints,
    )


def as_path(folder):
    """Return a folder's name as a path.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return Path(folder)
    except TypeError:
        raise checks.wrong(
            "folder", "a path is needed", repr(folder), "give the folder's name"
        ) from None


def _read_inside(folder, name, shown):
    """Read a file that must lie inside the folder."""
    wrong = inside(folder, name)
    if wrong is None:
        return read_file(folder / name, shown)
    wrong = wrong if name == FILE else f"readings = {wrong}"
    return (
        None,
        None,
        Fault(FILE, None, wrong, 'name a file inside the folder, such as "readings.csv"'),
    )

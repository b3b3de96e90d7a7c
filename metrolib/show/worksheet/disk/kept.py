"""Kept: a survey folder under several writers; what is typed is on disk before the next prompt."""

import os
from contextlib import suppress

from metrolib.errors import Fault, SurveyError
from metrolib.show.worksheet.disk import told
from metrolib.show.worksheet.disk.history import History
from metrolib.show.worksheet.disk.lock import FolderLock
from metrolib.show.worksheet.disk.merging import merged, values_by_place
from metrolib.show.worksheet.disk.others import changes_elsewhere, last_readings
from metrolib.show.worksheet.disk.presence import Presence
from metrolib.show.worksheet.disk.reached import Reached
from metrolib.survey.files import encode, read_file, write_files
from metrolib.survey.folder import read_survey, survey_from_texts
from metrolib.survey.losses import default_faces
from metrolib.survey.settings import read_settings
from metrolib.survey.syntax import FILE

#: Folder for the lock, for how far the history has got into readings.csv, and for who is here.
HIDDEN = ".open_worksheets"


class _SavedMeanwhileError(Exception):
    """Another program has saved a file of the survey while it was about to be replaced."""


class Kept:
    """The readings of a survey folder, as a worksheet keeps them.

    Each change is first a line of history.csv, flushed to the disk, and then merged into what
    readings.csv says at that moment. Where a step fails it is made up for at the next write.

    Parameters
    ----------
    folder : Path

    Attributes
    ----------
    survey : Survey
        As on disk when it was last looked at, with all changes that could not be merged yet.
    history : History
    news : list of str
        What the user should be told.
    """

    def __init__(self, folder):
        self.folder, self._hidden = folder, folder / HIDDEN
        self.news = []
        self._unwritten, self._in_readings = [], set()  # what history.csv lacks; tokens of it
        self.survey = None
        self.history = History(folder)
        self.history.read_on()
        self._read(read_survey(folder))
        self._reached = Reached(self._hidden, len(self.history.events))
        self._lacking = []
        self._make_hidden()
        self._presence = Presence(self._hidden)
        self._tell(told.others_here(self._presence.others()))
        self._open()

    @property
    def events(self):
        """The history, with what could not be written into it yet."""
        return [*self.history.events, *self._unwritten]

    @property
    def unsaved(self):
        """Changes that are on no disk, a list of `Event`."""
        return [event for event in self._unwritten if event.token not in self._in_readings]

    def events_at(self, place):
        """Return the history of one reading."""
        return [event for event in self.events if event.place == place]

    def record(self, make):
        """Make events of the survey as it stands now, and keep them.

        Parameters
        ----------
        make : function
            Returns a list of events; called once, when all that others wrote is read.

        Returns
        -------
        list of Event
        """
        self._make_hidden()
        self._presence.touch()
        try:
            with FolderLock(self._hidden) as lock:
                readable = self._look()
                events = make()
                wrong = self._append(events)
                self._show(lock if readable else None)
        except SurveyError as error:  # the folder cannot be locked, so it cannot be written
            events = make()
            self._unwritten += events
            wrong = error.faults[0].wrong
            self._show()
        if wrong:
            self._tell(told.unwritten(len(self._unwritten), len(self.unsaved), wrong))
        return events

    def look(self):
        """Read what others have written meanwhile."""
        if self._stamp() != self._seen:
            self.record(list)

    def change(self, make):
        """Write a changed survey, both files at one stroke.

        Parameters
        ----------
        make : function
            Given the survey as it is on disk, it returns the changed one; called once, with the
            folder locked and all readings merged.

        Raises
        ------
        SurveyError
            If the folder cannot be locked, read or written.
        """
        self._make_hidden()
        with FolderLock(self._hidden) as lock:
            self._look()
            self._show(lock)
            changed = make(read_survey(self.folder))
            changed.write(self.folder)
            self._read(changed)
            self._seen = self._stamp()
            self._show(lock)

    def save_elsewhere(self, folder):
        """Write the survey and the history with all changes into another folder."""
        self.survey.write(folder)
        other = History(folder)
        other.read_on()
        known = {event.token for event in other.events}
        try:
            other.append([event for event in self.events if event.token not in known])
        except OSError as error:
            fault = Fault(other.path.name, None, told.refused(error), "choose another folder")
            raise SurveyError([fault]) from error
        return folder

    def close(self):
        """Take away the sign that the folder is open here."""
        self._presence.close()

    # --- what is on disk --------------------------------------------------------------------------

    def _read(self, survey):
        """Take in a survey as it is on disk."""
        if self.survey is None or survey.toml_text != self.survey.toml_text:
            self._settings = read_settings(survey.toml_text)
            self._faces = default_faces(survey.traverses)
        self.survey, self._text = survey, survey.readings_text
        self._values = values_by_place(survey.planned) | values_by_place(survey.readings)

    def _open(self):
        """Put into readings.csv what a power cut, or another program, kept out of it."""
        self._values |= {p: e.value for p, e in last_readings(self.history.events).items()}
        self._seen = None
        if self.history.events:
            self.record(list)

    def _look(self):
        """Take in what others have written; False where readings.csv cannot be read."""
        stamp = self._stamp()
        if stamp == self._seen:
            return True
        others = self.history.read_on()
        self._unwritten += self.history.taken_out()
        expected = self._values | {p: e.value for p, e in last_readings(others).items()}
        self._tell(told.by_another(others))
        try:
            self._read(self._as_on_disk())
        except SurveyError as error:
            self._tell(told.unreadable(error))
            return False
        self._seen, self._lacking = stamp, []
        found = changes_elsewhere(expected, self._values, self.history.events)
        waiting = {event.place for event in self._waiting()}  # these are about to be merged anyway
        lacking, edits = ([one for one in part if one.place not in waiting] for part in found)
        self._tell(told.lacking(lacking), told.edited(edits))
        self._append(edits)
        self._lacking = lacking
        return True

    def _as_on_disk(self):
        """Return the survey of the folder; survey.toml is read only where it has changed."""
        old = self.survey
        toml_text, _, _ = read_file(self.folder / FILE, FILE)
        text, encoding, fault = read_file(self.folder / old.readings_file, old.readings_file)
        if toml_text != old.toml_text or fault is not None:
            return read_survey(self.folder)
        encodings = old.encodings[0], encoding
        return survey_from_texts(
            toml_text, text, old.readings_file, encodings, settings=self._settings
        )

    def _stamp(self):
        names = FILE, self.survey.readings_file, self.history.path.name
        return tuple(_stamp_of(self.folder / name) for name in names)

    def _tell(self, *sentences):
        """Add to the news what is not empty and does not stand there already."""
        self.news += [words for words in sentences if words and words not in self.news]

    # --- writing ---------------------------------------------------------------------------------

    def _append(self, events):
        """Write events into the history, with all that it lacks; return why that fails, or ""."""
        self._unwritten += events
        if not self._unwritten:
            return ""
        try:
            self.history.append(self._unwritten)
        except OSError as error:
            return told.refused(error)
        self._unwritten, self._in_readings = [], set()
        return ""

    def _show(self, lock=None):
        """Make `survey` say what there is; write it into readings.csv where it may be written."""
        file = self.survey.readings_file
        # without the history readings.csv takes only what overwrites no older number
        ready = [*self._waiting(), *(event for event in self._unwritten if not event.was)]
        text = merged(self._text, ready, file, self._faces)
        shown = merged(text, self._unwritten, file, self._faces)
        if shown != self.survey.readings_text:
            old = self.survey
            try:
                self.survey = survey_from_texts(
                    old.toml_text, shown, old.readings_file, old.encodings, settings=self._settings
                )
            except SurveyError as error:
                self._tell(told.unfit(error))
                return
        if lock is not None and ready and lock.held():
            try:
                self._write(text, ready)
            except _SavedMeanwhileError:
                self._show(lock if self._look() else None)
                return
        self._seen = self._stamp() if lock is not None else None

    def _write(self, text, events):
        """Write readings.csv, in which events have happened; told where that fails."""
        survey = self.survey
        if text != self._text:
            contents = {survey.readings_file: encode(text, survey.encodings[1])}
            try:
                write_files(self.folder, contents, last_look=self._refuse_other_text)
            except SurveyError as error:
                if not self._unwritten:  # else there is worse to tell
                    self._tell(told.unmerged(survey.readings_file, error.faults[0].wrong))
                return
        self._text, self._lacking = text, []
        self._values |= {p: e.value for p, e in last_readings(events).items()}
        self._in_readings |= {event.token for event in events}
        self._reached.set(len(self.history.events))

    def _refuse_other_text(self):
        """Refuse to replace what another program has saved since it was read."""
        if self._seen is None or self._stamp()[:2] != self._seen[:2]:
            raise _SavedMeanwhileError

    def _waiting(self):
        """Return the events that the history has and readings.csv has not."""
        return [*self._lacking, *self.history.events[self._reached.get() :]]

    def _make_hidden(self):
        with suppress(OSError):  # what cannot be made shows when it is locked
            self._hidden.mkdir(exist_ok=True)


def _stamp_of(path):
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino

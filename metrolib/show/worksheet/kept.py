"""Kept: a survey folder under several writers; what is typed is on disk before the next prompt."""

import os
from contextlib import suppress

import numpy as np

from metrolib.errors import SurveyError
from metrolib.show.worksheet.history import History
from metrolib.show.worksheet.lock import FolderLock
from metrolib.show.worksheet.merging import OF_NOTES, merged, values_by_key
from metrolib.survey.files import encode, read_file, write_files
from metrolib.survey.folder import read_survey, survey_from_texts
from metrolib.survey.losses import default_faces
from metrolib.survey.settings import read_settings
from metrolib.survey.syntax import FILE

#: Holds the lock, how far the history has got into readings.csv, and who has the folder open.
HIDDEN = ".open_worksheets"
MERGED = "merged"


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
    unsaved : list of Event
        Changes that are on no disk.
    news : list of str
        What the user should be told.
    """

    def __init__(self, folder):
        self.folder = folder
        self.survey = read_survey(folder)
        self.history = History(folder)
        self.unsaved, self.news = [], []
        self._settings = read_settings(self.survey.toml_text)
        self._stamps = self._stamp()
        self._disk = self.survey.readings_text, self._values(self.survey)
        self._recover()

    @property
    def all_events(self):
        """The history, and what is on no disk yet."""
        return [*self.history.events, *self.unsaved]

    def record(self, make):
        """Make events of the survey as it stands now, and keep them.

        Parameters
        ----------
        make : function
            Returns a list of events; called once, with the folder locked and read.

        Returns
        -------
        list of Event
        """
        try:
            with self._lock() as lock:
                self._look()
                events = make()
                self._append(events)
                self._merge(lock)
        except SurveyError as error:
            events = make()
            self.unsaved += events
            self._show()
            self._tell_unsaved(error.faults[0].wrong)
        return events

    def _lock(self):
        with suppress(OSError):
            (self.folder / HIDDEN).mkdir(exist_ok=True)
        return FolderLock(self.folder / HIDDEN)

    def look(self):
        """Read what others have written meanwhile."""
        if self._stamp() != self._stamps:
            with suppress(SurveyError), self._lock():
                self._look()

    def _append(self, events):
        try:
            self.history.append([*self.unsaved, *events])
            self.unsaved = []
        except OSError as error:
            self.unsaved += events
            self._tell_unsaved(error.strerror or str(error))

    def _merge(self, lock):
        """Write into readings.csv what the history has and it has not; show all of it."""
        survey = self._show()
        if not self._waiting() or not lock.held():
            return
        name = survey.readings_file
        text = self._merged_text(self._waiting())
        if text != self._disk[0]:
            try:
                write_files(self.folder, {name: encode(text, survey.encodings[1])})
            except SurveyError as error:
                wrong = error.faults[0].wrong
                self.news.append(
                    f"{name}: {wrong}. The readings are safe in {self.history.path.name}"
                    " and go into it as soon as it can be written; close it in other programs"
                )
                return
        self._set_merged(len(self.history.events))
        self._disk = text, self._values(survey)
        self._stamps = self._stamp()

    def _show(self):
        """Make `survey` say what is on disk and what is still to be written there."""
        text = self._merged_text([*self._waiting(), *self.unsaved])
        if text != self.survey.readings_text:
            self.survey = self._survey_of(text)
        return self.survey

    def _merged_text(self, events):
        faces = default_faces(self.survey.traverses)
        return merged(self._disk[0], events, self.survey.readings_file, faces)

    def _survey_of(self, text):
        old = self.survey
        return survey_from_texts(
            old.toml_text, text, old.readings_file, old.encodings, settings=self._settings
        )

    def _look(self):
        """Take in what other worksheets and other programs have written."""
        others = self.history.read_on()
        if others:
            self.news.append(_told_of(others))
        if self._stamp() == self._stamps and not others:
            return
        before = dict(self._disk[1])
        for event in others:
            if event.action not in OF_NOTES:
                before[event.key] = float(event.now or "nan")
        self.survey = read_survey(self.folder)
        self._settings = read_settings(self.survey.toml_text)
        self._disk = self.survey.readings_text, self._values(self.survey)
        self._stamps = self._stamp()
        self._show()

    def _recover(self):
        """Put into readings.csv what a power cut, or another program, kept out of it."""
        self.history.read_on()
        last = {e.key: e for e in self.history.events if e.action not in OF_NOTES}
        lacking = [
            event
            for key, event in last.items()
            if event.now and np.isnan(self._disk[1].get(key, np.nan))
        ]
        if not lacking and not self._waiting():
            return
        with suppress(SurveyError), self._lock() as lock:
            self._merge(lock)

    def _waiting(self):
        """Return the events that are in the history and not yet in readings.csv."""
        text, _, _ = read_file(self.folder / HIDDEN / MERGED, MERGED)
        done = int(text) if text and text.strip().isdigit() else 0
        return self.history.events[done:]

    def _set_merged(self, count):
        with suppress(OSError):
            (self.folder / HIDDEN / MERGED).write_text(str(count))

    def _stamp(self):
        return tuple(
            _stamp_of(self.folder / name)
            for name in (FILE, self.survey.readings_file, self.history.path.name)
        )

    @staticmethod
    def _values(survey):
        return values_by_key(survey.planned) | values_by_key(survey.readings)

    def _tell_unsaved(self, wrong):
        self.news.append(
            f"{len(self.unsaved)} changes are on no disk: {wrong}. They are kept on screen: free"
            " the disk or make the folder writable, or save them elsewhere"
        )


def _stamp_of(path):
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _told_of(events):
    names = ", ".join(dict.fromkeys(event.traverse for event in events))
    count = "1 change" if len(events) == 1 else f"{len(events)} changes"
    return f"another worksheet made {count}: {names}"

"""Draft: what is typed while a survey is set up, kept in its folder until the survey is written."""

import json
from contextlib import suppress
from dataclasses import asdict

from metrolib.errors import SurveyError
from metrolib.show.worksheet.setting_up.answers import Answers, Entry
from metrolib.show.worksheet.setting_up.setting_up import describe
from metrolib.survey.files import write_files

NAME = ".setting_up.json"


class Draft:
    """The answers of a form in a hidden file, so that a restart of the kernel loses none.

    Nothing depends on it: a folder that cannot be written says so when the survey is written.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder):
        self._folder = folder
        self._kept = None

    def read(self):
        """Return the answers that were kept, or None."""
        try:
            found = json.loads((self._folder / NAME).read_text(encoding="utf-8"))
            answers = Answers(**{key: _from_json(value) for key, value in found.items()})
            describe(answers)  # a file that was changed by hand may not be understood
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            return None
        return answers

    def keep(self, answers):
        """Keep answers, where they are others than at the last call; the first call keeps none."""
        before, self._kept = self._kept, asdict(answers)
        if before not in (None, self._kept):
            raw = json.dumps(self._kept, indent=1, ensure_ascii=False).encode()
            with suppress(SurveyError):
                write_files(self._folder, {NAME: raw})

    def forget(self):
        """Take the file away."""
        with suppress(OSError):
            (self._folder / NAME).unlink()


def _from_json(value):
    if isinstance(value, dict):
        return Entry(**value)
    return [Entry(**one) for one in value] if isinstance(value, list) else str(value)

"""Beginning: a folder in which no survey stands yet."""

from pathlib import Path

from metrolib.errors import InputError
from metrolib.show.worksheet.in_jupyter import mimebundle
from metrolib.show.worksheet.standing import Standing
from metrolib.survey.new_texts import READINGS_FILE
from metrolib.survey.syntax import FILE


def is_unbegun(folder):
    """Tell whether a folder is missing, or holds neither file of a survey.

    Examples
    --------
    >>> is_unbegun("no such folder")
    True
    """
    return not any((Path(folder) / name).exists() for name in (FILE, READINGS_FILE))


class Beginning:
    """A folder that is still to be set up; afterwards it does all that its worksheet does.

    Parameters
    ----------
    folder : Path
    open_worksheet : callable
        Opens the folder once a survey stands there.

    Attributes
    ----------
    survey : None
        Until the survey is set up.
    """

    def __init__(self, folder, open_worksheet):
        self.folder = folder
        self._open, self._begun = open_worksheet, None

    @property
    def survey(self):
        """The survey, or None while there is none."""
        return None if is_unbegun(self.folder) else self.begun.survey

    @property
    def begun(self):
        """The worksheet of the survey that was set up meanwhile.

        Raises
        ------
        InputError
            While there is none.
        """
        if self._begun is None:
            if is_unbegun(self.folder):
                raise InputError(f"folder: {self}")
            self._begun = self._open(self.folder)
        return self._begun

    def __getattr__(self, name):
        """Be the worksheet once there is one; before that nothing can be asked."""
        if name.startswith("_"):
            raise AttributeError(name)
        return getattr(self.begun, name)

    @property
    def result(self):
        """What stands there, a `Standing`."""
        return Standing((str(self),)) if is_unbegun(self.folder) else self.begun.result

    def __str__(self):
        if not is_unbegun(self.folder):
            return str(self.begun)
        return (
            f"no survey stands in {self.folder.name!r} yet; fill in the page Set up, or write one"
            " with blank_survey"
        )

    __repr__ = __str__

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Show the page that sets up the survey, or the words where it cannot be had."""
        return mimebundle(self, include, exclude)

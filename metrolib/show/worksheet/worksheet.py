"""Worksheet: a survey folder at the bench, one reading after another, each on disk at once."""

from functools import cached_property

from metrolib.show.worksheet.beginning import Beginning, is_unbegun
from metrolib.show.worksheet.disk.kept import Kept
from metrolib.show.worksheet.disk.rows import rows_of
from metrolib.show.worksheet.in_jupyter import mimebundle
from metrolib.show.worksheet.rounds.round_stop import round_work
from metrolib.show.worksheet.rounds.rounds_here import begin_round, folder_of_round, rounds_of
from metrolib.show.worksheet.standing import standing, where_it_stands
from metrolib.show.worksheet.writing import Writing
from metrolib.survey.folder import as_path
from metrolib.survey.traverses_begun import new_sheets, with_sheets


def worksheet(folder, *, row_functions=None):
    """Open a survey folder for work at the bench, reading by reading.

    In Jupyter the worksheet shows itself as a screen to type on; everywhere else the same things
    are done by its methods, and printing it says where the instrument goes next.

    Parameters
    ----------
    folder : str or Path
        A survey folder, as `blank_survey` writes it or as `read_survey` reads it. Where no survey
        stands in it yet, the worksheet begins by setting one up.
    row_functions : dict of str to function, optional
        For traverses of the kind ``"own: NAME"``, as in `adjust`.

    Returns
    -------
    Worksheet

    Raises
    ------
    SurveyError
        With every fault of the folder.
    InputError
        If `folder` is no path.

    Notes
    -----
    Every reading is a line of ``history.csv``, flushed to the disk, before `Worksheet.take`
    returns, and then goes into ``readings.csv``. Corrections keep the old number there. Several
    worksheets, and a spreadsheet, may work in one folder; the later one is told.

    Examples
    --------
    >>> import tempfile
    >>> from metrolib import blank_survey
    >>> place = tempfile.TemporaryDirectory()
    >>> sheet = worksheet(blank_survey(f"{place.name}/my_lathe", kinds="level along"))
    >>> print(sheet.prompt)
    Level on the front flat, feet at 0 and 100 mm, the first way round
    >>> sheet.take("1,5").value
    1.5
    >>> print(sheet.prompt)
    Level on the front flat, feet at 100 and 200 mm, the first way round
    >>> place.cleanup()
    """

    def open_worksheet(folder):
        return Worksheet(folder, row_functions=row_functions)

    folder = as_path(folder)
    return Beginning(folder, open_worksheet) if is_unbegun(folder) else open_worksheet(folder)


class Worksheet(Writing):
    """A survey folder open for work; made by `worksheet`.

    Which reading is meant may be told by a prompt, a row, an event or whatever else has its
    `place`, or by the text `key` of a prompt or row.

    Attributes
    ----------
    folder : Path
    """

    def __init__(self, folder, *, row_functions=None):
        self.folder = as_path(folder)
        super().__init__(Kept(self.folder), row_functions)

    @property
    def rows(self):
        """Every row of readings.csv with what happened to it, a tuple of `Row`."""
        return rows_of(self.survey, self._kept.events)

    @property
    def history(self):
        """All changes, the first one first, a tuple of `Event`."""
        return tuple(self._kept.events)

    @property
    def unsaved(self):
        """Changes that are on no disk, a tuple of `Event`."""
        return tuple(self._kept.unsaved)

    @property
    def news(self):
        """What the user should be told, a list of str; it is empty when it was read."""
        self._kept.look()
        news, self._kept.news = self._kept.news, []
        return news

    @property
    def heights(self):
        """Adjusted heights of what there is, in the state of the traverse; None without any."""
        return self._judge.heights

    @property
    def known(self):
        """What the readings tell so far, what they leave open and which one helps most, `Known`."""
        return self._judge.known

    # --- further traverses, and rounds of work ---------------------------------------------------

    def change_survey(self, make):
        """Change survey.toml, such as its decision, while others may write readings.

        Parameters
        ----------
        make : function
            Given the survey as it is on disk, it returns the changed one.

        Raises
        ------
        SurveyError
            If the folder cannot be written, or readings would be lost.
        """
        self._kept.change(make)

    def new_traverse(self, kind, faces=None, **wanted):
        """Add what one reading kind needs to the survey, and go to its first station.

        Parameters
        ----------
        kind : str
            Such as ``"level along"``.
        faces : iterable, optional
            Names of the faces, two flanks in brackets for a vee; all when not given.
        **wanted
            As in `new_sheets`: ``name``, ``instrument``, ``stations``, ``pitch``, ``foot``.

        Returns
        -------
        tuple of str
            The names of the traverses; more than one where a level is turned for the way back.

        Raises
        ------
        InputError
            If the machine or the instruments lack what the kind needs, or a name is taken.
        SurveyError
            If the folder cannot be written.
        """
        sheets = new_sheets(self.survey, kind, faces, **wanted)
        self.change_survey(lambda survey: with_sheets(survey, sheets))
        self.choose(sheets[0].name)
        return tuple(sheet.name for sheet in sheets)

    @property
    def rounds(self):
        """Names of the rounds of work on this machine in order, a tuple of str."""
        return tuple(rounds_of(self.folder))

    def open_round(self, name):
        """Open a round of work, a `Worksheet`."""
        return self.another(folder_of_round(self.folder, name))

    def new_round(self, name=None, traverses=None):
        """Begin a round of work with the same machine and instruments and nothing read yet.

        Parameters
        ----------
        name : str, optional
            It begins with the number of the round; the next number when not given.
        traverses : iterable of str, optional
            Those that are read again; all when not given.

        Returns
        -------
        Worksheet

        Raises
        ------
        InputError
            If there is a round of that number, or a traverse is unknown.
        SurveyError
            If the folder cannot be written.
        """
        return self.another(begin_round(self.folder, self.survey, name, traverses))

    def another(self, folder):
        """Open another folder of the same machine, such as that of a round, as this was opened."""
        return worksheet(folder, row_functions=self.row_functions)

    @cached_property
    def work(self):
        """Plan and stop readings where the folder is a round of work, a `RoundWork`; else None."""
        return round_work(self.folder, row_functions=self.row_functions)

    # --- how it shows itself ---------------------------------------------------------------------

    @property
    def result(self):
        """Where the work stands, as a result that stays when the worksheet is closed."""
        return standing(self)

    def save_elsewhere(self, folder):
        """Write the survey with all changes into another folder, such as one on a stick.

        Parameters
        ----------
        folder : str or Path
            A worksheet can go on in it.

        Returns
        -------
        Path

        Raises
        ------
        SurveyError
            If it holds other readings, or cannot be written.
        """
        return self._kept.save_elsewhere(as_path(folder))

    def close(self):
        """Tell other worksheets that this one is closed; nothing else depends on it."""
        self._kept.close()

    def __str__(self):
        return where_it_stands(self)

    __repr__ = __str__

    def _repr_mimebundle_(self, include=None, exclude=None):
        """Show the screen in Jupyter, or the text where there is nothing to show it with."""
        return mimebundle(self, include, exclude)

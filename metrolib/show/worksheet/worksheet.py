"""Worksheet: a survey folder at the bench, one reading after another, each on disk at once."""

import warnings

from metrolib.errors import DoubtfulReadingsWarning, InputError, MetrolibError
from metrolib.show.worksheet import changes, told
from metrolib.show.worksheet.beginning import Beginning, is_unbegun
from metrolib.show.worksheet.history import new_event, new_token
from metrolib.show.worksheet.kept import Kept
from metrolib.show.worksheet.known import known
from metrolib.show.worksheet.rows import row_at, rows_of
from metrolib.show.worksheet.standing import standing, where_it_stands
from metrolib.show.worksheet.taken import Taken, judged
from metrolib.show.worksheet.typed import typed_reading
from metrolib.show.worksheet.undoing import inverse, last_change
from metrolib.show.worksheet.walk import Walk
from metrolib.survey.folder import as_path


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


class Worksheet:
    """A survey folder open for work; made by `worksheet`.

    Which reading is meant may be told by a prompt, a row, an event or whatever else has its
    `place`, or by the text `key` of a prompt or row.

    Attributes
    ----------
    folder : Path
    row_functions : dict of str to function or None
    """

    def __init__(self, folder, *, row_functions=None):
        self.folder = as_path(folder)
        self._kept = Kept(self.folder)
        self._walk = Walk(self._kept)
        self.row_functions = row_functions
        self._own, self._asked = set(), set()
        self._heights = None, None

    # --- where it stands -------------------------------------------------------------------------

    @property
    def survey(self):
        """The survey as on disk, with what could not be written yet, a `Survey`."""
        return self._kept.survey

    @property
    def traverses(self):
        """Names of the traverses, a tuple of str."""
        return tuple(self.survey.traverses)

    @property
    def traverse(self):
        """Name of the traverse that is being read."""
        return self._walk.traverse

    @property
    def prompts(self):
        """The stations of the traverse in the order of work, a tuple of `Prompt`."""
        return self._walk.prompts

    @property
    def prompt(self):
        """Where the instrument goes next, a `Prompt`; None where the traverse is read."""
        return self._walk.prompt

    def course_of(self, traverse):
        """Return the stations of any traverse, a tuple of `Prompt`."""
        return self._walk.course_of(traverse)

    def prompt_of(self, key):
        """Return the prompt of a reading, of any traverse."""
        return self._walk.prompt_of(key)

    def choose(self, traverse):
        """Go to the first open station of a traverse."""
        self._walk.choose(traverse)

    def go_to(self, key):
        """Go to the station of a reading, of any traverse."""
        self._walk.go_to(key)

    def step_back(self):
        """Go to the station before; a number taken there is a correction."""
        self._walk.step(-1)

    def step_on(self):
        """Go to the station after."""
        self._walk.step(1)

    def repeat(self):
        """Go to the same station once more: both readings are kept."""
        self._walk.repeat()

    def another(self, folder):
        """Open another folder of the same machine, such as that of a round, as this was opened."""
        return worksheet(folder, row_functions=self.row_functions)

    # --- what is written -------------------------------------------------------------------------

    def take(self, text, unit=None, token=None, key=None, corrects=None):
        """Take a reading; it is on disk when this returns.

        Parameters
        ----------
        text : str
            As `typed_reading` reads it.
        unit : str, optional
            Unit of a number without one; that of the instrument when not given.
        token : str, optional
            Unique name of the reading: one that is known already is not written again.
        key : str, optional
            Which reading it is; that at the prompt when not given.
        corrects : bool, optional
            Whether the hand that typed it saw another reading there, which it corrects; when not
            given, what stands at the prompt says so. What is no correction is kept beside a
            reading that came from elsewhere meanwhile.

        Returns
        -------
        Taken

        Raises
        ------
        InputError
            If the text is no reading of the instrument, or nothing is left to read.
        """
        prompt = self._prompt_for(key)
        typed = typed_reading(text, self._instrument(prompt), unit)
        corrects = prompt.state == "taken" if corrects is None else corrects
        return self._take(prompt, typed, token or new_token(), corrects)

    def correct(self, row, text, unit=None, token=None):
        """Write another number for a reading; the old one stays in the history.

        Returns
        -------
        Taken

        Raises
        ------
        InputError
            If nothing is read there, or the text is no reading of the instrument.
        """
        return self.take(text, unit, token, key=self._read_prompt("correct", row), corrects=True)

    def take_back(self, row, reason):
        """Leave a reading out, with a reason: it stays in the history, its station is open again.

        Raises
        ------
        InputError
            If nothing is read there, or no reason is given.
        """
        prompt = self._read_prompt("take_back", row)
        self._keep(lambda: [changes.taking_back(self._row(prompt), reason)])

    def bring_back(self, row):
        """Bring a reading back that was left out, as it was.

        Raises
        ------
        InputError
            If none was left out there, or another was taken since.
        """
        self._keep(lambda: [changes.bringing_back(row, self._kept.events_at(row.place))])
        self._walk.show(row.place)

    def skip(self, reason, key=None):
        """Leave a station out, with a reason, which becomes its note.

        Raises
        ------
        InputError
            If it is read already, or no reason is given.
        """
        prompt = self._prompt_for(key)
        self._keep(lambda: [changes.skipping(prompt, reason)])
        self._go_on(prompt)

    def unskip(self, key=None):
        """Open a station that was skipped, and go to it.

        Raises
        ------
        InputError
            If it is not skipped.
        """
        self._kept.look()
        prompt = self._prompt_for(key)
        self._keep(lambda: [changes.unskipping(prompt, self._kept.events_at(prompt.place))])
        self._walk.go_to(prompt)

    def note(self, text, key=None):
        """Write a note to a reading or a station, instead of the one that stands there."""
        prompt = self._prompt_for(key)
        self._keep(lambda: [new_event("noted", prompt, was=prompt.note, now=text)])

    def undo(self):
        """Take back the last change, first those of this worksheet; this is a change itself.

        Returns
        -------
        Event
            What was taken back.

        Raises
        ------
        InputError
            If nothing is left to undo, or the reading was changed since.
        """
        found = []

        def undoing():
            found.append(last_change(self._kept.events, self._own))
            row = self._row(found[0])
            return [inverse(found[0], row.digits if row is not None else "")]

        self._keep(undoing)
        self._walk.show(found[0].place)
        return found[0]

    # --- what there is ---------------------------------------------------------------------------

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
        state = self.survey.traverses[self.traverse].state
        if self._heights[0] != (self.survey, state):
            self._heights = (self.survey, state), self._adjusted(state)
        return self._heights[1]

    @property
    def known(self):
        """What the readings tell, what they leave open, and what to read next, a `Known`."""
        return known(self.survey, self.heights, self.traverse, row_functions=self.row_functions)

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
        try:
            from metrolib.show.worksheet.screen import screen
        except ImportError:
            return {"text/plain": str(self)}
        shown = screen(self)._repr_mimebundle_(include=include, exclude=exclude)
        return {**shown, "text/plain": str(self)}

    # --- how -------------------------------------------------------------------------------------

    def _take(self, prompt, typed, token, corrects):
        done = self._keep(lambda: self._taking(prompt, typed, token, corrects), token)
        if done:
            self._go_on(done[-1])
        place = done[-1].place if done else prompt.place
        return Taken(
            prompt=prompt,
            value=typed.value,
            text=typed.text,
            token=token,
            on_disk=all(event.token != token for event in self._kept.unsaved),
            judge=lambda: judged(self.survey, place, self.heights, self.row_functions, self._asked),
        )

    def _taking(self, prompt, typed, token, corrects):
        """Return the events that take a reading, by what stands there now."""
        row = self._row(prompt)
        if row is None or not row.digits:
            return changes.taking(prompt, typed, token, row)
        if corrects:
            return [changes.correcting(row, typed, token)]
        prompt = self._walk.again(prompt)  # another worksheet was quicker
        self._kept.news.append(told.read_meanwhile(prompt))
        return changes.taking(prompt, typed, token, None)

    def _keep(self, make, token=None):
        """Record what `make` returns, but no token twice; return what was recorded."""

        def once():
            known = token is not None and any(e.token == token for e in self._kept.events)
            return [] if known else make()

        done = self._kept.record(once)
        self._own |= {event.token for event in done}
        return done

    def _go_on(self, place):
        if place.traverse == self.traverse:
            self._walk.go_on(after=place.place)

    def _prompt_for(self, key):
        if key is not None:
            return self._walk.prompt_of(key)
        if self.prompt is None:
            raise InputError(
                f"prompt: {self.traverse!r} is read from end to end; choose another traverse, or"
                " step back"
            )
        return self.prompt

    def _read_prompt(self, what, row):
        self._kept.look()
        prompt = self._walk.prompt_of(row)
        if prompt.state != "taken":
            raise InputError(
                f"{what}: nothing is read at {prompt.x:g} mm in {prompt.traverse!r}; take a"
                " reading first"
            )
        return prompt

    def _instrument(self, prompt):
        return self.survey.instruments[self.survey.traverses[prompt.traverse].instrument]

    def _row(self, reading):
        return row_at(self.survey, self._kept.events, reading.place)

    def _adjusted(self, state):
        from metrolib.heights.adjust import adjust

        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", DoubtfulReadingsWarning)
                return adjust(self.survey, states=[state], row_functions=self.row_functions)
        except MetrolibError:
            return None

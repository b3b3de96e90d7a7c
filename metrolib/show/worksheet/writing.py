"""Writing: readings taken, corrected and left out at the bench, each change on disk at once."""

from metrolib.errors import InputError
from metrolib.show.worksheet.course import read_again
from metrolib.show.worksheet.disk import changes, told
from metrolib.show.worksheet.disk.history import new_event, new_token
from metrolib.show.worksheet.disk.rows import row_at
from metrolib.show.worksheet.disk.undoing import inverse, last_change
from metrolib.show.worksheet.judged.judging import Judge
from metrolib.show.worksheet.taken import Taken
from metrolib.show.worksheet.typed import typed_reading
from metrolib.show.worksheet.walk import Walk


class Writing(Walk):
    """A walk along the stations that writes down what is read.

    Parameters
    ----------
    kept : Kept

    Attributes
    ----------
    row_functions : dict of str to function or None
        As in `adjust`.
    """

    def __init__(self, kept, row_functions):
        super().__init__(kept)
        self.row_functions = row_functions
        self._judge = Judge(self, row_functions)
        self._own = set()

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

        def taking_back():
            there = self._row(prompt)
            if there is None or not there.digits:  # another program was quicker
                raise _nothing_read("take_back", prompt)
            return [changes.taking_back(there, reason)]

        self._keep(taking_back)

    def bring_back(self, row):
        """Bring a reading back that was left out, as it was.

        Raises
        ------
        InputError
            If none was left out there, or another was taken since.
        """
        self._keep(lambda: [changes.bringing_back(row, self._kept.events_at(row.place))])
        self._show(row.place)

    def skip(self, reason, key=None):
        """Leave a station out, with a reason, which becomes its note.

        Raises
        ------
        InputError
            If it is read already, or no reason is given.
        """
        prompt = self._prompt_for(key)
        self._keep(lambda: [changes.skipping(prompt, reason)])
        if prompt.traverse == self.traverse:
            self._go_on(after=prompt.place)

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
        self.go_to(prompt)

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
        self._show(found[0].place)
        return found[0]

    def _take(self, prompt, typed, token, corrects):
        done = self._keep(lambda: self._taking(prompt, typed, token, corrects), token)
        place = done[-1].place if done else prompt.place
        if done:
            self._judge.forget(place)
        if done and place.traverse == self.traverse:
            self._go_on(after=place)
        return Taken(
            prompt=prompt,
            value=typed.value,
            text=typed.text,
            token=token,
            on_disk=all(event.token != token for event in self._kept.unsaved),
            judge=lambda: self._judge.doubt(place),
        )

    def _taking(self, prompt, typed, token, corrects):
        """Return the events that take a reading, by what stands there now."""
        row = self._row(prompt)
        if row is None or not row.digits:
            return changes.taking(prompt, typed, token, row)
        if corrects:
            return [changes.correcting(row, typed, token)]
        prompt = read_again(self.survey, prompt)  # another worksheet was quicker
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

    def _prompt_for(self, key):
        if key is not None:
            return self.prompt_of(key)
        if self.prompt is None:
            raise InputError(
                f"prompt: {self.traverse!r} is read from end to end; choose another traverse, or"
                " step back"
            )
        return self.prompt

    def _read_prompt(self, what, row):
        self._kept.look()
        prompt = self.prompt_of(row)
        if prompt.state != "taken":
            raise _nothing_read(what, prompt)
        return prompt

    def _instrument(self, prompt):
        return self.survey.instruments[self.survey.traverses[prompt.traverse].instrument]

    def _row(self, reading):
        return row_at(self.survey, self._kept.events, reading.place)


def _nothing_read(what, prompt):
    """Return the error for a change of a reading where there is none."""
    return InputError(
        f"{what}: nothing is read at {prompt.x:g} mm in {prompt.traverse!r}; take a reading first"
    )

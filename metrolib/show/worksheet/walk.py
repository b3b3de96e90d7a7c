"""Walk: where a worksheet stands in the course of a traverse, and where it goes next."""

from metrolib import checks
from metrolib.errors import InputError
from metrolib.show.worksheet.course import course, read_again
from metrolib.show.worksheet.disk.history import OF_NOTES


class Walk:
    """The way along the stations of the traverse that is being read.

    Which reading is meant may be told by a prompt, a row, an event or whatever else has its
    `place`, or by the text `key` of a prompt or row.

    Parameters
    ----------
    kept : Kept
    """

    def __init__(self, kept):
        self._kept = kept
        self._at = self._again = None
        self._courses = {}, None
        self._traverse = None
        self.choose(self._first())

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
        return self._traverse

    @property
    def prompts(self):
        """The stations of the traverse in the order of work, a tuple of `Prompt`."""
        return self.course_of(self._traverse)

    @property
    def prompt(self):
        """Where the instrument goes next, a `Prompt`; None where the traverse is read."""
        return next((one for one in self.prompts if one.place == self._at), None)

    def course_of(self, traverse):
        """Return the stations of any traverse, a tuple of `Prompt`."""
        known = self.survey, len(self._kept.events)
        if self._courses[1] is None or known != self._courses[1]:
            self._courses = {}, known
        found = self._courses[0]
        if traverse not in found:
            found[traverse] = course(self.survey, traverse, self._kept.events)
        return self._with_again(found[traverse])

    def prompt_of(self, key):
        """Return the prompt of a reading, of any traverse; also of one that is a repeat to come.

        Raises
        ------
        InputError
            If no station has the key.
        """
        if not isinstance(key, str):
            return self._found(lambda one: one.place == key.place, key)
        try:
            return self._found(lambda one: one.key == key, key)
        except InputError:
            station, _, repeat = key.rpartition("|")
            first = self._found(lambda one: one.key.rpartition("|")[0] == station, key)
            again = read_again(self.survey, first)
            if repeat != str(again.repeat):
                raise
            return again

    def choose(self, traverse):
        """Go to the first open station of a traverse."""
        checks.choice("traverse", traverse, self.traverses)
        self._traverse = traverse
        self._go_on()

    def go_to(self, key):
        """Go to the station of a reading, of any traverse."""
        prompt = self.prompt_of(key)
        self._traverse, self._at = prompt.traverse, prompt.place
        self._again = prompt if prompt.planned_line is None and not prompt.closing else None

    def step_back(self):
        """Go to the station before; a number taken there is a correction."""
        self._step(-1)

    def step_on(self):
        """Go to the station after."""
        self._step(1)

    def repeat(self):
        """Go to the same station once more, or to the last one read: both readings are kept."""
        prompt = self.prompt
        if prompt is None or prompt.state != "taken":
            prompt = self._last_taken()
        self._again = read_again(self.survey, prompt)
        self._at = self._again.place

    def _go_on(self, after=None):
        """Go to the next open station behind a place, or from the first one on."""
        self._again = None
        prompts = self.prompts
        places = [one.place for one in prompts]
        at = places.index(after) + 1 if after in places else 0
        ahead = (one.place for one in [*prompts[at:], *prompts[:at]] if one.state == "open")
        self._at = next(ahead, None)

    def _show(self, place):
        """Go to a place, where the traverse still has it; else to what is open."""
        self._traverse, self._at, self._again = place.traverse, place, None
        if self.prompt is None:
            self._go_on()

    def _step(self, by):
        places = [one.place for one in self.prompts]
        at = places.index(self._at) if self._at in places else len(places)
        self._again = None
        self._at = places[min(max(at + by, 0), len(places) - 1)]

    def _with_again(self, prompts):
        """Return a course with the station that is to be read again, behind its last reading."""
        again = self._again
        if again is None or not prompts or prompts[0].traverse != again.traverse:
            return prompts
        if any(one.place == again.place for one in prompts):
            return prompts
        here = [at for at, one in enumerate(prompts) if one.place[:3] == again.place[:3]]
        behind = next((at for at in here if prompts[at].repeat == again.repeat - 1), here[-1]) + 1
        return (*prompts[:behind], again, *prompts[behind:])

    def _found(self, fits, key):
        for traverse in dict.fromkeys((self._traverse, *self.traverses)):
            for one in self.course_of(traverse):
                if fits(one):
                    return one
        raise checks.wrong("key", "no station has it", repr(key), "use the key of a prompt")

    def _last_taken(self):
        taken = {one.place: one for one in self.prompts if one.state == "taken"}
        events = (e for e in reversed(self._kept.events) if e.action not in OF_NOTES)
        last = next((e.place for e in events if e.place in taken), None)
        if not taken:
            raise InputError("repeat: nothing is read in this traverse; take a reading first")
        return taken[last] if last is not None else list(taken.values())[-1]

    def _first(self):
        """Return the traverse to begin with: the one worked last, or the first with open rows."""
        worked = [event.traverse for event in self._kept.events[-1:]]
        names = [name for name in (*worked, *self.traverses) if name in self.survey.traverses]
        return next((name for name in names if self._is_open(name)), names[0])

    def _is_open(self, traverse):
        return any(one.state == "open" for one in self.course_of(traverse))

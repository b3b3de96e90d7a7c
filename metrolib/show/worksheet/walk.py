"""Walk: where a worksheet stands in the course of a traverse, and where it goes next."""

from metrolib import checks
from metrolib.errors import InputError
from metrolib.show.worksheet.course import course, read_again
from metrolib.show.worksheet.history import OF_NOTES


class Walk:
    """The way along the stations of the traverse that is being read.

    Parameters
    ----------
    kept : Kept

    Attributes
    ----------
    traverse : str
        Its name.
    """

    def __init__(self, kept):
        self._kept = kept
        self._at = self._again = None
        self._courses = {}, None
        self.choose(self._first())

    def choose(self, traverse):
        """Go to the first open station of a traverse."""
        checks.choice("traverse", traverse, tuple(self._kept.survey.traverses))
        self.traverse = traverse
        self.go_on()

    @property
    def prompts(self):
        """The whole course of the traverse, with the state of each station."""
        return self.course_of(self.traverse)

    @property
    def prompt(self):
        """Where the instrument goes next; None where all is read."""
        return next((one for one in self.prompts if one.place == self._at), None)

    def course_of(self, traverse):
        """Return the stations of a traverse; computed once for each state of the folder."""
        survey, events = self._kept.survey, self._kept.events
        found, known = self._courses
        if known is None or known[0] is not survey or known[1] != len(events):
            found, known = {}, (survey, len(events))
            self._courses = found, known
        if traverse not in found:
            found[traverse] = course(survey, traverse, events)
        return self._with_again(found[traverse])

    def prompt_of(self, key):
        """Return the prompt of a key, or of a place; also of one that reads a station again."""
        if not isinstance(key, str):
            return self._found(lambda one: one.place == key.place, key)
        try:
            return self._found(lambda one: one.key == key, key)
        except InputError:
            station, _, repeat = key.rpartition("|")
            first = self._found(lambda one: one.key.rpartition("|")[0] == station, key)
            again = read_again(self._kept.survey, first)
            if repeat != str(again.repeat):
                raise
            return again

    def go_to(self, key):
        """Go to the station of a key, of whichever traverse it is."""
        prompt = self.prompt_of(key)
        self.traverse, self._at = prompt.traverse, prompt.place
        self._again = prompt if prompt.planned_line is None and not prompt.closing else None

    def show(self, place):
        """Go to a place, where the traverse still has it; else to what is open."""
        self.traverse, self._at, self._again = place.traverse, place, None
        if self.prompt is None:
            self.go_on()

    def step(self, by):
        """Go some stations on, or back; not beyond the ends."""
        places = [one.place for one in self.prompts]
        at = places.index(self._at) if self._at in places else len(places)
        self._again = None
        self._at = places[min(max(at + by, 0), len(places) - 1)]

    def repeat(self):
        """Go to the same station once more: that at the prompt, or where it is open the last."""
        prompt = self.prompt
        if prompt is None or prompt.state != "taken":
            prompt = self._last_taken()
        self._again = self.again(prompt)
        self._at = self._again.place

    def again(self, prompt):
        """Return the prompt for reading a station once more."""
        return read_again(self._kept.survey, prompt)

    def go_on(self, after=None):
        """Go to the next open station behind a place, or from the first one on."""
        self._again = None
        prompts = self.prompts
        places = [one.place for one in prompts]
        at = places.index(after) + 1 if after in places else 0
        ahead = (one.place for one in [*prompts[at:], *prompts[:at]] if one.state == "open")
        self._at = next(ahead, None)

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
        for traverse in dict.fromkeys((self.traverse, *self._kept.survey.traverses)):
            for one in self.course_of(traverse):
                if fits(one):
                    return one
        raise checks.wrong("key", "no station has it", repr(key), "use the key of a prompt")

    def _last_taken(self):
        taken = {one.place: one for one in self.prompts if one.state == "taken"}
        events = (e for e in reversed(self._kept.events) if e.action not in OF_NOTES)
        last = next((e.place for e in events if e.place in taken), None)
        if last is None:
            if not taken:
                raise InputError("repeat: nothing is read in this traverse; take a reading first")
            last = list(taken)[-1]
        return taken[last]

    def _first(self):
        """Return the traverse to begin with: the one worked last, or the first with open rows."""
        worked = [event.traverse for event in self._kept.events[-1:]]
        names = [name for name in self._kept.survey.traverses if name not in worked]
        for name in [*worked, *names]:
            if name in self._kept.survey.traverses and self._is_open(name):
                return name
        return [*worked, *names][0]

    def _is_open(self, traverse):
        return any(one.state == "open" for one in self.course_of(traverse))

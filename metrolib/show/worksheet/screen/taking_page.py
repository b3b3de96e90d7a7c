"""Taking readings: the prompt and the field beside the growing picture and what is known."""

from metrolib.errors import MetrolibError
from metrolib.show.worksheet.screen.adding import Adding
from metrolib.show.worksheet.screen.entry import Entry
from metrolib.show.worksheet.screen.live_view import LiveView
from metrolib.show.worksheet.screen.look import button, column, field, row, shown_errors
from metrolib.show.worksheet.typed import SPELLINGS, in_own, unit_sign, units_of

_DONE = "This traverse is read from end to end. Choose the next one above, or see all readings."


def page(sheet, screen):
    """Return the page on which readings are taken."""
    return _TakingPage(sheet, screen).widget


class _TakingPage:
    """The page's pieces; the browser leads, this follows and answers."""

    def __init__(self, sheet, screen):
        self.sheet, self.screen = sheet, screen
        guard = shown_errors(screen)
        self._answers = {}  # what was answered to each token, should it come again
        self.entry = Entry(folder_key=str(sheet.folder.resolve()), done_words=_DONE)
        self.entry.on_msg(lambda _, message, __: guard(self._heard)(message))
        self.traverse = field("Traverse", choices=sheet.traverses, name="metro-traverse")
        self.traverse.observe(lambda _: guard(self._chosen)(), "value")
        self.unsaved = self._unsaved_row()
        self.live = LiveView(sheet, screen.lock)
        adding = Adding(sheet, screen, self._catch_up)
        parts = (self.traverse, self.entry, self.unsaved, adding.widget)
        hand = column(*parts, name="metro-hand")
        self.widget = column(*self.live.beside, hand, self.live.widget, name="metro-taking")
        screen.when_shown(self._catch_up)

    # --- what the browser says -------------------------------------------------------------------

    def _heard(self, message):
        if message["kind"] == "at":
            self.sheet.go_to(message["key"])
            self.live.show()
        elif message["kind"] == "undo":
            self._undo()
        elif message["kind"] == "left":
            self.entry.known(self._on_disk(message["tokens"]))
        elif message["kind"] in ("keep", "leave out"):
            self._settle(message["key"], message.get("earlier"))
        elif message["token"] in self._answers:
            self.entry.answer(*self._answers[message["token"]])
        else:
            self._do(message)

    def _do(self, message):
        """Do what is asked and answer; only then see to all that may take a while."""
        how, words, taken = self._done(message)
        self._answers[message["token"]] = how, message["token"], words
        self._show_course()
        self.entry.answer(*self._answers[message["token"]])
        settled = self.live.settle(message["key"]) if message["again"] else None
        if taken is not None:
            self.live.taken(taken.prompt, taken.value)
        if taken is not None and taken.doubt is not None:
            self._ask_about(taken.doubt)
        elif taken is not None and settled is not None:
            self._ask_about_both(taken, message["key"])
        if not message["waiting"]:  # while more stand behind, the picture can wait
            self.live.show()

    def _done(self, message):
        """Do what is asked; return how it went, in a word and in words, and what was taken."""
        act = {"take": self._take, "skip": self._skip, "note": self._note}[message["kind"]]
        try:
            self.sheet.go_to(message["key"])
            return act(message)
        except MetrolibError as error:
            return "refused", str(error), None

    def _take(self, message):
        if message["again"]:
            self.sheet.repeat()
        unit = self._unit_of(message["unit"])
        taken = self.sheet.take(
            message["text"], unit, message["token"], corrects=message["corrects"]
        )
        place = f"{taken.text} at {_short(taken.prompt)}"
        if not taken.on_disk:
            return "kept", f"taken, not on disk yet: {place}", taken
        return "written", f"on disk: {place}", taken

    def _skip(self, message):
        words = f"left out: {_short(self.sheet.prompt)}"
        self.sheet.skip(message["text"])
        return "written", words, None

    def _note(self, message):
        words = f"noted at {_short(self.sheet.prompt)}: {message['text']}"
        self.sheet.note(message["text"])
        return "written", words, None

    def _ask_about(self, doubt):
        prompt = self.sheet.prompt_of(doubt)
        *place, repeat = prompt.place
        earlier = [
            one.key
            for one in self.sheet.course_of(prompt.traverse)
            if [*one.place] == [*place, repeat - 1] and one.state == "taken"
        ]
        self.live.doubt(prompt.key, doubt)
        self.entry.doubt(prompt.key, str(doubt), *earlier)

    def _ask_about_both(self, taken, earlier):
        """Offer to leave the doubtful reading out, now that its repeat is in line."""
        prompt = self.sheet.prompt_of(earlier)
        words = (
            f"At {prompt.x:g} mm {prompt.value:.9g} was in doubt, read once more it is "
            f"{taken.value:.9g}; both count until one is left out."
        )
        repeated = next(
            one.key
            for one in reversed(self.sheet.course_of(prompt.traverse))
            if one.place[:3] == prompt.place[:3] and one.state == "taken"
        )
        self.entry.doubt(repeated, words, earlier)

    def _settle(self, key, earlier):
        self.live.settle(key)
        if earlier is not None:
            self.sheet.take_back(self.sheet.prompt_of(earlier), "out of line with its repeat")
        self._catch_up()

    # --- what the user asks for outside the entry ------------------------------------------------

    def _chosen(self):
        if self.traverse.value != self.sheet.traverse:
            self.sheet.choose(self.traverse.value)
            self._catch_up()

    def _undo(self):
        self.sheet.undo()
        self._catch_up()
        if self.sheet.prompt is not None:
            self.entry.go(self.sheet.prompt.key)

    def _unsaved_row(self):
        place = field("Save what is not on disk in this folder", name="metro-elsewhere")
        save = button("Save elsewhere", self._save_elsewhere, self.screen, name="metro-save")
        made = row(place, save)
        made.layout.display = "none"
        return made

    def _save_elsewhere(self):
        place = self.unsaved.children[0].value
        self.sheet.save_elsewhere(place)
        self.screen.tell(
            f"what is not on disk here is saved in {place}; a worksheet can go on there"
        )

    # --- showing ---------------------------------------------------------------------------------

    def _catch_up(self):
        if tuple(self.traverse.options) != tuple(self.sheet.traverses):
            self.traverse.options = self.sheet.traverses
        self._show_course()
        self.live.show()

    def _show_course(self):
        sheet = self.sheet
        self.traverse.value = sheet.traverse
        units = units_of(self._instrument)
        with self.entry.hold_sync():
            self.entry.traverse = sheet.traverse
            self.entry.at = sheet.prompt.key if sheet.prompt is not None else ""
            self.entry.units = [unit_sign(unit) for unit in units]
            self.entry.unit = unit_sign(units[0])
            self.entry.in_own = {unit_sign(unit): in_own(unit, self._instrument) for unit in units}
            self.entry.spellings = {
                word: unit_sign(unit) for unit in units for word in SPELLINGS[unit]
            }
            self.entry.prompts = [_told(prompt) for prompt in sheet.prompts]
        self.screen.tell_news()
        self.unsaved.layout.display = "" if sheet.unsaved else "none"
        if not sheet.unsaved:
            self.entry.saved()

    def _on_disk(self, tokens):
        there = {event.token for event in self.sheet.history}
        there -= {event.token for event in self.sheet.unsaved}
        return [token for token in tokens if token in there]

    @property
    def _instrument(self):
        survey = self.sheet.survey
        return survey.instruments[survey.traverses[self.sheet.traverse].instrument]

    def _unit_of(self, sign):
        return next(unit for unit in units_of(self._instrument) if unit_sign(unit) == sign)


def _told(prompt):
    """Return what the browser needs to know of a prompt."""
    sign = unit_sign(prompt.unit)
    taken = f"{prompt.value:.9g} {sign}" if prompt.state == "taken" else ""
    return {
        "key": prompt.key,
        "words": prompt.words,
        "short": _short(prompt),
        "hint": prompt.booking,
        "low": prompt.low,
        "high": prompt.high,
        "taken": taken,
        "skipped": (prompt.note or "no reason given") if prompt.state == "skipped" else "",
    }


def _short(prompt):
    again = "" if prompt.repeat == 1 else f", reading no. {prompt.repeat}"
    return f"{prompt.x:g} mm{again}"

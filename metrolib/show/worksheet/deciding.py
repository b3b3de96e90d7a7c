"""Deciding: a decision that is changed step by step, what each comes to, and options beside it."""

from dataclasses import replace
from datetime import datetime

import numpy as np
from scipy.special import ndtr

from metrolib import checks
from metrolib.errors import InputError, MetrolibError, NotDeterminedError
from metrolib.form.wording import nominal, uncertainty
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.ways.consequences import consequences
from metrolib.rebuild.wording import governing_place, place, volume
from metrolib.show.jobsheet import job_sheet
from metrolib.survey.columns import number
from metrolib.survey.files import encode, write_files
from metrolib.survey.folder import read_survey
from metrolib.survey.syntax import FILE
from metrolib.units import show_length, to_millimetres

SHEET = "job_sheet.html"

_UNSURE = 0.95  # a station that cleans up less surely than this is named
_NAMED = 5  # so many of them


def typed_amount(what, text, unit=None):
    """Return a number that somebody typed, with decimal point or comma; a length in mm.

    Parameters
    ----------
    what : str
        What it is, for the error.
    text : str
    unit : str, optional
        Display unit that a length was typed in.

    Raises
    ------
    InputError
        If it is no number.

    Examples
    --------
    >>> typed_amount("tolerance", "12,5", "um"), typed_amount("tilt", "0.02")
    (0.0125, 0.02)
    """
    value = number(text.strip().replace("\N{MINUS SIGN}", "-"), None)
    if value is None:
        raise checks.wrong(what, "this is no number", repr(text)[:40], "type digits, such as 12,5")
    return value if unit is None else round(float(to_millimetres(value, unit)), 9)


class Deciding:
    """A decision at work on the heights of a survey.

    Parameters
    ----------
    survey : Survey
    heights : Heights

    Attributes
    ----------
    choice : Decision
        What is chosen now; at first as the survey has it.
    pinned : dict of str to Decision
        Options that are kept beside it, by name; at first what the survey has decided.
    """

    def __init__(self, survey, heights):
        if heights is None:
            raise NotDeterminedError(
                "heights: there are none to decide from yet; take the readings first"
            )
        self.survey, self.heights = survey, heights
        self.choice = survey.decision
        self.pinned = {"as decided": survey.decision} if survey.decision.faces else {}
        self._outcomes, self._told = {}, {}

    @property
    def unit(self):
        """Display unit."""
        return self.survey.display

    # ---- the choice ----

    def change(self, **changes):
        """Change the choice; what no longer fits beside the change is put right and told.

        Parameters
        ----------
        **changes
            Attributes of `Decision`.

        Returns
        -------
        list of str
            What was changed besides.
        """
        choice, told = replace(self.choice, **changes), []
        if choice.band > 0 and choice.clean_up > 0:
            other = "clean_up" if "band" in changes else "band"
            choice = replace(choice, **{other: 0.0})
            words = {"clean_up": "the allowance", "band": "the tolerance"}[other]
            told.append(f"{words} was set to 0: a face may not both keep a skin and lose one")
        if not choice.datum and (choice.tilt_along, choice.tilt_across) != (None, None):
            choice = replace(choice, tilt_along=None, tilt_across=None)
            told.append("the tilt was set free: without a datum nothing holds it")
        kept = tuple(name for name in choice.untouchable if name in choice.faces)
        cuts = {name: cut for name, cut in choice.greatest_cut.items() if name in choice.faces}
        self.choice = replace(choice, untouchable=kept, greatest_cut=cuts)
        return told

    @property
    def starts(self):
        """Decisions to start from, by name: those of the survey, and what is pinned."""
        return {"as decided": self.survey.decision, **self.survey.options, **self.pinned}

    def start_from(self, name):
        """Take up a decision of the survey, or one that is pinned."""
        checks.choice("option", name, self.starts)
        self.choice = self.starts[name]

    @property
    def name(self):
        """A name for the choice that tells it from what is pinned."""
        for name, decision in self.starts.items():
            if decision == self.choice:
                return name
        return _new_name("option", self.starts)

    # ---- what it comes to ----

    @property
    def outcome(self):
        """The plan of the choice, or the error that says why there is none."""
        return self.outcome_of(self.choice)

    def outcome_of(self, decision):
        """Return the plan of a decision or the error in its place; each is worked out once."""
        key = repr(decision)
        if key not in self._outcomes:
            try:
                self._outcomes[key] = plan_removal(self.heights, decision)
            except MetrolibError as error:
                self._outcomes[key] = error
        return self._outcomes[key]

    @property
    def sentences(self):
        """What the choice comes to: the plan, the hours, what does not surely clean up."""
        plan = self.outcome
        if isinstance(plan, MetrolibError):
            return [f"This cannot be done: {plan}"]
        said = [plan.in_words(self.unit)]
        time = self._hours(self.choice)
        return [*said, *([f"Work on the metal: {time}."] if time else []), *self._unsure(plan)]

    @property
    def consequences(self):
        """What the choice does to what rides on the faces and to what drives it, as sentences."""
        moved = self._moved(self.choice)
        return [f"{what}: {show_length(much, self.unit, sign=True)}" for what, much in moved]

    def _unsure(self, plan):
        """Name the stations that do not surely clean up, the least sure first."""
        if not plan.heights.cov.any():
            return []
        asked = np.where(np.isin(plan.face, plan.decision.untouchable), 0, plan.decision.clean_up)
        room = plan.relative_height - plan.target - asked
        chance = ndtr(room / np.maximum(plan.depth_u, 1e-12))
        chance[plan.left_out | np.isin(plan.face, plan.decision.untouchable)] = 1.0
        least = [i for i in np.argsort(chance, kind="stable") if chance[i] < _UNSURE]
        if not least:
            return []
        named = "; ".join(
            f"{place(plan, i)} on {str(plan.face[i])!r} {100 * chance[i]:.0f} %"
            for i in least[:_NAMED]
        )
        more = f"; and {len(least) - _NAMED} more" if len(least) > _NAMED else ""
        ends = "clean up" if plan.decision.band == 0 else "keep to the target"
        return [f"Least sure to {ends}, each for itself: {named}{more}."]

    def _hours(self, decision):
        """Write the hours that a decision takes; empty where no method tells."""
        plan = self.outcome_of(decision)
        if isinstance(plan, MetrolibError) or not self.survey.methods:
            return ""
        told = self._once("hours", decision, lambda: stages(plan, self.survey.methods).value)
        u = uncertainty(told)
        return f"{nominal(told):.1f} h" + (f", U = {2 * u:.1f} h (k = 2)" if u else "")

    def _moved(self, decision):
        """Return what a decision moves, and by how much [mm]."""
        plan, survey = self.outcome_of(decision), self.survey
        if isinstance(plan, MetrolibError) or not survey.carried:
            return []
        moved = self._once(
            "moved", decision, lambda: consequences(plan, survey.carried, survey.drive)
        )
        return [(what, much) for what, much in moved.items() if abs(much) >= 5e-5]

    def _once(self, what, decision, work):
        """Work something out once for a decision."""
        key = what, repr(decision)
        if key not in self._told:
            self._told[key] = work()
        return self._told[key]

    # ---- options side by side ----

    def pin(self, name):
        """Keep the choice beside what comes next.

        Raises
        ------
        InputError
            If the name is empty, or another option has it.
        """
        name = name.strip()
        if not name:
            raise InputError("option: it has no name, got nothing; give it one")
        if self.pinned.get(name, self.choice) != self.choice:
            raise checks.wrong("option", "another one has this name", repr(name), "choose another")
        self.pinned[name] = self.choice

    def unpin(self, name):
        """Take an option away again."""
        checks.choice("option", name, self.pinned)
        del self.pinned[name]

    @property
    def table(self):
        """The pinned options and the choice as a pandas table of texts, an option a row."""
        from pandas import DataFrame

        rows = [self._row(name, decision) for name, decision in self.pinned.items()]
        return DataFrame([*rows, self._row("on screen", self.choice)]).fillna("")

    def _row(self, name, decision):
        """Return one row of the table."""
        plan = self.outcome_of(decision)
        if isinstance(plan, MetrolibError):
            return {"option": name, "deepest": "cannot be done"}
        row = {
            "option": name,
            "deepest": show_length(plan.depth[plan.deepest], self.unit),
            "volume": volume(plan.volume),
            "hours": self._hours(decision),
            "all clean up": f"{100 * plan.confidence:.0f} %" if plan.heights.cov.any() else "",
            "governed by": governing_place(plan) or "set by hand",
        }
        moved = {
            what: show_length(much, self.unit, sign=True) for what, much in self._moved(decision)
        }
        return {key: text for key, text in row.items() if text} | moved

    # ---- into the folder ----

    def use(self, folder):
        """Write the choice into survey.toml; what was decided before stays there as an option.

        Parameters
        ----------
        folder : Path

        Returns
        -------
        str
            What was done, in words.

        Raises
        ------
        MetrolibError
            If the choice cannot be done, or the file cannot be read or written.
        """
        plan = self.outcome
        if isinstance(plan, MetrolibError):
            raise InputError(f"decision: it is not written, for it cannot be done; {plan}")
        on_disk = read_survey(folder)
        before = on_disk.decision
        changes = {
            name: value
            for name, value in vars(self.choice).items()
            if value != getattr(before, name)
        }
        if not changes:
            return f"{FILE} has this decision already; nothing was written."
        name = _new_name(f"before {datetime.now():%Y-%m-%d %H:%M}", on_disk.options)
        changed = on_disk.with_option(name, before) if before.faces else on_disk
        changed = changed.with_decision(**changes)
        write_files(folder, {FILE: encode(changed.toml_text, changed.encodings[0])})
        self.survey = changed
        kept = f" What was decided before is kept as the option {name!r}." if before.faces else ""
        return f"Written into {FILE}.{kept}"

    def print_sheet(self, folder):
        """Write the job sheet of the choice beside the survey, and return its path."""
        return job_sheet(self.survey, self.heights, self.outcome, folder / SHEET)


def _new_name(name, known):
    """Return a name that is none of the known ones."""
    number = 2
    new = name
    while new in known:
        new, number = f"{name} ({number})", number + 1
    return new

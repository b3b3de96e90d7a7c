"""Deciding: a decision that is changed step by step, what each comes to, and options beside it."""

from dataclasses import replace

from metrolib import checks
from metrolib.errors import MetrolibError, NotDeterminedError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.ways.consequences import consequences
from metrolib.show.jobsheet import job_sheet
from metrolib.survey.columns import number
from metrolib.units import to_millimetres

SHEET = "job_sheet.html"
AS_DECIDED = "as decided"  # what the survey says, among the options


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
    heights : Heights or None

    Attributes
    ----------
    choice : Decision
        What is chosen now; at first as the survey has it.
    pinned : dict of str to Decision
        Options that are kept beside it, by name; at first what the survey has decided.

    Raises
    ------
    NotDeterminedError
        If there are no heights.
    """

    def __init__(self, survey, heights):
        if heights is None:
            raise NotDeterminedError(
                "heights: there are none to decide from yet; take the readings first"
            )
        self.survey, self.heights = survey, heights
        self.choice = survey.decision
        self.pinned = {AS_DECIDED: survey.decision} if survey.decision.faces else {}
        self._known = {}

    @property
    def unit(self):
        """Display unit."""
        return self.survey.display

    @property
    def faces(self):
        """Names of the faces that were measured, a list of str."""
        return list(dict.fromkeys(self.heights.face.tolist()))

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
            words = {"clean_up": "The allowance", "band": "The tolerance"}[other]
            told.append(f"{words} was set to 0: a face may not both keep a skin and lose one.")
        if not choice.datum and (choice.tilt_along, choice.tilt_across) != (None, None):
            choice = replace(choice, tilt_along=None, tilt_across=None)
            told.append("The tilt was set free: without a datum nothing holds it.")
        kept = tuple(name for name in choice.untouchable if name in choice.faces)
        cuts = {name: cut for name, cut in choice.greatest_cut.items() if name in choice.faces}
        self.choice = replace(choice, untouchable=kept, greatest_cut=cuts)
        return told

    @property
    def starts(self):
        """Decisions to start from, by name: those of the survey, and what is pinned."""
        return {AS_DECIDED: self.survey.decision, **self.survey.options, **self.pinned}

    def start_from(self, name):
        """Take up a decision of the survey, or one that is pinned."""
        checks.choice("option", name, self.starts)
        self.choice = self.starts[name]

    def pin(self, name=""):
        """Keep the choice beside what comes next; without a name it is given one.

        Returns
        -------
        str
            The name.

        Raises
        ------
        InputError
            If another option has the name.
        """
        name = name.strip() or self._name()
        if self.starts.get(name, self.choice) != self.choice:
            raise checks.wrong("option", "another one has this name", repr(name), "choose another")
        self.pinned[name] = self.choice
        return name

    def unpin(self, name):
        """Take an option away again."""
        checks.choice("option", name, self.pinned)
        del self.pinned[name]

    def _name(self):
        """Return the name that the choice has, or a new one."""
        known = [name for name, decision in self.starts.items() if decision == self.choice]
        number = 1 + len(self.pinned)
        while not known and f"option {number}" in self.starts:
            number += 1
        return known[0] if known else f"option {number}"

    # ---- what it comes to ----

    @property
    def outcome(self):
        """The plan of the choice, or the error that says why there is none."""
        return self.outcome_of(self.choice)

    def deepest_on(self, face):
        """Return the most that the choice takes off a face [mm]; 0 where there is no plan of it."""
        plan = self.outcome
        parts = () if isinstance(plan, MetrolibError) else plan.per_face
        return next((part.most for part in parts if part.face == face), 0.0)

    def outcome_of(self, decision):
        """Return the plan of a decision, or the error in its place."""
        return self._once("plan", decision, lambda: _planned(self.heights, decision))

    def hours_of(self, decision):
        """Return the hours that a decision takes; None where no method tells."""
        plan = self.outcome_of(decision)
        if isinstance(plan, MetrolibError) or not self.survey.methods:
            return None
        return self._once("hours", decision, lambda: stages(plan, self.survey.methods).value)

    def moved_by(self, decision):
        """Return what a decision moves, and by how much, a dict of str to float [mm]."""
        plan, survey = self.outcome_of(decision), self.survey
        if isinstance(plan, MetrolibError) or not survey.carried:
            return {}
        return self._once(
            "moved", decision, lambda: consequences(plan, survey.carried, survey.drive)
        )

    def _once(self, what, decision, work):
        """Work something out once for a decision."""
        key = what, repr(decision)
        if key not in self._known:
            self._known[key] = work()
        return self._known[key]

    def print_sheet(self, folder):
        """Write the job sheet of the choice into a folder, and return its path."""
        return job_sheet(self.survey, self.heights, self.outcome, folder / SHEET)


def _planned(heights, decision):
    """Return a plan, or the error in its place."""
    try:
        return plan_removal(heights, decision)
    except MetrolibError as error:
        return error

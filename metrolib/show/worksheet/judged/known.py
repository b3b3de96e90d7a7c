"""Known: what the readings so far tell, what they leave open, and which reading helps most next."""

from dataclasses import dataclass, replace

import numpy as np

from metrolib.errors import MetrolibError
from metrolib.heights.blunders import Checks
from metrolib.heights.plan import left_open, plan_survey
from metrolib.show.worksheet.judged.closure import Closure, closure

#: What is wanted of the least sure result when the most useful reading is sought, of what it is.
_BETTER = 0.5

#: A reading that leaves more of it than this is not worth a set-up.
_WORTH_IT = 0.97


@dataclass(frozen=True)
class Known:
    """What is known of a survey while its readings come.

    Attributes
    ----------
    taken, planned : int
        Readings taken, and those still planned.
    suspects : tuple of str
        Readings that speak against the others.
    open_now : tuple of str
        What is not determined, each with what will tie it.
    sure : tuple of str
        How sure the results are that are determined: one for each kind, the least sure.
    closure : Closure or None
        How the traverse in hand closes.
    next_useful : str
        The next most useful reading.
    """

    taken: int
    planned: int
    suspects: tuple[str, ...]
    open_now: tuple[str, ...]
    sure: tuple[str, ...]
    closure: Closure | None
    next_useful: str

    @property
    def sentences(self):
        """All of it, what needs care first."""
        closing = [] if self.closure is None else [self.closure.words]
        found = [*self.suspects, *closing, *self.open_now, *self.sure, self.next_useful]
        return [sentence for sentence in found if sentence]

    def __str__(self):
        return "\n".join(self.sentences)


def known(survey, heights, traverse, *, row_functions=None):
    """Tell what the readings so far determine, and what to read next.

    Parameters
    ----------
    survey : Survey
    heights : Heights or None
        Adjusted from its readings.
    traverse : str
        The traverse in hand.
    row_functions : dict of str to function, optional
        As in `adjust`.

    Returns
    -------
    Known

    Notes
    -----
    For each quantity that is open the planned traverses are tried, as if they had been read: the
    first that determines it is named, or all of them, else the usual reading that would tie it.
    As long as readings are planned they come first, the traverse in hand before the others, since
    its set-up stands. When all are taken, the next most useful reading is the one that helps the
    least sure length most, among repeats and readings at stations left out
    (`metrolib.heights.plan.plan_survey`). This takes far longer than an adjustment, so it is asked
    for when there is time.
    """
    desk = _Desk(survey, survey.traverses[traverse].state, row_functions)
    items = () if heights is None else heights.not_determined
    ties = desk.ties(items)
    results = desk.results()
    return Known(
        len(survey.readings),
        len(survey.planned),
        _suspects(None if heights is None else heights.checks),
        tuple(_open(item, names) for item, names in zip(items, ties, strict=True)),
        _sure(results, survey.display),
        closure(survey, traverse),
        desk.next_useful(traverse, [name for names in ties for name in names], results),
    )


def _suspects(checks: Checks | None):
    """Say which readings speak against the others."""
    if checks is None:
        return ()
    return tuple(f"Suspect: {checks.describe(int(one))}; take it again." for one in checks.suspects)


def _open(item, names):
    """Say that something is not determined, and what ties it."""
    remedy = item.remedy
    if len(names) == 1:
        remedy = f"{names[0]!r}, which is planned, will tie it"
    elif names:
        remedy = "the readings that are planned will tie it"
    return f"Not determined yet: {item.what}; {remedy}."


def _sure(results, unit):
    """Say how sure the least sure result of each kind is."""
    least = {}
    for one in results:
        if one.kind not in least or one.worst > least[one.kind].worst:
            least[one.kind] = one
    return tuple(f"Least sure {one.in_words(unit)}." for one in least.values())


@dataclass(frozen=True, eq=False)
class _Desk:
    """Where plans are tried."""

    survey: object
    state: str
    row_functions: dict | None

    def ties(self, items):
        """Return for each open quantity the planned traverses that determine it: one, or all."""
        planned = self._planned()
        if not items or not planned:
            return [()] * len(items)
        in_the_end = self._left_open(self.survey.planned)
        left = {}
        found = []
        for item in items:
            if _key(item) in in_the_end:
                found.append(())
                continue
            for name in planned:
                if name not in left:
                    part = self.survey.planned.select(self.survey.planned.traverse == name)
                    left[name] = self._left_open(part)
                if _key(item) not in left[name]:
                    found.append((name,))
                    break
            else:
                found.append(tuple(planned))
        return found

    def _left_open(self, planned):
        """Return what is left open once some planned readings are taken, as keys."""
        found = self._tried(left_open, planned)
        return {None} if found is None else {_key(item) for item in found}

    def results(self):
        """Return what the readings taken so far determine."""
        found = self._tried(plan_survey, self._none_planned())
        return () if found is None else found.results

    def next_useful(self, traverse, ties, results):
        """Say which reading helps most next."""
        planned = self._planned()
        later = next((name for name in ties if name != traverse), None)
        if traverse in planned:  # as long as its set-up stands
            then = "" if later is None else f", then {later!r}"
            return f"Next most useful: go on with {traverse!r}{self._where(traverse)}{then}."
        if planned:
            name = later or planned[0]
            return f"Next most useful: {name!r}{self._where(name)}."
        return self._best_addition(results)

    def _where(self, traverse):
        """Say where a traverse goes on."""
        open_ = self.survey.planned.of(traverse)
        count = "" if len(open_) == 1 else f", {len(open_)} readings open"
        return f" at {open_.x[0]:g} mm{count}"

    def _best_addition(self, results):
        """Say which reading helps the least sure length most."""
        lengths = [one for one in results if one.question.unit == "mm"]
        if not lengths:
            return ""
        worst = max(lengths, key=lambda one: one.worst)
        found = self._tried(plan_survey, self._none_planned(), wanted=_BETTER * worst.worst, most=1)
        if found is None or not found.additions:
            return ""
        after = found[worst.name].worst_after
        unit = self.survey.display
        if after > _WORTH_IT * worst.worst:
            least = worst.shown(worst.worst, unit)
            return f"No single reading helps much: the least sure, {worst.name}, has u = {least}."
        return (
            f"Next most useful: {found.additions[0]}; it brings the {worst.name} from "
            f"u = {worst.shown(worst.worst, unit)} to {worst.shown(after, unit)}."
        )

    def _planned(self):
        """Return the planned traverses of this state, in the order of their rows."""
        names = dict.fromkeys(self.survey.planned.traverse.tolist())
        return [name for name in names if self.survey.traverses[name].state == self.state]

    def _none_planned(self):
        return self.survey.planned.select(np.zeros(len(self.survey.planned), dtype=bool))

    def _tried(self, plan, planned, **how):
        """Plan with the readings taken and some that are planned; None where that fails."""
        part = replace(self.survey, planned=planned)
        try:
            return plan(part, states=[self.state], row_functions=self.row_functions, **how)
        except MetrolibError:
            return None


def _key(item):
    """Return what makes two open quantities the same: a shape may fall into other parts."""
    return item.what.split()[0], item.faces

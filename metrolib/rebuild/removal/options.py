"""Several ways to decide a removal, side by side."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from metrolib import checks
from metrolib.errors import ImpossiblePlanError, InputError, MetrolibError, NotDeterminedError
from metrolib.heights.result import Heights
from metrolib.rebuild.removal.conditions import checked_decision, named
from metrolib.rebuild.removal.group import make_group
from metrolib.rebuild.removal.places import make_places
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.removal.programme_single import find_target
from metrolib.rebuild.removal.removal import make_programme, plan_removal
from metrolib.rebuild.wording import governing_place, place, with_crown, written
from metrolib.survey.decision import Decision
from metrolib.units import from_millimetres, show_length, unit_sign


@dataclass(frozen=True)
class AsItIs:
    """A group of faces left alone: how far it is from ending true.

    Attributes
    ----------
    faces : tuple of str
    together : str
        ``"coplanar"`` or ``"parallel"``.
    deviation : float
        Width of the narrowest zone, shaped and held like the target, that holds all stations that
        count; for parallel faces the widest that any face needs [mm].
    crown : float
        Of that shape [mm].
    """

    faces: tuple[str, ...]
    together: str
    deviation: float
    crown: float = 0.0

    def in_words(self, unit="um"):
        """Say how far off it is.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        off = show_length(self.deviation, unit)
        shape = f"{self.together}{with_crown(self.crown, unit)}"
        return f"{named(self.faces)} left alone: {off} off from {shape}."

    def __str__(self):
        return self.in_words()

    __repr__ = __str__


@dataclass(frozen=True, eq=False)
class Comparison:
    """Options side by side.

    Attributes
    ----------
    outcomes : tuple of (str, RemovalPlan or AsItIs or MetrolibError)
        What each option comes to, by name: a plan, or the error that says why there is none; first
        what is there if nothing is done.
    """

    outcomes: tuple[tuple[str, object], ...]

    def __getitem__(self, name):
        known = dict(self.outcomes)
        checks.choice("option", name, known)
        return known[name]

    def to_dataframe(self, unit="um"):
        """Return the options as a pandas table, one a row.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        rows = [{"option": name, **_row(outcome, unit)} for name, outcome in self.outcomes]
        return DataFrame(rows, columns=["option", *_columns(unit)])

    def in_words(self, unit="um"):
        """Say what each option comes to, one a line.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return "\n".join(f"{name}: {_line(outcome, unit)}" for name, outcome in self.outcomes)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def to_text(self, unit="um"):
        """Return the options as a table in plain text; what cannot be done stands below it."""
        table = written(self.to_dataframe(unit)).drop(
            columns=["at", "governed by", "cannot be done"]
        )
        refused = [
            f"{name}: cannot be done: {outcome}"
            for name, outcome in self.outcomes
            if isinstance(outcome, MetrolibError)
        ]
        return "\n".join([table.to_string(index=False), *refused])

    def to_html(self, unit="um"):
        """Return the options as a table in HTML, names escaped."""
        table = written(self.to_dataframe(unit))
        return table.loc[:, (table != "").any()].to_html(index=False, border=0)

    def _repr_html_(self):
        return self.to_html()


def compare(heights, options, *, seed=1, draws=40_000):
    """Plan several options from the same heights.

    `choose_way` puts beside them what they cost and leave, and what is sent out.

    Parameters
    ----------
    heights : Heights
    options : dict of str to Decision
        What might be decided, by name. What is there if nothing is done is told once for each set
        of faces, with the datum, the tilt and the crown of the first option that has it.
    seed, draws : int
        As in `plan_removal`.

    Returns
    -------
    Comparison

    Raises
    ------
    InputError
        If there is no option, or a condition of one makes no sense.

    Examples
    --------
    >>> from metrolib.heights.result import given_heights
    >>> from metrolib.survey.decision import Decision
    >>> from metrolib.survey.machine import Face
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [0.0, -0.05, 0.0])})
    >>> print(compare(heights, {
    ...     "cut it true": Decision(faces=("flat",)),
    ...     "high spots only": Decision(faces=("flat",), band=0.02),
    ... }))
    leave it alone: 'flat' left alone: 50.0 µm off from coplanar.
    cut it true: up to 50.0 µm, 0.38 cm³
    high spots only: up to 30.0 µm, 0.23 cm³
    """
    checks.kind("heights", heights, Heights, "it comes from adjust or given_heights")
    check_options(options)
    if not options:
        raise InputError(
            "options: there is nothing to compare, got none; give at least one decision"
        )
    plans, alone = [], {}
    for name, decision in options.items():
        decision = checked_decision(heights, decision, {})
        alone.setdefault((decision.faces, decision.together), decision)
        try:
            plans.append((name, plan_removal(heights, decision, seed=seed, draws=draws)))
        except (ImpossiblePlanError, NotDeterminedError) as error:
            plans.append((name, error))
    several = len({faces for faces, _ in alone}) > 1
    first = []
    for (faces, together), decision in alone.items():
        what = named(faces) if several else "it"
        asked = f" ({together} asked)" if len(alone) > 1 else ""
        first.append((f"leave {what} alone{asked}", _as_it_is(heights, decision)))
    for name, _ in first:
        if name in options:
            raise checks.wrong(
                "options",
                "this name tells what is there if nothing is done",
                repr(name),
                "rename it",
            )
    return Comparison((*first, *plans))


def check_options(options):
    """Refuse options that are no decisions by name."""
    if not isinstance(options, Mapping):
        raise checks.wrong(
            "options", "decisions by name are needed", type(options).__name__, "give a dict"
        )
    for name, decision in options.items():
        if not isinstance(decision, Decision):
            raise checks.wrong(
                f"option {name!r}", "it must be a Decision", repr(decision)[:60], "describe one"
            )


def _as_it_is(heights, decision):
    """Return how far a group is from ending true, or the error that says why this is not known."""
    bare = replace(
        decision,
        clean_up=0.0,
        band=0.0,
        confidence=None,
        minimise="deepest cut",
        untouchable=(),
        greatest_cut={},
        target_height=None,
    )
    try:
        group = make_group(heights, bare)
        programme = make_programme(group, bare, make_places(group, bare, gaps=False))
    except NotDeterminedError as error:
        return error
    # The deepest cut down to one target, made least, is the width of the narrowest zone.
    depth = programme.depth(find_target(programme).motion)
    deviation = float(depth.max())
    return AsItIs(tuple(decision.faces), decision.together, deviation, decision.crown)


def _columns(unit):
    """Return the heads of the table."""
    sign = unit_sign(unit)
    return [
        f"deepest cut [{sign}]",
        "at",
        "volume [cm³]",
        "governed by",
        "tilt along [mm/m]",
        "tilt across [mm/m]",
        f"guard [{sign}]",
        "confidence",
        f"deviation left [{sign}]",
        "cannot be done",
    ]


def _row(outcome, unit):
    """Return one row of the table."""
    deepest, at, metal, governed, along, across, guard, sure, left, why = _columns(unit)
    if isinstance(outcome, AsItIs):
        return {deepest: 0.0, metal: 0.0, left: from_millimetres(outcome.deviation, unit)}
    if not isinstance(outcome, RemovalPlan):
        return {why: str(outcome)}
    motion = dict(zip(outcome.motions, outcome.motion_values, strict=True))
    remaining = outcome.deviation_left[~outcome.left_out].max()
    where = f"{place(outcome, outcome.deepest)} on {str(outcome.face[outcome.deepest])!r}"
    return {
        deepest: from_millimetres(outcome.depth[outcome.deepest], unit),
        at: where if outcome.volume > 0 else "",
        metal: outcome.volume / 1e3,
        governed: governing_place(outcome),
        along: motion.get("pitch"),
        across: motion.get("roll"),
        guard: from_millimetres(outcome.guard_depth, unit),
        sure: outcome.confidence,
        left: from_millimetres(round(float(remaining), 9), unit),
        why: "",
    }


def _line(outcome, unit):
    """Say one option in a line."""
    if isinstance(outcome, AsItIs):
        return outcome.in_words(unit)
    if not isinstance(outcome, RemovalPlan):
        return f"cannot be done: {outcome}"
    deepest = show_length(outcome.depth[outcome.deepest], unit)
    return f"up to {deepest}, {outcome.volume / 1e3:.2f} cm³"

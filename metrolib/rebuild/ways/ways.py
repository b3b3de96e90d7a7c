"""Ways of making faces true: what each costs and leaves, in words and as a table."""

from dataclasses import dataclass
from html import escape

from metrolib import checks
from metrolib.form.wording import nominal, uncertainty
from metrolib.heights.result import Heights
from metrolib.rebuild.acceptance.verdicts import said_share
from metrolib.rebuild.removal.options import AsItIs
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.ways.foretold import FORMS
from metrolib.survey.decision import Decision
from metrolib.units import from_millimetres, show_length, unit_sign


@dataclass(frozen=True)
class SentOut:
    """A cut that somebody else makes, such as grinding.

    Attributes
    ----------
    decision : Decision
        What is ordered; its `clean_up` is the depth that must come off everywhere [mm].
    u : float
        How far the ground face may lie from the plane that was ordered: standard uncertainty,
        from place to place [mm].
    cost : float or None
        What it costs in all, carriage included.
    """

    decision: Decision
    u: float
    cost: float | None = None


@dataclass(frozen=True, eq=False)
class Way:
    """One way, with what it costs and leaves.

    Attributes
    ----------
    name : str
    outcome : RemovalPlan, AsItIs or MetrolibError
        As in `Comparison`.
    sent_out : bool
    hours : float, `uncertainties` number, or None
        Of one's own work; None where no rate was given or there is no plan.
    cost : float, `uncertainties` number, or None
    drop : dict of str to float
        Mean depth that each face loses [mm].
    consequences : dict of str to float
        What the cut does to what rides on the faces, each where it is furthest off [mm]; empty
        where nothing was said of it.
    left : dict of str to (float, float)
        For straightness, flatness of a wide face, parallelism and twist that which the worst face
        or pair is expected to keep, and what it keeps at most in 95 of 100 cases [mm; twist mm/m,
        without its sign].
    chances : dict of str to float
        Probability that each tolerance will be met on all its faces, the least of them.
    after : Heights or None
        Heights as planned after the cut, with what will be unsure of them.
    """

    name: str
    outcome: object
    sent_out: bool
    hours: object
    cost: object
    drop: dict
    consequences: dict
    left: dict
    chances: dict
    after: Heights | None

    @property
    def deepest(self):
        """Deepest cut [mm], or None."""
        if isinstance(self.outcome, RemovalPlan):
            return float(self.outcome.depth[self.outcome.deepest])
        return 0.0 if isinstance(self.outcome, AsItIs) else None

    @property
    def volume(self):
        """Metal that comes off [mm³], or None."""
        if isinstance(self.outcome, RemovalPlan):
            return self.outcome.volume
        return 0.0 if isinstance(self.outcome, AsItIs) else None

    def in_words(self, unit="um"):
        """Return the way in a sentence.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        if self.deepest is None:
            return f"{self.name}: cannot be done: {self.outcome}"
        said = ["nothing comes off"]
        if self.volume > 0:
            said = [
                f"up to {show_length(self.deepest, unit)}, {self.volume / 1e3:.2f} cm³",
                f"mean drop {show_length(max(self.drop.values()), unit)} at most",
            ]
        if self.hours is not None and self.volume > 0 and not self.sent_out:
            said.append(_said_amount(self.hours, "h"))
        if self.cost is not None and self.volume > 0:
            said.append(f"cost {_said_amount(self.cost, '')}".strip())
        said += [
            f"{what} {show_length(value, unit)}"
            for what, value in self.consequences.items()
            if value
        ]
        said += [f"{form} left {self._said_left(form, unit)}" for form in self.left]
        said += [f"{name}: {said_share(share)}" for name, share in self.chances.items()]
        return f"{self.name}: {'; '.join(said)}"

    def _said_left(self, form, unit):
        expected, most = self.left[form]
        if form == "twist":
            return f"{expected:.4f} mm/m, at most {most:.4f} mm/m"
        return f"{show_length(expected, unit)}, at most {show_length(most, unit)}"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__


@dataclass(frozen=True, eq=False)
class Ways:
    """Ways side by side.

    Attributes
    ----------
    ways : tuple of Way
        First what is there if nothing is done.
    tolerances : tuple of str
        Names of the tolerances whose chances are told.
    """

    ways: tuple[Way, ...]
    tolerances: tuple[str, ...]

    def __getitem__(self, name):
        known = {way.name: way for way in self.ways}
        checks.choice("way", name, known)
        return known[name]

    def in_words(self, unit="um"):
        """Return each way in words, one a line.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return "\n".join(way.in_words(unit) for way in self.ways)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def to_dataframe(self, unit="um"):
        """Return the ways as a pandas table, one a row.

        Parameters
        ----------
        unit : str
            Of lengths, ``"um"`` or ``"thou"``; twist stays in mm/m.
        """
        from pandas import DataFrame

        return DataFrame([self._row(way, unit) for way in self.ways])

    def _row(self, way, unit):
        sign = unit_sign(unit)

        def length(value):
            return None if value is None else from_millimetres(value, unit)

        hours, cost = way.hours, way.cost
        row = {
            "way": way.name,
            f"deepest cut [{sign}]": length(way.deepest),
            "volume [cm³]": None if way.volume is None else way.volume / 1e3,
            "hours": None if hours is None else nominal(hours),
            "u(hours)": None if hours is None else uncertainty(hours),
            "cost": None if cost is None else nominal(cost),
            f"mean drop [{sign}]": length(max(way.drop.values(), default=None)),
        }
        told = dict.fromkeys(what for each in self.ways for what in each.consequences)
        row |= {f"{what} [{sign}]": length(way.consequences.get(what)) for what in told}
        for form in FORMS:
            known = way.left.get(form)
            shown = (lambda value: value) if form == "twist" else length
            what = f"{form} left [{'mm/m' if form == 'twist' else sign}]"
            row[what] = None if known is None else shown(known[0])
            row[f"{what}, at most"] = None if known is None else shown(known[1])
        return {**row, **{name: way.chances.get(name) for name in self.tolerances}}

    def to_html(self, unit="um"):
        """Return the ways as a table in HTML, names escaped, a way a column."""
        table = self.to_dataframe(unit).set_index("way").dropna(axis="columns", how="all")
        heads = "".join(f"<th>{escape(name)}</th>" for name in table.index)
        body = "".join(
            f"<tr><th>{escape(what)}</th>"
            + "".join(f"<td>{escape(_cell(what, value, self.tolerances))}</td>" for value in column)
            + "</tr>"
            for what, column in table.items()
        )
        refused = "".join(
            f"<p>{escape(way.in_words(unit))}</p>" for way in self.ways if way.deepest is None
        )
        head = f"<thead><tr><th></th>{heads}</tr></thead>"
        return f"<table>{head}<tbody>{body}</tbody></table>{refused}"

    def _repr_html_(self):
        return self.to_html()


def _said_amount(number, unit):
    """Say hours or money, with the expanded uncertainty where there is one.

    Examples
    --------
    >>> from uncertainties import ufloat
    >>> _said_amount(ufloat(12.3, 2.0), "h"), _said_amount(800.0, "")
    ('12 h, U = 4 h (k = 2)', '800')
    >>> _said_amount(ufloat(3.31, 0.2), "h")
    '3.3 h, U = 0.4 h (k = 2)'
    """
    u = uncertainty(number)
    digits = 1 if unit and (nominal(number) < 10 or u and 2 * u < 1) else 0
    said = f"{nominal(number):.{digits}f} {unit}".strip()
    return said if not u else f"{said}, U = {2 * u:.{digits}f} {unit}".strip() + " (k = 2)"


def _cell(what, value, tolerances):
    """Write one cell of the table; nothing where there is no number."""
    if value is None or value != value:  # not a number
        return ""
    if what in tolerances:
        return said_share(value)
    digits = 4 if "[mm/m]" in what else 0 if what in ("hours", "u(hours)", "cost") else 1
    return f"{value:.{digits}f}"

"""Verdicts: what was decided of each test, in words and as a table."""

from dataclasses import dataclass
from html import escape

from metrolib import checks
from metrolib.form.wording import measured_length, nominal, slope, uncertainty
from metrolib.rebuild.acceptance.conformity import ACCEPTED, NOT_ACCEPTED, NOT_DECIDED, guard
from metrolib.rebuild.acceptance.tolerance_tables import in_words
from metrolib.survey.tolerances import SLOPES, Tolerance
from metrolib.units import from_millimetres, unit_sign


@dataclass(frozen=True, eq=False)
class Verdict:
    """One test.

    Attributes
    ----------
    tolerance : Tolerance
    on : str
        The faces; empty for a figure that was given.
    length : float or None
        Over which it was measured, or what it counts as [mm].
    low, high : float
        Between which the figure must lie; a peak-to-valley figure lies above 0 [mm or mm/m].
    measured : float, `uncertainties` number, or None
        The figure; of several places the one that decides; None where the heights do not tell.
    where : str
        Which place that is.
    decision : str
        ``"accepted"``, ``"not accepted"`` or ``"not decided"``.
    probability : float or None
        Of conformity.
    note : str
        Why it is not decided, or how it was.
    """

    tolerance: Tolerance
    on: str
    length: float | None
    low: float
    high: float
    measured: object
    where: str
    decision: str
    probability: float | None
    note: str

    @property
    def name(self):
        """The test and the faces, in words."""
        return f"{self.tolerance.name}, {self.on}" if self.on else self.tolerance.name

    @property
    def limit(self):
        """The limit, scaled [mm or mm/m]."""
        return max(self.high, -self.low)

    @property
    def u(self):
        """Standard uncertainty of the figure by the linear law, or None."""
        return None if self.measured is None else uncertainty(self.measured)

    def allowed(self, unit="um"):
        """Say what the tolerance allows, scaled where the length is known."""
        return in_words(self.tolerance, None if self.length is None else self.limit, unit)

    def said_measured(self, unit="um"):
        """Say the figure with its expanded uncertainty, and where it is."""
        if self.measured is None:
            return ""
        if self.tolerance.test in SLOPES:
            said = slope(self.measured)
        else:
            said = measured_length(self.measured, unit)
            signed = not self.tolerance.peak_to_valley and nominal(self.measured) > 0
            said = f"+{said}" if signed else said
        return f"{said} {self.where}".strip()

    def in_words(self, unit="um"):
        """Return the test in a sentence.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        parts = [
            f"{self.name}: {self.decision}",
            f"allowed {self.allowed(unit)}",
        ]
        if self.measured is not None:
            parts.append(f"measured {self.said_measured(unit)}")
        if self.probability is not None:
            parts.append(f"probability of conformity {said_share(self.probability)}")
        if self.note:
            parts.append(self.note)
        return f"{'; '.join(parts)} ({self.tolerance.origin})"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__


@dataclass(frozen=True, eq=False)
class Acceptance:
    """The tests of a machine, each accepted, not accepted, or not decided.

    Attributes
    ----------
    verdicts : tuple of Verdict
    coverage : float
        Probability of conformity that is asked for.
    omitted : tuple of str
        Names of the tolerances that are for other lengths.
    """

    verdicts: tuple[Verdict, ...]
    coverage: float
    omitted: tuple[str, ...] = ()

    def __getitem__(self, name):
        """Return the verdict of that name, as `Verdict.name` says it."""
        known = {one.name: one for one in self.verdicts}
        checks.choice("test", name, known)
        return known[name]

    def guard_of(self, verdict):
        """Return how far inside a limit a figure must lie to be accepted, or None."""
        return None if verdict.u is None else guard(verdict.u, self.coverage)

    @property
    def value(self):
        """``"accepted"`` if all tests are, ``"not accepted"`` if one is not, else undecided."""
        decisions = {one.decision for one in self.verdicts}
        if NOT_ACCEPTED in decisions:
            return NOT_ACCEPTED
        return ACCEPTED if decisions == {ACCEPTED} else NOT_DECIDED

    def in_words(self, unit="um"):
        """Return all tests in words, one a line.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return "\n  ".join([self._head(), *(one.in_words(unit) for one in self.verdicts)])

    def _head(self):
        counts = [
            f"{sum(one.decision == word for one in self.verdicts)} {word}"
            for word in (ACCEPTED, NOT_ACCEPTED, NOT_DECIDED)
        ]
        tests = "1 test" if len(self.verdicts) == 1 else f"{len(self.verdicts)} tests"
        head = (
            f"{tests}: {', '.join(counts)}, with a probability of conformity of at least "
            f"{self.coverage * 100:.10g} %"
        )
        if self.omitted:
            head += f"; for other lengths: {', '.join(self.omitted)}"
        return head

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def to_dataframe(self, unit="um"):
        """Return the tests as a pandas table, one a row.

        Parameters
        ----------
        unit : str
            Of lengths, ``"um"`` or ``"thou"``; slopes stay in mm/m.
        """
        from pandas import DataFrame

        return DataFrame([_row(one, unit) for one in self.verdicts])

    def to_html(self, unit="um"):
        """Return the tests as a table in HTML, names escaped."""
        heads = ("test", "allowed", "measured", "decision", "probability", "note", "source")
        rows = [
            (
                one.name,
                one.allowed(unit),
                one.said_measured(unit),
                one.decision,
                "" if one.probability is None else said_share(one.probability),
                one.note,
                one.tolerance.origin,
            )
            for one in self.verdicts
        ]
        head = "".join(f"<th>{word}</th>" for word in heads)
        body = "".join(
            f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows
        )
        table = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
        return f"<p>{escape(self._head())}</p>{table}"

    def _repr_html_(self):
        return self.to_html()


def said_share(probability):
    """Say a probability in per cent, without a false 0 or 100 %.

    Examples
    --------
    >>> said_share(0.9999), said_share(0.5), said_share(0.0)
    ('above 99.9 %', '50.0 %', 'below 0.1 %')
    """
    if probability > 0.999:
        return "above 99.9 %"
    return "below 0.1 %" if probability < 0.001 else f"{100 * probability:.1f} %"


def _row(verdict, unit):
    """Return one test as a row of a table."""

    def shown(value):
        if value is None:
            return None
        if verdict.tolerance.test in SLOPES:
            return value
        return from_millimetres(value, unit)

    measured = None if verdict.measured is None else nominal(verdict.measured)
    return {
        "test": verdict.name,
        "unit": "mm/m" if verdict.tolerance.test in SLOPES else unit_sign(unit),
        "from": shown(verdict.low),
        "to": shown(verdict.high),
        "measured": shown(measured),
        "U (k = 2)": None if verdict.u is None else shown(2 * verdict.u),
        "decision": verdict.decision,
        "probability": verdict.probability,
        "note": verdict.note,
        "source": verdict.tolerance.origin,
    }

"""Tolerances: what a test of the finished ways allows, and where the figure comes from."""

from dataclasses import dataclass, replace
from math import inf, isinf

from metrolib import checks

LINE_SIGNS = ("either", "convex only", "concave only")
NUMBER_SIGNS = ("either", "positive only", "negative only")

#: The tests, with the signs that their tolerances may have.
TESTS = {
    "straightness": LINE_SIGNS,
    "flatness": ("either",),
    "parallelism": ("either",),
    "coplanarity": ("either",),
    "twist": NUMBER_SIGNS,
    "variation of level": ("either",),
    "level": NUMBER_SIGNS,
    "number": NUMBER_SIGNS,
}

#: Tests whose figure is a slope [mm/m]; those of all others are lengths [mm].
SLOPES = ("twist", "variation of level", "level")

#: Tests that a tolerance "in any stretch of so and so much" makes sense for.
LOCAL = ("straightness", "parallelism")


@dataclass(frozen=True)
class Tolerance:
    """What one test allows.

    Attributes
    ----------
    name : str
    test : str
        ``"straightness"``, ``"flatness"``, ``"parallelism"``, ``"coplanarity"``; ``"twist"``, roll
        at the far end less roll at the near end; ``"variation of level"``, the greatest
        difference of roll between two stations; ``"level"``, the slope of a face against the
        horizon; ``"number"``, any signed number that was measured otherwise.
    limit : float
        [mm]; of twist, variation of level and level [mm/m].
    sign : str
        ``"either"``: form up to `limit`, a signed figure from -limit to +limit.
        ``"convex only"``: all of the line from 0 to `limit` above its end points;
        ``"concave only"``: below them. ``"positive only"``, ``"negative only"``: the figure
        from 0 to `limit` on that side.
    per : float or None
        The length that `limit` holds for, in proportion for others [mm]; None: for every length.
    in_any : float or None
        A local tolerance: for every stretch of this length, wherever it lies [mm].
    length_from, length_to : float
        It is for lengths above the one and up to the other [mm].
    add_per_metre : float
        Added to `limit` for each metre beyond `length_from`, in proportion.
    most, least : float
        Between which a limit stays when it is scaled.
    rounded_to : float
        The step to whose nearest multiple a scaled limit is rounded; 0 leaves it.
    faces, datum : tuple of str
        What it is for, in a survey.
    positive : str
        What a positive figure means, in words.
    source, clause : str
        Where the figure comes from.
    from_memory : bool
        Whether it was written down from memory: a default to be edited, not a quotation.
    confidence : str
        How sure that memory or reading is: ``"high"``, ``"medium"``, ``"low"``.
    """

    name: str
    test: str
    limit: float
    sign: str = "either"
    per: float | None = None
    in_any: float | None = None
    length_from: float = 0.0
    length_to: float = inf
    add_per_metre: float = 0.0
    most: float = inf
    least: float = 0.0
    rounded_to: float = 0.0
    faces: tuple[str, ...] = ()
    datum: tuple[str, ...] = ()
    positive: str = ""
    source: str = ""
    clause: str = ""
    from_memory: bool = False
    confidence: str = ""

    @property
    def needs_length(self):
        """Whether the limit, or whether it holds at all, depends on the length."""
        bounded = self.length_from > 0 or not isinf(self.length_to)
        return bounded or self.per is not None or self.add_per_metre != 0

    @property
    def peak_to_valley(self):
        """Whether its figure is the width of a zone, which has no sign."""
        if self.test == "parallelism":
            return self.in_any is None
        return self.test in ("straightness", "flatness", "coplanarity") and self.sign == "either"

    def covers(self, length):
        """Tell whether it is for a length [mm]."""
        return not self.needs_length or self.length_from < length <= self.length_to

    def limit_at(self, length=None):
        """Return the limit for a length, scaled and rounded as the tolerance says.

        Parameters
        ----------
        length : float, optional
            [mm]

        Returns
        -------
        float
            [mm], or [mm/m] for slopes.

        Raises
        ------
        InputError
            If it depends on the length, and none is given.

        Examples
        --------
        0.02 mm up to 1000 mm and 0.01 mm more for each further metre, in steps of 0.002:

        >>> bed = Tolerance("bed", "straightness", 0.02, length_from=1000, add_per_metre=0.01,
        ...                 rounded_to=0.002)
        >>> bed.limit_at(1400), bed.limit_at(1500)
        (0.024, 0.024)

        0.02 mm per 300 mm, but never less than 0.005:

        >>> spindle = Tolerance("spindle", "number", 0.02, per=300, least=0.005)
        >>> round(spindle.limit_at(150), 6), spindle.limit_at(30)
        (0.01, 0.005)
        """
        if not self.needs_length:
            return self.limit
        if length is None:
            raise checks.wrong(
                "length",
                f"the tolerance {self.name!r} depends on the length",
                "none",
                "give the length that was tested, in mm",
            )
        length = checks.number("length", length, above=0)
        if self.per is None and self.add_per_metre == 0:
            return self.limit
        limit = self.limit if self.per is None else self.limit * length / self.per
        limit += self.add_per_metre * max(length - self.length_from, 0.0) / 1000
        if self.rounded_to:
            limit = round(limit / self.rounded_to) * self.rounded_to
        return round(min(max(limit, self.least), self.most), 12)

    def bounds(self, length=None):
        """Return between which limits the figure must lie, (2,); see `limit_at`."""
        return self._around(self.limit_at(length))

    @property
    def unscaled_bounds(self):
        """The same, as long as no length is known."""
        return self._around(self.limit)

    def _around(self, limit):
        if self.peak_to_valley or self.sign in ("convex only", "positive only"):
            return 0.0, limit
        return -limit, 0.0 if self.sign in ("concave only", "negative only") else limit

    def on(self, *faces, datum=()):
        """Return the same tolerance for some faces of a survey.

        Parameters
        ----------
        *faces : str
            Each is tested by itself for straightness and level, each against each datum for
            parallelism; twist and variation of level are tested between the two that lie
            outermost in y; for coplanarity all go together.
        datum : sequence of str
            Of parallelism, what it counts from.
        """
        return replace(self, faces=tuple(faces), datum=tuple(datum))

    @property
    def origin(self):
        """Where it comes from, in words, with a mark where it is from memory."""
        where = ", ".join(part for part in (self.source, self.clause) if part) or "no source given"
        if not self.from_memory:
            return where
        sure = f", {self.confidence} confidence" if self.confidence else ""
        return f"{where} [from memory{sure}]"


def check_tolerance(tolerance):
    """Refuse a tolerance that makes no sense.

    Raises
    ------
    InputError
        If the test is unknown, the limit or a length not positive, or the sign or the stretch is
        none that this test can have.
    """
    name = f"tolerance {tolerance.name!r}"
    checks.choice(f"test of {name}", tolerance.test, TESTS)
    checks.number(f"limit of {name}", tolerance.limit, above=0)
    checks.choice(f"sign of {name}", tolerance.sign, TESTS[tolerance.test])
    for key in ("per", "in_any", "most"):
        value = getattr(tolerance, key)
        if value is not None and not isinf(value):
            checks.number(f"{key} of {name}", value, above=0)
    for key in ("length_from", "add_per_metre", "least", "rounded_to"):
        checks.number(f"{key} of {name}", getattr(tolerance, key), at_least=0)
    wrong = _disagreement(tolerance)
    if wrong is not None:
        raise checks.wrong(name, wrong[1], repr(getattr(tolerance, wrong[0])), wrong[2])


def _disagreement(tolerance):
    """Return a key that does not go with the others, what is wrong and what to do; or None."""
    if tolerance.in_any is not None:
        if tolerance.test not in LOCAL:
            known = " and ".join(LOCAL)
            return "in_any", f"only {known} have local tolerances", "leave in_any out"
        if tolerance.sign != "either":
            return "sign", "a local tolerance has no sign", 'leave sign out, or "either"'
        if tolerance.per is not None:
            return "per", "a local tolerance is not scaled by length", "leave per out"
    if tolerance.length_to <= tolerance.length_from:
        return "length_to", "it is not beyond length_from", "write the lower as length_from"
    if tolerance.most < tolerance.least:
        return "most", "it is below least", "write the lower as least"
    return None


def take_tolerance(section, faces):
    """Return the `Tolerance` of one table.

    Parameters
    ----------
    section : Section
    faces : set of str
        Names of the faces.
    """
    test = section.choice("test", TESTS, what="test")
    numbers = {key: section.number(key, None, above=0) for key in ("per", "in_any", "most")}
    numbers["length_to"] = section.number("length_to", inf, above=0)
    numbers["most"] = inf if numbers["most"] is None else numbers["most"]
    tolerance = Tolerance(
        name=section.path[-1],
        test=test,
        limit=section.number("limit", above=0),
        sign=section.choice("sign", TESTS.get(test, (*LINE_SIGNS, *NUMBER_SIGNS[1:])), "either"),
        length_from=section.number("length_from", 0.0, at_least=0),
        add_per_metre=section.number("add_per_metre", 0.0, at_least=0),
        least=section.number("least", 0.0, at_least=0),
        rounded_to=section.number("rounded_to", 0.0, at_least=0),
        faces=section.names("faces", faces, ()),
        datum=section.names("datum", faces, ()),
        positive=section.text("positive", ""),
        source=section.text("source", ""),
        clause=section.text("clause", ""),
        from_memory=section.flag("from_memory", False),
        confidence=section.choice("confidence", ("high", "medium", "low"), ""),
        **numbers,
    )
    section.finish()
    if section.sound:
        wrong = _disagreement(tolerance)
        if wrong is not None:
            section.fault(*wrong)
    return tolerance

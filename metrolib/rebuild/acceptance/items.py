"""What there is to be tested: one item for each face, or pair, that a tolerance is for."""

from dataclasses import dataclass
from functools import partial

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form.coplanarity import Coplanarity
from metrolib.form.flatness import Flatness
from metrolib.form.parallelism import Parallelism
from metrolib.form.straightness import Straightness
from metrolib.form.twist import Twist
from metrolib.rebuild.acceptance import tested
from metrolib.rebuild.findings import UNKNOWN, findings
from metrolib.survey.decision import Decision

#: The result of form that each test can be decided from.
KINDS = {
    "straightness": Straightness,
    "flatness": Flatness,
    "parallelism": Parallelism,
    "coplanarity": Coplanarity,
    "twist": Twist,
    "variation of level": Twist,
}


@dataclass(frozen=True, eq=False)
class Item:
    """One thing to be tested.

    Attributes
    ----------
    on : str
        The faces, in words.
    length : float or None
        Over which it was measured [mm].
    ask : callable or None
        Makes what the tolerance asks of the heights; None where they can't tell.
    reason : str
        Why they can't.
    """

    on: str
    length: float | None
    ask: object = None
    reason: str = ""

    def asked(self, tolerance):
        """Return what the tolerance asks of the heights.

        Raises
        ------
        InputError
            If its stretch is longer than what was measured.
        """
        if tolerance.in_any is not None and tolerance.in_any > self.length * (1 + 1e-9):
            raise checks.wrong(
                f"in_any of tolerance {tolerance.name!r}",
                f"the stretch is longer than what was measured, {self.length:.10g} mm",
                f"{tolerance.in_any:.10g}",
                "leave this tolerance out, or measure further",
            )
        return self.ask()


def items_of_figure(tolerance, figure):
    """Return the one item that a given figure is.

    Parameters
    ----------
    tolerance : Tolerance
    figure : number, (number, length), or a result of form

    Raises
    ------
    InputError
        If the figure is not of the kind that the test needs.
    """
    if tolerance.test in ("number", "level"):
        told = f"figure of {tolerance.name!r}"
        number, length = (
            figure if isinstance(figure, tuple) and len(figure) == 2 else (figure, None)
        )
        checks.quantity(told, number)
        if length is not None:
            length = checks.number(f"length of the {told}", length, above=0)
        return [Item("", length, partial(tested.a_number, number))]
    kind = KINDS[tolerance.test]
    if not isinstance(figure, kind):
        raise checks.wrong(
            f"figure of {tolerance.name!r}",
            f"a {tolerance.test} is decided from a {kind.__name__}",
            type(figure).__name__,
            f"give what metrolib.{kind.__name__.lower()} returns",
        )
    return [Item("", _span(figure), partial(tested.of_result, tolerance, figure))]


def _span(result):
    """Return the length over which a result of form was measured [mm]."""
    if isinstance(result, Coplanarity):
        result = result.together
    spans = [np.ptp(result.x)]
    if isinstance(result, Flatness):
        spans.append(np.ptp(result.y))
    return float(max(spans))


class HeightItems:
    """Finds the items of heights; the forms of the same faces are found once.

    Parameters
    ----------
    heights : Heights
    """

    def __init__(self, heights):
        self.heights = heights
        self.known = {}

    def of(self, tolerance):
        """Return the items of one tolerance.

        Raises
        ------
        InputError
            If it names no face, an unknown one, too few, or no datum where it needs one.
        """
        for name in (*tolerance.faces, *tolerance.datum):
            checks.choice(f"faces of tolerance {tolerance.name!r}", name, self.heights.faces)
        self._check_faces(tolerance)
        if tolerance.test == "level":
            return [self._level(name) for name in tolerance.faces]
        return [self._item(tolerance, key, named) for key, named in self._keys(tolerance).items()]

    def _check_faces(self, tolerance):
        least = 2 if tolerance.test in ("twist", "variation of level", "coplanarity") else 1
        if len(tolerance.faces) < least:
            raise checks.wrong(
                f"tolerance {tolerance.name!r}",
                f"{tolerance.test} needs at least {least} face{'s' * (least > 1)}",
                len(tolerance.faces),
                "name them with faces = [...], or tolerance.on(...)",
            )
        if tolerance.test == "parallelism" and not tolerance.datum:
            raise InputError(
                f"tolerance {tolerance.name!r}: parallelism needs a datum, got none; name it with "
                "datum = [...], or tolerance.on(..., datum=[...])"
            )

        if tolerance.test == "parallelism" and not self._keys(tolerance):
            raise checks.wrong(
                f"tolerance {tolerance.name!r}",
                "a face is always parallel to itself",
                f"datum {tolerance.datum[0]!r}",
                "name another face as datum",
            )

    def _keys(self, tolerance):
        """Return what `Findings` calls each item, with its faces."""
        faces = tolerance.faces
        if tolerance.test in ("straightness", "flatness"):
            return {name: (name,) for name in faces}
        if tolerance.test == "parallelism":
            return {(a, b): (a, b) for a in faces for b in tolerance.datum if a != b}
        if tolerance.test == "coplanarity":
            return {None: faces}
        across = sorted(faces, key=lambda name: self.heights.faces[name].y)
        return {(across[0], across[-1]): (across[0], across[-1])}

    def _item(self, tolerance, key, named):
        on = " against ".join(named) if tolerance.test == "parallelism" else " and ".join(named)
        found = self._findings(tolerance)
        kind = "twist" if tolerance.test == "variation of level" else tolerance.test
        results = getattr(found, kind)
        result = results if key is None else results.get(key)
        if result is None:
            return Item(on, self._length(named[0]), reason=self._reason(tolerance.test, named))
        return Item(on, _span(result), partial(tested.of_result, tolerance, result))

    def _findings(self, tolerance):
        measured = set(self.heights.face.tolist())
        faces = tuple(name for name in tolerance.faces if name in measured)
        datum = tuple(name for name in tolerance.datum if name in measured)
        if (faces, datum) not in self.known:
            decision = Decision(faces=faces, datum=datum, together="coplanar")
            self.known[faces, datum] = findings(self.heights, decision)
        return self.known[faces, datum]

    def _reason(self, test, named):
        """Say why the readings do not tell."""
        missing = [name for name in named if not self._counting(name).size]
        if missing:
            return f"no station of {missing[0]!r} counts"
        if test == "flatness" and np.unique(self.heights.y[self._counting(named[0])]).size == 1:
            return f"{named[0]!r} was surveyed along one line: ask for its straightness"
        for told in self.heights.not_determined:
            if set(named) & set(told.faces):
                return str(told)
        return f"the readings do not determine the {test}"

    def _counting(self, name):
        return np.flatnonzero((self.heights.face == name) & ~self.heights.left_out)

    def _length(self, name):
        """Return how long the face was surveyed [mm], or None."""
        mine = self._counting(name)
        return float(np.ptp(self.heights.x[mine])) or None if mine.size else None

    def _level(self, name):
        length = self._length(name)
        if length is None:
            return Item(name, None, reason=f"fewer than two stations of {name!r} count")
        asked = tested.level_of(self.heights, name)
        if asked.u[0] * length / 1000 > UNKNOWN:
            reason = f"no reading ties {name!r} to the horizon"
            return Item(name, length, reason=reason)
        return Item(name, length, lambda: asked)

"""Traverses and readings: what was read, where, and how the set-up stood."""

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import count

import numpy as np

#: Keys that the traverse of each reading kind must have, then those that it may have; a default
#: `face` may stand in every one.
KINDS = {
    "level along": (("foot_spacing",), ("turned", "line")),
    "level across": (("face", "other_face"), ("turned", "distance")),
    "straightedge": (("straightedge",), ("sole_up", "end_for_end", "start", "supports_at")),
    "feeler gap": (("straightedge",), ("sole_up", "end_for_end", "start", "supports_at")),
    "carriage": (("riding", "feet"), ()),
    "micrometer": (("opposite_face",), ()),
    "gauge": (("resting_on",), ("weights",)),
    "wire": (("wire_ends", "wire_weight", "wire_tension"), ()),
    "comparison": ((), ()),
}

#: A kind of the user's own is written ``"own: NAME"``; `adjust` is then given its row function.
OWN = "own:"


@dataclass(frozen=True)
class Traverse:
    """Readings taken one after another in one set-up.

    Attributes
    ----------
    name : str
    kind : str
        One of `KINDS`, or ``"own: NAME"``.
    instrument : str
    setup : str or None
        Traverses of the same set-up share its offset, tilt or zero. None: a set-up of its own, but
        for a level, whose zero is then that of the instrument.
    state : str
        How the machine stood: ``"free"``, ``"levelled"`` or ``"bolted"``.
    sign : int
        +1 where the reading rises with the metal (or with a slope that rises along +x or +y),
        -1 where it falls.
    settings : dict
        What its kind needs: the keys that `KINDS` names. Two numbers or two faces are a tuple; the
        `line` of a wide face is ``{"from": (x, y), "to": (x, y)}`` [mm].
    temperature : float or None
        [degC]
    approach : str
        Direction of approach, e.g. ``"from low x"``.
    drift_uncertainty : float
        Standard uncertainty of a drift, linear in reading order, from the first reading to the
        last [unit of the instrument].
    supports : str
        How the machine was supported, in words.
    note : str
    line : int or None
        Where survey.toml says it.
    """

    name: str
    kind: str
    instrument: str
    setup: str | None = None
    state: str = "levelled"
    sign: int = 1
    settings: dict = field(default_factory=dict)
    temperature: float | None = None
    approach: str = ""
    drift_uncertainty: float = 0.0
    supports: str = ""
    note: str = ""
    line: int | None = None

    @property
    def setup_name(self):
        """The set-up's name, its own where none is given."""
        return self.name if self.setup is None else self.setup


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings as columns, one item each; all arrays have shape (m,).

    Attributes
    ----------
    traverse, face : ndarray of str
        `face` is ``""`` where the kind does not need one.
    x : ndarray
        Place along the ways, or along the traverse's line [mm].
    value : ndarray
        As read [unit of the instrument].
    repeat, order : ndarray of int
        Number of the repeat at this place, from 1; order in which the readings were taken.
    note : ndarray of str
    line : ndarray of int
        Line of readings.csv, from 1.
    """

    traverse: np.ndarray
    face: np.ndarray
    x: np.ndarray
    value: np.ndarray
    repeat: np.ndarray
    order: np.ndarray
    note: np.ndarray
    line: np.ndarray

    def __len__(self):
        return len(self.x)

    def select(self, mask):
        """Return the readings where `mask` holds, or those that it names, as `Readings`."""
        is_mask = isinstance(mask, np.ndarray) and mask.dtype.kind == "b"
        if is_mask and mask.all():
            return self
        rows = np.flatnonzero(mask) if is_mask else mask
        return Readings(**{name: column[rows] for name, column in vars(self).items()})

    def of(self, traverse):
        """Return the readings of one traverse, in the order in which they were taken."""
        rows = np.flatnonzero(self.traverse == traverse)
        return self.select(rows[np.argsort(self.order[rows], kind="stable")])

    def by_traverse(self):
        """Return `of` every traverse that has readings, a dict by name."""
        number, known = numbered(self.traverse)
        ordered = self.select(np.lexsort((self.order, number)))
        ends = np.cumsum(np.bincount(number, minlength=len(known))).tolist()
        pairs = zip([0, *ends], ends, strict=False)
        return {name: ordered.select(slice(*pair)) for name, pair in zip(known, pairs, strict=True)}


def numbered(names):
    """Return a number for each name, equal for equal ones, and the names by number.

    Examples
    --------
    >>> number, known = numbered(["b", "a", "b"])
    >>> number.tolist(), known
    ([0, 1, 0], ['b', 'a'])
    """
    names = np.asarray(names, dtype=object)
    first = np.ones(len(names), dtype=bool)  # of a run of equal ones, for names come in long runs
    first[1:] = names[1:] != names[:-1]
    known = defaultdict(count().__next__)
    number = np.fromiter(map(known.__getitem__, names[first]), dtype=int)
    return number[np.cumsum(first) - 1], list(known)


def rows_of(names):
    """Return the rows of each name, a dict of ndarray of int in the order of the rows."""
    number, known = numbered(names)
    order = np.argsort(number, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(number, minlength=len(known)))[:-1])
    return dict(zip(known, parts, strict=True)) if known else {}

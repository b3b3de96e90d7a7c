"""The feet of a bed, and how the bed follows them: rigid, but twisting between rows of feet."""

from dataclasses import dataclass

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form.wording import places

_SAME_ROW = 0.05  # feet nearer along x than this share of the bed's base stand in one row


@dataclass(frozen=True)
class Foot:
    """One foot of a bed.

    Attributes
    ----------
    name : str
    x, y : float
        Where it stands [mm].
    screw_pitch : float or None
        How far one turn of its screw raises it [mm]; None where it has none, or it is not known.
    carries : bool
        False for a foot that carries nothing now: a feeler goes under it, or its screw turns
        freely. The bed does not follow it.
    """

    name: str
    x: float
    y: float
    screw_pitch: float | None = None
    carries: bool = True


@dataclass(frozen=True, eq=False)
class Base:
    """How a bed follows its feet.

    A bed is stiff against bending and soft against twist. So its feet can give it a height, a
    slope lengthwise, and a roll at each row of feet; between rows the roll changes evenly, as in
    a bar under torsion, and beyond the last row it stays.

    Attributes
    ----------
    feet : tuple of Foot
    rows : ndarray, shape (p,)
        Where the rows stand that hold the roll, ascending [mm]. With feet in no such rows the bed
        rolls as one: a single row at the mean place.
    centre : (float, float)
        Mean place of the feet [mm]: the bed twists about the line along x through it.
    """

    feet: tuple[Foot, ...]
    rows: np.ndarray
    centre: tuple[float, float]

    def roll_shares(self, x):
        """Return the share of each row in the roll at places x, shape (m, p)."""
        return np.column_stack([np.interp(x, self.rows, unit) for unit in np.eye(self.rows.size)])

    def told_shares(self, x):
        """Return `roll_shares`, or refuse places that do not tell the roll of every row."""
        shares = self.roll_shares(x)
        if np.linalg.matrix_rank(shares, tol=1e-6) < self.rows.size:
            raise checks.wrong(
                "x",
                f"the roll of {self.rows.size} rows of feet does not follow from these places",
                f"{np.unique(x).size} of them",
                f"read the cross level near each row: {places(self.rows)}",
            )
        return shares

    @property
    def rigid(self):
        """What a height [mm], a slope and a roll [mm/m] of the whole raise each foot, (n, 3)."""
        at = np.array([(foot.x, foot.y) for foot in self.feet])
        return np.column_stack([np.ones(len(at)), (at - self.centre) / 1000])

    @property
    def lift(self):
        """What a slope [mm/m] and the roll of each row [mm/m] raise each foot, (n, 1 + p) [mm]."""
        _, along, across = self.rigid.T
        shares = self.roll_shares(np.array([foot.x for foot in self.feet]))
        return np.column_stack([along, across[:, None] * shares])


def make_base(feet):
    """Return how a bed follows its feet.

    Parameters
    ----------
    feet : sequence of Foot

    Returns
    -------
    Base
        Of the feet that carry.

    Raises
    ------
    InputError
        If one is no Foot, fewer than three carry, two have one name, or they all stand on one line.

    Examples
    --------
    Four feet hold the roll in two rows; on three a bed cannot be twisted:

    >>> corners = [Foot("a", 0, 0), Foot("b", 0, 400), Foot("c", 1500, 0), Foot("d", 1500, 400)]
    >>> make_base(corners).rows.tolist()
    [0.0, 1500.0]
    >>> make_base([*corners[:2], Foot("c", 1500, 200)]).rows.tolist()
    [0.0]
    """
    check_feet(feet)
    names = [foot.name for foot in feet]
    if len({*names}) < len(names):
        raise checks.wrong("feet", "two have one name", names, "give each its own")
    for foot in feet:
        if foot.screw_pitch is not None:
            checks.number(f"foot {foot.name!r}: screw_pitch", foot.screw_pitch, above=0)
    carrying = tuple(foot for foot in feet if foot.carries)
    if len(carrying) < 3:
        raise checks.wrong(
            "feet", "at least 3 that carry are needed", len(carrying), "bring others up to touch"
        )
    at = checks.table("feet: places", [(foot.x, foot.y) for foot in carrying], 2)
    centre = at.mean(axis=0)
    if np.linalg.matrix_rank(at - centre, tol=1e-6 * np.ptp(at)) < 2:
        raise InputError(
            "feet: those that carry stand on one line, so the bed would tip; check their places"
        )
    return Base(carrying, _rows(at), (float(centre[0]), float(centre[1])))


def check_feet(feet):
    """Refuse what is no `Foot`.

    Raises
    ------
    InputError
    """
    for foot in feet:
        if not isinstance(foot, Foot):
            raise checks.wrong("feet", "each must be a Foot", repr(foot)[:60], "Foot(name, x, y)")


def _rows(at):
    """Return the places along x of the rows with feet at different y."""
    order = np.argsort(at[:, 0], kind="stable")
    x = at[order, 0]
    starts = np.flatnonzero(np.diff(x) > _SAME_ROW * np.ptp(x)) + 1
    groups = [group for group in np.split(order, starts) if np.ptp(at[group, 1]) > 0]
    if not groups:
        return at[:, :1].mean(axis=0)
    return np.array([at[group, 0].mean() for group in groups])

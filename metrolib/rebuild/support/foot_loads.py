"""What each foot carries, and which one hangs: a bed of known weight that resists twist."""

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.form import wording
from metrolib.rebuild.support.feet import Base, Foot, check_feet, make_base
from metrolib.uncertain.linear import measured
from metrolib.units import from_millimetres, unit_sign

_MOST_FEET = 10  # every set of feet that may carry is tried
_SLACK = 1e-9  # share of the weight, and mm, within which a load or a gap is none


@dataclass(frozen=True, eq=False)
class FootLoads:
    """What each foot of a bed carries.

    Attributes
    ----------
    loads : dict of str to float or `uncertainties` number
        By foot [N]; 0 where it hangs.
    gaps : dict of str to float
        By foot that hangs, how far it stands below the bed [mm].
    feet : tuple of Foot
    base : Base
    roll : ndarray, shape (p,)
        Roll of the bed at each row, against its own free shape [mm/m].
    weight : float
        [N]
    """

    loads: dict
    gaps: dict
    feet: tuple[Foot, ...]
    base: Base
    roll: np.ndarray
    weight: float

    @property
    def idle(self):
        """Names of the feet that carry nothing."""
        return tuple(self.gaps)

    @property
    def lightest(self):
        """Name of the foot that carries least of those that carry."""
        carrying = [name for name in self.loads if name not in self.gaps]
        return min(carrying, key=lambda name: wording.nominal(self.loads[name]))

    def in_words(self, unit="um"):
        """Return the sentence that a rebuilder would write down.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``, for gaps.
        """
        shares = [
            f"{name} {wording.nominal(load):.0f} N ({self._share(load)})"
            for name, load in self.loads.items()
            if name not in self.gaps
        ]
        hang = [
            f"{name} carries nothing, {wording.length(gap, unit)} below the bed"
            for name, gap in self.gaps.items()
        ]
        return f"{'; '.join([*shares, *hang])}; the lightest of those that carry is {self.lightest}"

    def _share(self, load):
        return f"{100 * wording.nominal(load) / self.weight:.0f} %"

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return self.to_dataframe().to_html(index=False, border=0, float_format="%.1f", na_rep="")

    def to_dataframe(self, unit="um"):
        """Return the loads as a pandas table, one foot a row.

        Parameters
        ----------
        unit : str
            Unit of the gaps, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        rows = []
        for name, load in self.loads.items():
            gap = self.gaps.get(name)
            shown = None if gap is None else from_millimetres(gap, unit)
            rows.append(
                {
                    "foot": name,
                    "load [N]": wording.nominal(load),
                    "u [N]": wording.uncertainty(load),
                    f"gap [{unit_sign(unit)}]": shown,
                }
            )
        return DataFrame(rows)


def foot_loads(feet, lift, u=None, *, weight, centre, stiffness):
    """Find what each foot carries, and which feet hang.

    Parameters
    ----------
    feet : sequence of Foot
        At most 10; all that stand under the bed, whether they carry is what is sought.
    lift : array_like, shape (n,)
        How high each foot stands against the seats of the bed in its own free shape, that is as it
        lies on three feet, the lone one in the middle of its end [mm]: floats or `uncertainties`
        numbers. A height, slope or roll common to all tilts the bed and changes no load.
    u : float or array_like, shape (n,) or (n, n), optional
        Standard uncertainty of the lifts [mm], or their covariance [mm²].
    weight : float
        [N]
    centre : (float, float)
        Where the centre of gravity is, x and y [mm].
    stiffness : float
        Moment that twists one metre of the bed by 1 mm/m [N m]. To learn it: with the bed on three
        feet, hang a known weight on the free corner and read how the roll at that end changes.

    Returns
    -------
    FootLoads

    Raises
    ------
    InputError
        If the feet do not fit, a number is out of its limits, or the bed tips over.

    Notes
    -----
    The bed takes the lie of least energy among those on or above its feet: its weight times the
    height of the centre of gravity, and half of stiffness / distance times the difference of roll
    squared between neighbouring rows. Where the feet that carry are known this is one set of linear
    equations, and the loads come with it; every set of feet is tried, and the one whose loads push
    upward and whose other feet stay below the bed is the lie (it is the only one, the energy being
    convex). Feet and floor do not give; the weight acts on the line midway between the feet, so a
    foot that bears one end alone, at its corner, twists the bed.

    Examples
    --------
    A bed of 8 kN on four feet; the rear right one stands 0.05 mm high:

    >>> from metrolib import Foot
    >>> corners = [Foot("front left", 0, 0), Foot("rear left", 0, 400),
    ...            Foot("front right", 1500, 0), Foot("rear right", 1500, 400)]
    >>> print(foot_loads(corners, [0, 0, 0, 0.05], weight=8000, centre=(600, 200), stiffness=3000))
    front left 3025 N (38 %); rear left 1775 N (22 %); front right 975 N (12 %); \
rear right 2225 N (28 %); the lightest of those that carry is front right
    """
    feet = tuple(feet)
    if len(feet) > _MOST_FEET:
        raise checks.wrong("feet", f"at most {_MOST_FEET} are solved for", len(feet), "group them")
    check_feet(feet)
    base = make_base([replace(foot, carries=True) for foot in feet])
    lifts = measured("lift", lift, u)
    checks.same_length(feet=feet, lift=lifts.values)
    weight = checks.number("weight", weight, above=0)
    stiffness = checks.number("stiffness", stiffness, above=0)
    x, y = checks.pair("centre", centre)
    seats = np.column_stack([np.ones(len(feet)), base.lift])
    pull = -weight * _height_of(base, x, y)
    hold = _resistance(base, stiffness)
    carrying, motion, loads, law = _lie(seats, hold, pull, lifts.values, weight)
    numbers = lifts.several(law, loads)
    gap = seats @ motion - lifts.values
    return FootLoads(
        loads={foot.name: n for foot, n in zip(feet, numbers, strict=True)},
        gaps={foot.name: float(gap[i]) for i, foot in enumerate(feet) if i not in carrying},
        feet=feet,
        base=base,
        roll=motion[2:],
        weight=weight,
    )


def _height_of(base, x, y):
    """Return what height, slope and the roll of each row do to the height at a place."""
    shares = base.roll_shares(np.array([x]))[0]
    along, across = (x - base.centre[0]) / 1000, (y - base.centre[1]) / 1000
    return np.array([1.0, along, *(across * shares)])


def _resistance(base, stiffness):
    """Return the second derivative of the energy of twist, by height, slope and rolls [N mm]."""
    p = base.rows.size
    differ = np.diff(np.eye(p), axis=0)
    each = stiffness / (np.diff(base.rows) / 1000)
    hold = np.zeros((2 + p, 2 + p))
    hold[2:, 2:] = differ.T @ (each[:, None] * differ)
    return hold


def _lie(seats, hold, pull, lift, weight):
    """Return the feet that carry, the motion of the bed, the loads, and their law on the lifts."""
    n, k = seats.shape
    unit = max(np.abs(hold).max(), 1.0)  # of force, so that all parts of the matrix are alike
    for size in range(n, 2, -1):
        for carrying in combinations(range(n), size):
            rows = seats[list(carrying)]
            full = np.block([[hold / unit, -rows.T], [rows, np.zeros((size, size))]])
            if np.linalg.matrix_rank(full, tol=1e-9 * np.abs(full).max()) < k + size:
                continue  # these feet alone hold the bed in no way, or in more than one
            inverse = np.linalg.inv(full)
            solved = inverse @ np.concatenate([pull / unit, lift[list(carrying)]])
            motion, push = solved[:k], unit * solved[k:]
            if push.min() < -_SLACK * weight or (seats @ motion - lift).min() < -_SLACK:
                continue
            loads, law = np.zeros(n), np.zeros((n, n))
            loads[list(carrying)] = push
            law[np.ix_(carrying, carrying)] = unit * inverse[k:, k:]
            return carrying, motion, loads, law
    raise InputError(
        "centre: the bed tips over, its centre of gravity lies outside its feet; check the places"
    )

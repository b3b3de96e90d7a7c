"""What may hide between the stations of a plan, gap by gap."""

from dataclasses import dataclass
from html import escape
from math import erfc, sqrt

import numpy as np

from metrolib import checks
from metrolib.rebuild.removal.conditions import named
from metrolib.rebuild.removal.places import make_places
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.units import from_millimetres, show_length, unit_sign

_SURE = 0.9999  # a gap more likely than this to clean up is nothing to care for


@dataclass(frozen=True)
class Gap:
    """A gap between neighbouring stations, seen in its middle.

    Attributes
    ----------
    face : str
    x_from, x_to, y_from, y_to : float
        The stations on either side [mm].
    dip : float
        How far the face is estimated to lie below the straight line between them; below zero where
        it lies above [mm].
    u : float
        Standard uncertainty of it: of the heights, and of what the estimate cannot know [mm].
    room : float
        What more than asked for comes off there, by the estimate [mm].
    sure : float
        Probability that the middle cleans up; with a band, that it ends no lower than the target.
    """

    face: str
    x_from: float
    x_to: float
    y_from: float
    y_to: float
    dip: float
    u: float
    room: float
    sure: float

    def __str__(self):
        across = f" at x {self.x_from:g} mm" if self.x_from == self.x_to else ""
        ends = (self.y_from, self.y_to) if across else (self.x_from, self.x_to)
        axis = "y " if across else ""
        return f"{axis}{ends[0]:g} to {ends[1]:g} mm on {self.face!r}{across}"


@dataclass(frozen=True, eq=False)
class BetweenStations:
    """What may hide between the stations of a plan.

    Attributes
    ----------
    gaps : tuple of Gap
        The least sure first.
    untold : tuple of str
        Faces with too few stations in a row to tell anything.
    covered : bool
        Whether the plan's guard covers them.
    """

    gaps: tuple[Gap, ...]
    untold: tuple[str, ...]
    covered: bool

    @property
    def pays_most(self):
        """The gap where one more station would pay most; None if all gaps are sure."""
        return self.gaps[0] if self.gaps and self.gaps[0].sure < _SURE else None

    def in_words(self, unit="um"):
        """Say what may hide, and where one more station would pay most.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        said = []
        if self.gaps:
            deepest = max(self.gaps, key=lambda gap: gap.dip + 2 * gap.u)
            most = show_length(max(deepest.dip + 2 * deepest.u, 0.0), unit)
            said.append(f"Between stations up to {most} may hide, from {deepest}.")
        if self.pays_most is not None:
            first = self.pays_most
            said.append(
                f"One more station pays most from {first}: the middle cleans up with a probability "
                f"of {100 * first.sure:.1f} %{'' if self.covered else ' as planned'}."
            )
        elif self.gaps:
            said.append("No gap needs another station for this plan.")
        if self.untold:
            said.append(f"Too few stations to tell on {named(self.untold)}.")
        said.append("Waves shorter than 2.5 pitches, and scratches, hide from any survey.")
        return " ".join(said)

    def to_dataframe(self, unit="um"):
        """Return the gaps as a pandas table, the least sure first.

        Parameters
        ----------
        unit : str
            Unit of dips and room, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign, length = unit_sign(unit), lambda value: from_millimetres(value, unit)
        return DataFrame(
            [
                {
                    "face": gap.face,
                    "x from [mm]": gap.x_from,
                    "x to [mm]": gap.x_to,
                    "y from [mm]": gap.y_from,
                    "y to [mm]": gap.y_to,
                    f"dip [{sign}]": length(gap.dip),
                    f"u(dip) [{sign}]": length(gap.u),
                    f"room [{sign}]": length(gap.room),
                    "cleans up": gap.sure,
                }
                for gap in self.gaps
            ]
        )

    def __str__(self):
        return self.in_words()

    def _repr_html_(self):
        table = self.to_dataframe().head(5).to_html(index=False, border=0, float_format="%.4g")
        return f"<p>{escape(self.in_words())}</p>{table if self.gaps else ''}"


def between_stations(plan):
    """Estimate what may hide between the stations of the faces that are cut.

    Parameters
    ----------
    plan : RemovalPlan

    Returns
    -------
    BetweenStations

    Raises
    ------
    InputError
        If `plan` is none.

    Notes
    -----
    See `metrolib.rebuild.removal.between.find_gaps` for the estimate. It is of the middle of each
    gap; beyond the first and the last station nothing is estimated. ``plan_removal(...,
    between_stations=True)`` lets the gaps join the guard.

    Examples
    --------
    A wear hollow; stations each 200 mm miss its bottom:

    >>> import numpy as np
    >>> from metrolib import Face, given_heights, plan_removal
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=1000)
    >>> x = np.arange(0, 1001, 200.0)
    >>> z = -0.05 * np.exp(-(((x - 500) / 300) ** 2))
    >>> heights = given_heights([flat], {"flat": (x, z)}, u=0.001)
    >>> found = between_stations(plan_removal(heights, faces=["flat"]))
    >>> str(found.pays_most)
    "400 to 600 mm on 'flat'"
    """
    checks.kind("plan", plan, RemovalPlan, "give what plan_removal returns")
    group, decision = plan.group, plan.decision
    places = make_places(group, decision, gaps=True)
    count = int((~group.left_out).sum())
    height = places.low @ group.over_crown[~group.left_out]
    target = group.columns @ plan.motion_values
    dips = places.dip_law @ group.relative_height[~group.left_out]
    cov = group.cov[np.ix_(~group.left_out, ~group.left_out)]
    variance = np.einsum("ij,jk,ik->i", places.dip_law, cov, places.dip_law) + places.spread**2
    gaps = []
    for i in range(count, len(height)):
        first, last = places.ends[i]
        room = float(height[i] - (target[first] + target[last]) / 2 - decision.clean_up)
        gaps.append(
            Gap(
                str(places.face[i]),
                *map(float, (group.x[first], group.x[last], group.y[first], group.y[last])),
                float(dips[i]),
                float(np.sqrt(max(variance[i], 0.0))),
                room,
                _probability(room, float(places.u[i])),
            )
        )
    told = {gap.face for gap in gaps} | set(decision.untouchable)
    return BetweenStations(
        tuple(sorted(gaps, key=lambda gap: (gap.sure, gap.room))),
        tuple(name for name in decision.faces if name not in told),
        decision.between_stations and decision.confidence is not None,
    )


def _probability(room, u):
    """Return the probability that an uncertain room is not below nothing."""
    if u == 0:
        return float(room >= 0)
    return 0.5 * erfc(-room / u / sqrt(2))

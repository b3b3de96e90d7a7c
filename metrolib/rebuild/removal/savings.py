"""What better measuring would save: the guard's price, and the readings that would lower it."""

from dataclasses import dataclass, replace
from html import escape

import numpy as np

from metrolib import checks
from metrolib.rebuild.removal.guard import find_guard
from metrolib.rebuild.removal.places import make_places
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.removal.programme_single import find_target
from metrolib.rebuild.removal.removal import make_programme
from metrolib.rebuild.wording import place, volume
from metrolib.uncertain.draws import whole
from metrolib.units import from_millimetres, show_length, unit_sign

_TRIED = 3  # for each reading that is asked for so many are worked out


@dataclass(frozen=True)
class ExtraReading:
    """One more reading of the height at a station, and what it would save.

    Attributes
    ----------
    station : int
        Its place in the arrays of the plan.
    face : str
    x, y : float
        [mm]
    depth : float
        Depth saved, mean over the faces [mm].
    volume : float
        Metal saved [mm³].
    """

    station: int
    face: str
    x: float
    y: float
    depth: float
    volume: float


@dataclass(frozen=True, eq=False)
class Savings:
    """What better measuring would save.

    Attributes
    ----------
    plan : RemovalPlan
    depth, volume : float
        What the guard costs, and perfect measuring would save: mean depth over the faces [mm], and
        metal [mm³].
    rate : float or None
        Metal that is removed in an hour [cm³/h].
    u : float
        Standard uncertainty of each extra reading [mm].
    readings : tuple of ExtraReading
        The extra readings that would save most, each by itself; the best first.
    """

    plan: object
    depth: float
    volume: float
    rate: float | None
    u: float
    readings: tuple[ExtraReading, ...]

    @property
    def hours(self):
        """Hours that the guard costs; None where no rate is given."""
        return self._hours(self.volume)

    def _hours(self, metal):
        """Return the hours that some metal takes; None where no rate is given."""
        return None if self.rate is None else metal / 1e3 / self.rate

    def in_words(self, unit="um"):
        """Say what the guard costs and which reading would save most of it.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        if self.volume <= 0:
            return "The guard costs nothing; better measuring would save no metal."
        cost = self._price(self.depth, self.volume, unit)
        said = f"Perfect measuring would save {cost}."
        if not self.readings:
            return f"{said} No single reading would save any of it."
        best, *others = [f"{place(self.plan, r.station)} on {r.face!r}" for r in self.readings]
        price = self._price(self.readings[0].depth, self.readings[0].volume, unit)
        then = f", then at {' and '.join(others)}" if others else ""
        with_u = show_length(self.u, unit)
        return f"{said} One more reading with u = {with_u} saves most at {best} ({price}){then}."

    def _price(self, depth, metal, unit):
        """Write depth, metal and hours."""
        hours = self._hours(metal)
        time = "" if hours is None else f", {hours:.1f} h"
        return f"{show_length(depth, unit)} on the mean, {volume(metal)}{time}"

    def to_dataframe(self, unit="um"):
        """Return the readings as a pandas table, the best first.

        Parameters
        ----------
        unit : str
            Unit of the depth, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        rows = [
            {
                "face": item.face,
                "x [mm]": item.x,
                "y [mm]": item.y,
                f"saves [{unit_sign(unit)}]": from_millimetres(item.depth, unit),
                "saves [cm³]": item.volume / 1e3,
                **({} if self.rate is None else {"saves [h]": self._hours(item.volume)}),
            }
            for item in self.readings
        ]
        return DataFrame(rows)

    def __str__(self):
        return self.in_words()

    def _repr_html_(self):
        table = self.to_dataframe().to_html(index=False, border=0, float_format="%.3g")
        return f"<p>{escape(self.in_words())}</p>{table if self.readings else ''}"


def savings(plan, *, rate=None, u=None, most=3, seed=1, draws=40_000):
    """Tell what better measuring would save, and which extra reading most.

    Parameters
    ----------
    plan : RemovalPlan
    rate : float, optional
        Metal that is removed in an hour, by scraping, grinding or whatever is meant [cm³/h].
    u : float, optional
        Standard uncertainty of an extra reading of height against the frame of the plan [mm]; else
        as good as half of the stations are known by now.
    most : int
        How many readings to list.
    seed, draws : int
        As in `plan_removal`; give those that the plan was made with.

    Returns
    -------
    Savings

    Raises
    ------
    InputError
        If an argument is out of its limits.

    Notes
    -----
    An extra reading at station i changes the covariance C of the heights to C - c c' / (C_ii + u²),
    c its column i; what it will read is not known, so the heights stay. The guard is set anew, over
    the same draws, for the stations that promise most: those that take most variance, by that
    formula, from the height that the target rests on.

    Examples
    --------
    >>> from metrolib import Face, given_heights, plan_removal
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [0.0, -0.05, 0.0])}, u=0.003)
    >>> print(savings(plan_removal(heights, faces=["flat"]), rate=0.5, u=0.001, most=1))
    Perfect measuring would save 4.0 µm on the mean, 0.06 cm³, 0.1 h. One more reading with \
u = 1.0 µm saves most at 250 mm on 'flat' (2.5 µm on the mean, 0.04 cm³, 0.1 h).
    """
    checks.kind("plan", plan, RemovalPlan, "give what plan_removal returns")
    if plan.decision.target_height is not None:
        raise checks.wrong(
            "plan",
            "its target was set by hand, so no reading moves it",
            f"target_height {plan.decision.target_height:g} mm",
            "plan without it",
        )
    if rate is not None:
        rate = checks.number("rate", rate, above=0)
    counts = ~plan.left_out
    u = float(np.median(plan.depth_u[counts])) if u is None else checks.number("u", u, at_least=0)
    most = whole("most", most, at_least=1)
    readings = []
    if plan.guard_volume > 0:
        now = _guarded(plan, plan.group.cov, draws, seed)
        for station in _promising(plan, u)[: _TRIED * most]:
            cov = _with_reading(plan.group.cov, station, u)
            readings.append((now - _guarded(plan, cov, draws, seed), station))
    readings.sort(key=lambda reading: -reading[0])
    # less than a hundredth of the guard is within what the search for it leaves open
    worth = [reading for reading in readings if reading[0] > 0.01 * plan.guard_volume]
    return Savings(
        plan,
        plan.guard_depth,
        plan.guard_volume,
        rate,
        u,
        tuple(
            ExtraReading(
                int(station),
                str(plan.face[station]),
                float(plan.x[station]),
                float(plan.y[station]),
                float(metal / plan.area.sum()),
                float(metal),
            )
            for metal, station in worth[:most]
        ),
    )


def _promising(plan, u):
    """Return stations by what a reading takes from the variance of the target's mean height."""
    counts = np.flatnonzero(~plan.left_out)
    programme = plan.programme
    law = programme.area @ programme.columns @ find_target(programme).law
    law = law if programme.low is None else law @ programme.low
    cov = plan.group.cov[np.ix_(counts, counts)]
    gain = (cov @ law) ** 2 / np.maximum(np.diag(cov) + u**2, 1e-300)
    return counts[np.argsort(-gain, kind="stable")]


def _with_reading(cov, station, u):
    """Return the covariance after one more reading of the height at a station."""
    column = cov[:, station]
    return cov - np.outer(column, column) / max(cov[station, station] + u**2, 1e-300)


def _guarded(plan, cov, draws, seed):
    """Return the metal that a plan with this covariance of the heights takes off [mm³]."""
    group = replace(plan.group, cov=cov)
    places = make_places(group, plan.decision, gaps=plan.decision.between_stations)
    programme = make_programme(group, plan.decision, places)
    guard = find_guard(programme, places.cov, plan.decision.confidence, draws=draws, seed=seed)
    target = guard.without if guard.target is None else guard.target
    return float(programme.area @ programme.depth(target.motion))

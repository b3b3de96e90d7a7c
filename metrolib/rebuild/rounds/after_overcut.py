"""What is told after an overcut: the ways to go on, what each costs, and how it is read."""

from dataclasses import dataclass

import numpy as np

from metrolib.errors import MetrolibError
from metrolib.form.wording import expanded, length, measured_length, table
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.rounds.progress_words import share
from metrolib.rebuild.rounds.standing import Progress
from metrolib.rebuild.wording import place, volume
from metrolib.units import from_millimetres, show_length, unit_sign


@dataclass(frozen=True)
class Remedy:
    """One way to go on after an overcut, to leave the dip included.

    Attributes
    ----------
    name : str
    lowered : float
        How much lower than planned the target then lies, mean over the faces [mm].
    deepest : float
        Deepest cut still to come [mm].
    volume : float
        Metal still to come off [mm³].
    hours : float or None
        At the rate given, or seen.
    """

    name: str
    lowered: float
    deepest: float
    volume: float
    hours: float | None


@dataclass(frozen=True, eq=False)
class AfterOvercut:
    """What an overcut costs.

    Attributes
    ----------
    progress : Progress
    station : int
        The deepest station, a place in the arrays of the plan.
    stations : ndarray of int
        Those of the dip: its neighbours along the face that lie below the target as well.
    value : float or `uncertainties` number
        How far the deepest lies below the target: what stays of the dip, as local form, when all
        else is brought to the target [mm].
    tolerance : float
        What may stay of it [mm].
    within : float
        Probability that no station of the dip lies lower than the tolerance allows.
    verdict : str
        Of leaving it: ``"accepted"``, ``"not accepted"`` or ``"not decided"``.
    remedies : tuple of Remedy
        To leave the dip; to lower all just so far that the dip is surely within the tolerance;
        to lower all until it cleans up. The last is missing where `plan` is an error.
    plan : RemovalPlan or MetrolibError
        The removal that lowers everything until the dip cleans up.
    """

    progress: Progress
    station: int
    stations: np.ndarray
    value: object
    tolerance: float
    within: float
    verdict: str
    remedies: tuple[Remedy, ...]
    plan: RemovalPlan | MetrolibError

    def in_words(self, unit="um"):
        """Say what the overcut is and what each way to go on costs.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        plan, i = self.progress.plan, self.station
        first = (
            f"Overcut at {place(plan, i)} on {str(plan.face[i])!r}: "
            f"{length(self.value, unit)} below the target{expanded(self.value, unit)}, "
            f"{self._extent()}."
        )
        leave = (
            f"Left as it is, within {show_length(self.tolerance, unit)}: {self.verdict} "
            f"(probability {share(self.within)})."
        )
        costs = [
            f"to {way.name} {'are' if way.volume >= 2000 else 'is'} "
            f"{volume(way.volume)} more to come off{self._hours(way)}"
            + (f", the target {show_length(way.lowered, unit)} lower" if way.lowered > 0 else "")
            for way in self.remedies
        ]
        said = f"{first} {leave} {'; '.join(costs).capitalize()}."
        if isinstance(self.plan, MetrolibError):
            said += f" Lowering all to it cannot be planned: {self.plan}."
        return said

    def _extent(self):
        """Say how long the dip is, as far as stations tell."""
        x = self.progress.plan.x[self.stations]
        if x.size == 1:
            return "at one station alone"
        return f"at {x.size} stations from {x.min():g} to {x.max():g} mm"

    @staticmethod
    def _hours(way):
        return "" if way.hours is None else f" ({way.hours:.1f} h)"

    def to_dataframe(self, unit="um"):
        """Return the ways to go on as a pandas table.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``.
        """
        from pandas import DataFrame

        sign = unit_sign(unit)
        rows = [
            {
                "way": way.name,
                f"target lower by [{sign}]": from_millimetres(way.lowered, unit),
                f"deepest cut [{sign}]": from_millimetres(way.deepest, unit),
                "volume [cm³]": way.volume / 1e3,
                "hours": np.nan if way.hours is None else way.hours,
            }
            for way in self.remedies
        ]
        return DataFrame(rows)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        rows = [(way.name, f"{volume(way.volume)}{self._hours(way)}") for way in self.remedies]
        dip = ("deepest below the target", measured_length(self.value))
        return table(f"leaving the dip: {self.verdict}", [dip, *rows])

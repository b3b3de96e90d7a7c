"""Stages: a removal plan cut up into the work of one method after the other."""

from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Real

import numpy as np

from metrolib import checks
from metrolib.errors import InputError
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.stages import stage_words
from metrolib.rebuild.stages.gauges import Gauge
from metrolib.rebuild.stages.hours import stage_hours, stage_volumes
from metrolib.rebuild.stages.stop_readings import StopReadings, stop_readings
from metrolib.rebuild.stages.watches import Watch, watch
from metrolib.survey.methods import Method, order_faults

#: What the numbers of a method must be.
_LEAST = {
    "leaves": "at least 0",
    "per_pass": "above 0",
    "rate": "above 0",
    "per_pass_uncertainty": "at least 0",
    "rate_uncertainty": "at least 0",
}


@dataclass(frozen=True, eq=False)
class Stage:
    """The work of one method.

    Attributes
    ----------
    method : Method
    stop : ndarray, shape (n,)
        Height above nominal at which to stop, in the frame of the plan [mm].
    taken : ndarray, shape (n,)
        What this stage takes off [mm].
    left : ndarray, shape (n,)
        What is left to come off after it [mm].
    passes : ndarray of int, shape (n,)
        Passes until the stop, as far as the method tells what one takes; the last may be a part of
        one. How sure that is, tells `passes_u`.
    volume, volume_u : float
        Metal that comes off, and its standard uncertainty [mm³].
    hours : float or `uncertainties` number
        Correlated with those of the other stages [h].
    readings : dict of str to StopReadings
        By face, what its gauge reads when the stage is done.
    """

    method: Method
    stop: np.ndarray
    taken: np.ndarray
    left: np.ndarray
    passes: np.ndarray
    volume: float
    volume_u: float
    hours: object
    readings: dict[str, StopReadings]

    @property
    def name(self):
        """Name of the method."""
        return self.method.name

    @property
    def passes_u(self):
        """Standard uncertainty of the passes at each station, shape (n,), from that of one pass."""
        per_pass = self.method.per_pass
        return self.taken / per_pass * self.method.per_pass_uncertainty / per_pass


@dataclass(frozen=True, eq=False)
class Stages:
    """A removal plan in stages.

    Attributes
    ----------
    value : float or `uncertainties` number
        Hours of all stages [h].
    plan : RemovalPlan
    stages : tuple of Stage
        In order of work.
    watches : dict of str to Watch
        By face, what its gauge reads as it stands.
    """

    value: object
    plan: object
    stages: tuple[Stage, ...]
    watches: dict[str, Watch]

    def __getitem__(self, name):
        """Return the stage of a method."""
        for stage in self.stages:
            if stage.name == name:
                return stage
        known = ", ".join(repr(stage.name) for stage in self.stages)
        raise InputError(f"stage: there is no {name!r}; use one of {known}")

    def __iter__(self):
        return iter(self.stages)

    def __len__(self):
        return len(self.stages)

    def in_words(self, unit="um"):
        """Say what each stage leaves and takes, and how long all will take.

        Parameters
        ----------
        unit : str
            ``"um"`` or ``"thou"``.
        """
        return stage_words.in_words(self, unit)

    def to_dataframe(self, unit="um"):
        """Return the stages as a pandas table: a stage a row.

        Parameters
        ----------
        unit : str
            Unit of the depths, ``"um"`` or ``"thou"``.
        """
        return stage_words.stage_table(self, unit)

    def bench_table(self, face, unit="um"):
        """Return what to do at each station of a face as a pandas table, as written on a sheet.

        Parameters
        ----------
        face : str
        unit : str
            ``"um"`` or ``"thou"``.

        Returns
        -------
        DataFrame
            A station a row; for each stage what is left, the passes, and the stop reading where the
            face has a gauge, rounded on the safe side.
        """
        return stage_words.bench_table(self, face, unit)

    def __str__(self):
        return self.in_words()

    __repr__ = __str__

    def _repr_html_(self):
        return stage_words.as_html(self)


def stages(plan, methods, *, gauges=()):
    """Cut a removal plan up into stages, each with its stop, passes and hours.

    Parameters
    ----------
    plan : RemovalPlan
    methods : sequence of Method
        In order of work, each leaving less than the one before.
    gauges : sequence of Gauge
        What watches the faces, at most one a face; `gauges_of` finds them in a survey.

    Returns
    -------
    Stages

    Raises
    ------
    InputError
        If there is no method, allowances do not descend, a rate or a removal per pass is not above
        0, one pass takes more than a stage is thick, two gauges watch one face, or a gauge has
        nothing to measure from.
    NotDeterminedError
        If the readings do not tie a face to what its gauge measures from.

    Notes
    -----
    A stage that leaves the allowance a stops at the plan's final surface plus a, or where the face
    lies lower already at the face itself. So the stages take off exactly what the plan takes off,
    less what the last one leaves. Common practice, without a published source: roughing stops
    0.05 mm above size and fine filing 0.025 mm above it; stoning takes the last 0.025 mm.

    The hours are of work on the metal: blueing, measuring, sharpening and carrying are in them only
    as far as they are in the log that the rates come from (`metrolib.rebuild.stages.hours`).

    Examples
    --------
    >>> from metrolib import Face, Method, given_heights, plan_removal
    >>> flat = Face("flat", y=0, width=30, x_from=0, x_to=500)
    >>> heights = given_heights([flat], {"flat": ([0, 250, 500], [0.0, -0.05, 0.0])})
    >>> plan = plan_removal(heights, faces=["flat"], clean_up=0.01)
    >>> rough = Method("roughing file", leaves=0.025, per_pass=0.01, rate=0.5)
    >>> work = stages(plan, [rough, Method("stone", leaves=0.0, per_pass=0.005, rate=0.25)])
    >>> work["roughing file"].taken.round(3).tolist(), work["stone"].taken.round(3).tolist()
    ([0.035, 0.0, 0.035], [0.025, 0.01, 0.025])
    """
    checks.kind("plan", plan, RemovalPlan, "it comes from plan_removal")
    methods = _checked(methods)
    watches = {}
    for gauge in checks.listed("gauges", gauges, Gauge, "gauges_of finds them in a survey"):
        if gauge.face in watches:
            raise InputError(f"gauges: two of them watch {gauge.face!r}; give one for each face")
        watches[gauge.face] = watch(plan, gauge)
    limits = list(
        zip(
            [np.inf, *(method.leaves for method in methods[:-1])],
            [method.leaves for method in methods],
            strict=True,
        )
    )
    volumes, cov = stage_volumes(plan, limits)
    hours = stage_hours(volumes, cov, methods)
    made = []
    for number, (method, (found, leaves)) in enumerate(zip(methods, limits, strict=True)):
        left = np.minimum(plan.depth, leaves)
        taken = np.minimum(plan.depth, found) - left
        # rounding must not make one more pass of a whole number of them
        passes = np.ceil(taken / method.per_pass - 1e-9).astype(int)
        volume_u = float(np.sqrt(max(cov[number, number], 0.0)))
        made.append(
            Stage(
                method,
                plan.relative_height - plan.depth + left,
                taken,
                left,
                passes,
                float(volumes[number]),
                volume_u,
                hours[number],
                {name: stop_readings(plan, seen, left) for name, seen in watches.items()},
            )
        )
    return Stages(sum(hours), plan, tuple(made), watches)


def _checked(methods):
    """Return methods as a tuple, each with a name, a rate and an allowance that can be used."""
    if isinstance(methods, (Method, str)) or not isinstance(methods, Iterable):
        raise checks.wrong(
            "methods", "a list of Method is needed", repr(methods), "put it in brackets"
        )
    methods = tuple(methods)
    for method in methods:
        if not isinstance(method, Method):
            raise checks.wrong(
                "methods", "each must be a Method", repr(method), "describe your own"
            )
    if not methods:
        raise InputError("methods: at least one is needed, got none; describe your own")
    faults = []
    for method in methods:
        for key, least in _LEAST.items():
            value = getattr(method, key)
            fits = isinstance(value, Real) and np.isfinite(value)
            if not (fits and (value > 0 or value == 0 and least == "at least 0")):
                wrong = f"{key} must be {least}, got {value}; correct it"
                faults.append(f"method {method.name!r}: {wrong}")
    names = [method.name for method in methods]
    faults += [
        f"method {name!r}: the name stands twice; give each its own"
        for place, name in enumerate(names)
        if name in names[:place]
    ]
    faults += [
        f"method {method.name!r}: {wrong}; {remedy}"
        for method, _, wrong, remedy in order_faults(methods)
    ]
    if faults:
        raise InputError("\n  ".join(faults))
    return methods

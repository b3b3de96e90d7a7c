"""Rounds: the surveys of several rounds of work adjusted together, so that they can be compared."""

import warnings
from dataclasses import dataclass, field, replace

import numpy as np

from metrolib import checks
from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import Extras
from metrolib.heights.blunders import check
from metrolib.heights.comparable import (
    check_common,
    check_machines,
    check_reset,
    faces_cut,
    rounds_until,
    traverses_of,
)
from metrolib.heights.covariance import Adjusted, WhenLookedAt
from metrolib.heights.determined import not_determined
from metrolib.heights.equations import equations
from metrolib.heights.joint import join
from metrolib.heights.result import Heights
from metrolib.heights.scales import with_fitted_scales
from metrolib.heights.solve import least_squares
from metrolib.heights.stations import Stations


@dataclass(frozen=True, eq=False)
class AdjustedRounds:
    """Heights of every round, with one covariance over all of them.

    Attributes
    ----------
    heights : dict of str to Heights
        By round, in the order of the work. All lie in the frame of the first; a face that is not
        cut has the same heights in every round.
    index : dict of str to ndarray of int
        By round, where its heights stand in `values`.
    values : ndarray, shape (n,)
        The heights of all rounds [mm].
    cov : ndarray, shape (n, n)
        Their covariance [mm²].
    cut : tuple of str
        Faces whose heights are each round's own.
    checks : Checks
        How all readings agree with each other, those of a face that was taken for untouched too.
    extras : mapping of str to `uncertainties` number
        What instruments and set-ups added [mm, mm/m, or a ratio].
    """

    heights: dict[str, Heights]
    index: dict[str, np.ndarray]
    values: np.ndarray
    cov: np.ndarray = WhenLookedAt()
    cut: tuple[str, ...]
    checks: object = None
    extras: dict = field(default_factory=dict)

    @property
    def names(self):
        """Names of the rounds, a tuple in the order of the work."""
        return tuple(self.heights)

    def __getitem__(self, name):
        checks.choice("round", name, self.heights)
        return self.heights[name]

    def __str__(self):
        first = next(iter(self.heights.values()))
        untouched = dict.fromkeys(first.face[~np.isin(first.face, self.cut)].tolist())
        told = ", ".join(map(repr, untouched))
        lines = [
            f"{len(self.heights)} surveys adjusted together ({', '.join(self.heights)}). "
            f"Taken for untouched in all of them: {told}."
        ]
        if self.checks is not None:
            lines.append(str(self.checks))
        open_ = [f"{name}: {item}" for name in self.names for item in self[name].not_determined]
        return "\n".join([*lines, *open_])

    __repr__ = __str__


def adjust_rounds(surveys, *, until=None, cut=None, states=None, row_functions=None, reset=()):
    """Adjust the surveys of several rounds of work together.

    Parameters
    ----------
    surveys : dict of str to Survey
        By round, in the order of the work, as from `metrolib.survey.rounds.read_rounds`.
    until : str, optional
        The last round to count; all when not given.
    cut : sequence of str, optional
        Faces that the work cuts; by default those that the first survey's decision names, less
        its untouchable ones. Every other face counts as one and the same in all rounds.
    states, row_functions
        As in `metrolib.heights.adjust.adjust`.
    reset : sequence of str
        Instruments and straightedges that were set, calibrated or dressed anew between rounds.

    Returns
    -------
    AdjustedRounds

    Raises
    ------
    InputError
        If there are fewer than two rounds, they describe different machines, nothing is cut or
        no face is common to them, or as `adjust`.

    Warns
    -----
    DoubtfulReadingsWarning
        As `adjust`; a face that was touched after all shows here.

    Notes
    -----
    Two rounds cannot be compared by taking one survey's heights from the other's with their
    uncertainties added in squares. An error that stays with an instrument, of its scale, its zero,
    the shape of a straightedge, is in both: a zero drops out of the difference, a scale 2 % wrong
    stays. And each survey sees the datum with errors of its own, which show as metal taken off, or
    put on. Here such an error is one unknown in all rounds, and so are the heights of the faces
    that nobody touches; how the machine stands is a motion of each round's own. The covariance
    over all rounds then holds what they share.

    Shared is what is known beforehand of an instrument or a straightedge. What is free (an offset,
    a tilt, a zero without calibration) and what drifts belong to one round.

    Examples
    --------
    A micrometer over an untouched ledge, before and after some 0.05 mm came off; its zero may be
    0.01 mm wrong, but that is the same in both:

    >>> from types import SimpleNamespace
    >>> from metrolib.survey.decision import Decision
    >>> from metrolib.survey.instruments import Instrument
    >>> from metrolib.survey.machine import Face, Machine
    >>> from metrolib.survey.readings import Readings, Traverse
    >>> top = Face("top", y=0, width=20, x_from=0, x_to=200, nominal_height=25)
    >>> ledge = Face("ledge", y=0, width=20, x_from=0, x_to=200, normal=180)
    >>> over = Traverse("over", "micrometer", "micrometer",
    ...                 settings={"face": "top", "opposite_face": "ledge"})
    >>> def survey(*sizes):
    ...     n = len(sizes)
    ...     readings = Readings(
    ...         np.full(n, "over"), np.full(n, "top"), np.array([0.0, 100, 200]), np.array(sizes),
    ...         np.ones(n, int), np.arange(n), np.full(n, ""), np.arange(2, n + 2))
    ...     return SimpleNamespace(
    ...         machine=Machine("m", faces={"top": top, "ledge": ledge}), straightedges={},
    ...         instruments={"micrometer": Instrument("micrometer", "mm", 0.0, 0.001, 0.01)},
    ...         traverses={"over": over}, readings=readings, decision=Decision(faces=("top",)))
    >>> rounds = adjust_rounds({"start": survey(25.03, 25.01, 25.02),
    ...                         "1": survey(24.98, 24.96, 24.96)})
    >>> at = [rounds.index[name][0] for name in ("start", "1")]
    >>> u = np.sqrt(np.diag(rounds.cov)[at[0]] + np.diag(rounds.cov)[at[1]]
    ...             - 2 * rounds.cov[at[0], at[1]])
    >>> round(float(rounds.values[at[0]] - rounds.values[at[1]]), 4), round(float(u), 4)
    (0.05, 0.0014)
    """
    surveys = rounds_until(surveys, until)
    names, first = list(surveys), next(iter(surveys.values()))
    check_machines(surveys)
    faces = dict(first.machine.faces)
    cut = faces_cut(first, cut)
    check_reset(reset, surveys)
    traverses = traverses_of(surveys, states)
    systems = [
        _equations(surveys[name], chosen, row_functions, list(faces))
        for name, chosen in traverses.items()
    ]
    check_common(systems, list(faces), cut, names)
    joint = join(systems, names, list(faces.values()), cut, tuple(reset))
    system = with_fitted_scales(joint.system)
    prior = (system.prior_u, system.weak, system.along)
    solution = least_squares(*system.whitened(), *prior, system.alike)
    tested = check(system, solution)
    if not tested.agrees:
        warnings.warn(tested.verdict, DoubtfulReadingsWarning, stacklevel=2)
    count = len(system.stations.x)
    values, spread = system.prior + solution.values, np.sqrt(solution.factor.variances)
    cov = Adjusted(solution, np.arange(count))
    extras = Extras(system.extras, values[count:], spread[count:])
    index = dict(zip(names, joint.index, strict=True))
    heights = {
        name: _heights(
            {**faces, **surveys[name].machine.faces},
            system.stations,
            at,
            values,
            cov.part(at),
            tested,
            extras,
        )
        for name, at in index.items()
    }
    return AdjustedRounds(heights, index, values[:count], cov, tuple(sorted(cut)), tested, extras)


def _equations(survey, traverses, row_functions, order):
    """Return the equations of one round, its faces numbered as in the first."""
    system = equations(survey, traverses, row_functions)
    own = [order.index(face) for face in survey.machine.faces]
    stations = system.stations
    number = np.array([own[i] for i in stations.face])
    return replace(system, stations=Stations(number, stations.x, stations.y))


def _heights(faces, stations, at, values, cov, tested, extras):
    """Return the heights of one round, with the covariance of its own."""
    own = Stations(stations.face[at], stations.x[at], stations.y[at])
    listed = list(faces.values())
    return Heights(
        faces,
        np.array([listed[i].name for i in own.face]),
        own.x,
        own.y,
        values[at],
        cov,
        np.array([bool(listed[i].is_left_out(x)) for i, x in zip(own.face, own.x, strict=True)]),
        not_determined(listed, own, cov),
        tested,
        extras,
    )

"""Adjust: all readings of a survey together, by least squares, to heights with one covariance."""

import warnings
from collections.abc import Mapping

import numpy as np

from metrolib.errors import DoubtfulReadingsWarning, InputError
from metrolib.heights.blunders import check
from metrolib.heights.covariance import Adjusted
from metrolib.heights.determined import not_determined
from metrolib.heights.equations import equations
from metrolib.heights.result import Heights
from metrolib.heights.scales import with_fitted_scales
from metrolib.heights.solve import least_squares, robust_least_squares
from metrolib.heights.states import chosen_traverses


def adjust(survey, *, states=None, row_functions=None, robust=False):
    """Adjust all readings of a survey together.

    Parameters
    ----------
    survey : Survey
    states : sequence of str, optional
        Which states of the machine to adjust, e.g. ``["levelled"]``. Several say that the machine
        had one and the same shape in them. It may be left out where all readings were taken in
        one state.
    row_functions : dict of str to function, optional
        For traverses of the kind ``"own: NAME"``: the function that turns their readings into
        terms, by NAME (see `metrolib.heights.rows`).
    robust : bool
        Give the heights of a fit in which readings that stand out pull less (Huber), as a
        comparison: where they differ from the usual ones, blunders matter. The checks are those
        of the usual fit either way.

    Returns
    -------
    Heights
        With joint covariance, checks, what is not determined, and extras.

    Raises
    ------
    InputError
        If the readings were taken in several states and none is chosen, there are none, a row
        function is missing or fails, or a setting or instrument cannot be used.

    Warns
    -----
    DoubtfulReadingsWarning
        If readings disagree with each other by more than their uncertainties allow; nothing is
        dropped or changed.

    Notes
    -----
    Each reading is a sum of heights, of what its instrument and set-up add, and of noise. Heights
    start at nominal with a standard deviation of PRIOR_U, zeros, offsets and tilts likewise; so
    the system is never singular, and what the readings leave open keeps its wide uncertainty.
    Absolute height and tilt of the machine are such quantities: look at heights in the frame of a
    datum (`metrolib.heights.frame.relative_to`) or at forms.

    Uncertainties are a-priori ones, from the instruments; `Checks.scale` says how the scatter seen
    compares with them.

    Examples
    --------
    A level of 0.01 mm/m, stepped 200 mm along a flat face:

    >>> from types import SimpleNamespace
    >>> import numpy as np
    >>> from metrolib.survey.instruments import Instrument
    >>> from metrolib.survey.machine import Face, Machine
    >>> from metrolib.survey.readings import Readings, Traverse
    >>> n = 3
    >>> readings = Readings(
    ...     traverse=np.full(n, "along"), face=np.full(n, "flat"), x=np.array([0.0, 200, 400]),
    ...     value=np.array([-0.1, 0.0, 0.1]), repeat=np.ones(n, int), order=np.arange(n),
    ...     note=np.full(n, ""), line=np.arange(2, n + 2))
    >>> survey = SimpleNamespace(
    ...     machine=Machine("m", faces={"flat": Face("flat", 0, 40, 0, 600)}),
    ...     instruments={"level": Instrument("level", "mm/m", 0.0, 0.01)}, straightedges={},
    ...     traverses={"along": Traverse("along", "level along", "level", "along",
    ...                                  settings={"foot_spacing": 200.0})},
    ...     readings=readings)
    >>> heights = adjust(survey)
    >>> z = heights.on("flat").z
    >>> print(z[1] - (2 * z[0] + z[3]) / 3)  # above the line through the ends
    -0.0200+/-0.0016
    """
    chosen = chosen_traverses(survey, survey.readings, states)
    if not chosen:
        raise InputError(_nothing_read(survey))
    system = with_fitted_scales(equations(survey, chosen, row_functions))
    prior = (system.prior_u, system.weak, system.along)
    matrix, target = system.whitened()
    solution = least_squares(matrix, target, *prior, system.alike)
    tested = check(system, solution)
    if not tested.agrees:
        warnings.warn(tested.verdict, DoubtfulReadingsWarning, stacklevel=2)
    if robust:
        solution = robust_least_squares(matrix, target, *prior)
    return _heights(survey, system, solution, tested)


class Extras(Mapping):
    """What instruments and set-ups added, by name, each as an `uncertainties` number.

    A number is made when it is looked up; it carries its own uncertainty, but no correlation with
    the heights.
    """

    def __init__(self, names, values, u):
        self._found = {
            name: (value, spread) for name, value, spread in zip(names, values, u, strict=True)
        }

    def __getitem__(self, name):
        if name not in self._found:
            raise KeyError(name)
        from uncertainties import ufloat

        return ufloat(*map(float, self._found[name]))

    def __iter__(self):
        return iter(self._found)

    def __len__(self):
        return len(self._found)

    def __repr__(self):
        return "{" + ", ".join(f"{name!r}: {self[name]}" for name in self) + "}"


def _nothing_read(survey):
    """Say what to do with a survey that holds no reading yet."""
    planned = len(getattr(survey, "planned", ()))
    if not planned:
        return "readings: there are none to adjust, got 0 rows; fill in readings.csv"
    return (
        f"readings: none is taken yet, got {planned} rows with an empty reading; fill them in. "
        "plan_survey(survey) says beforehand how sure they will make the results"
    )


def _heights(survey, system, solution, tested):
    faces = list(survey.machine.faces.values())
    stations = system.stations
    count = len(stations.x)
    values = system.prior + solution.values
    cov = Adjusted(solution, np.arange(count))
    left_out = np.zeros(count, dtype=bool)
    for i, face in enumerate(faces):
        mine = stations.face == i
        left_out[mine] = face.is_left_out(stations.x[mine])
    spread = np.sqrt(solution.factor.variances[count:])
    return Heights(
        dict(survey.machine.faces),
        np.array([face.name for face in faces])[stations.face],
        stations.x,
        stations.y,
        values[:count],
        cov,
        left_out,
        not_determined(faces, stations, cov),
        tested,
        Extras(system.extras, values[count:], spread),
    )

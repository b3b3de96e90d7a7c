"""How often intervals hold the truth: simulated surveys of the sample machines.

A survey's heights are linear in its readings, so a simulated survey is the true heights plus errors
drawn from their joint covariance. `complete_surveys` takes the long way for comparison: readings
from points in space, booked, and adjusted.
"""

import sys
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy import sparse

from metrolib.form.confidence import places_and_heights
from metrolib.form.coplanarity import coplanarity
from metrolib.form.flatness import flatness
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import Twist, twist
from metrolib.heights.adjust import adjust
from metrolib.heights.equations import equations
from metrolib.heights.result import Heights
from metrolib.heights.scales import scale_columns, with_fitted_scales
from metrolib.heights.solve import least_squares
from metrolib.heights.states import chosen_traverses
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.decision import Decision
from metrolib.survey.folder import read_survey, survey_from_texts
from metrolib.uncertain.inversion import TAIL_KEPT, TAILS_KEPT, invert
from metrolib.uncertain.linear import factor_of
from metrolib.uncertain.montecarlo import monte_carlo
from metrolib.uncertain.smooth import true_faces
from tests.samples.test_samples import true_heights, truth_of, without_blunder

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
SURVEYS = SAMPLES.parents[1] / "sample_surveys"
K = 1.959964  # of a normal law, 95 %
TAILS, TAIL = TAILS_KEPT * 0.05 / 2, TAIL_KEPT * 0.05

#: What is asked of each machine: faces for straightness, parallelism (face, datum) and twist.
MIXES = {
    "toolroom_lathe": (
        "front flat",
        ("front flat", "underside ledge"),
        ("front flat", "rear flat"),
    ),
    "milling_table": ("left way", ("left way", "left strip"), ("left way", "right way")),
    "long_rails": ("front rail", ("rear rail", "front rail"), ("front rail", "rear rail")),
    "rectangular_face": (None, None, None),
}


@dataclass(frozen=True, eq=False)
class Mix:
    """A machine, how surely its survey tells the heights, and their true values."""

    name: str
    heights: Heights
    true: np.ndarray
    decision: Decision

    def few(self, count):
        """The same with so many stations on each face, spread evenly."""
        kept = []
        for name in dict.fromkeys(self.heights.face):
            mine = np.flatnonzero(self.heights.face == name)
            kept += list(mine[np.linspace(0, mine.size - 1, count).round().astype(int)])
        heights, kept = self.heights, np.array(kept)
        fewer = {name: getattr(heights, name)[kept] for name in ("face", "x", "y", "values")}
        heights = replace(
            heights, **fewer, cov=heights.cov[np.ix_(kept, kept)], left_out=heights.left_out[kept]
        )
        return replace(self, heights=heights, true=self.true[kept])

    def unequal(self, most):
        """The same with extra noise, from none to `most` times that of the readings."""
        random = np.random.default_rng(11)
        u = 0.001 * random.permutation(np.linspace(0, most, self.true.size))
        return replace(self, heights=replace(self.heights, cov=self.heights.cov + np.diag(u**2)))

    def simulated(self, surveys, seed):
        """Return the heights of simulated surveys, shape (surveys, n) [mm]."""
        factor = factor_of(self.heights.cov)
        random = np.random.default_rng(seed)
        return self.true + random.standard_normal((surveys, factor.shape[1])) @ factor.T


def nominal_heights(heights):
    return np.array([heights.faces[name].nominal_height for name in heights.face])


def sample(name, wear=1.0):
    """Return a sample machine as surveyed, its blunder taken out.

    Parameters
    ----------
    name : str
    wear : float
        Share of its departures from nominal that it really has; with 0 all faces are true. The
        errors of the readings then are those of such a machine: a scale error counts less.
    """
    truth = truth_of(name)
    survey = without_blunder(read_survey(SURVEYS / name), truth)
    heights = adjust(survey)
    true = true_heights(heights, truth)
    nominal = nominal_heights(heights)
    system = equations(survey, chosen_traverses(survey, survey.readings))
    solution = solved(with_fitted_scales(system))
    unknowns = system.prior + solution.values
    unknowns[: true.size] = true = nominal + wear * (true - nominal)
    system = read_exactly(system, unknowns)
    cov = solved(system).covariance(np.arange(true.size))
    heights = replace(heights, values=true, cov=cov)
    return Mix(name, heights, true, survey.decision)


def read_exactly(system, unknowns):
    """Return the equations of readings without noise, of given unknowns."""
    columns = scale_columns(system)
    rest = np.delete(np.arange(unknowns.size), columns)
    known = system.reading - system.observed
    reading = system.matrix[:, rest] @ unknowns[rest] + known
    matrix = system.matrix.toarray()
    matrix[:, columns] = np.where(matrix[:, columns] != 0, reading[:, None], 0.0)
    matrix = sparse.csr_array(matrix)
    return replace(system, matrix=matrix, observed=reading - known, reading=reading)


def solved(system, kept=slice(None)):
    """Return the least-squares solution of the readings that are kept."""
    return least_squares(*system.whitened(kept), system.prior_u, system.weak)


def figures(mix):
    """Return by name what is asked of a machine: functions of (heights, cov or None)."""
    heights = mix.heights
    line, pair, across = MIXES[mix.name]

    def on(face):
        return np.flatnonzero(heights.face == face)

    def joint(stations, cov):
        return None if cov is None else cov[np.ix_(stations, stations)]

    if line is None:
        return {"flatness": lambda z, cov: flatness(heights.x, heights.y, z, cov)}
    a, (f, d), (left, right) = on(line), map(on, pair), map(on, across)
    distance = heights.faces[across[1]].y - heights.faces[across[0]].y
    group = {name: on(name) for name in mix.decision.faces}
    together, two, both = np.concatenate(list(group.values())), np.r_[f, d], np.r_[left, right]
    nominal = nominal_heights(heights)

    def faces_of(z):
        return {
            name: (heights.x[i], heights.faces[name].y, (z - nominal)[i])
            for name, i in group.items()
        }

    x = heights.x
    return {
        "straightness": lambda z, cov: straightness(x[a], z[a], joint(a, cov)),
        "parallelism": lambda z, cov: parallelism(x[f], z[f], x[d], z[d], joint(two, cov)),
        "coplanarity": lambda z, cov: coplanarity(faces_of(z), joint(together, cov)),
        "twist": lambda z, cov: twist(x[left], z[left], z[right], distance, joint(both, cov)),
    }


def linear_covers(result, true):
    """Tell whether value and U hold the truth."""
    return abs(result.value.nominal_value - true) <= K * result.value.std_dev


def drawn_covers(result, true):
    """Tell whether the plain Monte Carlo interval holds the truth."""
    low, high = monte_carlo(result, draws=2000, progress=False).symmetric
    return low <= true <= high


def interval_covers(result, true, seed, draws=500):
    """Tell whether the confidence interval, and its one-sided limit, hold the truth.

    Only the true size is tried, which is the same question asked some fifty times faster.
    """
    places, heights = places_and_heights(result)
    found = invert(
        result.redo,
        result.value.nominal_value,
        true_faces(places, heights.values, heights.cov),
        draws=draws,
        seed=seed,
        quiet=2 * TAIL,
        sizes=np.array([true]),
        progress=False,
    )
    below = float(found.share @ found.below[:, 0])
    return (below >= TAILS) and (1 - below >= TAILS), below >= TAIL


def form_coverage(mix, what, surveys, *, seed=1, drawn=False):
    """Return how often the intervals of a form figure hold the truth.

    Returns
    -------
    dict of str to float
        "true" value [mm, mm/m], and shares: "linear", "drawn" (if asked for), and, but for twist,
        "interval" and "at most".
    """
    function = figures(mix)[what]
    true = float(function(mix.true, None).value)
    held = [
        holds(function(z, mix.heights.cov), true, seed=number, drawn=drawn)
        for number, z in enumerate(mix.simulated(surveys, seed))
    ]
    return {"true": true} | {name: np.mean([each[name] for each in held]) for name in held[0]}


def holds(result, true, *, seed, drawn=False):
    """Tell which intervals of one result hold the truth, by name."""
    told = {"linear": linear_covers(result, true)}
    if drawn:
        told["drawn"] = drawn_covers(result, true)
    if not isinstance(result, Twist):
        told["interval"], told["at most"] = interval_covers(result, true, seed)
    return told


def depth_coverage(mix, surveys, *, seed=1):
    """Return how often U of the depth at each station holds it, against a target that stands."""
    plan = plan_removal(mix.heights, mix.decision, confidence=None)
    error = (mix.simulated(surveys, seed) - mix.true) @ plan.group.error_law.T
    counts = ~plan.left_out
    return np.mean(np.abs(error[:, counts]) <= K * plan.depth_u[counts])


def target_coverage(mix, surveys, *, seed=1):
    """Return how often U of the target's height where the cut is deepest holds the true target.

    The survey's own target, found again in every survey; the true one is found on true heights.
    """
    true = plan_removal(replace(mix.heights, values=mix.true), mix.decision, confidence=None)
    at, held = true.deepest, []
    for z in mix.simulated(surveys, seed):
        plan = plan_removal(replace(mix.heights, values=z), mix.decision, confidence=None)
        held.append(abs(plan.target[at] - true.target[at]) <= K * plan.target_u[at])
    return np.mean(held)


def given_target_coverage(mix, surveys, *, seed=1):
    """Return the same for a target that keeps to the stations it was planned from."""
    true = plan_removal(replace(mix.heights, values=mix.true), mix.decision, confidence=None)
    law = true.group.columns[true.deepest] @ true.motion_law
    error = (mix.simulated(surveys, seed) - mix.true) @ law
    return np.mean(np.abs(error) <= K * true.target_u[true.deepest])


def complete_surveys(name, surveys):
    """Yield `Mix` after `Mix` from whole surveys: readings from points in space, adjusted.

    Scales of the instruments are drawn anew, as far as their uncertainty says.
    """
    sys.path.insert(0, str(SAMPLES))
    try:
        from make_samples import SAMPLES as RECIPES
    finally:
        sys.path.remove(str(SAMPLES))
    recipe = next(each for each in RECIPES if each().name == name)()
    text = (SURVEYS / name / "survey.toml").read_text(encoding="utf-8")
    truth = truth_of(name)
    sheets = tomllib.loads(text)["instruments"]
    for seed in range(surveys):
        random = np.random.default_rng(seed)
        scale = {
            instrument: random.normal(0, sheet.get("sensitivity_uncertainty", 0.0))
            for instrument, sheet in sheets.items()
        }
        made = replace(recipe, seed=seed, hidden={**recipe.hidden, "scale": scale})
        survey = survey_from_texts(text, made.make(text)[0].decode("utf-8-sig"))
        heights = adjust(without_blunder(survey, truth))
        yield Mix(name, heights, true_heights(heights, truth), survey.decision)

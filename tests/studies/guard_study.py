"""Does the guard give what it promises, at the least depth? Run by hand, prints tables.

``python -m tests.studies.guard_study`` from the project's folder; some minutes.

First table, for each decision of the sample surveys and for some hard beds: how often surfaces,
drawn afresh within the uncertainty of the heights, clean up; what the guard costs, as mean depth
over the faces; and what other ways to be as sure would cost: lowering the unguarded target parallel
to itself, lowering every station by the same number of its own uncertainties, and the least of all
targets, sought independently over the fresh draws.

Second table: known faces surveyed again and again. There the reading that is lowest by chance sets
the target, so that near-perfect faces clean up more often than asked for.
"""

import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import linprog

from metrolib.heights.adjust import adjust
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.folder import read_survey
from tests.rebuild.beds import HELD, lathe_bed

SAMPLES = Path(__file__).resolve().parents[2] / "sample_surveys"
NAMES = ("toolroom_lathe", "long_rails", "milling_table", "rectangular_face")


@dataclass(frozen=True)
class Row:
    """What one plan reaches, and the mean depth that other ways would cost [mm]."""

    asked: float
    reached: float
    reached_u: float
    whole: float
    guard: float
    parallel: float
    even: float
    least: float


def sample_plans():
    """Yield (name, plan) for each decision of the sample surveys that cuts all of its faces."""
    for name in NAMES:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            survey = read_survey(SAMPLES / name)
            heights = adjust(survey)
        for option, decision in {"decision": survey.decision, **survey.options}.items():
            if decision.confidence and decision.band == 0 and decision.minimise == "volume":
                yield f"{name}: {option}", plan_removal(heights, decision)


def bed_plans():
    """Yield (name, plan) for two-way beds, near-perfect or worn, evenly measured or not."""
    rng, x = np.random.default_rng(5), np.linspace(0, 1400, 12)
    for shape, wear in (("flat", 0.0), ("near flat", 0.003), ("worn", 0.03)):
        ways = [
            -wear * np.exp(-(((x - a) / 300) ** 2)) + rng.normal(0, 0.003, 12) for a in (400, 900)
        ]
        for how, scale in (("evenly", np.ones(12)), ("unevenly", np.linspace(0.3, 2.5, 12))):
            heights = lathe_bed(*ways, u=0.003)
            spread = np.concatenate([scale, np.ones(len(heights.face) - 12)])
            cov = heights.cov * np.outer(spread, spread)
            heights = type(heights)(**{**vars(heights), "cov": cov})
            for frame in ({"datum": HELD["datum"]}, {}):
                plan = plan_removal(heights, faces=["front", "rear"], **frame)
                yield f"{shape}, {how} measured, {'datum' if frame else 'no datum'}", plan


def study(plan, *, draws=40_000, seed=2024):
    """Return what a plan reaches on fresh draws, beside other ways to be as sure."""
    case = _Case(plan, draws, seed)
    asked, reached = plan.decision.confidence, case.share(case.motion)
    bare = plan_removal(plan.heights, plan.decision, confidence=None)
    start = bare.motion_values * case.scale
    way = np.linalg.lstsq(case.columns, np.ones(len(case.height)), rcond=None)[0]
    parallel = case.least_of(lambda depth: start - depth * way, asked)
    even = case.least_of(case.lowered, asked, most=6.0)
    least = case.cheapest(asked, case.lowered(6.0))
    return Row(
        asked,
        reached,
        float(np.sqrt(reached * (1 - reached) / draws)),
        case.cost(case.motion) - case.top,
        *(case.cost(motion) - case.cost(start) for motion in (case.motion, parallel, even, least)),
    )


class _Case:
    """A plan as plain numbers, with its own draws; the library's guard is not asked."""

    def __init__(self, plan, draws, seed):
        counts = ~plan.left_out
        self.cov = plan.group.cov[np.ix_(counts, counts)]
        self.scale = np.abs(plan.group.columns[counts]).max(axis=0)
        self.columns = plan.group.columns[counts] / self.scale
        self.limit = plan.group.limit * self.scale
        self.height, area = plan.relative_height[counts], plan.area[counts]
        self.low = self.height - plan.decision.clean_up
        self.price = -(area / area.sum()) @ self.columns
        self.top = -(area / area.sum()) @ self.height
        self.motion = plan.motion_values * self.scale
        rng = np.random.default_rng(seed)
        self.errors = rng.multivariate_normal(
            np.zeros(len(self.cov)), self.cov, draws, method="eigh", check_valid="ignore"
        )

    def cost(self, motion):
        """Return how low the target lies on the mean [mm]."""
        return float(self.price @ motion)

    def share(self, motion):
        """Return the share of surfaces that clean up."""
        room = self.low - self.columns @ motion
        return float((room + self.errors >= -1e-9).all(axis=1).mean())

    def least_of(self, way, asked, most=0.1):
        """Return the target on a way down, one number long, that is just sure enough."""
        enough = 0.0
        for step in most / 2 ** np.arange(1, 18):
            enough += step if self.share(way(enough + step)) < asked else 0.0
        return way(enough + most / 2**17)

    def lowered(self, k):
        """Return the cheapest target with every station lowered by k of its uncertainties."""
        return self._solve([self.columns], [self.low - k * np.sqrt(np.diag(self.cov))])

    def cheapest(self, asked, inside):
        """Return the cheapest of all targets that is sure enough, by cutting off unsure ones."""
        rows, right, best = [self.columns], [self.low], inside
        for _ in range(60):
            outside = self._solve(rows, right)
            if self.cost(best) - self.cost(outside) < 1e-6:
                break
            sure, unsure = 0.0, 1.0
            for _ in range(22):
                middle = (sure + unsure) / 2
                if self.share(inside + middle * (outside - inside)) >= asked:
                    sure = middle
                else:
                    unsure = middle
            edge = inside + sure * (outside - inside)
            best = min(best, edge, key=self.cost)
            above = self.low - self.columns @ edge + self.errors
            near = np.abs(above.min(axis=1))
            near = near <= np.quantile(near, 0.05)
            weight = np.bincount(above[near].argmin(axis=1), minlength=len(self.low))
            normal = weight / weight.sum() @ self.columns
            rows.append(normal[None])
            right.append([normal @ edge])
        return best

    def _solve(self, rows, right):
        bounds = [(-most * 1e3, most * 1e3) for most in self.limit]
        return (
            linprog(
                self.price,
                A_ub=np.vstack(rows),
                b_ub=np.concatenate(right) * 1e3,
                bounds=bounds,
                method="highs-ds",
            ).x
            / 1e3
        )


def surveys_of_a_known_truth(true, u, *, surveys=400, confidence=0.95, seed=7):
    """Return how often known faces clean up when each noisy survey plans its own cut."""
    rng, cleaned = np.random.default_rng(seed), 0
    for survey in range(surveys):
        heights = lathe_bed(*(np.asarray(true) + rng.normal(0, u, np.shape(true))), u=u)
        plan = plan_removal(
            heights,
            faces=["front", "rear"],
            confidence=confidence,
            seed=survey,
            draws=4000,
            **HELD,
        )
        cleaned += bool((np.concatenate(true) >= plan.target[0]).all())
    return cleaned / surveys


def main():
    """Print both tables."""
    print("mean depth [um]               reached        plan   guard  parallel   even  least  over")
    for name, plan in [*sample_plans(), *bed_plans()]:
        row = study(plan)
        um = [1e3 * value for value in (row.whole, row.guard, row.parallel, row.even, row.least)]
        print(name)
        print(
            f"{'':28}{row.reached:.4f} ± {row.reached_u:.4f}{um[0]:9.2f}"
            f"{um[1]:8.3f}{um[2]:8.3f}{um[3]:8.3f}{um[4]:8.3f}{100 * (um[1] / um[4] - 1):6.1f} %"
        )
    print("\nknown faces, surveyed again and again; 95 % asked")
    x = np.linspace(0, 1400, 8)
    for depth in (0.0, 0.005, 0.05):
        hollow = -depth * np.exp(-(((x - 600) / 300) ** 2))
        share = surveys_of_a_known_truth([hollow, 0.4 * hollow], 0.002)
        print(f"hollow of {1e3 * depth:4.0f} um, u 2 um: all clean up on {100 * share:.1f} %")


if __name__ == "__main__":
    main()

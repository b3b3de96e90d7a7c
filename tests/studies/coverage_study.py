"""Print how often intervals hold the truth, over simulated surveys of the sample machines.

    python -m tests.studies.coverage_study [--surveys 2000] [--workers 2] [--only KIND]

Shares are in per cent; over 2000 surveys a share of 95 % scatters by 0.5 %. It takes about
an hour and a half on two cores, and writes nothing.
"""

import argparse
import warnings
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from tests.studies.blundered import blundered_surveys
from tests.studies.coverage import (
    MIXES,
    complete_surveys,
    depth_coverage,
    figures,
    form_coverage,
    given_target_coverage,
    holds,
    sample,
    target_coverage,
)
from tests.studies.shapes import NOISES, SHAPES, SIZES, shape_coverage

#: What is made of each machine.
VARIANTS = {
    "as worn": lambda name: sample(name),
    "worn a tenth of it": lambda name: sample(name, 0.1),
    "worn 3 % of it": lambda name: sample(name, 0.03),
    "perfect": lambda name: sample(name, 0.0),
    "worn a tenth, 5 stations": lambda name: sample(name, 0.1).few(5),
    "worn a tenth, unequal u": lambda name: sample(name, 0.1).unequal(4),
}
COLUMNS = ("linear", "drawn", "interval", "at most")
TARGETS = 200  # a plan takes a tenth of a second
COMPLETE = 60
STATIONS = (5, 8, 15, 30)


def _row(name, variant, what, shares, true=None):
    said = f"{true * 1000:8.1f}" if true is not None else " " * 8
    told = "".join(
        f"{100 * shares[column]:10.1f}" if column in shares else " " * 10 for column in COLUMNS
    )
    return f"{name:17}{variant:26}{what:16}{said}{told}"


def _form(name, variant, surveys):
    mix, rows = VARIANTS[variant](name), []
    seed = 1 + list(VARIANTS).index(variant)
    for what in figures(mix):
        shares = form_coverage(mix, what, surveys, seed=seed, drawn=True)
        rows.append(_row(name, variant, what, shares, shares["true"]))
    rows.append(_row(name, variant, "depth", {"linear": depth_coverage(mix, surveys, seed=seed)}))
    given = {"linear": given_target_coverage(mix, surveys, seed=seed)}
    rows.append(_row(name, variant, "given target", given))
    again = {"linear": target_coverage(mix, min(TARGETS, surveys), seed=seed)}
    rows.append(_row(name, variant, "target anew", again))
    return rows


def _mean(held):
    return {name: np.mean([each[name] for each in held]) for name in held[0]}


def _blundered(name, surveys):
    outcomes = list(blundered_surveys(name, surveys))
    rows = []
    for what in figures(outcomes[0].mix):
        held = []
        for number, outcome in enumerate(outcomes):
            heights, function = outcome.mix.heights, figures(outcome.mix)[what]
            true = float(function(outcome.mix.true, None).value)
            result = function(heights.values, heights.cov)
            held.append(holds(result, true, seed=number))
        rows.append(_row(name, "a blunder taken out", what, _mean(held), true))
    found = 100 * np.mean([outcome.found for outcome in outcomes])
    wrongly = 100 * np.mean([outcome.wrongly > 0 for outcome in outcomes])
    rows.append(
        f"{name}: blunder found in {found:.1f} % of surveys, good readings lost in {wrongly:.1f} %"
    )
    return rows


def _complete(name, surveys):
    found = list(complete_surveys(name, surveys))
    rows = []
    for what in figures(found[0]):
        held = []
        for number, mix in enumerate(found):
            function = figures(mix)[what]
            true = float(function(mix.true, None).value)
            held.append(holds(function(mix.heights.values, mix.heights.cov), true, seed=number))
        rows.append(_row(name, f"{surveys} complete surveys", what, _mean(held), true))
    return rows


def _shapes(stations, noise, surveys):
    return [
        _row(f"{stations} stations", noise, f"{shape} {size} u", shares)
        for shape in SHAPES
        for size in SIZES
        for shares in [shape_coverage(stations, noise, shape, size, surveys)]
    ]


def _job(job):
    kind, *rest = job
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return JOBS[kind](*rest)


JOBS = {"form": _form, "blunder": _blundered, "complete": _complete, "shapes": _shapes}


def main():
    """Run all and print the table as it comes."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--surveys", type=int, default=2000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--only", choices=list(JOBS))
    given = parser.parse_args()
    jobs = [("form", name, variant, given.surveys) for name in MIXES for variant in VARIANTS]
    jobs += [("blunder", name, given.surveys) for name in MIXES]
    jobs += [("complete", "toolroom_lathe", COMPLETE)]
    jobs += [("shapes", n, noise, given.surveys // 4) for n in STATIONS for noise in NOISES]
    jobs = [job for job in jobs if given.only in (None, job[0])]
    heading = "".join(f"{column:>10}" for column in COLUMNS)
    print(f"{'machine':17}{'variant':26}{'what':16}{'true':>8}{heading}")
    print(f"{'':59}{'[µm]':>8}{''.join(['%'.rjust(10)] * len(COLUMNS))}")
    with ProcessPoolExecutor(given.workers) as workers:
        for rows in workers.map(_job, jobs):
            print("\n".join(rows), flush=True)


if __name__ == "__main__":
    main()

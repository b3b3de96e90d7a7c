"""Rows 7 to 9: the target of a removal, beside linear programmes and beside a fit.

Timed is `find_target`, or `find_targets` for many sets of heights, on the programme of a plan:
what `plan_removal` and `study_plan` call, with the law and the roles of the stations in it. Plans
hold a dense covariance, so of a million points there is a programme only.
"""

from functools import partial

import numpy as np
from scipy.optimize import linprog

from metrolib import given_heights, plan_removal
from metrolib.rebuild.removal.programme import Programme
from metrolib.rebuild.removal.programme_batched import find_targets
from metrolib.rebuild.removal.programme_single import find_target
from tests.benchmarks.paired import Row, paired, times_faster
from tests.rebuild.beds import flat

MILLION = 1_000_000
DRAWS = 10_000
LOOPED = 50  # of the draws, by linear programmes
WAYS = {"front": (0, 400), "middle": (130, 700), "rear": (250, 900)}  # y, and where it is worn


def worn(x, at):
    """Return the heights of a way 0.05 mm hollow about a place [mm]."""
    return -0.05 * np.exp(-(((x - at) / 300) ** 2))


def three_ways(together):
    """Return the programme of three worn ways with 30 stations each."""
    x, random = np.linspace(0, 1400, 30), np.random.default_rng(6)
    faces = [flat(name, y, length=1400) for name, (y, _) in WAYS.items()]
    points = {
        name: (x, worn(x, at) + random.normal(0, 0.002, 30)) for name, (_, at) in WAYS.items()
    }
    heights = given_heights(faces, points)
    return plan_removal(heights, faces=list(WAYS), together=together, confidence=None).programme


def long_ways(faces):
    """Return the programme of a million points scanned on one wide face, or on three."""
    random = np.random.default_rng(7)
    x, y = random.uniform(0, 1.4, MILLION), random.uniform(0, 0.25, MILLION)
    which = random.integers(0, faces, MILLION)
    offsets = [f"offset of {face}" for face in range(faces)]
    columns = np.column_stack([*(1.0 * (which == face) for face in range(faces)), x, y])
    z = worn(1400 * x, 400 + 250 * which) + random.normal(0, 0.001, MILLION)
    one, no_limit = np.ones(MILLION), np.full(MILLION, np.inf)
    motions = (*offsets, "pitch", "roll")
    free = np.full(len(motions), np.inf)
    return Programme(motions, columns, z, one, 0 * one, 0 * one, no_limit, 0.0, free, "volume")


def by_programme(programme, z):
    """Return the mean height of the highest target below some heights, by a general solver."""
    price = programme.area @ programme.columns / programme.area.sum()
    solved = linprog(-price, A_ub=programme.columns, b_ub=z, bounds=(None, None), method="highs")
    return -solved.fun


def agree(programme, z, motion, expected):
    """Refuse to time a target that is not the highest, or does not stay below the heights."""
    columns = programme.columns
    found = programme.area @ columns @ motion / programme.area.sum()
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-9 * np.ptp(z))
    assert (columns @ motion <= z + 1e-12 * np.ptp(z)).all()


def one_plan(together):
    """Time the target of three ways beside one linear programme with dense rows."""
    programme = three_ways(together)
    z = programme.height
    agree(programme, z, find_target(programme).motion, by_programme(programme, z))
    return paired(lambda: find_target(programme), lambda: by_programme(programme, z))


def million(faces):
    """Time the target below a million points beside the fit of the same columns."""
    programme = long_ways(faces)
    z, columns = programme.height, programme.columns
    target = find_target(programme)
    # what it rests on, and nothing else, has multipliers that make up the price: no target is
    # higher, as the dual solution of a linear programme proves
    multipliers = programme.area @ columns @ target.law
    assert multipliers.min() >= -1e-9 * MILLION
    agree(programme, z, target.motion, multipliers @ z / programme.area.sum())
    return paired(
        lambda: find_target(programme),
        lambda: np.linalg.lstsq(columns, z, rcond=None),
        pairs=9,
    )


def many(together, scatter):
    """Time the targets of many draws beside a loop of linear programmes."""
    programme = three_ways(together)
    z = programme.height + np.random.default_rng(8).normal(0, scatter, (DRAWS, 90))
    found = find_targets(programme, z[:LOOPED]).motion
    for height, motion in zip(z, found, strict=False):
        agree(programme, height, motion, by_programme(programme, height))
    return times_faster(
        lambda: find_targets(programme, z),
        lambda: [by_programme(programme, height) for height in z[:LOOPED]],
        share=LOOPED / DRAWS,
    )


KINDS = {"coplanar": "one target plane", "parallel": "common tilt, own offsets"}
ROWS = (
    *(
        Row(
            f"7{letter}",
            f"removal of 3 x 30, {words}",
            "linprog with dense rows",
            1.0,
            0.3,
            partial(one_plan, together),
        )
        for letter, (together, words) in zip("ab", KINDS.items(), strict=True)
    ),
    *(
        Row(
            f"8{letter}",
            f"removal of 1e6 points on {faces} face{'s' * (faces > 1)}",
            "lstsq of the same columns",
            1.5,
            0.9,
            partial(million, faces),
        )
        for letter, faces in (("a", 1), ("b", 3))
    ),
    *(
        Row(
            f"9{letter}",
            f"1e4 draws of 3 x 30, {KINDS[together]}, scatter {scatter * 1e3:g} um",
            "a loop of linprog",
            200,
            350,
            partial(many, together, scatter),
            faster=True,
        )
        for letter, together, scatter in (
            ("a", "coplanar", 0.003),
            ("b", "coplanar", 0.05),
            ("c", "parallel", 0.003),
            ("d", "parallel", 0.05),
        )
    ),
)

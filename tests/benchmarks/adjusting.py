"""Rows 10, 11, 12 and 15: the adjustment of long surveys, and all that leads to it."""

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import sparse
from scipy.sparse.linalg import splu

from metrolib import adjust, read_survey
from metrolib.heights.covariance import Adjusted
from metrolib.heights.determined import not_determined
from metrolib.heights.equations import equations
from metrolib.heights.solve import least_squares
from tests.benchmarks.long_survey import long_survey, write
from tests.benchmarks.paired import Row, paired

#: Motions of the machine in space, which levels leave open: lift, pitch and roll; a pitch or a
#: roll is none, though, for a level whose readings both ways round tell its zero.
_OPEN = 1


def whitened(survey):
    """Return the equations of a survey, and matrix and target as a user would set them up."""
    system = equations(survey, list(survey.traverses.values()))
    return system, *system.whitened()


def solved(survey, system):
    """Return the solution with variances and redundancies, and what it does not determine."""
    solution = least_squares(*system.whitened(), system.prior_u, system.weak, system.along)
    every = Adjusted(solution, np.arange(system.stations.x.size))
    faces = list(survey.machine.faces.values())
    found = not_determined(faces, system.stations, every)
    return solution, every.variances, solution.redundancy, found


def above_ends(stations, ways):
    """Return the height of each inner station above the line through the ends of its way."""
    shares = np.arange(1, stations - 1) / (stations - 1)
    law = np.zeros((stations - 2, stations))
    law[:, 0], law[:, -1] = shares - 1, -shares
    law[:, 1:-1] = np.eye(stations - 2)
    return np.kron(np.eye(ways), law)


def against_dense(ways=8, stations=100):
    """Adjust beside numpy's least squares and pseudo-inverse of the same dense matrix."""
    survey = long_survey(ways, stations)
    system, matrix, target = whitened(survey)
    dense = matrix.toarray()

    def reference():
        values, _, rank, _ = np.linalg.lstsq(dense, target, rcond=1e-9)
        return values, rank, np.linalg.pinv(dense, rcond=1e-9)

    values, rank, inverse = reference()
    heights = adjust(survey)
    above = above_ends(stations, ways)
    count = system.stations.x.size
    theirs = above @ (values + system.prior)[:count]
    np.testing.assert_allclose(above @ heights.values, theirs, rtol=0, atol=1e-9)
    u = np.sqrt(np.diag(heights.covariance(above)))
    np.testing.assert_allclose(u, np.linalg.norm(above @ inverse[:count], axis=1), rtol=1e-6)
    redundancy = 1 - np.einsum("ij,ji->i", dense, inverse)
    np.testing.assert_allclose(heights.checks.redundancy, redundancy, rtol=0, atol=1e-6)
    assert heights.not_determined == () and rank == dense.shape[1] - _OPEN
    return paired(lambda: adjust(survey), reference, pairs=5)


def against_sparse(ways=10, stations=1000):
    """The adjustment beside one sparse factor of its normal equations, and one solve."""
    survey = long_survey(ways, stations)
    system, matrix, target = whitened(survey)
    normal = (matrix.T @ matrix + sparse.diags_array(system.prior_u**-2)).tocsc()
    right = matrix.T @ target

    def reference():
        return splu(normal, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(
            right
        )

    solution, _, redundancy, found = solved(survey, system)
    # theirs keeps the pull of the weak priors, and a rounding error that nothing takes out
    np.testing.assert_allclose(matrix @ solution.values, matrix @ reference(), rtol=0, atol=1e-3)
    assert abs(redundancy.sum() - (len(target) - matrix.shape[1] + _OPEN)) < 1e-3 and found == ()
    return paired(lambda: solved(survey, system), reference)


def growth(ways=10, few=1000, many=10_000):
    """Ten times as many stations."""
    surveys = [long_survey(ways, stations) for stations in (many, few)]
    systems = [whitened(survey)[0] for survey in surveys]
    for survey, system in zip(surveys, systems, strict=True):
        redundancy = solved(survey, system)[2]
        excess = len(system.u) - system.prior.size + _OPEN
        assert abs(redundancy.sum() / excess - 1) < 1e-3
    return paired(*(lambda pair=pair: solved(*pair) for pair in zip(surveys, systems, strict=True)))


def against_reading(ways=10, stations=690, times=5):
    """Read, check and adjust, beside reading the numbers alone."""
    with tempfile.TemporaryDirectory() as place:
        file = write(long_survey(ways, stations, times), Path(place))
        survey, table = read_survey(place), pd.read_csv(file)
        np.testing.assert_array_equal(survey.readings.value, table["reading"])
        assert abs(len(table) / 1e5 - 1) < 0.01
        return paired(lambda: adjust(read_survey(place)), lambda: pd.read_csv(file), pairs=7)


ROWS = (
    Row(
        "10",
        "adjust 8 x 100 with its checks and what is determined",
        "dense lstsq + pinv",
        0.1,
        0.03,
        against_dense,
    ),
    Row(
        "11",
        "adjust the equations of 10 x 1000: solution, variances, redundancies, what is determined",
        "one splu factor and solve",
        3,
        1.1,
        against_sparse,
    ),
    Row("12", "the same, 10 x 10000", "10 x 1000", 20, 13, growth),
    Row(
        "15",
        "read, check and adjust 1e5 readings at 6900 stations",
        "pandas.read_csv",
        15,
        6,
        against_reading,
    ),
)

"""The factor of long surveys against the dense one, and against exact figures."""

import warnings

import numpy as np
import pytest
from mpmath import mpf
from scipy import sparse
from scipy.linalg import LinAlgError

from metrolib.errors import DoubtfulReadingsWarning, InputError
from metrolib.heights import covariance, solve
from metrolib.heights.adjust import adjust
from metrolib.heights.band import Band
from metrolib.heights.dense import Dense
from metrolib.heights.equations import equations
from metrolib.heights.ordering import lay_in_a_row
from metrolib.heights.rounds import adjust_rounds
from metrolib.heights.solve import least_squares
from metrolib.heights.suspects import find_suspects
from metrolib.survey.instruments import Instrument, Straightedge
from metrolib.survey.rounds import read_rounds
from tests.benchmarks.long_survey import long_survey
from tests.heights.build import INDICATOR, LEVEL, Leg, flat, noisy, survey, worn
from tests.heights.test_solve import exact_cumulated

SHAPE = worn(0.1, 700, 300, bow=0.02)
X = np.arange(0.0, 1501.0, 50.0)
FACES = [flat("front"), flat("rear", y=300.0), flat("under", normal=180.0, nominal=40.0)]


def levels():
    """Two flats stepped along and bridged, by a level whose scale is in doubt."""
    level = Instrument("level", "mm/m", 0.0, 0.004, sensitivity_uncertainty=0.02)
    slope = noisy((SHAPE(X[1:]) - SHAPE(X[:-1])) / 0.05, level, 1)
    along = {"foot_spacing": 50.0}
    across = {"face": "front", "other_face": "rear"}
    return [
        Leg("one", "level along", level, X[:-1], slope, along, "front"),
        Leg("two", "level along", level, X[:-1], slope, {**along, "turned": True}, "rear"),
        Leg("cross", "level across", level, X, noisy(0 * X, level, 2), across),
    ]


def turned_straightedge():
    """A straightedge laid both ways round: a profile ties what lies far apart."""
    return [
        Leg(
            f"edge {turned}",
            "straightedge",
            INDICATOR,
            X,
            noisy(SHAPE(X), INDICATOR, int(turned)),
            {"straightedge": "edge", "end_for_end": turned, "sole_up": True},
            "front",
        )
        for turned in (False, True)
    ]


def short_straightedges():
    """A straightedge of 500 mm put down 11 times: offsets and tilts of a short stretch each."""
    found = []
    for i, start in enumerate(np.arange(0.0, 1001.0, 100.0)):
        here = X[(X >= start) & (X <= start + 500)]
        value = noisy(SHAPE(here), INDICATOR, i)
        settings = {"straightedge": "short", "start": float(start)}
        found.append(Leg(f"put {i}", "straightedge", INDICATOR, here, value, settings, "rear"))
    return found


def carried():
    """A carriage on one flat, its feet between stations, and a micrometer."""
    here = X[3:-3]
    over = {"riding": "front", "feet": (-110.0, 90.0)}
    across = {"opposite_face": "under"}
    return [
        Leg("ride", "carriage", INDICATOR, here, noisy(0 * here, INDICATOR, 5), over, "rear"),
        Leg("size", "micrometer", INDICATOR, X, noisy(40 + 0 * X, INDICATOR, 6), across, "front"),
    ]


EDGES = (
    Straightedge("edge", 1500.0, profile_uncertainty=0.01),
    Straightedge("short", 500.0, profile_uncertainty=0.005),
)
SURVEYS = {
    "levels": levels(),
    "a straightedge turned": turned_straightedge(),
    "short straightedges": short_straightedges(),
    "carriage and micrometer": carried() + levels(),
    "all": levels() + turned_straightedge() + short_straightedges() + carried(),
}


def system_of(legs):
    made = survey(FACES, legs, EDGES)
    return equations(made, list(made.traverses.values()))


def both(system):
    matrix, target = system.whitened()
    return Dense(matrix.toarray(), system.prior_u), Band(matrix, system.prior_u, system.along)


@pytest.mark.parametrize("name", SURVEYS)
def test_agrees_with_the_dense_factor(name):
    system = system_of(SURVEYS[name])
    dense, band = both(system)
    matrix, target = system.whitened()
    np.testing.assert_allclose(band.leverage, dense.leverage, rtol=0, atol=1e-11)
    known = ~system.weak
    np.testing.assert_allclose(
        band.prior_leverage[known], dense.prior_leverage[known], rtol=1e-9, atol=1e-12
    )
    fits = matrix.toarray()  # what the readings say: all of it is determined
    wide, whole = dense.reach(fits), band.reach(fits)
    np.testing.assert_allclose(whole @ whole.T, wide @ wide.T, rtol=0, atol=1e-10)
    some = [0, 5, len(target) - 1]
    np.testing.assert_allclose(band.shared(some), dense.shared(some), rtol=0, atol=1e-9)
    # uncertainties of absolute heights are those of the weak priors, to eight digits of a variance
    np.testing.assert_allclose(band.variances, dense.variances, rtol=1e-5)
    columns = np.eye(len(system.prior))[:, :3]
    np.testing.assert_allclose(band.times(columns), dense.times(columns), rtol=0, atol=1e-3)


@pytest.mark.parametrize("name", SURVEYS)
def test_gives_the_residuals_and_suspects_of_the_dense_solution(name, monkeypatch):
    system = system_of(SURVEYS[name])
    matrix, target = system.whitened()
    wrong = int(np.argmin(both(system)[0].leverage))  # the one that the others check best
    target[wrong] += 30.0
    arguments = (matrix, target, system.prior_u, system.weak, system.along)
    found = []
    for few in (10**9, 0):
        monkeypatch.setattr(solve, "_FEW", few)
        found.append(least_squares(*arguments))
    dense, band = found
    assert isinstance(dense.factor, Dense) and isinstance(band.factor, Band)
    np.testing.assert_allclose(band.residual, dense.residual, rtol=0, atol=1e-8)
    tested = dense.redundancy > 0.05
    expected, suspects = (find_suspects(each, tested, 4.0)[0] for each in (dense, band))
    assert set(suspects) == set(expected) and wrong in suspects


def test_redundancies_add_up_to_what_is_left_over():
    # 4 ways of 120 stations and the zeros: all is determined but one lift; weak priors of 10 mm
    # against 4 um/m leave less than a millionth of it
    made = long_survey(4, 120)
    heights = adjust(made)
    system = equations(made, list(made.traverses.values()))
    rank = np.linalg.matrix_rank(system.whitened()[0].toarray(), tol=1e-6)
    assert rank == len(system.prior) - 1
    assert heights.checks.redundancy.sum() == pytest.approx(len(made.readings) - rank, abs=1e-3)
    assert heights.not_determined == ()


def test_two_metres_of_cumulated_levels_to_a_picometre(monkeypatch):
    monkeypatch.setattr(solve, "_FEW", 0)
    rear = np.arange(0.0, 2000.0, 20.0)
    value = noisy((SHAPE(rear + 20) - SHAPE(rear)) / 0.02, LEVEL, 1) + 0.731
    leg = Leg("along", "level along", LEVEL, rear, value, {"foot_spacing": 20.0}, "flat")
    z = adjust(survey([flat(nominal=26.15)], [leg])).on("flat").values
    found = z - np.interp(np.arange(z.size), [0, z.size - 1], z[[0, -1]])
    exact = exact_cumulated(value, 20)
    assert max(abs(mpf(float(a)) - b) for a, b in zip(found, exact, strict=True)) < mpf("1e-9")


def test_the_row_is_as_narrow_as_the_survey_has_ways():
    for ways in (1, 3, 7):
        system = whole(long_survey(ways, 20))
        row, border, reach = lay_in_a_row(system.whitened()[0], system.along)
        assert reach == ways
        assert [system.extras[i - 20 * ways] for i in border] == list(system.extras)
        assert np.all(np.diff(system.along[row]) >= 0)


def test_what_is_read_over_a_short_stretch_stands_in_the_row():
    system = system_of(short_straightedges())
    row, border, reach = lay_in_a_row(system.whitened()[0], system.along)
    names = [system.extras[i - system.stations.x.size] for i in border]
    assert all(name.startswith("profile") for name in names) and len(names) == 11
    assert sorted([*row, *border]) == list(range(len(system.prior))) and reach < row.size / 2


def whole(made):
    return equations(made, list(made.traverses.values()))


def test_weights_that_differ_too_widely_are_left_to_qr(monkeypatch):
    # a chain of differences, one in three a million million times sharper; in units of its last
    matrix = np.eye(40) - np.eye(40, k=1)
    matrix *= np.where(np.arange(40) % 3, 1.0, 1e12)[:, None]
    truth = np.cos(np.arange(40.0))
    arguments = (np.full(40, 1e6), np.ones(40, bool), np.arange(40.0))
    with pytest.raises(LinAlgError):
        Band(sparse.csr_array(matrix), arguments[0], arguments[2])
    monkeypatch.setattr(solve, "_FEW", 0)
    found = least_squares(matrix, matrix @ truth, *arguments)
    assert isinstance(found.factor, Dense)
    np.testing.assert_allclose(found.values, truth, rtol=0, atol=1e-3)
    monkeypatch.setattr(solve, "_MANY", 30)
    with pytest.raises(InputError, match=r"differ too widely for 40 unknowns .* in parts"):
        least_squares(matrix, matrix @ truth, *arguments)


def test_the_covariance_of_many_heights_is_made_when_it_is_looked_at(monkeypatch):
    heights = adjust(long_survey(3, 100))
    cov = adjust(long_survey(3, 100)).cov
    assert isinstance(cov, np.ndarray) and cov.shape == (300, 300)
    law = np.zeros((2, 300))
    law[0, [0, 50, 99]], law[1, [3, 103]] = (-0.5, 1, -0.5), (1, -1)
    np.testing.assert_allclose(heights.covariance(law), law @ cov @ law.T, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(heights.variances, np.diag(cov), rtol=1e-6)  # of the weak priors
    monkeypatch.setattr(covariance, "MOST", 200)
    words = r"cov: the covariance matrix of 300 heights .* heights.on\(face\).cov"
    with pytest.raises(InputError, match=words):
        _ = heights.cov
    np.testing.assert_allclose(heights.on("way 1").cov, cov[100:200, 100:200], rtol=1e-6)


def test_a_long_survey_finds_the_truth():
    made = long_survey(4, 100)
    heights = adjust(made)
    assert isinstance(heights.cov, np.ndarray) and heights.checks.agrees
    rng = np.random.default_rng(1)
    x = heights.on("way 0").x
    law = np.eye(100)[1:-1]
    law[:, 0] -= 1 - np.arange(1, 99) / 99
    law[:, -1] -= np.arange(1, 99) / 99
    for i in range(4):
        true = worn(0.1, rng.uniform(x[0], x[-1]), x[-1] / 4)(x)
        way = heights.on(f"way {i}")
        error = law @ (way.values - 10.0 * i - true)
        u = np.sqrt(np.diag(law @ way.cov @ law.T))
        assert (np.abs(error) < 4.5 * u).all() and u.max() < 0.01


def test_rounds_of_work_agree_with_the_dense_factor(monkeypatch):
    surveys = read_rounds("sample_surveys/toolroom_lathe")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # one reading is a blunder
        band = adjust_rounds(surveys).checks
        monkeypatch.setattr(solve, "_FEW", 10_000)
        dense = adjust_rounds(surveys).checks
    np.testing.assert_allclose(band.redundancy, dense.redundancy, atol=1e-9)
    assert band.dof == pytest.approx(dense.dof, abs=1e-6)
    assert band.suspects.tolist() == dense.suspects.tolist()

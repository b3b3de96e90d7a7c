"""Monte Carlo: the draws, how many of them, and what is refused.

Tolerances are four standard errors for the number of draws, derived beside each.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form.flatness import flatness
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.uncertain import montecarlo, progress
from metrolib.uncertain.intervals import shortest_interval, symmetric_interval
from metrolib.uncertain.linear import Measured
from metrolib.uncertain.montecarlo import draw_tiles, monte_carlo
from tests.uncertain.models import model, sum_of

X = np.array([0.0, 200, 400, 700, 900, 1200, 1400])
HOLLOW = np.array([0.03, 0.0, -0.02, -0.06, -0.03, 0.0, 0.04])
U = 0.001


def hollow(u=U, **how):
    return straightness(X, HOLLOW, u, **how)


def test_the_draws_are_those_of_the_tiles_put_through_the_function():
    found = monte_carlo(hollow(), draws=5000, seed=3)
    heights = np.concatenate(list(draw_tiles(HOLLOW, np.full(7, U**2), 5000, seed=3)))
    values = np.sort([straightness(X, z).value for z in heights])
    np.testing.assert_allclose(found.samples, values, rtol=0, atol=1e-15)
    assert found.mean == pytest.approx(values.mean(), rel=1e-14)
    assert found.u == pytest.approx(values.std(ddof=1), rel=1e-12)
    assert found.symmetric == symmetric_interval(found.samples, 0.95)
    assert found.shortest == shortest_interval(found.samples, 0.95)
    assert (found.draws, found.seed, found.coverage, found.digits) == (5000, 3, 0.95, 2)


def test_clear_contacts_follow_the_linear_law():
    # 0, 700 and 1400 mm decide whatever is drawn: g = (1/2, -1, 1/2), u = sqrt(3/2) um
    found = monte_carlo(hollow(), draws=100_000, digits=1)
    u = np.sqrt(1.5) * U
    assert found.value == pytest.approx(0.095)
    assert found.linear_u == pytest.approx(u)
    assert found.u == pytest.approx(u, rel=4 / np.sqrt(2e5))
    assert abs(found.bias) <= 4 * u / np.sqrt(1e5)
    assert found.agrees
    assert found.settled


def test_a_true_face_shows_noise_and_the_linear_law_fails():
    # three stations: the zone is |middle off the chord|, the half of a normal law of sqrt(3/2) u:
    # mean sqrt(2/pi), standard deviation sqrt(1 - 2/pi) of it
    found = monte_carlo(straightness([0, 1, 2], [0, 0, 0], U), draws=100_000)
    scale = np.sqrt(1.5) * U
    assert found.value == 0.0
    assert found.bias == pytest.approx(np.sqrt(2 / np.pi) * scale, abs=4 * scale / np.sqrt(1e5))
    assert found.u == pytest.approx(np.sqrt(1 - 2 / np.pi) * scale, rel=4 / np.sqrt(1e5))
    assert found.symmetric[0] == pytest.approx(0.031338 * scale, abs=4 * found.ends_u[0])
    assert found.symmetric[1] == pytest.approx(2.241403 * scale, abs=4 * found.ends_u[1])
    assert found.shortest[0] < 1e-3 * scale  # the half law is densest at 0
    assert found.shortest[1] == pytest.approx(1.959964 * scale, abs=4 * found.ends_u[1])
    assert not found.agrees


def test_heights_that_bring_their_own_joint_uncertainty():
    # one common error of all heights changes no straightness
    common, own = ufloat(0, 1.0), [ufloat(0, U) for _ in X]
    z = np.array([h + common + one for h, one in zip(HOLLOW, own, strict=True)])
    found = monte_carlo(straightness(X, z), draws=50_000)
    assert found.u == pytest.approx(np.sqrt(1.5) * U, rel=4 / np.sqrt(1e5))
    assert found.linear_u == pytest.approx(np.sqrt(1.5) * U, rel=1e-9)


def test_scales_with_the_heights():
    one = monte_carlo(hollow(), draws=5000)
    two = monte_carlo(straightness(X, 2 * HOLLOW, 2 * U), draws=5000)
    np.testing.assert_allclose(two.samples, 2 * one.samples, rtol=1e-12)
    assert two.u == pytest.approx(2 * one.u)
    far = monte_carlo(straightness(2 * X, HOLLOW, U), draws=5000)
    np.testing.assert_allclose(far.samples, one.samples, rtol=1e-12)


def test_a_twist_is_a_slope():
    found = monte_carlo(twist(X, HOLLOW, -HOLLOW, 200, U), draws=20_000)
    assert found.quantity == "slope"
    assert "mm/m" in str(found)
    assert found.u == pytest.approx(found.linear_u, rel=4 / np.sqrt(4e4))


def test_what_is_always_zero_has_no_uncertainty():
    found = monte_carlo(flatness([0, 1, 0], [0, 0, 1], [0, 0, 0], U))
    assert (found.value, found.u, found.symmetric, found.agrees) == (0, 0, (0, 0), True)
    assert found.draws == 2 * 10_240  # two batches tell that nothing scatters


def test_draws_end_when_the_digits_are_settled():
    normal = model(sum_of, 4, 0.0, 2.0)
    coarse, fine = (monte_carlo(normal, digits=digits) for digits in (1, 2))
    assert coarse.settled
    assert fine.settled
    assert coarse.draws <= fine.draws
    assert fine.draws % 10_240 == 0
    # the rule, by hand: over the batches in their order, twice the standard deviation of each
    # average is within half a unit of the second digit of u = 2.0
    for found, digits, tolerance in ((coarse, 1, 0.5), (fine, 2, 0.05)):
        drawn = np.concatenate(list(draw_tiles(np.zeros(4), np.ones(4), found.draws, seed=1)))
        batches = np.sort(drawn.sum(axis=1).reshape(-1, 10_240), axis=1)
        ends = np.array([symmetric_interval(batch, 0.95) for batch in batches])
        said = np.column_stack([batches.mean(axis=1), batches.std(axis=1, ddof=1), ends])
        scatter = [
            2 * (said[:h].std(axis=0, ddof=1) / np.sqrt(h)).max() for h in range(2, len(said) + 1)
        ]
        assert scatter[-1] <= tolerance, digits
        assert all(wide > tolerance for wide in scatter[:-1])


def test_the_standard_deviation_of_all_batches_is_put_together_exactly():
    batches = montecarlo._Batches(50, 2, 0.95)
    values = np.random.default_rng(1).normal(size=(4, 50)) + np.arange(4)[:, None]
    for one in values:
        batches.add(one)
    assert batches._u(np.array(batches.said)) == pytest.approx(values.std(ddof=1), rel=1e-13)


def test_a_cut_batch_does_not_count_towards_settling():
    batches = montecarlo._Batches(50, 2, 0.95)
    values = np.random.default_rng(2).normal(size=50)
    batches.add(values)
    assert batches.settled is None
    batches.add(values[:30])
    assert (batches.settled, batches.count) == (None, 80)
    batches.add(values)
    assert batches.settled is True  # the same again: nothing scatters


def test_draws_that_never_settle_end_and_say_so(monkeypatch):
    monkeypatch.setattr(montecarlo, "_MOST_DRAWS", 3 * 10_240)
    found = monte_carlo(model(sum_of, 4, 0.0, 2.0), digits=3)
    assert (found.draws, found.settled) == (3 * 10_240, False)
    assert "too few draws to be sure of 3 digits" in str(found)


def test_fewer_than_two_batches_tell_nothing_of_settling():
    found = monte_carlo(hollow(), draws=2000)
    assert found.settled is None


def test_more_coverage_makes_larger_batches():
    # 100 / (1 - 0.999) = 100 000 draws at least, in tiles of 2048
    found = monte_carlo(hollow(), coverage=0.999, digits=1)
    assert found.draws % (49 * 2048) == 0
    reach = 3.290527 * np.sqrt(1.5) * U
    assert found.symmetric[1] - 0.095 == pytest.approx(reach, abs=4 * found.ends_u[1])


def test_seeds():
    first = monte_carlo(hollow(), draws=2000)
    np.testing.assert_array_equal(first.samples, monte_carlo(hollow(), draws=2000, seed=1).samples)
    other = monte_carlo(hollow(), draws=2000, seed=None)
    assert not np.isin(other.samples, first.samples).any()
    again = monte_carlo(hollow(), draws=2000, seed=other.seed)
    np.testing.assert_array_equal(again.samples, other.samples)


def test_a_bar_shows_only_when_it_takes_long(monkeypatch, capsys):
    monte_carlo(hollow(), draws=30_000)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(progress, "_PATIENCE", 0.0)
    monte_carlo(hollow(), draws=30_000)
    assert "draws" in capsys.readouterr().err
    monte_carlo(hollow(), draws=30_000, progress=False)
    assert capsys.readouterr().err == ""


def test_refuses_what_cannot_be_drawn():
    with pytest.raises(InputError, match="nothing is known of the uncertainty of its heights"):
        monte_carlo(straightness(X, HOLLOW))
    with pytest.raises(InputError, match="the heights it came from can't be drawn, got float"):
        monte_carlo(0.3)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"draws": 1999}, "draws: it must be at least 2000, got 1999"),
        ({"draws": 9999, "coverage": 0.99}, "draws: it must be at least 10000, got 9999"),
        ({"draws": 2500.5}, "draws: a whole number is needed"),
        ({"digits": 0}, "digits: it must be at least 1, got 0"),
        ({"digits": 4}, "digits: at most 3 can be reached by draws, got 4"),
        ({"coverage": 0}, "coverage: it must be above 0"),
        ({"coverage": 1}, "coverage: it must be below 1, got 1"),
        ({"coverage": 95}, "coverage: it must be below 1, got 95"),
        ({"seed": -1}, "seed: it must be at least 0, got -1"),
    ],
)
def test_refuses_arguments(how, words):
    with pytest.raises(InputError, match=words):
        monte_carlo(hollow(), **how)


def test_refuses_a_function_of_the_wrong_shape_or_without_numbers():
    heights = Measured(np.zeros(3), np.ones(3), None)

    def given(redo):
        return SimpleNamespace(value=ufloat(0, 1), drawn_from=heights, redo=redo)

    with pytest.raises(InputError, match=r"redo must give one value for each draw, got \(2048, 3"):
        monte_carlo(given(lambda z: z), draws=4000)
    with pytest.raises(InputError, match="no number comes out of some draws, got 1 of 2048"):
        monte_carlo(given(lambda z: np.where(z[:, 0] == z[:, 0].max(), np.nan, 0)), draws=2048)

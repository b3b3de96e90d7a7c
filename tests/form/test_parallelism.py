"""Parallelism: by hand, what must not matter, Monte Carlo, refusals."""

import numpy as np
import pytest
from uncertainties import correlated_values

from metrolib.errors import InputError
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness

X = np.array([0.0, 100, 200])
DATUM = np.array([0.0, 3, 0])  # minimum zone: chord from 0 to 200, slope 0
FACE = np.array([5.0, 6, 9])  # against that slope 9 - 5 = 4; by itself 6 lies 1 under the chord


def test_by_hand():
    found = parallelism(X, FACE, X, DATUM)
    assert found.value == pytest.approx(4.0)
    assert found.tilt == pytest.approx(20.0)  # 4 in 200
    assert found.form == pytest.approx(1.0)
    assert (found.contacts, found.datum_contacts) == ((0, 2), (0, 1, 2))
    # the middle of the datum's zone is at 1.5
    assert found.height.tolist() == pytest.approx([3.5, 4.5, 7.5])


def test_uncertainty_by_hand():
    # value = f3 - f1 - 200 (d3 - d1) / 200: four heights
    found = parallelism(X, FACE, X, DATUM, 0.1)
    assert found.value.s == pytest.approx(0.2)
    assert found.tilt.s == pytest.approx(1000 * 0.2 / 200)
    assert found.form.s == pytest.approx(0.1 * np.sqrt(1.5))
    assert (found.value - found.tilt / 5).s == pytest.approx(0, abs=1e-12)  # 4 mm = 20 mm/m * 0.2
    # height at 0: f1 - (d1 + d2) / 2 + the slope times 0 to the middle: 1, 1/2 - 1/2, 1/2, ...
    assert found.height_u.shape == (3,)


@pytest.mark.parametrize("reference", ["least squares", "end points"])
def test_other_references_by_hand(reference):
    found = parallelism(X, FACE, X, DATUM, reference=reference)
    assert (found.value, found.tilt) == pytest.approx((4.0, 20.0))
    assert found.form == pytest.approx(straightness(X, FACE, reference=reference).value)


def test_a_datum_may_have_stations_of_its_own():
    found = parallelism(X, FACE, [-300, 50, 900], [0.0, 0.0, 12.0], reference="end points")
    assert found.tilt == pytest.approx(20.0 - 10.0)
    assert found.value == pytest.approx(2.0)


def test_offsets_and_a_common_tilt_change_nothing():
    found = parallelism(X, FACE, X, DATUM, 0.1)
    other = parallelism(X + 2**30, FACE + X + 7, X + 2**30, DATUM + X - 2**20, 0.1)
    assert other.value.n == pytest.approx(found.value.n, abs=1e-8)
    assert other.tilt.n == pytest.approx(found.tilt.n, abs=1e-8)
    assert other.value.s == pytest.approx(found.value.s)


def test_scaling():
    one, two = parallelism(X, FACE, X, DATUM, 0.1), parallelism(X, 2 * FACE, X, 2 * DATUM, 0.2)
    assert (two.value.n, two.value.s) == pytest.approx((2 * one.value.n, 2 * one.value.s))
    stretched = parallelism(2 * X, FACE, 2 * X, DATUM, 0.1)
    assert (stretched.value.n, stretched.tilt.n) == pytest.approx((one.value.n, one.tilt.n / 2))


def test_what_face_and_datum_share_does_not_count():
    base = np.concatenate([X, X])
    cov = 100 + 1e-2 * np.outer(base, base) + 1e-4 * np.eye(6)
    z = correlated_values(np.concatenate([FACE, DATUM]), cov)
    found = parallelism(X, z[:3], X, z[3:])
    assert found.value.s == pytest.approx(0.02, rel=1e-3)
    assert found.height_u[0] < 0.1  # not the common 10 mm


def test_height_uncertainty_is_that_of_the_whole_covariance():
    factor = np.random.default_rng(1).normal(size=(6, 6))
    found = parallelism(X, FACE, X, DATUM, factor @ factor.T)
    cov = found.deviations.covariance()
    np.testing.assert_allclose(found.height_u**2, np.diag(cov), atol=1e-12)


def test_first_order_agrees_with_monte_carlo():
    rng = np.random.default_rng(20260101)
    u, n = 0.05, 1000
    found = parallelism(X, FACE, X, DATUM, u)
    assert found.tied == ()
    draws = []
    for _ in range(n):
        noise = u * rng.normal(size=6)
        draws.append(parallelism(X, FACE + noise[:3], X, DATUM + noise[3:]).value)
    assert np.std(draws, ddof=1) == pytest.approx(found.value.s, rel=4 / np.sqrt(2 * (n - 1)))


def test_the_sentence_and_the_table():
    found = parallelism(X, FACE / 1000, X, DATUM / 1000)
    assert str(found) == (
        "parallelism 4.0 µm (minimum zone line of the datum); tilt +0.0200 mm/m, form 1.0 µm; "
        "contacts at 0 and 200 mm"
    )
    assert "<th>tilt against the datum</th><td>+0.0200 mm/m</td>" in found._repr_html_()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (([0, 1], [0, 1, 2], X, DATUM), "x and z: lengths differ"),
        ((X, FACE, [0, 1], DATUM), "datum_x and datum_z: lengths differ"),
        (([0], FACE, X, DATUM), "^x: at least 2 values are needed, got 1"),
        ((X, FACE, [0], DATUM), "^datum_x: at least 2 values are needed, got 1"),
        ((X, [0, np.inf, 1], X, DATUM), "^z: item 1 is not a finite number"),
        ((X, FACE, X, [0, np.nan, 1]), "datum_z: item 1 is not a finite number"),
        ((X, FACE, [4, 4, 4], DATUM), "all stations at one place"),
        ((X, FACE, X, DATUM, [0.1, 0.1, 0.1]), "u: its shape does not fit the heights"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(InputError, match=words):
        parallelism(*arguments)


def test_what_finds_the_value_again_loses_no_digits_far_from_the_origin():
    # the datum leans by 1 in 300, which no binary number holds: only distances may be multiplied
    datum_x, datum = np.array([0.0, 100, 300]), np.array([0.0, 0, 1])
    near = parallelism(X, FACE, datum_x, datum)
    far = parallelism(X + 2**30, FACE + 2**30, datum_x + 2**30, datum + 2**30)
    for name in ("value", "tilt", "form"):
        assert getattr(far, name) == pytest.approx(getattr(near, name), abs=1e-12), name
    np.testing.assert_allclose(far.height, near.height, rtol=0, atol=1e-12)
    z = np.concatenate([FACE, datum]) + 2**30
    assert far.redo(z[None, :])[0] == pytest.approx(near.value, abs=1e-12)
    assert near.value == pytest.approx(4 - 2 / 3, abs=1e-14)
    # a step of the last digit at 2**30 is seen whole
    step = 2.0**-22
    tiny = 2.0**30 + step * np.array([0, 1, 0])
    level = np.concatenate([tiny, np.zeros(3)])
    assert near.redo(level[None, :])[0] == step


def test_the_line_of_the_datum():
    # the middle of the zone of 0, 3, 0 is level at 1.5; under a tilt it is told from x = 0
    found = parallelism(X + 50, FACE, X + 50, DATUM + X / 100)
    assert found.datum_line.slope == pytest.approx(10)
    np.testing.assert_allclose(found.datum_line.at(X + 50), 1.5 + X / 100, rtol=0, atol=1e-12)


def test_contacts_are_told_in_ascending_x_in_whatever_order_they_were_measured():
    back = slice(None, None, -1)
    found = parallelism(X[back], FACE[back], X[back], DATUM[back])
    assert (found.contacts, found.datum_contacts) == ((2, 0), (2, 1, 0))


@pytest.mark.parametrize(
    ("reference", "contacts"), [("least squares", (0, 1, 2, 3)), ("end points", (1, 3))]
)
def test_the_stations_that_fix_the_direction_of_the_datum(reference, contacts):
    datum_x = [100.0, 0, 200, 300]
    found = parallelism(X, FACE, datum_x, [0.0, 1, 0, 2], reference=reference)
    assert found.datum_contacts == contacts

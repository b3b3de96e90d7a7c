"""Every form result can find its value again, for many sets of heights at once."""

import pickle

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.form.coplanarity import coplanarity
from metrolib.form.flatness import flatness
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.uncertain.linear import covariance_of

X = np.array([0.0, 150, 300, 600, 800, 1000])
DATUM_X = np.array([0.0, 400, 500, 1000])
GRID_X, GRID_Y = (side.ravel() * 50.0 for side in np.mgrid[:4, :3])
DISTANCES = np.array([200.0, 210, 220, 230, 240, 250])

CASES = {
    "straightness": (6, lambda z, u, **how: straightness(X, z, u, **how)),
    "flatness": (12, lambda z, u, **how: flatness(GRID_X, GRID_Y, z, u, **how)),
    "flatness of one line": (6, lambda z, u, **how: flatness(X, 2 * X, z, u, **how)),
    "parallelism": (10, lambda z, u, **how: parallelism(X, z[:6], DATUM_X, z[6:], u, **how)),
    "coplanarity": (
        10,
        lambda z, u, **how: coplanarity(
            {"a": (X, 0, z[:6]), "b": (DATUM_X, 100, z[6:])}, u, steps={"b": 3.0}, **how
        ),
    ),
    "twist": (12, lambda z, u: twist(X, z[:6], z[6:], DISTANCES, u)),
}
REFERENCES = {
    "straightness": ["minimum zone", "least squares", "end points"],
    "parallelism": ["minimum zone", "least squares", "end points"],
    "twist": [],
}
ALL = [
    (name, {"reference": reference})
    for name in CASES
    for reference in REFERENCES.get(name, ["minimum zone", "least squares"])
] + [("twist", {})]


def value(result):
    return getattr(result.value, "nominal_value", result.value)


@pytest.mark.parametrize(("name", "how"), ALL)
def test_as_the_function_itself(name, how):
    n, function = CASES[name]
    rng = np.random.default_rng(n)
    sets = rng.normal(size=(40, n))
    nominal = function(sets[0], 0.1, **how)
    steps = np.where(np.arange(n) >= 6, 3.0, 0.0) if name == "coplanarity" else 0.0
    np.testing.assert_allclose(nominal.drawn_from.values, sets[0] - steps)
    assert nominal.redo(nominal.drawn_from.values[None])[0] == pytest.approx(value(nominal))
    values = [value(function(z, None, **how)) for z in sets]
    np.testing.assert_allclose(nominal.redo(sets - steps), values, rtol=1e-10, atol=1e-13)


@pytest.mark.parametrize(("name", "how"), ALL)
def test_scales_with_the_heights_alone(name, how):
    n, function = CASES[name]
    z = np.random.default_rng(1).normal(size=(10, n))
    redo = function(z[0], None, **how).redo
    np.testing.assert_allclose(redo(2 * z), 2 * redo(z), rtol=1e-13)
    np.testing.assert_allclose(redo(z + 5), redo(z), rtol=1e-12)


@pytest.mark.parametrize(("name", "how"), ALL)
def test_its_slope_is_the_linear_law(name, how):
    # a small step of each height in turn changes the value as the sensitivities say
    n, function = CASES[name]
    z = np.random.default_rng(2).normal(size=n)
    result = function(z, 1.0, **how)
    base = result.drawn_from.values
    steps = 1e-6 * np.eye(n)
    g = (result.redo(base + steps) - result.redo(base - steps)) / 2e-6
    assert result.value.std_dev == pytest.approx(np.sqrt(g @ g), rel=1e-7)


@pytest.mark.parametrize(("name", "how"), ALL)
def test_redo_travels_light(name, how):
    n, function = CASES[name]
    z = np.random.default_rng(3).normal(size=(5, n))
    redo = function(z[0], np.eye(n), **how).redo
    packed = pickle.dumps(redo)
    assert len(packed) < 3000  # the covariance and the numbers stay at home
    np.testing.assert_array_equal(pickle.loads(packed)(z), redo(z))


def test_drawn_from_brings_the_joint_covariance():
    cov = np.array([[2.0, 1.0, 0.0], [1.0, 2.0, 0.5], [0.0, 0.5, 1.0]])
    found = straightness([0, 1, 2], [0.0, 1.0, 0.0], cov)
    np.testing.assert_array_equal(found.drawn_from.cov, cov)
    assert covariance_of([found.value])[0, 0] == pytest.approx(found.value.s**2)


@pytest.mark.parametrize(("name", "how"), ALL)
def test_refuses_heights_that_do_not_fit(name, how):
    n, function = CASES[name]
    redo = function(np.random.default_rng(4).normal(size=n), None, **how).redo
    with pytest.raises(InputError, match=f"z: rows of {n} numbers are needed, got shape"):
        redo(np.zeros((2, n + 1)))

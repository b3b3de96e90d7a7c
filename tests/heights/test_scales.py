"""Scale errors: found without a pull from the noise of the readings they act on."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import sparse

from metrolib.heights.equations import Equations
from metrolib.heights.scales import scale_columns, with_fitted_scales
from metrolib.heights.solve import least_squares

COUNT, U, SCALE = 40, 0.02, 0.03
TRUE = np.linspace(-0.1, 0.1, COUNT)


def two_dials(seed, scale=SCALE):
    """Return equations of heights read by a good dial, and by one whose scale is in doubt."""
    noise = np.random.default_rng(seed).normal(size=2 * COUNT) * np.repeat([1e-5, U], COUNT)
    reading = np.concatenate([TRUE, TRUE / (1 - scale)]) + noise
    matrix = np.zeros((2 * COUNT, COUNT + 1))
    matrix[:COUNT, :COUNT] = matrix[COUNT:, :COUNT] = np.eye(COUNT)
    matrix[COUNT:, COUNT] = reading[COUNT:]  # reading = height + scale * reading
    names = np.full(2 * COUNT, "")
    return Equations(
        stations=SimpleNamespace(x=TRUE),
        extras=("scale of dial",),
        matrix=sparse.csr_array(matrix),
        observed=reading,
        u=np.repeat([1e-5, U], COUNT),
        prior=np.zeros(COUNT + 1),
        prior_u=np.append(np.full(COUNT, 10.0), 0.5),
        traverse=names,
        face=names,
        x=np.tile(TRUE, 2),
        line=np.arange(2 * COUNT),
        measures=names,
        reading=reading,
        alike=np.arange(2 * COUNT),
    )


def found_scale(system):
    return least_squares(*system.whitened(), system.prior_u, system.weak).values[COUNT]


def test_the_noise_of_the_readings_does_not_pull_it():
    systems = [two_dials(seed) for seed in range(200)]
    pulled = np.array([found_scale(system) for system in systems])
    found = np.array([found_scale(with_fitted_scales(system)) for system in systems])
    spread = U / np.sqrt((TRUE**2).sum())  # of the scale, from readings of this spread
    assert found.std() == pytest.approx(spread, rel=4 / np.sqrt(2 * 199) + 0.03)
    assert abs(found.mean() - SCALE) < 4 * spread / np.sqrt(200)
    # with the readings themselves: 1 - sum(reading height) / sum(reading²), and the noise adds
    # count u² to the sum below
    share = COUNT * U**2 / ((TRUE / (1 - SCALE)) ** 2).sum()
    pull = share / (1 + share)
    assert pulled.mean() - SCALE == pytest.approx(pull, abs=4 * spread / np.sqrt(200))
    assert pull > 10 * spread / np.sqrt(200)


def test_only_the_readings_it_acts_on_change():
    system = two_dials(1)
    changed = with_fitted_scales(system)
    assert scale_columns(system) == [COUNT]
    matrix = changed.matrix.toarray()
    np.testing.assert_array_equal(matrix[:, :COUNT], system.matrix.toarray()[:, :COUNT])
    assert not matrix[:COUNT, COUNT].any()
    np.testing.assert_allclose(matrix[COUNT:, COUNT], TRUE / (1 - SCALE), atol=0.01)


def test_without_a_scale_error_nothing_changes():
    from dataclasses import replace

    system = replace(two_dials(1), extras=("zero of dial",))
    assert with_fitted_scales(system) is system

"""How often straightness intervals hold the truth, over shapes of the true face and kinds of noise.

Every survey has a true face of its own, drawn from a class of shapes. Sizes are in units of the
noise: the root mean square uncertainty of a station above the least-squares line.
"""

import numpy as np

from metrolib.form.straightness import straightness
from tests.studies.coverage import holds

U = 0.002  # mm
SIZES = (2, 5, 12)


def _hump(t, middle, width):
    return -np.exp(-0.5 * ((t - middle) / width) ** 2)


#: Shapes over t from 0 to 1, for the random numbers r.
SHAPES = {
    "bow": lambda t, r: -((t - r.uniform(0.3, 0.7)) ** 2),
    "hollow": lambda t, r: _hump(t, r.uniform(0.3, 0.7), r.uniform(0.12, 0.25)),
    "wave": lambda t, r: np.sin(2 * np.pi * (t * r.uniform(0.4, 2) + r.uniform())),
    "worn patch": lambda t, r: _hump(t, r.uniform(), r.uniform(0.06, 0.12)),
    "random walk": lambda t, r: np.cumsum(r.normal(size=t.size)),
}


def _cumulated(n):
    return np.minimum.outer(np.arange(n), np.arange(n)) * 1.0


#: Covariances of n heights, up to a factor.
NOISES = {
    "independent": np.eye,
    "unequal": lambda n: np.diag(np.geomspace(1, 16, n)[np.random.default_rng(3).permutation(n)]),
    "cumulated": _cumulated,
}


def noise_of(kind, x):
    """Return a covariance whose root mean square above the line is U [mm²]."""
    cov = NOISES[kind](x.size)
    line = np.column_stack([np.ones(x.size), x])
    less = np.eye(x.size) - line @ np.linalg.pinv(line)
    return cov * U**2 * x.size / np.trace(less @ cov @ less)


def shape_coverage(stations, noise, shape, size, surveys, *, seed=1):
    """Return how often each interval of the straightness holds the truth, by name.

    Parameters
    ----------
    stations : int
    noise, shape : str
        Keys of NOISES and SHAPES.
    size : float
        True straightness in units of the noise; 0 is a perfect face.
    surveys, seed : int
    """
    random, x = np.random.default_rng(seed), np.linspace(0, 1400, stations)
    cov, held = noise_of(noise, x), []
    errors = random.multivariate_normal(np.zeros(stations), cov, surveys, method="eigh")
    for number, error in enumerate(errors):
        form = SHAPES[shape](x / x[-1], random)
        form *= size * U / straightness(x, form).value
        held.append(holds(straightness(x, form + error, cov), size * U, seed=number))
    return {name: np.mean([each[name] for each in held]) for name in held[0]}

"""Models with a known law, in the shape that `monte_carlo` takes."""

from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import ndtr
from uncertainties import ufloat

from metrolib.uncertain.linear import Measured


@dataclass(frozen=True, eq=False)
class Model:
    """A function of independent standard normal inputs, with its linear law."""

    value: object
    drawn_from: Measured
    redo: object


def model(function, inputs, value, u):
    """Return a model of some inputs; `function` takes (T, inputs) and returns (T,)."""
    heights = Measured(np.zeros(inputs), np.ones(inputs), None)
    return Model(ufloat(value, u), heights, function)


def rectangular(z, u):
    """Turn standard normal draws into rectangular ones of mean 0 and standard deviations u."""
    return (ndtr(z) - 0.5) * np.sqrt(12) * np.asarray(u)


def sum_of(z):
    return z.sum(axis=1)


def sum_of_rectangular(u):
    """Return the function that adds rectangular inputs with standard deviations u."""
    return partial(_sum_of_rectangular, np.asarray(u))


def _sum_of_rectangular(u, z):
    return rectangular(z, u).sum(axis=1)

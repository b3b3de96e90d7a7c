"""Terms: what a reading is a sum of.

A row function takes one traverse and its readings and returns terms. All terms of a traverse
belong to all its readings, so that ``reading = sum of the terms + noise`` holds item by item:

- `At`: the height of a face at a place, times a coefficient;
- `Extra`: what the instrument or the set-up adds, an unknown with a weak or a calibrated prior;
- `Known`: a correction that is known beforehand, such as the sag of a straightedge.

A row function of your own has the signature ``f(traverse, readings, survey) -> list of terms``,
with ``readings.value`` in mm or mm/m, and is handed over as
``adjust(survey, row_functions={"NAME": f})`` for traverses of the kind ``"own: NAME"``.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class At:
    """The height of a face at a place.

    Attributes
    ----------
    face : str or ndarray of str, shape (m,)
    x : float or ndarray, shape (m,)
        Place along the ways [mm].
    coefficient : float or ndarray, shape (m,)
    y : float or ndarray, shape (m,), or None
        Place across; None is the middle of the face [mm].
    station : bool
        True makes the place a station of its own; False takes its height by straight-line
        interpolation between the neighbouring stations, where it lies between two.

    Examples
    --------
    Half a micrometre of reading for each micrometre that the front flat rises at x = 250:

    >>> At("front flat", 250.0, 0.5).coefficient
    0.5
    """

    face: str | np.ndarray
    x: float | np.ndarray
    coefficient: float | np.ndarray
    y: float | np.ndarray | None = None
    station: bool = True


@dataclass(frozen=True, eq=False)
class Extra:
    """What an instrument, an artefact or a set-up adds to a reading.

    Attributes
    ----------
    name : str or ndarray of str, shape (m,)
        Equal names are one unknown, in whatever traverse they stand.
    coefficient : float or ndarray, shape (m,)
    prior_u : float
        Standard uncertainty of what is known beforehand. From 10 upward (mm or mm/m) nothing is
        known: it only keeps the equations solvable, and its pull is taken out of the result.
    prior : float or None
        What is known beforehand; None is whatever makes the first reading fit the nominal heights.

    Examples
    --------
    >>> Extra("zero of the roller gauge", 1.0, prior_u=10.0).prior
    0.0
    """

    name: str | np.ndarray
    coefficient: float | np.ndarray
    prior_u: float
    prior: float | None = 0.0


@dataclass(frozen=True, eq=False)
class Known:
    """A correction known beforehand, as it adds to the readings.

    Attributes
    ----------
    amount : float or ndarray, shape (m,)
        [mm or mm/m]

    Examples
    --------
    >>> Known(0.016).amount
    0.016
    """

    amount: float | np.ndarray

"""Scale errors of instruments: how a reading answers to them, without the noise of the reading."""

from dataclasses import replace

import numpy as np
from scipy import sparse

from metrolib.heights.solve import least_squares

#: How the unknown of an instrument's scale error is named; the instrument's name follows.
SCALE = "scale of "

# Each step takes the error down by about the relative scale error, a hundredth or so.
_STEPS = 2


def with_fitted_scales(system):
    """Let scale errors act on what the instruments should have read, not on what they read.

    Parameters
    ----------
    system : Equations
        Where a scale error acts on a reading its coefficient is the reading itself.

    Returns
    -------
    Equations
        With fitted readings there.

    Notes
    -----
    A coefficient that holds the reading's own noise pulls the scale error to one side, by about
    the number of checked readings times its variance: with a hundred readings that is as much as
    its standard uncertainty. The fitted readings hold next to none of that noise.
    """
    columns = scale_columns(system)
    for _ in range(_STEPS if columns else 0):
        prior = (system.prior_u, system.weak, system.along)
        fitted = system.reading - least_squares(*system.whitened(), *prior).residual * system.u
        matrix = sparse.csr_array(system.matrix, copy=True)
        reading = np.repeat(np.arange(len(fitted)), np.diff(matrix.indptr))
        acts = np.isin(matrix.indices, columns)
        matrix.data[acts] = fitted[reading[acts]]
        system = replace(system, matrix=matrix)
    return system


def scale_columns(system):
    """Return which unknowns of some equations are scale errors, a list of int."""
    first = len(system.stations.x)
    return [first + i for i, name in enumerate(system.extras) if name.startswith(SCALE)]

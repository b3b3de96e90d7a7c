"""An independent removal: plain dense rows for every station, solved by an interior-point method.

Written without the library: heights, rows and areas come in, the least value goes out.
"""

import numpy as np
from scipy.optimize import linprog


def least_removal(columns, height, area, *, low=0.0, band=0.0, greatest=np.inf, limit=np.inf):
    """Return least volume and least deepest cut, each on its own; None if there is no removal."""
    n, p = columns.shape
    low, greatest = np.broadcast_to(low, n), np.broadcast_to(greatest, n)
    limit = np.broadcast_to(limit, p)
    eye, nothing = np.eye(n), np.zeros((n, n))
    # unknown: motions, depths, what is left above the target, the deepest cut
    # height = target + left + depth;  0 <= left <= band where cut;  target + low <= height
    equal = np.hstack([columns, eye, eye, np.zeros((n, 1))])
    below = np.hstack([columns, nothing, nothing, np.zeros((n, 1))])
    deepest = np.hstack([np.zeros((n, p)), eye, nothing, -np.ones((n, 1))])
    bounds = [(-most, most) for most in limit]
    bounds += [(0, most) for most in greatest] + [(0, band)] * n + [(0, None)]
    values = []
    for price in (
        np.concatenate([np.zeros(p), area, np.zeros(n), [0]]),
        np.concatenate([np.zeros(p), np.zeros(2 * n), [1]]),
    ):
        found = linprog(
            price,
            A_ub=np.vstack([below, deepest]),
            b_ub=np.concatenate([height - low, np.zeros(n)]),
            A_eq=equal,
            b_eq=height,
            bounds=bounds,
            method="highs-ipm",
        )
        if found.status == 2:
            return None
        values.append(found.fun)
    return tuple(values)

"""Single readings at the bench, each with an uncertainty of its own: pins, heights, an angle."""

import numpy as np

from metrolib import checks
from metrolib.uncertain.linear import measured


def bench_readings(parts):
    """Read single numbers that may bring, or be given, a standard uncertainty each.

    Parameters
    ----------
    parts : dict of str to (value, u)
        By the name that error messages give it: one number or several, floats or `uncertainties`
        numbers, and the standard uncertainty common to them, one for each, or None.

    Returns
    -------
    Measured
        All numbers in the order of `parts`; without uncertainty where none has one. A number that
        is given without one beside others that have one counts as exact.

    Raises
    ------
    InputError
        If a number is not finite, an uncertainty is negative, or a number has two.

    Examples
    --------
    >>> found = bench_readings({"height": ([30.0, 18.0], 0.002), "diameter": (25.0, None)})
    >>> found.values.tolist(), found.u.tolist()
    ([30.0, 18.0, 25.0], [0.002, 0.002, 0.0])
    """
    groups = {name: (np.atleast_1d(np.asarray(value)), u) for name, (value, u) in parts.items()}
    for name, (_, u) in groups.items():
        if u is not None and (np.ndim(u) > 1 or np.min(u) < 0):
            raise checks.wrong(
                f"u of {name}",
                "one uncertainty, or one for each reading, is needed, none below zero",
                u,
                "give readings that are correlated as `uncertainties` numbers",
            )
    read = [measured(name, value, u) for name, (value, u) in groups.items()]
    values = np.concatenate([one.values for one in read])
    if all(one.cov is None for one in read):
        return measured("readings", values)
    if all(one.numbers is None for one in read):
        u = [np.zeros(one.values.size) if one.cov is None else one.u for one in read]
        return measured("readings", values, np.concatenate(u))
    numbers = [one.several(np.eye(one.values.size), one.values) for one in read]
    return measured("readings", np.concatenate([np.array(part, dtype=object) for part in numbers]))


def pin_diameters(diameter):
    """Refuse pins that are none: more than two, of no size, or two of one size.

    Returns
    -------
    ndarray, shape (1,) or (2,)
        [mm]
    """
    pins = np.atleast_1d(np.asarray(diameter))
    sizes = checks.vector("diameter", [getattr(pin, "nominal_value", pin) for pin in pins])
    if sizes.size > 2 or sizes.min() <= 0:
        raise checks.wrong(
            "diameter", "one pin, or two of different size, are needed", sizes, "give them in mm"
        )
    if sizes.size == 2 and abs(sizes[0] - sizes[1]) < 0.1 * sizes.max():
        raise checks.wrong(
            "diameter",
            "the two sizes must differ by a tenth at least, or they tell no angle",
            sizes,
            "take a much larger and a much smaller pin",
        )
    return sizes


def slopes_by_name(names, gradient):
    """Return how a result answers to each reading, by the reading's name."""
    return dict(zip(names, [float(g) for g in gradient], strict=True))

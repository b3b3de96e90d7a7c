"""Checks of arguments: one sentence for each thing that can be wrong with them."""

from collections.abc import Iterable

import numpy as np

from metrolib.errors import InputError


def wrong(argument, fault, got, remedy):
    """Return the error for an argument, in the one sentence shape of the library."""
    return InputError(f"{argument}: {fault}, got {got}; {remedy}")


def vector(argument, value, *, least=1):
    """Return `value` as a finite float vector of at least `least` items.

    Raises
    ------
    InputError
        If it is not one-dimensional, too short, or holds anything but finite numbers.
    """
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise wrong(
            argument, "numbers are needed", repr(value)[:60], "give plain numbers"
        ) from None
    if array.ndim != 1:
        raise wrong(argument, "one row of numbers is needed", f"shape {array.shape}", "flatten it")
    if array.size < least:
        raise wrong(argument, f"at least {least} values are needed", array.size, "add stations")
    finite(argument, array)
    return array


def pair(argument, value):
    """Return `value` as two finite floats.

    Raises
    ------
    InputError
        If there are not two, or one is not a finite number.
    """
    array = vector(argument, value)
    if array.size != 2:
        raise wrong(argument, "two numbers are needed", array.size, "correct it")
    return array


def table(argument, value, columns):
    """Return `value` as a finite float table with `columns` numbers in each row.

    Raises
    ------
    InputError
        If it is not two-dimensional, its rows are of another length, or it holds anything but
        finite numbers.
    """
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise wrong(
            argument, "numbers are needed", repr(value)[:60], "give plain numbers"
        ) from None
    if array.ndim != 2 or array.shape[1] != columns:
        raise wrong(
            argument,
            f"rows of {columns} numbers are needed",
            f"shape {array.shape}",
            "give one row for each set of heights",
        )
    finite(argument, array)
    return array


def finite(argument, array):
    """Refuse NaN and infinities in `array`, naming the first place."""
    fine = np.isfinite(array)
    if not fine.all():
        place = int(fine.argmin())
        raise wrong(
            argument,
            f"item {place} is not a finite number",
            array.flat[place],
            "leave the station out instead",
        )


def same_length(**vectors):
    """Refuse vectors of different lengths, and what is no vector."""
    for name, vector_ in vectors.items():
        if not hasattr(vector_, "__len__") or getattr(vector_, "ndim", 1) == 0:
            raise wrong(name, "one row of numbers is needed", repr(vector_)[:60], "give them all")
    if len({len(v) for v in vectors.values()}) > 1:
        lengths = ", ".join(f"{name} has {len(v)}" for name, v in vectors.items())
        raise InputError(
            f"{' and '.join(vectors)}: lengths differ, {lengths}; give one for each station"
        )


def choice(argument, value, allowed):
    """Refuse a word that is not one of the allowed ones."""
    if value not in allowed:
        words = ", ".join(repr(word) for word in allowed)
        raise wrong(argument, "this is not one of the choices", repr(value), f"use one of {words}")


def number(argument, value, *, at_least=None, above=None):
    """Return `value` as a finite float within its limits."""
    try:
        result = float(value)
    except (TypeError, ValueError):
        raise wrong(argument, "a number is needed", repr(value), "give one plain number") from None
    if not np.isfinite(result):
        raise wrong(argument, "a finite number is needed", result, "give one plain number")
    if at_least is not None and result < at_least:
        raise wrong(argument, f"it must be at least {at_least}", result, "correct it")
    if above is not None and result <= above:
        raise wrong(argument, f"it must be above {above}", result, "correct it")
    return result


def quantity(argument, value, *, at_least=None, above=None):
    """Return `value`, a float or an `uncertainties` number, if it lies within its limits."""
    nominal = getattr(value, "nominal_value", value)
    checked = number(argument, nominal, at_least=at_least, above=above)
    return checked if nominal is value else value


def kind(argument, value, needed, remedy):
    """Refuse what is not of a class, naming it."""
    if not isinstance(value, needed):
        article = "an" if needed.__name__[0] in "AEIOU" else "a"
        said = f"{article} {needed.__name__} is needed"
        # the repr of a result is a long sentence
        plain = type(value).__module__ == "builtins"
        got = " ".join(repr(value).split())[:60] if plain else type(value).__name__
        raise wrong(argument, said, got, remedy)


def listed(argument, values, needed, remedy):
    """Return a tuple of values, each of one class, if they are such."""
    if isinstance(values, needed) or not isinstance(values, Iterable):
        said = f"a list of {needed.__name__} is needed"
        raise wrong(argument, said, repr(values)[:60], "put it in brackets")
    values = tuple(values)
    for value in values:
        kind(argument, value, needed, remedy)
    return values

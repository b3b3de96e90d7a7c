"""Row functions of the user's own."""

import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.adjust import adjust
from metrolib.heights.rows import At, Extra, Known
from metrolib.survey.instruments import Instrument
from tests.heights.build import Leg, assert_exact, flat, survey, worn

SHAPE = worn(0.05, 300, 150)
X = np.arange(0.0, 801.0, 100.0)
THOU = Instrument("dial", "thou", 0.0, 0.05)


def roller(traverse, readings, survey):
    """Three rollers 100 mm apart: the middle one against the mean of the others, and a zero."""
    low, high = At("flat", readings.x - 100, -0.5), At("flat", readings.x + 100, -0.5)
    return [
        At("flat", readings.x, 1.0),
        low,
        high,
        Extra("zero of the rollers", 1.0, 10.0),
        Known(0.25),
    ]


def ask(function, value=None, kind="own: roller gauge", extra=()):
    inner = X[1:-1]
    if value is None:
        value = (SHAPE(inner) - (SHAPE(inner - 100) + SHAPE(inner + 100)) / 2 + 0.25) / 0.0254
    legs = [Leg("rollers", kind, THOU, inner, value), *extra]
    functions = None if function is None else {"roller gauge": function}
    return adjust(survey([flat()], legs), row_functions=functions)


def test_an_instrument_that_only_its_owner_knows():
    length = Instrument("gauge", "mm", 0.0, 0.001)
    # the rollers' own zero looks like an even bow, so one long reading must settle it
    chord = SHAPE(400.0) - (SHAPE(0.0) + SHAPE(800.0)) / 2

    def over_the_middle(traverse, readings, survey):
        ends = [At("flat", readings.x + step, -0.5) for step in (-400, 400)]
        return [At("flat", readings.x, 1.0), *ends]

    legs = [Leg("long", "own: chord", length, [400.0], [chord])]
    inner = X[1:-1]
    value = (SHAPE(inner) - (SHAPE(inner - 100) + SHAPE(inner + 100)) / 2 + 0.25) / 0.0254
    legs.append(Leg("rollers", "own: roller gauge", THOU, inner, value))
    functions = {"roller gauge": roller, "chord": over_the_middle}
    heights = adjust(survey([flat()], legs), row_functions=functions)
    assert_exact(heights, {"flat": SHAPE})
    assert heights.extras["zero of the rollers"].n == pytest.approx(0, abs=1e-9)


def test_single_values_serve_all_readings_and_arrays_each():
    def arrays(traverse, readings, survey):
        ones = np.ones(len(readings))
        return [At(np.full(len(readings), "flat", object), readings.x, ones, y=0.0 * ones)]

    def singles(traverse, readings, survey):
        return [At("flat", readings.x, 1.0)]

    first, second = ask(arrays), ask(singles)
    np.testing.assert_array_equal(first.values, second.values)


def test_a_missing_function_is_named():
    with pytest.raises(
        InputError, match="got none; give adjust.survey, row_functions={'roller gauge'"
    ):
        ask(None)
    with pytest.raises(InputError, match="kind 'own: other', got 'roller gauge'; give"):
        ask(roller, kind="own: other")
    with pytest.raises(InputError, match="unknown kind 'rollers'; use one of 'level along'"):
        ask(roller, kind="rollers")


def fails(traverse, readings, survey):
    return [At("flat", readings.x, 1.0 / 0)]


@pytest.mark.parametrize(
    ("function", "words"),
    [
        (
            fails,
            "row function 'roller gauge': it failed on traverse 'rollers' with ZeroDivisionError",
        ),
        (lambda t, r, s: None, "it failed on traverse 'rollers' with TypeError"),
        (lambda t, r, s: [], "no height of a face is among them"),
        (lambda t, r, s: [At("flat", r.x, 1.0), 3.0], "At, Extra or Known is needed, got float"),
        (
            lambda t, r, s: [At("flat", r.x[:2], 1.0)],
            "x of At has shape .2,.; give one value, or one for each of the 7",
        ),
        (
            lambda t, r, s: [At("flat", r.x, np.nan)],
            "coefficient of At: finite numbers are needed, got nan",
        ),
        (
            lambda t, r, s: [At("flat", r.x, "one")],
            "coefficient of At: finite numbers are needed, got one",
        ),
        (lambda t, r, s: [At("side", r.x, 1.0)], "unknown face 'side'; use one of 'flat'"),
        (
            lambda t, r, s: [At("flat", r.x, 1.0), Extra("e", 1.0, 0.0)],
            "prior_u of 'e' must be above 0, got 0.0",
        ),
        (
            lambda t, r, s: [At("flat", r.x, 1.0), Extra("e", 1.0, 1.0), Extra("e", 1.0, 2.0)],
            "'e': two terms give it different priors, 1.0 and 2.0",
        ),
    ],
)
def test_what_a_function_may_not_return(function, words):
    with pytest.raises(InputError, match=words):
        ask(function)

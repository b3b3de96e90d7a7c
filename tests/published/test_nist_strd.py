"""Certified linear fits of the NIST/ITL Statistical Reference Datasets (StRD), in double precision.

Norris, NoInt1, Longley and SiRstv: certified values as published (15 digits), copied with the data;
the standard deviations of Longley's coefficients were read where an open statistics package quotes
the certified table. NoInt2: certified values from memory, and recomputed. The data are public
domain.

They go through the solver of the heights, with priors so wide (1e12) that nothing is left of them,
and Norris also through the least-squares reference line. Double precision cannot hold the last
certified digit (1e-15) after a fit. Digits reached when this was written: Norris 13, NoInt1 and
NoInt2 15, SiRstv 12, Longley 11; the tolerances leave one digit to other processors.
"""

from fractions import Fraction

import numpy as np
import pytest

from metrolib.form.straightness import straightness
from metrolib.heights.solve import least_squares
from metrolib.uncertain.linear import covariance_of


def numbers(text):
    """Read numbers with blanks between them."""
    return np.array(text.split(), dtype=float)


NORRIS_Y = numbers("""
0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3
448.9 10.8 557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6
228.9 668.4 449.2 0.2
""")
NORRIS_X = numbers("""
0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0
447.5 11.6 556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3
229.2 669.1 448.9 0.5
""")
# GNP deflator, GNP, unemployed, armed forces, population, year
LONGLEY_X = np.array(
    [
        [83.0, 234289, 2356, 1590, 107608, 1947],
        [88.5, 259426, 2325, 1456, 108632, 1948],
        [88.2, 258054, 3682, 1616, 109773, 1949],
        [89.5, 284599, 3351, 1650, 110929, 1950],
        [96.2, 328975, 2099, 3099, 112075, 1951],
        [98.1, 346999, 1932, 3594, 113270, 1952],
        [99.0, 365385, 1870, 3547, 115094, 1953],
        [100.0, 363112, 3578, 3350, 116219, 1954],
        [101.2, 397469, 2904, 3048, 117388, 1955],
        [104.6, 419180, 2822, 2857, 118734, 1956],
        [108.4, 442769, 2936, 2798, 120445, 1957],
        [110.8, 444546, 4681, 2637, 121950, 1958],
        [112.6, 482704, 3813, 2552, 123366, 1959],
        [114.2, 502601, 3931, 2514, 125368, 1960],
        [115.7, 518173, 4806, 2572, 127852, 1961],
        [116.9, 554894, 4007, 2827, 130081, 1962],
    ]
)
LONGLEY_Y = numbers("""
60323 61122 60171 61187 63221 63639 64989 63761 66019 67857 68169 66513 68655 69564 69331
70551
""")
# five instruments, five readings each
SIRSTV = numbers("""
196.3052 196.124 196.189 196.2569 196.3403 196.3042 196.3825 196.1669 196.3257 196.0422
196.1303 196.2005 196.2889 196.0343 196.1811 196.2795 196.1748 196.1494 196.1485 195.9885
196.2119 196.1051 196.185 196.0052 196.209
""").reshape(5, 5)


def fit(design, y):
    """Return values, their standard deviations and the residual standard deviation, as NIST."""
    count = design.shape[1]
    found = least_squares(design, np.asarray(y, float), np.full(count, 1e12), np.ones(count, bool))
    scatter = np.sqrt(found.residual @ found.residual / (len(y) - count))
    return found, np.sqrt(np.diag(found.cov)) * scatter, scatter


NORRIS = [-0.262323073774029, 1.00211681802045]
NORRIS_SD = [0.232818234301152, 0.000429796848199937]


def test_norris():
    found, sd, scatter = fit(np.column_stack([np.ones(36), NORRIS_X]), NORRIS_Y)
    np.testing.assert_allclose(found.values, NORRIS, rtol=1e-12)
    np.testing.assert_allclose(sd, NORRIS_SD, rtol=1e-12)
    assert scatter == pytest.approx(0.884796396144373, rel=1e-12)
    assert found.residual @ found.residual == pytest.approx(26.6173985294224, rel=1e-12)


def exact_norris():
    """Return slope, covariance of intercept and slope, in exact fractions."""
    x, y = ([Fraction(str(value)) for value in side] for side in (NORRIS_X, NORRIS_Y))
    mean_x, mean_y = sum(x) / 36, sum(y) / 36
    spread = sum((a - mean_x) ** 2 for a in x)
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / spread
    left = sum((b - mean_y - slope * (a - mean_x)) ** 2 for a, b in zip(x, y, strict=True))
    return float(slope), float(-mean_x * left / 34 / spread)


def test_a_quoted_covariance_of_norris_holds_ten_digits():
    # -7.74327536339570e-05 stands in the tests of a numerical library; exact fractions give
    # -7.743275363156e-05. It is not among the certified values.
    slope, exact = exact_norris()
    assert slope == pytest.approx(NORRIS[1], rel=1e-14)
    assert exact == pytest.approx(-7.74327536339570e-05, rel=1e-10)
    found, _, scatter = fit(np.column_stack([np.ones(36), NORRIS_X]), NORRIS_Y)
    assert found.cov[0, 1] * scatter**2 == pytest.approx(exact, rel=1e-12)


def test_norris_as_a_reference_line():
    deviation = straightness(NORRIS_X, NORRIS_Y, reference="least squares").deviation
    scatter = np.sqrt(deviation @ deviation / 34)
    assert scatter == pytest.approx(0.884796396144373, rel=1e-12)
    line = straightness(NORRIS_X, NORRIS_Y, scatter, reference="least squares").line
    found = [line.height, line.slope / 1000]
    np.testing.assert_allclose([number.n for number in found], NORRIS, rtol=1e-12)
    np.testing.assert_allclose([number.s for number in found], NORRIS_SD, rtol=1e-12)
    assert covariance_of(found)[0, 1] == pytest.approx(exact_norris()[1], rel=1e-11)


@pytest.mark.parametrize(
    ("x", "y", "value", "sd", "scatter"),
    [
        (
            np.arange(60.0, 71),
            np.arange(130.0, 141),
            2.07438016528926,
            0.0165289256198347,
            3.56753034006338,
        ),
        ([4.0, 5, 6], [3.0, 4, 4], 8 / 11, 0.0420827318078432, 0.369274472937998),
    ],
    ids=["NoInt1", "NoInt2"],
)
def test_lines_through_the_origin(x, y, value, sd, scatter):
    found, found_sd, found_scatter = fit(np.reshape(x, (-1, 1)), y)
    assert found.values[0] == pytest.approx(value, rel=1e-14)
    assert found_sd[0] == pytest.approx(sd, rel=1e-14)
    assert found_scatter == pytest.approx(scatter, rel=1e-14)


LONGLEY = [  # in the order of the columns, then the intercept
    *(15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359),
    *(-0.0511041056535807, 1829.15146461355, -3482258.63459582),
]
LONGLEY_SD = [
    *(84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675),
    *(0.226073200069370, 455.478499142212, 890420.383607373),
]


def test_longley():
    found, sd, scatter = fit(np.column_stack([LONGLEY_X, np.ones(16)]), LONGLEY_Y)
    np.testing.assert_allclose(found.values, LONGLEY, rtol=1e-10)
    np.testing.assert_allclose(sd, LONGLEY_SD, rtol=1e-10)
    assert scatter**2 == pytest.approx(92936.0061673238, rel=1e-11)


def test_normal_equations_on_raw_columns_lose_half_the_digits_of_longley():
    # the trap: six digits are left; the solver, which scales its columns and uses QR, keeps eleven
    design = np.column_stack([LONGLEY_X, np.ones(16)])
    normal = np.linalg.solve(design.T @ design, design.T @ LONGLEY_Y)
    found, _, _ = fit(design, LONGLEY_Y)
    off = [np.abs(values / LONGLEY - 1).max() for values in (normal, found.values)]
    assert off[1] < off[0] / 1000


def test_five_instruments():
    # SiRstv, analysis of variance: scatter in an instrument, and F of the instruments against it
    one_each = np.kron(np.eye(5), np.ones((5, 1)))
    found, _, scatter = fit(one_each, SIRSTV.ravel())
    together, _, _ = fit(np.ones((25, 1)), SIRSTV.ravel())
    assert scatter == pytest.approx(0.104076068334656, rel=1e-11)
    inside = found.residual @ found.residual
    between = together.residual @ together.residual - inside
    assert (between / 4) / (inside / 20) == pytest.approx(1.18046237440255, rel=1e-11)

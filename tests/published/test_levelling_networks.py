"""Levelling networks of textbooks and sample outputs, through `adjust` with rows of our own.

A height of the network is a face with one station, a levelled line a reading of the kind
``"own: line"``; numbers in metres go in as if they were mm. What is compared is what is printed;
the tolerance is half a unit of its last digit. "A posteriori" is the a-priori standard deviation
times the square root of chi-square over degrees of freedom: that is what these textbooks print,
while `Heights` holds the a-priori ones.

Sources: C. D. Ghilani, Adjustment Computations, 5th ed., Wiley 2010, example 12.6; W. Niemeier,
Ausgleichungsrechnung, 2nd ed., de Gruyter 2008, pp. 153-156; F. Krumm, Geodetic Network Adjustment
Examples, Universitaet Stuttgart, rev. 3.5, 2020; all read through Krumm's compilation. The loop of
eight readings: GNU Gama 1.5.09, "Sample 1D vertical least square adjustment".
"""

import warnings
from functools import partial

import numpy as np
import pytest

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.heights.adjust import adjust
from metrolib.heights.blunders import critical_value
from metrolib.heights.rows import At
from metrolib.survey.instruments import Instrument
from tests.heights.build import Leg, flat, survey
from tests.published.printed import assert_printed as assert_digits

FIXED = 1e-8  # uncertainty of a height that the source holds fixed, against millimetres elsewhere


#: Compare with a printed number; heights come from an adjustment that rounds at 1e-11 m.
assert_printed = partial(assert_digits, rounding=1e-11)


def network(start, lines, sigmas, held=()):
    """Adjust levelled lines (from, to, difference) with their sigmas, in the order given.

    `held` are rows (coefficients by point, value, sigma) that set the datum.
    """
    faces = [flat(name, nominal=height) for name, height in start.items()]

    def line(traverse, readings, survey):
        low, high = traverse.settings["ends"]
        return [At(high, 0 * readings.x, 1.0), At(low, 0 * readings.x, -1.0)]

    def hold(traverse, readings, survey):
        return [At(name, 0 * readings.x, c) for name, c in traverse.settings["row"].items()]

    legs = [
        Leg(
            f"{i}",
            "own: line",
            Instrument(f"staff {i}", "mm", 0.0, sigma),
            [0.0],
            [rise],
            {"ends": (a, b)},
        )
        for i, ((a, b, rise), sigma) in enumerate(zip(lines, sigmas, strict=True), start=1)
    ]
    legs += [
        Leg(
            f"held {i}",
            "own: hold",
            Instrument(f"hold {i}", "mm", 0.0, sigma),
            [0.0],
            [value],
            {"row": row},
        )
        for i, (row, value, sigma) in enumerate(held)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        return adjust(survey(faces, legs), row_functions={"line": line, "hold": hold})


def found(heights):
    """Return the adjusted heights and their a-priori standard deviations by point."""
    spread = np.sqrt(np.diag(heights.cov))
    return {name: (z, u) for name, z, u in zip(heights.face, heights.values, spread, strict=True)}


def levelled(lines):
    """Take apart (from, to, difference, length [m], sigma for 1 km) as the networks list them."""
    return [row[:3] for row in lines], [row[4] * np.sqrt(row[3] / 1000) for row in lines]


GHILANI = [
    ("A", "B", 10.509, 1000.0, 0.006),
    ("B", "C", 5.36, 1000.0, 0.004),
    ("C", "D", -8.523, 1000.0, 0.005),
    ("D", "A", -7.348, 1000.0, 0.003),
    ("B", "D", -3.167, 1000.0, 0.004),
    ("A", "C", 15.881, 1000.0, 0.012),
]
GHILANI_START = {"A": 437.596, "B": 448.105, "C": 453.465, "D": 444.942}
KRUMM = [
    ("1", "2", 14.301, 900.0, 0.005),
    ("1", "3", 9.995, 800.0, 0.005),
    ("1", "4", 7.006, 1000.0, 0.005),
    ("1", "5", 17.5, 1500.0, 0.005),
    ("3", "2", 4.299, 500.0, 0.005),
]
KRUMM_START = {"1": 93.459, "2": 107.759, "3": 103.459, "4": 100.459, "5": 110.956}
NIEMEIER = [
    ("1", "2", -8.206, 621.11801242236, 0.001),
    ("1", "3", -5.734, 1204.81927710843, 0.001),
    ("2", "3", 2.481, 450.45045045045, 0.001),
    ("2", "4", -4.433, 800.0, 0.001),
    ("3", "4", -6.909, 1000.0, 0.001),
    ("3", "5", -18.872, 1098.9010989011, 0.001),
    ("3", "6", 4.035, 440.528634361233, 0.001),
    ("4", "5", -11.962, 719.424460431655, 0.001),
    ("5", "6", 22.904, 833.333333333333, 0.001),
]
NIEMEIER_START = {"1": 68.927, "2": 60.712, "3": 63.193, "4": 56.286, "5": 44.324, "6": 67.228}


@pytest.mark.parametrize(
    ("lines", "start", "fix", "printed", "dof"),
    [
        (
            GHILANI,
            GHILANI_START,
            "A",
            {
                "B": ("448.1087", "3.71", "2.30"),
                "C": ("453.4685", "3.47", "2.64"),
                "D": ("444.9436", "1.61", "1.76"),
            },
            3,
        ),
        (
            KRUMM,
            KRUMM_START,
            "5",
            {
                "1": ("93.4560", "-3.00", "5.78"),
                "2": ("107.7541", "-4.86", "6.73"),
                "3": ("103.4535", "-5.45", "6.69"),
                "4": ("100.4620", "3.00", "7.46"),
            },
            1,
        ),
        (
            NIEMEIER,
            NIEMEIER_START,
            "6",
            {
                "1": ("68.9235", "-3.53", "3.12"),
                "2": ("60.7153", "3.25", "2.60"),
                "3": ("63.1938", "0.76", "1.97"),
                "4": ("56.2838", "-2.18", "2.63"),
                "5": ("44.3226", "-1.45", "2.30"),
            },
            4,
        ),
    ],
    ids=["Ghilani 12.6", "Krumm", "Niemeier"],
)
def test_networks_with_one_fixed_height(lines, start, fix, printed, dof):
    differences, sigmas = levelled(lines)
    heights = network(start, differences, sigmas, [({fix: 1.0}, start[fix], FIXED)])
    assert heights.checks.dof == pytest.approx(dof, abs=1e-4)
    for point, (z, u) in found(heights).items():
        if point == fix:
            assert z == pytest.approx(start[fix], abs=1e-9)
            continue
        height, correction, spread = printed[point]
        assert_printed(z, height)
        assert_printed((z - start[point]) * 1000, correction)
        assert_printed(u * heights.checks.scale * 1000, spread)


def test_textbooks_print_a_posteriori_deviations():
    """The trap: Niemeier's readings scatter 3.39 times as much as assumed."""
    differences, sigmas = levelled(NIEMEIER)
    heights = network(NIEMEIER_START, differences, sigmas, [({"6": 1.0}, 67.228, FIXED)])
    _, u = found(heights)["1"]
    assert heights.checks.scale == pytest.approx(3.394176, abs=5e-6)  # recomputed, not printed
    assert_printed(u * 1000 * 3.394176, "3.12")
    assert abs(u * 1000 - 3.12) > 2  # the a-priori one, which `Heights` holds, is 0.92
    assert "scatter 3.4 times as much" in heights.checks.verdict
    assert not heights.checks.agrees


def test_normalised_residuals_of_the_textbook_networks():
    """Recomputed when the data were gathered, not printed; adjusted less observed there."""
    differences, sigmas = levelled(NIEMEIER)
    tested = network(NIEMEIER_START, differences, sigmas, [({"6": 1.0}, 67.228, FIXED)]).checks
    expected = [-5.246, 5.246, -6.134, 2.577, -1.198, 0.945, -2.367, 1.383, 2.367]
    np.testing.assert_allclose(-tested.normalised[:9], expected, atol=6e-4)
    expected = [0.2869, 0.5566, 0.3656, 0.4629, 0.619, 0.6346, 0.2368, 0.3896, 0.448]
    np.testing.assert_allclose(tested.redundancy[:9], expected, atol=6e-5)
    differences, sigmas = levelled(KRUMM)
    tested = network(KRUMM_START, differences, sigmas, [({"5": 1.0}, 110.956, FIXED)]).checks
    np.testing.assert_allclose(tested.redundancy[:5], [0.4091, 0.3636, 0, 0, 0.2273], atol=6e-5)
    assert tested.unchecked.tolist() == [2, 3, 5]  # two lines to points of their own, and the datum


def test_a_datum_with_a_covariance_of_its_own():
    """Krumm, levelling with dynamic datum: points 2 and 3 are given with a joint covariance."""
    start = {"2": 107.7541, "3": 103.4535, "6": 105.64, "7": 115.711, "8": 112.885}
    lines = [
        ("2", "8", 5.128, 700.0, 1.0),
        ("3", "6", 2.183, 500.0, 1.0),
        ("3", "7", 12.254, 500.0, 1.0),
        ("6", "7", 10.071, 800.0, 1.0),
        ("8", "7", 2.824, 800.0, 1.0),
    ]
    unit = 1e-3  # the file's unit weight is arbitrary; a-posteriori deviations do not depend on it
    given = np.array([[0.0025, -0.0015], [-0.0015, 0.0036]]) * unit**2
    whiten = np.linalg.inv(np.linalg.cholesky(given)) * 1e-6  # two rows of sigma 1e-6 each
    held = [({"2": row[0], "3": row[1]}, row @ [start["2"], start["3"]], 1e-6) for row in whiten]
    differences, sigmas = levelled(lines)
    heights = network(start, differences, [unit * s for s in sigmas], held)
    assert heights.checks.dof == pytest.approx(2, abs=1e-4)
    printed = {"6": ("105.6364", "0.43"), "7": ("115.7072", "0.39"), "8": ("112.8826", "0.48")}
    for point, (height, spread) in printed.items():
        z, u = found(heights)[point]
        assert_printed(z, height)
        assert_printed(u * heights.checks.scale * 1000, spread)


BENCH_LINES = [
    ("X", "A", 5.1),
    ("A", "Y", 2.34),
    ("Y", "C", -1.25),
    ("C", "X", -6.13),
    ("A", "B", -0.68),
    ("B", "Y", 3.0),
    ("B", "C", 1.7),
]


@pytest.mark.parametrize(
    ("weights", "heights_m", "scatter"),
    [
        ([1.0] * 7, {"A": 105.14095, "B": 104.48286, "C": 106.18762}, 0.05012),
        ([3.0, 4, 6, 4, 6, 6, 6], {"A": 105.1504, "B": 104.4892, "C": 106.1972}, 0.10722),
    ],
    ids=["unweighted", "weighted"],
)
def test_two_bench_marks(weights, heights_m, scatter):
    """Ghilani and Wolf, sections 12.3 and 12.5: 105.141, 104.483, 106.188, S0 = 0.05, and
    105.150, 104.489, 106.197, S0 = 0.107 (answers from memory; more digits recomputed)."""
    start = {"X": 100.0, "Y": 107.5, "A": 105.1, "B": 104.4, "C": 106.2}
    held = [({"X": 1.0}, 100.0, FIXED), ({"Y": 1.0}, 107.5, FIXED)]
    sigmas = 0.01 / np.sqrt(weights)
    heights = network(start, BENCH_LINES, sigmas, held)
    for point, z in heights_m.items():
        assert found(heights)[point][0] == pytest.approx(z, abs=5.1e-5)
    assert heights.checks.scale * 0.01 == pytest.approx(scatter, abs=6e-6)


def test_a_free_network_moves_as_little_as_it_must():
    """E. Mittermayer, ZfV 96 (1971) 401-410; heights recomputed, not printed.

    Without any datum the weak priors act as inner constraints: the corrections add up to zero.
    """
    start = {"1": 0.0, "2": 86.81, "3": 14.85, "4": 25.71, "5": 31.22, "6": 42.63}
    lines = [
        ("1", "2", 86.809, 20400.0, 0.001),
        ("1", "4", 25.714, 18700.0, 0.001),
        ("1", "5", 31.225, 34800.0, 0.001),
        ("2", "3", -71.952, 15000.0, 0.001),
        ("2", "4", -61.084, 14200.0, 0.001),
        ("2", "6", -44.178, 25300.0, 0.001),
        ("3", "4", 10.847, 12900.0, 0.001),
        ("3", "5", 16.35, 9800.0, 0.001),
        ("5", "6", 11.409, 19600.0, 0.001),
    ]
    heights = network(start, *levelled(lines))
    expected = [-0.003355, 86.805625, 14.86268, 25.714112, 31.215228, 42.625711]
    np.testing.assert_allclose(heights.values, expected, atol=1e-6)
    assert (heights.values - list(start.values())).sum() == pytest.approx(0, abs=1e-9)
    assert heights.checks.scale == pytest.approx(1.8513145, abs=1e-6)
    assert heights.checks.dof == pytest.approx(4, abs=1e-4)


def test_lines_of_different_kind():
    """G. Lother and J. Strehle, Grundlagen der Ausgleichungsrechnung, 2007, p. 11-3; heights
    recomputed, not printed."""
    start = {"1": 510.369, "2": 508.762, "3": 526.174, "4": 515.982}
    start |= {"10": 502.163, "11": 501.562, "12": 503.789, "13": 501.984}
    lines = [
        ("13", "1", 8.383, 4020.0, 0.0015),
        ("2", "1", 1.6035, 4620.0, 0.0015),
        ("10", "2", 6.6025, 3980.0, 0.0015),
        ("13", "10", 0.184, 1640.0, 0.0015),
        ("11", "3", 24.606, 3080.0, 0.0015),
        ("4", "3", 10.191, 4120.0, 0.0015),
        ("12", "4", 12.1915, 2940.0, 0.0015),
        ("11", "12", 2.228, 1460.0, 0.0015),
        ("11", "10", 0.5995, 1000.0, 0.0033),
        ("13", "12", 1.805, 1000.0, 0.0027),
    ]
    heights = network(start, *levelled(lines), [({"1": 1.0}, 510.369, FIXED)])
    expected = [
        510.369,
        508.767467,
        526.171391,
        515.981695,
        502.166661,
        501.564416,
        503.791126,
        501.984289,
    ]
    np.testing.assert_allclose(heights.values, expected, atol=1e-6)
    assert heights.checks.scale == pytest.approx(1.132492557, rel=1e-6)


LOOP_START = {"1a": 1000.0, "2": 999.27, "3": 997.93, "4": 998.78}


def loop(third_leg=-1.335):
    lines = [
        ("1a", "4", -1.225),
        ("4", "3", -0.848),
        ("3", "2", 1.342),
        ("2", "1a", 0.72),
        ("1a", "2", -0.724),
        ("2", "3", third_leg),
        ("3", "4", 0.842),
        ("4", "1a", 1.231),
    ]
    return network(LOOP_START, lines, [0.005] * 8, [({"1a": 1.0}, 1000.0, FIXED)])


def test_a_loop_there_and_back_with_its_printed_verdict():
    heights = loop()
    tested = heights.checks
    for point, height, spread in (
        ("4", "998.77513", "3.1"),
        ("3", "997.93325", "3.5"),
        ("2", "999.27487", "3.1"),
    ):
        z, u = found(heights)[point]
        # 998.775125 and 999.274875 lie on the edge of two roundings
        assert z == pytest.approx(float(height), abs=5.001e-6)
        assert_printed(u * 1000, spread)  # a priori here
    assert_printed(tested.scale * 5, "5.42")
    assert_printed(tested.chi_square * 25, "146.625")
    largest = int(np.nanargmax(np.abs(tested.normalised)))
    assert largest + 1 == 6
    assert_printed(abs(tested.normalised[largest]), "1.68")
    assert_printed(critical_value(1, alpha=0.05), "1.96")
    assert tested.suspects.size == 0
    assert tested.agrees
    # the rest recomputed, not printed; adjusted less observed there
    expected = [0.0316, 1.5495, -0.0949, 1.2965, -0.2846, -1.676, -0.0316, -1.5495]
    np.testing.assert_allclose(-tested.normalised[:8], expected, atol=6e-5)
    np.testing.assert_allclose(tested.redundancy[:8], 0.625, atol=1e-6)


def test_a_blunder_of_six_sigma_in_the_loop_is_found():
    """30 mm added to the sixth line of the loop (constructed)."""
    tested = loop(third_leg=-1.305).checks
    expected = [0.9803, 2.4982, -2.9409, 2.2452, -1.2333, -6.4194, -0.9803, -2.4982]
    np.testing.assert_allclose(-tested.normalised[:8], expected, atol=6e-5)
    assert tested.suspects.tolist() == [5]
    assert tested.inseparable == {}
    assert abs(tested.normalised[5]) > critical_value(1, alpha=0.001)


def test_critical_value_of_the_delft_school():
    """W. Baarda: k = 3.29 for a level of 0.001 in a single test (from memory)."""
    assert_printed(critical_value(1, alpha=0.001), "3.29")

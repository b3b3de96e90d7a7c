"""The minimum zone of a line against exact fractions, a general solver and the convex hull."""

from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.spatial import ConvexHull
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form import lines
from metrolib.form.lines import Line, minimum_zone, reference_line


def by_fractions(x, z):
    """The least width over the slopes of all chords, in exact arithmetic."""
    x, z = [Fraction(v) for v in x.tolist()], [Fraction(v) for v in z.tolist()]
    n = range(len(x))
    slopes = {(z[j] - z[i]) / (x[j] - x[i]) for i in n for j in n if x[i] != x[j]}
    widths = []
    for slope in slopes:
        over = [z[i] - slope * x[i] for i in n]
        widths.append(max(over) - min(over))
    return float(min(widths))


def by_general_solver(x, z):
    line, half = np.column_stack([np.ones(x.size), x]), np.ones((x.size, 1))
    rows = np.block([[line, -half], [-line, -half]])
    free = [(None, None)] * 3
    return 2 * linprog([0, 0, 1], A_ub=rows, b_ub=np.r_[z, -z], bounds=free, method="highs").fun


def by_hull(x, z):
    """The least width over the slopes of the edges of the convex hull."""
    hull = ConvexHull(np.column_stack([x, z]))
    widths = []
    for p, q in hull.simplices:
        if x[p] != x[q]:
            over = z - (z[q] - z[p]) / (x[q] - x[p]) * x
            widths.append(over.max() - over.min())
    return min(widths)


def check_reference(found, x, z, width):
    """The zone has the width, its line is its middle, and the contacts lie on its border."""
    height, slope = found.weights @ z[found.stations]
    over = z - height - slope * x
    np.testing.assert_allclose([over.max(), -over.min()], width / 2, atol=1e-12)
    np.testing.assert_allclose(np.abs(over[list(found.contacts)]), width / 2, atol=1e-12)
    np.testing.assert_allclose(over[found.highest] - over[found.lowest], width, atol=1e-12)
    assert found.width == pytest.approx(width, abs=1e-12)


def integer_cases(count, seed):
    """Few places and few heights: full of ties, repeated places and lines of many points."""
    rng = np.random.default_rng(seed)
    while count:
        n = rng.integers(2, 10)
        x, z = rng.integers(0, 6, n).astype(float), rng.integers(0, 5, n).astype(float)
        if np.ptp(x) > 0:
            count -= 1
            yield x - x[0], z - z[0]


def test_agrees_with_exact_fractions_on_ties():
    for x, z in integer_cases(400, seed=1):
        check_reference(minimum_zone(x, z), x, z, by_fractions(x, z))


def test_the_fallback_agrees_with_exact_fractions_too(monkeypatch):
    monkeypatch.setattr(lines, "_MOST_EXCHANGES", 0)
    for x, z in integer_cases(60, seed=2):
        if x.size > 2:
            check_reference(minimum_zone(x, z), x, z, by_fractions(x, z))


def test_agrees_with_a_general_solver_and_with_the_hull():
    rng = np.random.default_rng(3)
    for n in (5, 20, 60) * 7:
        x, z = np.sort(rng.uniform(0, 10, n)), rng.normal(size=n)
        x, z = x - x[0], z - z[0]
        width = minimum_zone(x, z).width
        assert width == pytest.approx(by_general_solver(x, z), abs=1e-9)
        assert width == pytest.approx(by_hull(x, z), abs=1e-12)


@pytest.mark.parametrize(
    "curve", [np.exp, np.cosh, lambda t: np.abs(t) ** 1.01, lambda t: -np.log(t + 2), np.sin]
)
def test_awkward_curves_agree_with_the_hull(curve):
    x = np.linspace(-1.5, 3, 500)
    z = curve(x)
    found = minimum_zone(x - x[0], z - z[0])
    assert found.width == pytest.approx(by_hull(x, z), rel=1e-12)


def test_no_case_of_many_needs_the_fallback(monkeypatch):
    monkeypatch.setattr(lines, "_by_linear_programme", lambda x, z: pytest.fail("fallback used"))
    rng = np.random.default_rng(4)
    for case in range(300):
        n = rng.integers(3, 120)
        x, z = rng.uniform(0, 1400, n), rng.normal(size=n) + rng.choice([0, 1, 10]) * n
        if case % 2:
            x, z = np.round(x, -2), np.round(z, 1)
        if np.ptp(x) > 0:
            minimum_zone(x - x[0], z - z[0])


def test_three_contacts_alternate():
    x, z = np.array([0.0, 1, 2, 3, 4]), np.array([0.0, 1, 5, 2, 0])
    assert minimum_zone(x, z).contacts == (0, 2, 4)


def test_two_stations_at_one_place_decide_by_themselves():
    # at x = 2 the two heights are 6 apart; no slope can bring them nearer
    x, z = np.array([0.0, 2, 2, 4]), np.array([0.0, 3, -3, 0])
    found = minimum_zone(x, z)
    assert (found.contacts, found.width) == ((1, 2), 6.0)


def test_stations_on_one_line_have_no_width_but_a_middle_contact():
    x = np.arange(5.0)
    found = minimum_zone(x, 2 * x)
    assert (found.contacts, found.width) == ((0, 2, 4), 0.0)


def test_two_stations():
    found = minimum_zone(np.array([0.0, 3.0]), np.array([0.0, 0.1]))
    assert (found.contacts, found.width) == ((0, 1), 0.0)


def test_a_line_of_the_wrong_kind():
    with pytest.raises(InputError, match="reference: this is not one of the choices, got 'mean'"):
        reference_line("mean", np.arange(3.0), np.zeros(3))


@pytest.mark.parametrize("number", [float, lambda value: ufloat(value, 0.1)])
def test_line_gives_heights_as_plain_numbers(number):
    assert Line(number(1.0), number(2.0)).at([0, 500]).tolist() == [1.0, 2.0]


def test_two_stations_at_the_far_end_are_named():
    with pytest.raises(InputError, match=r"2 stations share the high end, items \[1, 2\]"):
        reference_line("end points", np.array([0.0, 3, 3]), np.zeros(3))


def test_a_height_common_to_all_costs_the_zone_no_digit():
    # at 2**30 doubles are 2**-22 apart: anything but a difference of heights would round the step
    step = 2.0**-22
    x, z = np.arange(3.0), 2.0**30 + step * np.array([0, 1, 0])
    assert reference_line("minimum zone", x, z).width == step


@pytest.mark.parametrize(("wide", "high"), [(1e5, 1.0), (1.0, 1e-8), (1e5, 1e-8), (1e-4, 1e6)])
def test_the_fallback_does_not_mind_the_size_of_the_numbers(wide, high, monkeypatch):
    monkeypatch.setattr(lines, "_MOST_EXCHANGES", 0)
    # many stations and a steep line: badly scaled, the solver would point at the wrong ones
    x = np.linspace(0, 1, 200)
    z = np.random.default_rng(5).normal(size=200) + 50 * x
    once, scaled = minimum_zone(x, z), minimum_zone(wide * x, high * z)
    assert scaled.width == pytest.approx(high * once.width, rel=1e-12)
    assert scaled.contacts == once.contacts

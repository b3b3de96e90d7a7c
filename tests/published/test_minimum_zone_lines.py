"""Minimum zones of lines: textbook and numerical-library examples, and exact constructed ones.

No data set with its published minimum zone was found in the literature of measurement; these stand
in for one. Each test tells what its source is and how far it can be trusted.
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from metrolib.form.straightness import straightness
from tests.published.printed import assert_printed


def test_dasgupta_papadimitriou_vazirani_exercise_7_8():
    # S. Dasgupta, C. Papadimitriou, U. Vazirani, Algorithms, McGraw-Hill 2006, exercise 7.8: the
    # line of least maximum error through seven points. Answer from memory, and recomputed: slope
    # 12/7, intercept 13/7, error 4/7; rational and unique.
    x, y = [1, 2, 3, 5, 7, 8, 10], [3, 5, 7, 11, 14, 15, 19]
    found = straightness(x, y)
    assert found.value == pytest.approx(8 / 7, abs=1e-14)
    assert found.line.slope == pytest.approx(1000 * 12 / 7, abs=1e-11)
    assert found.line.height == pytest.approx(13 / 7, abs=1e-13)
    assert straightness(x, y, reference="least squares").value == pytest.approx(1.224358974)
    assert straightness(x, y, reference="end points").value == pytest.approx(4 / 3)


def test_numerical_library_minimax_example():
    # NAG Library Manual, routine e02gc, example: y = a exp(t) + b exp(-t) + c with the least
    # maximum residual, printed 0.00103 at a, b, c = 1.0049, 2.0149, 1.4822. With a and b as
    # printed, what is left for the line zone is c: along exp(-t) the points
    # y - a exp(t) have a minimum zone whose slope is b.
    t = np.array([0, 0.2, 0.4, 0.6, 0.8])
    y = np.array([4.501, 4.36, 4.333, 4.418, 4.625])

    def zone(a):
        return straightness(np.exp(-t), y - a * np.exp(t))

    best = minimize_scalar(
        lambda a: zone(a).value, bounds=(0.9, 1.1), method="bounded", options={"xatol": 1e-10}
    )
    found = zone(best.x)
    assert_printed(found.value / 2, "0.00103")
    assert_printed(best.x, "1.0049")
    assert_printed(found.line.slope / 1000, "2.0149")
    assert_printed(found.line.height, "1.4822")


@pytest.mark.parametrize(
    ("z", "width"),
    [
        ([0, 1, 0], 1),
        ([0, 3, 0, 3, 0], 3),
        ([0, 7, 12, 15, 16, 15, 12, 7, 0], 16),
    ],
    ids=["triangle", "zigzag", "parabola"],
)
def test_constructed_with_exact_answers(z, width):
    # constructed: symmetric about the middle, so the best line is level
    for reference in ("minimum zone", "end points", "least squares"):
        found = straightness(np.arange(len(z)), z, reference=reference)
        assert found.value == pytest.approx(width, abs=1e-14)
        assert found.line.slope == pytest.approx(0, abs=1e-12)

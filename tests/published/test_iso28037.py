"""ISO/TS 28037:2010, Determination and use of straight-line calibration functions.

Clause 6.3, examples of p. 13 (equal weights) and p. 15 (unequal weights), and annex E, pp. 58-59
(a common uncertainty that is not known beforehand), through the weighted least squares that
heights are adjusted with. Read through a national institute's open repository that quotes the
specification; every digit asserted as printed is printed there, and was reproduced.

Clause 7.4, where x is uncertain too, is no problem that the library solves; what is known of its
printed figures: b = 2.159 there is 2.15966, cut off and not rounded.
"""

import numpy as np
import pytest

from metrolib.heights.solve import least_squares
from tests.published.printed import assert_printed

X = np.arange(1.0, 7.0)


def fit(y, u):
    """Fit y = a + b x; return the solution."""
    design = np.column_stack([np.ones(6), X]) / np.reshape(u, (-1, 1))
    return least_squares(design, np.array(y) / u, np.full(2, 1e6), np.ones(2, bool))


def assert_line(values, cov, printed):
    """Compare a, u(a), b, u(b) and their covariance."""
    (a, b), (u_a, u_b) = values, np.sqrt(np.diag(cov))
    for value, text in zip((a, u_a, b, u_b), printed, strict=False):
        assert_printed(value, text)
    assert_printed(cov[0, 1], printed[4])


@pytest.mark.parametrize(
    ("y", "u", "printed", "chi_square"),
    [
        (
            [3.3, 5.6, 7.1, 9.3, 10.7, 12.1],
            np.full(6, 0.5),
            ("1.867", "0.465", "1.757", "0.120", "-0.050"),
            "1.665",
        ),
        (
            [3.2, 4.3, 7.6, 8.6, 11.7, 12.8],
            np.array([0.5, 0.5, 0.5, 1, 1, 1]),
            ("0.885", "0.530", "2.057", "0.178", "-0.082"),
            "4.131",
        ),
    ],
    ids=["equal weights", "unequal weights"],
)
def test_known_uncertainties(y, u, printed, chi_square):
    found = fit(y, u)
    assert_line(found.values, found.cov, printed)
    assert_printed(found.residual @ found.residual, chi_square)
    # two of six readings are spent on the line: the redundancies add up to the 4 degrees of freedom
    assert found.redundancy.sum() == pytest.approx(4, abs=1e-9)


ANNEX_E = [3.014, 5.225, 7.004, 9.061, 11.201, 12.762]


def test_an_uncertainty_not_known_beforehand():
    found = fit(ANNEX_E, np.ones(6))
    scatter = found.residual @ found.residual / 4
    printed = ("1.172", "0.159", "1.964", "0.041", "-0.006")
    assert_line(found.values, found.cov * scatter, printed)


def test_what_annex_e_is_quoted_with_as_chi_square_is_the_scatter():
    # quoted as chi-squared 0.171; the sum of squares is 0.1165, and 0.171 is sqrt(0.1165 / 4)
    found = fit(ANNEX_E, np.ones(6))
    squares = found.residual @ found.residual
    assert squares == pytest.approx(0.1164983, abs=5e-8)  # recomputed, not printed
    assert_printed(np.sqrt(squares / 4), "0.171")

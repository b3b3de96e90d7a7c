"""Worked examples of JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM).

H.1 (end gauge), H.3 (thermometer) and H.5 (voltage standard on ten days): inputs and printed
figures read through open test-suites that quote them, and reproduced; what is asserted as printed
is printed there. H.2 (resistance and reactance): inputs and printed figures from memory, so its
recomputed figures are asserted. Table G.2 is used for infinitely many degrees of freedom only: the
library has no Student's t, nor the effective degrees of freedom of H.1.
"""

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.form.straightness import straightness
from metrolib.heights.blunders import critical_value
from metrolib.heights.solve import least_squares
from metrolib.uncertain.linear import covariance_of, measured
from tests.published.printed import assert_printed


class TestEndGauge:
    """H.1: length of an end gauge against a standard, in nm and degC; l = ls + d - ls (...)."""

    # ls; d with the first of its three uncertainties, then nothing with each of the other two;
    # difference of the expansions, and of the temperatures; room above 20 degC; expansion of ls
    values = np.array([50_000_623.0, 215.0, 0.0, 0.0, 0.0, 0.0, -0.1, 11.5e-6])
    rectangles = np.array([1e-6, 0.05]) / np.sqrt(3)
    u_room = np.hypot(0.2, 0.5 / np.sqrt(2))  # mean, and an arcsine swing of 0.5
    u = np.array([25, 5.8, 3.9, 6.7, *rectangles, u_room, 2e-6 / np.sqrt(3)])

    def sensitivities(self):
        ls, room, expansion = self.values[0], self.values[6], self.values[7]
        return np.array([1, 1, 1, 1, -ls * room, -ls * expansion, 0, 0])

    def test_value_and_uncertainty(self):
        length = measured("inputs", self.values, self.u).linear(self.sensitivities())
        assert_printed(length.n, "50000838")
        assert_printed(length.s, "32")

    @pytest.mark.parametrize(
        ("inputs", "printed"),
        [([0], "25"), ([1, 2, 3], "9.7"), ([4], "2.9"), ([5], "16.6")],
        ids=["standard", "comparison", "expansions", "temperatures"],
    )
    def test_contributions(self, inputs, printed):
        g = np.zeros(8)
        g[inputs] = self.sensitivities()[inputs]
        assert_printed(np.sqrt(measured("inputs", self.values, self.u).variance(g)), printed)

    def test_numbers_give_the_law_of_the_whole_model(self):
        numbers = [ufloat(value, u) for value, u in zip(self.values, self.u, strict=True)]
        ls, d, d2, d3, expands, warmer, room, expansion = numbers
        model = ls + d + d2 + d3 - ls * (expands * room + expansion * warmer)
        law = measured("inputs", numbers).linear(self.sensitivities())
        assert law.n == pytest.approx(model.n, rel=1e-15)
        assert (law - model).s < 1e-9 * model.s

    def test_the_printed_expanded_uncertainty_starts_from_the_rounded_one(self):
        # printed 93 = 2.92 x 32; unrounded 2.92 x 31.66 = 92.5. Nothing in the library rounds.
        u = measured("inputs", self.values, self.u).linear(self.sensitivities()).s
        assert 2.92 * 32 == pytest.approx(93, abs=0.5)
        assert 2.92078 * u == pytest.approx(92.48, abs=5e-3)  # recomputed, not printed


class TestResistanceAndReactance:
    """H.2: voltage, current and phase read together five times; R, X and Z from their means."""

    readings = np.array(
        [
            [5.007, 4.994, 5.005, 4.990, 4.999],  # V
            [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],  # A
            [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],  # rad
        ]
    )

    def results(self):
        v, i, phase = mean = self.readings.mean(axis=1)
        cosine, sine, z = np.cos(phase), np.sin(phase), v / i
        laws = np.array(
            [
                [cosine / i, -z * cosine / i, -z * sine],
                [sine / i, -z * sine / i, z * cosine],
                [1 / i, -z / i, 0.0],
            ]
        )
        means = measured("means", mean, np.cov(self.readings) / 5)
        return means.several(laws, [z * cosine, z * sine, z])

    def test_values_and_uncertainties(self):
        # from memory: 127.732, 219.847, 254.260 with 0.071, 0.295, 0.236; recomputed below
        resistance, reactance, impedance = self.results()
        assert [number.n for number in (resistance, reactance, impedance)] == pytest.approx(
            [127.73217, 219.84651, 254.25970], abs=5e-6
        )
        assert (resistance.s, impedance.s) == pytest.approx((0.07107, 0.23634), abs=5e-6)

    def test_the_uncertainty_of_the_reactance_is_cut_off_in_print(self):
        # printed 0.295; it is 0.2956, which rounds to 0.296
        assert self.results()[1].s == pytest.approx(0.29558, abs=5e-6)

    def test_results_of_the_same_readings_are_correlated(self):
        # from memory: -0.588, -0.485, 0.993; recomputed below
        cov = covariance_of(self.results())
        size = np.sqrt(np.diag(cov))
        found = (cov / np.outer(size, size))[[0, 0, 1], [1, 2, 2]]
        np.testing.assert_allclose(found, [-0.58843, -0.48526, 0.99251], atol=5e-6)


class TestThermometer:
    """H.3, Table H.6: corrections of a thermometer on a straight line, b = y1 + y2 (t - 20)."""

    t = np.array(
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    )
    b = -np.array([171, 169, 166, 159, 164, 165, 156, 157, 159, 161, 160]) / 1000

    def by_solver(self):
        """Return values, covariance a posteriori and scatter, from the solver of the heights."""
        design = np.column_stack([np.ones(11), self.t - 20])
        found = least_squares(design, self.b, np.full(2, 1e6), np.ones(2, bool))
        scatter = found.residual @ found.residual / 9
        return found.values, found.cov * scatter, np.sqrt(scatter)

    def by_form(self):
        """Return intercept and slope of the library's reference line, as correlated numbers."""
        x = self.t - 20
        deviation = straightness(x, self.b, reference="least squares").deviation
        scatter = np.sqrt(deviation @ deviation / 9)
        line = straightness(x, self.b, scatter, reference="least squares").line
        return line.height, line.slope / 1000, scatter

    def test_the_solver(self):
        (y1, y2), cov, scatter = self.by_solver()
        assert_printed(y1, "-0.1712")
        assert_printed(y2, "0.00218")
        u1, u2 = np.sqrt(np.diag(cov))
        assert_printed(u1, "0.0029")
        assert_printed(u2, "0.00067")
        assert_printed(cov[0, 1] / (u1 * u2), "-0.930")
        assert_printed(scatter, "0.0035")

    def test_the_reference_line(self):
        y1, y2, scatter = self.by_form()
        for number, value, u in ((y1, "-0.1712", "0.0029"), (y2, "0.00218", "0.00067")):
            assert_printed(number.n, value)
            assert_printed(number.s, u)
        cov = covariance_of([y1, y2])
        assert_printed(cov[0, 1] / np.sqrt(cov[0, 0] * cov[1, 1]), "-0.930")
        assert_printed(scatter, "0.0035")

    def test_a_value_read_off_the_line_at_30_degrees(self):
        values, cov, _ = self.by_solver()
        y1, y2, _ = self.by_form()
        for b30 in (measured("line", values, cov).linear(np.array([1.0, 10.0])), y1 + 10 * y2):
            assert_printed(b30.n, "-0.1494")
            assert_printed(b30.s, "0.0041")

    def test_without_the_covariance_the_uncertainty_is_wrong(self):
        # the trap: 0.0073 comes out where intercept and slope are taken as independent
        values, cov, _ = self.by_solver()
        independent = measured("line", values, np.sqrt(np.diag(cov))).linear(np.array([1.0, 10.0]))
        assert independent.s == pytest.approx(0.0073, abs=5e-5)  # recomputed, not printed


class TestTenDays:
    """H.5, Table H.9: means of five readings on each of ten days, and their scatter in the day."""

    means = 10 + np.array([172, 116, 13, 144, 106, 31, 60, 125, 163, 41]) * 1e-6  # V
    s_in_day = np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86]) * 1e-6

    def one_value(self, u):
        """Fit one value to the ten means, each with the standard uncertainty u."""
        return least_squares(
            np.full((10, 1), 1 / u), self.means / u, np.array([1e3]), np.array([True])
        )

    def test_mean_and_scatter_of_the_means(self):
        found = self.one_value(1e-6)
        assert_printed(found.values[0], "10.000097")
        scatter = np.sqrt(found.residual @ found.residual / 9)  # uV
        assert_printed(scatter, "57")
        assert_printed(np.sqrt(5) * scatter, "128")

    def test_chi_square_tells_that_days_differ_by_more_than_readings(self):
        within = np.sqrt((self.s_in_day**2).mean())
        assert_printed(within * 1e6, "85")
        found = self.one_value(within / np.sqrt(5))
        # printed F = 2.25, from the rounded 57 and 85; unrounded 2.2615, as recomputed
        assert_printed(5 * 57**2 / 85**2, "2.25")
        assert found.residual @ found.residual / 9 == pytest.approx(2.2615, abs=5e-5)


def test_student_for_infinitely_many_degrees_of_freedom():
    # Table G.2, p = 95.45 %: 2.00, the two-sided quantile that single readings are tested with
    assert_printed(critical_value(1, alpha=1 - 0.9545), "2.00")

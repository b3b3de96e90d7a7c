"""References and deviations where one sign, one boundary or one station decides."""

import numpy as np
import pytest

from metrolib.form import lines, planes
from metrolib.form.flatness import flatness
from metrolib.form.straightness import straightness
from tests.form.test_lines import by_hull, check_reference
from tests.form.test_planes import by_general_solver, integer_cases
from tests.form.test_planes import check_reference as check_plane


@pytest.mark.parametrize("reference", lines.REFERENCES)
def test_the_first_station_need_not_be_an_end(reference):
    # along 1 + 4 x / 1000, with the middle one 3 above it, listed first
    x, z = [500.0, 0, 1000], [6.0, 1, 5]
    found = straightness(x, z, reference=reference)
    lift = {"end points": 0.0, "least squares": 1.0, "minimum zone": 1.5}[reference]
    assert found.line.height == pytest.approx(1 + lift)
    assert found.line.slope == pytest.approx(4)
    np.testing.assert_allclose(found.deviation, np.array([3.0, 0, 0]) - lift, atol=1e-14)
    assert found.value == pytest.approx(3)


@pytest.mark.parametrize("slope", [1 / 3, -0.1, 7.7])
@pytest.mark.parametrize("n", [5, 9, 15])
def test_a_line_that_binary_numbers_only_nearly_hold_has_its_middle_as_contact(slope, n):
    x = np.arange(n) * 0.1
    found = straightness(x, slope * x, 0.001)
    assert found.value.n == pytest.approx(0, abs=1e-14)
    assert found.contacts == (0, n // 2, n - 1)
    # of the middle less the mean of the ends: u sqrt(1 + 1/4 + 1/4)
    assert found.value.s == pytest.approx(0.001 * np.sqrt(1.5))


def test_the_fallback_for_lines_finds_contacts_that_are_no_whole_numbers(monkeypatch):
    monkeypatch.setattr(lines, "_MOST_EXCHANGES", 0)
    rng = np.random.default_rng(12)
    for tilt in (0, 1, 1e3) * 5:
        x = np.sort(rng.uniform(0, 1400, 40))
        z = rng.normal(size=40) + tilt * x / 1400
        x, z = x - x[0], z - z[0]
        found = lines.minimum_zone(x, z)
        assert found.width == pytest.approx(by_hull(x, z), abs=1e-10)
        assert len(found.contacts) == 3


def test_an_exchange_that_is_cut_short_is_not_believed(monkeypatch):
    # with one exchange only, most zones must come from the fallback, and be right all the same
    monkeypatch.setattr(lines, "_MOST_EXCHANGES", 1)
    rng = np.random.default_rng(13)
    for _ in range(10):
        x, z = np.arange(30.0), rng.normal(size=30)
        z -= z[0]
        check_reference(lines.minimum_zone(x, z), x, z, by_hull(x, z))


@pytest.mark.parametrize("reference", planes.REFERENCES)
def test_the_height_of_a_plane_is_that_at_the_origin(reference):
    # on z = 5 + 0.002 x - 0.003 y, none of them near the origin
    x, y = np.array([100.0, 400, 100, 400, 250]), np.array([200.0, 200, 300, 300, 260])
    plane = flatness(x, y, 5 + 0.002 * x - 0.003 * y, reference=reference).plane
    assert plane.height == pytest.approx(5, abs=1e-12)
    assert (plane.along, plane.across) == pytest.approx((2, -3))
    np.testing.assert_allclose(plane.at(x, y), 5 + 0.002 * x - 0.003 * y, rtol=1e-13)


@pytest.mark.parametrize("reference", planes.REFERENCES)
def test_a_strip_of_a_millimetre_in_two_metres_still_is_a_plane(reference):
    x = np.array([0.0, 1000, 2000] * 2)
    y = np.repeat([0.0, 1.0], 3)
    found = flatness(x, y, 0.01 * y, reference=reference)
    assert found.value == pytest.approx(0, abs=1e-15)
    assert found.plane.across == pytest.approx(10)
    # the middle of one edge lifted by 6 um: the fit leans across by 2 um, and the lift stands out
    lifted = flatness(x, y, 0.01 * y + 0.006 * (x == 1000) * (y == 0), reference=reference)
    assert lifted.value == pytest.approx(0.006)
    if reference == "least squares":
        assert lifted.plane.across == pytest.approx(10 - 2)


def test_no_plane_of_many_needs_the_fallback(monkeypatch):
    monkeypatch.setattr(planes, "_by_linear_programme", lambda *_: pytest.fail("fallback used"))
    rng = np.random.default_rng(14)
    for case in range(150):
        n = rng.integers(4, 60)
        x, y = rng.uniform(0, 1400, n), rng.uniform(0, 300, n)
        z = rng.normal(size=n) + rng.choice([0, 1, 100]) * x / 1400
        if case % 2:
            z = np.round(z, 1)
        planes.reference_plane("minimum zone", x - x[0], y - y[0], z - z[0])


def test_the_fallback_for_planes_agrees_on_ties(monkeypatch):
    monkeypatch.setattr(planes, "_MOST_EXCHANGES", 0)
    for x, y, z in integer_cases(20, seed=15):
        if x.size > 3:
            found = planes.reference_plane("minimum zone", x, y, z)
            check_plane(found, x, y, z, by_general_solver(x, y, z))


class TestTied:
    """Two stations between exact ends: tied within twice the u of their difference."""

    x = np.array([0.0, 1, 2, 3])

    def tied(self, gap, u=None):
        u = [0, 1e-3, 1e-3, 0] if u is None else u
        return straightness(self.x, [0.0, 0.1, 0.1 - gap, 0.0], u, reference="end points").tied

    def test_independent_heights(self):
        # u of the difference sqrt(2) um: 2.83 um is the limit
        assert self.tied(2.8e-3) == (2,)
        assert self.tied(2.85e-3) == ()

    @pytest.mark.parametrize(("correlation", "limit"), [(0.5, 2.0), (-0.5, 2 * np.sqrt(3))])
    def test_correlated_heights(self, correlation, limit):
        # u of the difference sqrt(2 - 2 r) um
        cov = np.zeros((4, 4))
        cov[1:3, 1:3] = 1e-6 * np.array([[1, correlation], [correlation, 1]])
        assert self.tied(0.99e-3 * limit, cov) == (2,)
        assert self.tied(1.01e-3 * limit, cov) == ()

    def test_a_tie_with_the_contact_that_stands_first_counts_as_well(self):
        # the lowest station, exact, comes after the two that are alike
        z, u = [0.0, 0.1, 0.1 - 2e-3, -0.2, 0.0], [0, 1e-3, 1e-3, 0, 0]
        found = straightness(np.arange(5.0), z, u, reference="end points")
        assert (found.contacts, found.tied) == ((1, 3), (2,))

    def test_exact_heights_tie_with_nothing(self):
        assert self.tied(0.0, np.zeros(4)) == ()

    def test_a_contact_is_not_tied_with_itself(self):
        found = straightness(self.x, [0.0, 0.1, 0.05, 0.0], 1e-3)
        assert not {*found.tied} & {*found.contacts}


@pytest.mark.parametrize("joined", [False, True])
@pytest.mark.parametrize("reference", lines.REFERENCES)
def test_uncertainties_of_deviations_are_those_of_the_covariance_in_full(reference, joined):
    # through the whole n x n covariance; the library takes shortcuts for single deviations
    rng = np.random.default_rng(16)
    x, z = np.array([300.0, 0, 150, 700, 500, 900]), rng.normal(size=6)
    factor = rng.normal(size=(6, 6)) * 1e-3
    cov = factor @ factor.T if joined else np.diag(np.linspace(1, 3, 6) ** 2) * 1e-6
    u = cov if joined else np.sqrt(np.diag(cov))
    found = straightness(x, z, u, reference=reference)
    # how each deviation answers to each height, by changing one height at a time
    step = 1e-4
    law = np.empty((6, 6))
    for i in range(6):
        up, down = (
            straightness(x, z + side * step * (np.arange(6) == i), reference=reference).deviation
            for side in (1, -1)
        )
        law[:, i] = (up - down) / (2 * step)
    expected = law @ cov @ law.T
    np.testing.assert_allclose(found.deviations.covariance(), expected, atol=1e-11)
    np.testing.assert_allclose(found.deviation_u, np.sqrt(np.diag(expected)), atol=1e-8)
    for station in range(6):
        difference = np.eye(6) - np.eye(6)[station]
        spread = np.diag(difference @ expected @ difference.T)
        np.testing.assert_allclose(
            found.deviations.u_from(station) ** 2, spread, rtol=1e-8, atol=1e-12
        )

"""The saddle's path on a vee: by hand, by rigid geometry, what must not matter, refusals."""

import numpy as np
import pytest
from scipy.optimize import fsolve
from uncertainties import correlated_values, covariance_matrix

from metrolib.errors import InputError
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.vee import vee
from metrolib.uncertain.montecarlo import monte_carlo

X = np.array([0.0, 200, 400, 600, 800])
A = np.array([0.0, -3, -6, -2, 0]) / 100
B = np.array([0.0, -1, -2, -4, 1]) / 100


def test_a_vee_of_3_4_5_flanks_by_hand():
    # normals (-3/5, 4/5) and (3/5, 4/5): v = (a + b) / (8/5), h = (b - a) / (6/5)
    slant = np.rad2deg(np.arctan2(3, 4))
    found = vee([0, 1, 2], [0, -8, 0], [0, -2, 0], (-slant, slant))
    assert found.lift.tolist() == pytest.approx([0, -6.25, 0])
    assert found.shift.tolist() == pytest.approx([0, 5, 0])
    assert (found.vertical.value, found.horizontal.value) == pytest.approx((6.25, 5))
    assert found.half_angle == pytest.approx(90 - slant)


def test_unequal_flanks_by_hand():
    # a flat, normal (0, 1), and a side face, normal (1, 0), are a vee as well: v = a, h = b
    found = vee(X, A, B, (0, 90))
    np.testing.assert_allclose(found.lift, A, atol=1e-15)
    np.testing.assert_allclose(found.shift, B, atol=1e-15)


def test_the_formula_of_equal_flanks():
    # v = (a + b) / (2 cos phi), h = (b - a) / (2 sin phi)
    for phi in (20.0, 45.0, 55.0):
        found = vee(X, A, B, (-phi, phi))
        np.testing.assert_allclose(found.lift, (A + B) / (2 * np.cos(np.deg2rad(phi))))
        np.testing.assert_allclose(found.shift, (B - A) / (2 * np.sin(np.deg2rad(phi))))


@pytest.mark.parametrize("normals", [(-45, 45), (45, -45), (-30, 62), (-80, 10), (150, -130)])
def test_against_a_block_that_is_let_down_on_both_flanks(normals):
    """Independent geometry: the block's two planes pass the worn flanks' points, by scipy."""
    rise = np.array([-0.031, 0.017])
    toward = [np.array([np.sin(np.deg2rad(n)), np.cos(np.deg2rad(n))]) for n in normals]
    points = [np.array([-9.0, 2.0]), np.array([7.0, 1.0])]  # anywhere on the flanks as made

    def gap(move):
        return [
            (point + z * n - (point + move)) @ n
            for point, n, z in zip(points, toward, rise, strict=True)
        ]

    shift, lift = fsolve(gap, [0.0, 0.0], xtol=1e-10)
    found = vee([0, 1], [rise[0]] * 2, [rise[1]] * 2, normals)
    assert found.lift[0] == pytest.approx(lift, abs=1e-10)
    assert found.shift[0] == pytest.approx(shift, abs=1e-10)


def test_signs_of_a_ridge_and_of_a_hollow_vee():
    # The flank whose normal leans to -y is worn: on a ridge it lies at smaller y, in a hollow vee
    # at greater y. The saddle goes toward +y on both.
    found = vee([0, 1], [-0.1, -0.1], [0, 0], (-45, 45))
    assert found.lift[0] == pytest.approx(-0.1 / np.sqrt(2))
    assert found.shift[0] == pytest.approx(0.1 / np.sqrt(2))


def test_the_order_of_the_flanks_does_not_matter():
    one, two = vee(X, A, B, (-30, 50)), vee(X, B, A, (50, -30))
    np.testing.assert_allclose(one.lift, two.lift, atol=1e-15)
    np.testing.assert_allclose(one.shift, two.shift, atol=1e-15)


def test_a_straight_line_on_either_flank_leaves_the_straightness():
    one = vee(X, A, B, (-30, 50), 0.001)
    two = vee(X[::-1], (A + 0.1 + X / 5e4)[::-1], (B - X / 3e4)[::-1], (-30, 50), 0.001)
    for plane in ("vertical", "horizontal"):
        a, b = getattr(one, plane).value, getattr(two, plane).value
        assert (b.n, b.s) == pytest.approx((a.n, a.s))


def test_what_moves_both_flanks_as_one_body_is_the_saddles_own_movement():
    lift, shift = 0.02 * np.sin(X / 300), 0.01 * np.cos(X / 200)
    normals = np.deg2rad([-40, 65])
    a, b = (np.cos(n) * lift + np.sin(n) * shift for n in normals)
    found = vee(X, a, b, (-40, 65))
    np.testing.assert_allclose(found.lift, lift, atol=1e-15)
    np.testing.assert_allclose(found.shift, shift, atol=1e-15)


def test_scaling():
    one, two = vee(X, A, B, (-45, 45), 0.001), vee(3 * X, 2 * A, 2 * B, (-45, 45), 0.002)
    assert two.vertical.value.n == pytest.approx(2 * one.vertical.value.n)
    assert two.horizontal.value.s == pytest.approx(2 * one.horizontal.value.s)


def test_uncertainty_and_correlation_by_hand():
    # 90 deg: v, h = (b +- a) / sqrt(2), so equal and independent u stay as they are
    found = vee(X, A, B, (-45, 45), 0.002)
    np.testing.assert_allclose(found.cov, 4e-6 * np.eye(10), atol=1e-18)
    # u of A twice that of B: cov(v, h) = (ub^2 - ua^2) / 2
    found = vee(X, A, B, (-45, 45), np.repeat([0.002, 0.001], 5))
    np.testing.assert_allclose(np.diag(found.cov[:5, 5:]), (1e-6 - 4e-6) / 2)
    np.testing.assert_allclose(
        covariance_matrix([*found.lift, *found.shift]), found.cov, atol=1e-18
    )


def test_correlation_with_everything_else_survives():
    random = np.random.default_rng(1)
    root = random.normal(size=(10, 10)) / 1e3
    z = np.array(correlated_values([*A, *B], root @ root.T), dtype=object)
    found = vee(X, z[:5], z[5:], (-35, 50))
    plain = vee(X, A, B, (-35, 50), root @ root.T)
    np.testing.assert_allclose(found.cov, plain.cov, rtol=1e-9, atol=1e-15)
    both = np.array(covariance_matrix([found.vertical.value, found.horizontal.value]))
    same = np.array(covariance_matrix([plain.vertical.value, plain.horizontal.value]))
    np.testing.assert_allclose(both, same, rtol=1e-6)
    # n . (h, v) is the flank again, to the last bit of its uncertainty
    back = np.cos(np.deg2rad(50)) * found.lift + np.sin(np.deg2rad(50)) * found.shift - z[5:]
    assert max(abs(one.n) + one.s for one in back) < 1e-12


def test_an_uncertainty_that_both_flanks_share_lifts_the_whole_path():
    # both flanks of a 90 deg ridge up together by 1 mm: the lift is unsure, the shift is not
    found = vee(X, A, B, (-45, 45), np.ones((10, 10)))
    np.testing.assert_allclose([one.s for one in found.lift], np.sqrt(2))
    np.testing.assert_allclose([one.s for one in found.shift], 0, atol=1e-7)
    assert found.vertical.value.s == pytest.approx(0, abs=1e-7)


def test_the_path_can_be_compared_with_a_datum():
    found = vee(X, A + X / 1e5, B + X / 1e5, (-45, 45), 0.001)
    rising = parallelism(X, found.lift, X, 0 * X)
    assert rising.tilt.n == pytest.approx(found.vertical.line.slope.n)
    assert found.horizontal.reference == "minimum zone"
    assert vee(X, A, B, (-45, 45), reference="end points").vertical.reference == "end points"


def test_the_linear_law_by_draws():
    # wear far above the noise: contacts hold, so draws and law agree (JCGM 101)
    found = vee(X, 10 * A, 3 * B, (-45, 45), 0.001)
    for plane in (found.vertical, found.horizontal):
        drawn = monte_carlo(plane, draws=20_000, progress=False)
        assert drawn.agrees
        assert drawn.u == pytest.approx(plane.value.s, rel=4 / np.sqrt(2 * 20_000))


def test_drawing_the_flanks_gives_the_covariance_of_the_path():
    random = np.random.default_rng(3)
    draws = 4000
    noise = random.normal(0, 0.001, (draws, 10))
    shifts = [vee(X, A + one[:5], B + one[5:], (-25, 60)).shift[2] for one in noise]
    u = np.sqrt(vee(X, A, B, (-25, 60), 0.001).cov[7, 7])
    assert np.std(shifts, ddof=1) == pytest.approx(u, rel=4 / np.sqrt(2 * (draws - 1)))


def test_words():
    found = vee(X, A, B, (-45, 45), 0.001)
    assert str(found).startswith("on the vee (normals at -45 and 45 deg) the saddle runs, in the")
    assert str(found.vertical) in str(found) and str(found.horizontal) in str(found)
    assert "lowest at 400 mm" in str(found)
    assert "thou" in found.in_words("thou") and "µm" not in found.in_words("thou")
    assert "<th>half angle</th><td>45 deg</td>" in found._repr_html_()
    assert isinstance(vee(X, A, B, (-45, 45)).lift[0], float)
    assert found.vertical.value.n == straightness(X, (A + B) / np.sqrt(2)).value


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((X, A, B[:3], (-45, 45)), "x and z_a and z_b: lengths differ"),
        ((X, A, B, (45, 45)), "flanks at 45 and 45 deg make no vee.* between 5 and 85 deg, got 90"),
        ((X, A, B, (0, 180)), "flanks at 0 and 180 deg make no vee.*got 0"),
        ((X, A, B, (-45, 135)), "make no vee; its half angle"),
        ((X, A, B, (0, 9)), "make no vee.*got 85.5; name the two flanks"),
        ((X, A, B, (355, 1)), "make no vee.*got 87"),
        ((X, A, B, (-45,)), "normals: two angles are needed, got 1"),
        ((X, A, [0, np.nan, 0, 0, 0], (-45, 45)), "z_b: item 1 is not a finite number"),
        (([1] * 5, A, B, (-45, 45)), "one place"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(InputError, match=words):
        vee(*arguments)


def test_the_limit_itself_is_a_vee():
    assert vee(X, A, B, (0, 10)).half_angle == 85
    assert vee(X, A, B, (-85, 85)).half_angle == 5

"""True faces that heights leave possible: against formulas written out for few stations."""

import numpy as np
import pytest

from metrolib.uncertain.smooth import true_faces

LINE = np.linspace(0, 900, 10)[:, None]
GRID = np.array([[x, y] for x in (0.0, 300, 600) for y in (0.0, 50, 100)])


def noisy(n, seed=1):
    return np.random.default_rng(seed).normal(0, 0.002, n)


@pytest.mark.parametrize("places", [LINE, GRID])
def test_the_form_holds_no_line_or_plane_and_all_else(places):
    form = true_faces(places, noisy(len(places)), np.full(len(places), 4e-6)).form
    flat = np.column_stack([np.ones(len(places)), places])
    np.testing.assert_allclose(form @ flat, 0.0, atol=1e-10)
    np.testing.assert_allclose(form @ form, form, atol=1e-12)
    assert np.trace(form) == pytest.approx(len(places) - flat.shape[1])


def test_places_on_a_line_leave_one_direction_more():
    on_a_line = np.column_stack([LINE, 2 * LINE])
    found = true_faces(on_a_line, noisy(10), np.ones(10))
    assert np.trace(found.form) == pytest.approx(8)


@pytest.mark.parametrize("places", [LINE, GRID])
def test_roots_are_the_one_that_every_machine_finds(places):
    found = true_faces(places, noisy(len(places)), np.full(len(places), 4e-6))
    for root in (found.noise, *found.classes[0].factor, *found.classes[1].factor):
        tall = np.abs(root).max()
        # of independent heights with equal uncertainty the symmetric root is nearly its own mirror
        assert np.linalg.eigvals(root).real.min() > -1e-6 * tall
        assert np.abs(np.linalg.eigvals(root).imag).max() < 1e-6 * tall


@pytest.mark.parametrize("count", [1, 2])
def test_so_few_heights_have_no_deviation(count):
    assert true_faces(LINE[:count], np.zeros(count), np.ones(count)) is None


def test_one_contrast_by_hand():
    # three stations, z1 - (z0 + z2) / 2 = 0.030, one contrast c = 0.030 / sqrt(1.5), u = 0.01: with
    # a form of size s the true contrast is c s² / (s² + u²), its variance s² u² / (s² + u²)
    found = true_faces(np.array([[0.0], [1], [2]]), np.array([0.0, 0.03, 0.0]), np.full(3, 1e-4))
    contrast, size = 0.03 * np.sqrt(2 / 3), 0.01 * 0.02 * 1.7 ** np.arange(16)
    share = size**2 / (size**2 + 1e-4)
    weight = np.exp(-(contrast**2) / (size**2 + 1e-4) / 2) / np.sqrt(size**2 + 1e-4)
    for each in found.classes:  # both laws are one number here, scaled to the same
        assert each.share == pytest.approx(0.5)
        kept = weight > 1e-3 * weight.max()
        np.testing.assert_allclose(each.weight, weight[kept] / weight[kept].sum(), rtol=1e-6)
        hollow = each.mean @ np.array([-1, 2, -1]) / np.sqrt(6)
        np.testing.assert_allclose(hollow, (contrast * share)[kept], rtol=1e-6)
        variance = (each.factor**2).sum(axis=(1, 2))
        np.testing.assert_allclose(variance, (1e-4 * share)[kept], rtol=1e-6)


def test_the_class_is_told_from_the_heights():
    x = np.linspace(0, 1, 30)[:, None]
    walk = np.cumsum(np.random.default_rng(2).normal(0, 0.02, 30))
    bow = 0.1 * np.sin(np.pi * x[:, 0]) + noisy(30)
    u2 = np.full(30, 4e-6)
    rough, smooth = (true_faces(x, z, u2).classes for z in (walk, bow))
    assert [each.name for each in rough] == ["rough", "smooth"]
    assert rough[0].share > 0.99
    assert smooth[1].share > 0.99


def test_draws_scatter_about_what_is_known():
    found = true_faces(LINE, 0.05 * np.sin(LINE[:, 0] / 200), np.full(10, 4e-6))
    for each in found.classes:
        drawn = each.draw(np.random.default_rng(3), 20_000)
        mean = each.weight @ each.mean
        spread = each.weight @ ((each.factor**2).sum(axis=2) + (each.mean - mean) ** 2)
        # 4 standard deviations of a mean and of a variance of 20 000 normal numbers, and a little
        # for the mixture's longer tails
        assert (np.abs(drawn.mean(axis=0) - mean) < 4 * np.sqrt(spread / 20_000)).all()
        np.testing.assert_allclose(drawn.var(axis=0), spread, rtol=6 * np.sqrt(2 / 20_000))


def test_units_of_the_places_do_not_matter_and_heights_scale():
    z, u2 = noisy(9, seed=4), np.linspace(1e-6, 9e-6, 9)
    one, other = true_faces(GRID, z, u2), true_faces(GRID * [0.1, 7], 3 * z, 9 * u2)
    for a, b in zip(one.classes, other.classes, strict=True):
        assert b.share == pytest.approx(a.share)
        np.testing.assert_allclose(b.weight, a.weight, rtol=1e-6)
        np.testing.assert_allclose(b.mean, 3 * a.mean, atol=1e-9)


def test_unknown_lift_and_tilt_do_not_matter():
    z, own = noisy(10), np.diag(np.full(10, 4e-6))
    flat = np.column_stack([np.ones(10), LINE / 900])
    one, loose = true_faces(LINE, z, own), true_faces(LINE, z + 5, own + 100 * flat @ flat.T)
    for a, b in zip(one.classes, loose.classes, strict=True):
        np.testing.assert_allclose(b.weight, a.weight, rtol=1e-3)


def test_heights_that_err_together_or_stand_at_one_place():
    together = np.full((10, 10), 1e-6) + np.outer(np.arange(10.0), np.arange(10.0)) ** 2 * 1e-9
    assert np.isfinite(true_faces(LINE, noisy(10), together).classes[0].mean).all()
    twice = np.repeat(LINE[:5], 2, axis=0)
    assert np.isfinite(true_faces(twice, noisy(10), np.full(10, 4e-6)).classes[1].mean).all()

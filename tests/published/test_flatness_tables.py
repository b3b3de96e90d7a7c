"""Flatness: published tables of heights, and exact constructed ones."""

import numpy as np
import pytest

from metrolib.form.flatness import flatness

GRID_X, GRID_Y = [0, 1, 2] * 3, [0, 0, 0, 1, 1, 1, 2, 2, 2]


def test_laboratory_sheet_four_by_four():
    # Student laboratory sheet "Flatness using dial indicator", grid of 4 x 4 at 30 mm, in mm
    # (Scribd 345308318). Its least-squares residuals are printed for 14 points. Point g stands
    # as 8.52 in its raw list and 8.51 in its table; its own mean 8.528125 uses 8.51.
    x, y = (side.ravel() for side in np.mgrid[0:91:30, 0:91:30])
    z = [8.54, 8.51, 8.54, 8.5, 8.53, 8.52, 8.5, 8.48, 8.52, 8.51, 8.55, 8.45, 8.61, 8.58, 8.57]
    z = np.array([*z, 8.54])
    printed = [0.0112, -0.0026, 0.0436, 0.0198, -0.01455, -0.00835, -0.01215, -0.01595, -0.0403]
    printed += [-0.0341, 0.0221, -0.0617, 0.03395, 0.02015]
    assert z.mean() == pytest.approx(8.528125, abs=5e-7)
    fitted = flatness(x, y, z, reference="least squares")
    # the sheet rounded its slopes to 0.00054 and 0.000525; that moves a corner by up to 8e-5
    np.testing.assert_allclose(fitted.deviation[:14], printed, atol=8e-5)
    assert fitted.value == pytest.approx(0.1053, abs=8e-5)
    # the minimum zone is not in the source: 26/300, recomputed by enumerating all supports
    assert flatness(x, y, z).value == pytest.approx(26 / 300, abs=1e-14)


def test_point_g_as_in_the_raw_list_does_not_give_the_printed_mean():
    x, y = (side.ravel() for side in np.mgrid[0:91:30, 0:91:30])
    z = [8.54, 8.51, 8.54, 8.5, 8.53, 8.52, 8.5, 8.48, 8.52, 8.52, 8.55, 8.45, 8.61, 8.58, 8.57]
    fitted = flatness(x, y, [*z, 8.54], reference="least squares")
    assert fitted.plane.at(45, 45) != pytest.approx(8.528125, abs=5e-5)


def test_five_points_of_a_forum_thread():
    # Eng-Tips thread 393584, five points; no answer was seen there. Regression values, recomputed
    # by enumerating all supporting planes: 4103/61000 along z.
    x, y = [11.5, 18.5, 4.5, 25.5, 11.5], [7, 6.9, 13, 30, 37.5]
    z = [1.1, 1.03, 1.02, 1.03, 1.02]
    found = flatness(x, y, z)
    assert found.value == pytest.approx(4103 / 61000, abs=1e-14)
    assert found.width == pytest.approx(0.06726206, abs=5e-9)
    assert flatness(x, y, z, reference="least squares").value == pytest.approx(0.072097313)


@pytest.mark.parametrize(
    ("z", "width", "fitted"),
    [
        ([0, 0, 0, 0, 0, 0, 0, 0, 8], 6, 20 / 3),
        ([1, 0, -1, 0, 0, 0, -1, 0, 1], 2, 2),
        ([2, 1, 2, 1, 0, 1, 2, 1, 2], 2, 2),
        ([0, 4, 6, -5, 20, -9, -10, -3, 8], 27, 97 / 3),
    ],
    ids=["corner", "saddle", "bowl", "mixed"],
)
def test_constructed_grids_with_exact_answers(z, width, fitted):
    # constructed; widths by exact enumeration of all supporting planes
    assert flatness(GRID_X, GRID_Y, z).value == pytest.approx(width, abs=1e-13)
    least = flatness(GRID_X, GRID_Y, z, reference="least squares")
    assert least.value == pytest.approx(fitted, abs=1e-13)


@pytest.mark.parametrize("reference", ["minimum zone", "least squares"])
def test_pure_twist_of_four_corners_is_half_the_lift(reference):
    # constructed: one corner lifted by 1
    found = flatness([0, 1, 0, 1], [0, 0, 1, 1], [0, 0, 0, 1], reference=reference)
    assert found.value == pytest.approx(0.5, abs=1e-15)
    assert (found.plane.along, found.plane.across) == pytest.approx((500, 500))

import numpy as np
import pytest

from metrolib.errors import InputError, NotDeterminedError
from metrolib.heights.result import PRIOR_U, NotDetermined
from metrolib.rebuild.removal.removal import plan_removal
from tests.rebuild.beds import HELD, lathe_bed

FACES = ["front", "rear"]


def _unknown(heights, *columns, **more):
    """Add to the covariance that these motions of some heights are not tied down."""
    cov = heights.cov + sum(PRIOR_U**2 * np.outer(column, column) for column in columns)
    return type(heights)(**{**vars(heights), "cov": cov, **more})


@pytest.fixture
def heights():
    return lathe_bed([0, 0.02, 0.01, 0], [0.01, 0, 0, 0.02], u=0.002, ledge_u=0.001)


@pytest.mark.parametrize("held", [{}, HELD])
def test_what_moves_the_whole_machine_is_no_uncertainty_of_a_depth(heights, held):
    up = np.where(np.isin(heights.face, FACES), 1.0, -1.0)
    floating = _unknown(heights, up, up * heights.x / 1e3, up * heights.y / 1e3)
    for conditions in ({}, {"together": "parallel"}):
        expected = plan_removal(heights, faces=FACES, **conditions, **held)
        plan = plan_removal(floating, faces=FACES, **conditions, **held)
        np.testing.assert_allclose(plan.depth_u, expected.depth_u, rtol=1e-6)
        np.testing.assert_allclose(plan.depth, expected.depth, rtol=0, atol=1e-7)


def test_own_height_of_each_face_drops_out_where_faces_are_only_parallel(heights):
    loose = _unknown(heights, *[(heights.face == name) * 1.0 for name in FACES])
    # without a datum, and with one whose height no reading ties to the faces
    for held in ({}, HELD):
        expected = plan_removal(heights, faces=FACES, together="parallel", **held)
        plan = plan_removal(loose, faces=FACES, together="parallel", **held)
        np.testing.assert_allclose(plan.depth, expected.depth, rtol=0, atol=1e-7)
        np.testing.assert_allclose(plan.depth_u, expected.depth_u, rtol=1e-6)


def test_faces_not_tied_to_each_other_cannot_be_planned_coplanar(heights):
    missing = NotDetermined(
        "twist between 'front' and 'rear'", ("front", "rear"), "take a cross-level reading"
    )
    other = NotDetermined("height of 'apron'", ("apron",), "measure it")
    columns = [(heights.face == "front") * 1.0, (heights.face == "front") * heights.x / 1e3]
    loose = _unknown(heights, *columns, not_determined=(missing, other))
    with pytest.raises(NotDeterminedError, match="'front' and 'rear' against each other") as error:
        plan_removal(loose, faces=FACES)
    assert "take a cross-level reading" in str(error.value)
    assert "apron" not in str(error.value)


def test_an_untied_face_is_refused_even_without_a_list_of_what_is_missing(heights):
    loose = _unknown(heights, (heights.face == "front") * heights.x / 1e3)
    with pytest.raises(NotDeterminedError, match="no reading connects them"):
        plan_removal(loose, faces=FACES, together="parallel")


def test_a_group_whose_height_over_the_datum_is_unknown_is_still_held_to_its_tilt(heights):
    # the tops are tied to each other, and their tilt to the ledges, but not their height
    floating = _unknown(heights, np.isin(heights.face, FACES) * 1.0)
    plan = plan_removal(floating, faces=FACES, **HELD)
    expected = plan_removal(heights, faces=FACES, confidence=None, **HELD)
    bare = plan_removal(floating, faces=FACES, confidence=None, **HELD)
    np.testing.assert_allclose(bare.depth, expected.depth, rtol=0, atol=1e-7)
    # never a number for what is not known: heights are then over the group's own mean
    assert plan.relative_height.mean() == pytest.approx(0, abs=1e-7)
    assert plan.depth_u.max() < 0.003


def test_a_tilt_to_the_datum_that_no_reading_ties_is_refused(heights):
    floating = _unknown(heights, np.isin(heights.face, FACES) * heights.x / 1e3)
    with pytest.raises(NotDeterminedError, match="against 'front ledge' and 'rear ledge'"):
        plan_removal(floating, faces=FACES, **HELD)
    # with the tilt free it does not matter
    free = plan_removal(floating, faces=FACES, datum=HELD["datum"], tilt_across=0)
    assert free.depth_u.max() < 0.003


def test_a_datum_must_show_the_tilt_it_holds(heights):
    with pytest.raises(InputError, match="tilt_across: the datum does not show the roll"):
        plan_removal(heights, faces=FACES, datum=["front ledge"], tilt_across=0)
    along = plan_removal(heights, faces=FACES, datum=["front ledge"], tilt_along=0)
    assert along.motion["pitch"].n == pytest.approx(0, abs=1e-12)
    assert abs(along.motion["roll"].n) > 1e-6


def test_damage_on_the_datum_does_not_tilt_the_frame():
    bed = lathe_bed([0, 0, 0], [0, 0, 0])
    values, left_out = bed.values.copy(), bed.left_out.copy()
    spoilt = np.flatnonzero(bed.face == "front ledge")[0]
    values[spoilt], left_out[spoilt] = -0.5, True
    dented = type(bed)(**{**vars(bed), "values": values, "left_out": left_out})
    plan = plan_removal(dented, faces=FACES, **HELD)
    assert plan.depth.max() == pytest.approx(0, abs=1e-12)

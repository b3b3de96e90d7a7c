"""Vees among the findings: which pairs of flanks are one, and what their own heights matter."""

import json
import warnings
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from metrolib.errors import DoubtfulReadingsWarning
from metrolib.form.vee import vee
from metrolib.heights.adjust import adjust
from metrolib.heights.result import given_heights
from metrolib.rebuild.findings import findings
from metrolib.show.tables import form_tables
from metrolib.survey.decision import Decision
from metrolib.survey.folder import read_survey
from tests.rebuild.beds import flat

ROOT = Path(__file__).resolve().parents[2]
X = np.array([0.0, 250.0, 500.0])
A, B = np.array([0.0, -0.03, 0.0]), np.array([0.0, -0.01, 0.002])


def found_vees(*faces, u=0.001, points=None):
    points = points or {face.name: (X, (A, B)[i % 2]) for i, face in enumerate(faces)}
    heights = given_heights(faces, points, u)
    return findings(heights, Decision(faces=tuple(face.name for face in faces))).vee


def test_flanks_side_by_side_are_one_vee():
    found = found_vees(flat("rear", 20, normal=40), flat("front", 0, normal=-45))
    assert list(found) == [("front", "rear")]
    own = vee(X, B, A, (-45, 40), 0.001)
    one = found["front", "rear"]
    assert one.normals == (-45, 40)
    for plane in ("vertical", "horizontal"):
        value, expected = getattr(one, plane).value, getattr(own, plane).value
        assert (value.n, value.s) == pytest.approx((expected.n, expected.s))


def test_nominal_heights_and_stations_of_one_flank_alone_do_not_count():
    faces = flat("a", 0, normal=-45, nominal_height=12.5), flat("b", 20, normal=45)
    more = np.array([0.0, 100.0, 250.0, 500.0])
    points = {"a": (X, A + 12.5), "b": (more, np.insert(B, 1, -0.5))}
    one = found_vees(*faces, points=points)["a", "b"]
    assert one.x.tolist() == X.tolist()
    assert one.lift[1].n == pytest.approx(-0.04 / np.sqrt(2))


@pytest.mark.parametrize(
    "faces",
    [
        (flat("a", 0, normal=-45), flat("b", 61, normal=45)),  # farther than both widths
        (flat("a", 0, normal=60), flat("b", 20, normal=20)),  # lean the same way
        (flat("a", 0, normal=-2), flat("b", 20, normal=3)),  # all but flat: no vee
        (flat("a", 0), flat("b", 20)),
        (flat("a", 0, normal=135), flat("b", 20, normal=-135)),  # look down
    ],
)
def test_other_pairs_are_none(faces):
    assert found_vees(*faces) == {}


def test_two_vees_of_a_bed():
    faces = [flat(n, y, normal=s) for n, y, s in (("a", 0, -45), ("b", 20, 45), ("c", 200, -45))]
    found = found_vees(*faces, flat("d", 220, normal=45))
    assert list(found) == [("a", "b"), ("c", "d")]


def test_heights_and_tilts_that_no_reading_ties_do_not_matter():
    # each flank known but for a height and a tilt of its own: 1 mm and 1 mm/m unsure
    free = np.column_stack([np.ones(3), X / 1e3])
    cov = np.kron(np.eye(2), free @ free.T) + 1e-6 * np.eye(6)
    faces = flat("a", 0, normal=-45), flat("b", 20, normal=45)
    one = found_vees(*faces, u=cov)["a", "b"]
    sure = vee(X, A, B, (-45, 45), 0.001)
    assert one.vertical.value.s == pytest.approx(sure.vertical.value.s, rel=1e-4)
    assert one.horizontal.value.s == pytest.approx(sure.horizontal.value.s, rel=1e-4)


def test_a_flank_whose_shape_is_unknown_makes_none():
    cov = np.diag([1e-6] * 3 + [1e-6, 1.0, 1e-6])
    assert found_vees(flat("a", 0, normal=-45), flat("b", 20, normal=45), u=cov) == {}


def test_the_vee_of_the_sample_is_as_it_was_made():
    """The truth that the sample lathe was made from, and what its readings say."""
    survey = read_survey(ROOT / "sample_surveys" / "toolroom_lathe")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # the sample holds a blunder
        heights = adjust(survey)
    truth = json.loads((ROOT / "tests/samples/truth/toolroom_lathe.json").read_text("utf-8"))
    flanks = [truth["faces"][name] for name in ("front flank", "rear flank")]
    made = vee(flanks[0]["x"], flanks[0]["height"], flanks[1]["height"], (-45, 45))
    [one] = findings(heights, survey.decision).vee.values()
    for plane in ("vertical", "horizontal"):
        found = getattr(one, plane).value
        assert found.n == pytest.approx(getattr(made, plane).value, abs=3 * found.s)
    assert one.x.tolist() == made.x.tolist()


NO_FORM = dict.fromkeys(("straightness", "flatness", "parallelism", "twist"), {})
NO_FORM["coplanarity"] = None


def test_the_table_of_the_report():
    one = found_vees(flat("a", 0, normal=-45), flat("b", 20, normal=45))["a", "b"]
    [table] = form_tables(SimpleNamespace(**NO_FORM | {"vee": {("a", "b"): one}}), "um")
    assert table.heads[0] == "flanks" and "the vee" in table.title
    [row] = table.rows
    assert row[0] == "a and b"
    assert row[1].startswith(f"{1000 * one.vertical.value.n:.1f} µm")
    assert row[2] == f"{2000 * one.vertical.value.s:.1f} µm"
    assert row[3].startswith(f"{1000 * one.horizontal.value.n:.1f} µm")
    assert len(row) == len(table.heads)

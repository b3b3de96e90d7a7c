import numpy as np
import pytest

from metrolib.errors import InputError
from metrolib.heights.result import given_heights
from metrolib.rebuild.findings import findings
from metrolib.survey.decision import Decision
from metrolib.survey.machine import LeftOut
from tests.rebuild.beds import flat

X = np.array([0.0, 250.0, 500.0])


def _found(points, u=0.001, datum=(), together="coplanar", **faces):
    """Findings of faces by name: `faces` gives the y of each, or a Face; `points` their heights."""
    made = [one if not isinstance(one, (int, float)) else flat(n, one) for n, one in faces.items()]
    heights = given_heights(made, {n: (X, z) for n, z in points.items()}, u)
    group = tuple(n for n in faces if n not in datum)
    return findings(heights, Decision(faces=group, datum=tuple(datum), together=together))


def test_straightness_of_each_face_without_its_nominal_height():
    heights = given_heights(
        [flat("a", nominal_height=26.15), flat("b", 100)],
        {"a": (X, [26.15, 26.12, 26.15]), "b": (X, [0.0, 0.01, 0.0])},
        0.001,
    )
    found = findings(heights, Decision(faces=("a", "b")))
    assert found.straightness["a"].value.nominal_value == pytest.approx(0.03)
    assert found.straightness["b"].value.nominal_value == pytest.approx(0.01)
    # the nominal step is no error of form: from 0.03 below to the ends, which the tilt brings level
    assert found.coplanarity.value.nominal_value == pytest.approx(0.03)


def test_left_out_stations_do_not_count():
    holed = flat("a", left_out=(LeftOut(240, 260, "oil hole"),), length=1000)
    x = [0.0, 250.0, 500.0, 1000.0]
    heights = given_heights([holed], {"a": (x, [0.0, -9.0, -0.02, 0.0])}, 0.001)
    found = findings(heights, Decision(faces=("a",)))
    assert found.straightness["a"].value.nominal_value == pytest.approx(0.02)
    assert found.straightness["a"].x.tolist() == [0, 500, 1000]


def test_a_face_wholly_left_out_is_missing():
    gone = flat("b", 100, left_out=(LeftOut(0, 500, "cracked"),))
    found = _found({"a": [0, 0.01, 0], "b": [0, 0.01, 0]}, a=0, b=gone)
    assert list(found.straightness) == ["a"]
    assert found.twist == {} and found.coplanarity is None


def test_a_face_that_nobody_measured_is_missing():
    heights = given_heights([flat("a"), flat("b", 100)], {"a": (X, [0, 0.01, 0])}, 0.001)
    found = findings(heights, Decision(faces=("a", "b"), datum=("b",)))
    assert list(found.straightness) == ["a"]
    assert found.parallelism == {} and found.twist == {}


def test_parallelism_against_an_underside_is_seen_from_above():
    # the top rises 10 um; the metal is as thick everywhere, so the underside's own normal height
    # falls by 10 um: as seen from above it rises as well
    under = flat("ledge", normal=180)
    found = _found(
        {"a": [0, 0.005, 0.01], "ledge": [0, -0.005, -0.01]}, datum=["ledge"], a=0, ledge=under
    )
    one = found.parallelism["a", "ledge"]
    assert one.value.nominal_value == pytest.approx(0.0, abs=1e-12)
    assert one.tilt.nominal_value == pytest.approx(0.0, abs=1e-12)


def test_parallelism_against_an_underside_that_tapers():
    under = flat("ledge", normal=180)
    found = _found(
        {"a": [0, 0.005, 0.01], "ledge": [0, 0.005, 0.01]}, datum=["ledge"], a=0, ledge=under
    )
    one = found.parallelism["a", "ledge"]
    # both normals climb: the bar gets 20 um thicker over 500 mm, 0.04 mm/m
    assert one.value.nominal_value == pytest.approx(0.02)
    assert one.tilt.nominal_value == pytest.approx(0.04)


def test_parallelism_of_an_underside_against_a_top():
    under = flat("ledge", normal=180)
    found = _found(
        {"ledge": [0, 0.005, 0.01], "a": [0, 0.005, 0.01]}, datum=["a"], ledge=under, a=0
    )
    assert found.parallelism["ledge", "a"].tilt.nominal_value == pytest.approx(0.04)


def test_a_face_that_looks_sideways_is_no_measure_of_rise():
    side = flat("guide", normal=90)
    found = _found({"a": [0, 0.005, 0.01], "guide": [0, 0.01, 0]}, datum=["guide"], a=0, guide=side)
    assert found.parallelism == {}
    assert found.straightness["guide"].value.nominal_value == pytest.approx(0.01)
    assert [one.face for one in found.datums.candidates] == ["a"]


def test_twist_pairs_go_from_front_to_back():
    z = {"rear": [0, 0, 0.02], "front": [0.0, 0, 0], "middle": [0, 0, 0.01]}
    found = _found(z, rear=200, front=0, middle=100)
    assert set(found.twist) == {("front", "middle"), ("front", "rear"), ("middle", "rear")}
    # the rear climbs: with x from 0 to 500 the fitted roll turns by 20 um / 200 mm = 0.1 mm/m
    assert found.twist["front", "rear"].value.nominal_value == pytest.approx(0.1)
    assert found.twist["middle", "rear"].value.nominal_value == pytest.approx(0.1)


def test_twist_needs_three_common_stations_and_a_distance():
    faces = [flat("a"), flat("b", 100), flat("c", 100)]
    points = {"a": (X, 0 * X), "b": ([0.0, 100.0, 500.0], 0 * X), "c": (X, 0 * X)}
    found = findings(given_heights(faces, points, 0.001), Decision(faces=("a", "b", "c")))
    assert set(found.twist) == {("a", "c")}


def test_twist_is_of_faces_that_are_decided_and_look_up():
    under = flat("ledge", 200, normal=180)
    found = _found({"a": [0, 0, 0], "ledge": [0, 0, 0]}, a=0, ledge=under)
    assert found.twist == {} and found.coplanarity is None


def test_coplanarity_only_where_it_is_asked_for():
    z = {"a": [0, 0.01, 0], "b": [0, 0, 0]}
    assert _found(z, a=0, b=100).coplanarity is not None
    assert _found(z, together="parallel", a=0, b=100).coplanarity is None
    assert _found({"a": [0, 0.01, 0]}, a=0).coplanarity is None


def test_a_wide_face_has_flatness_and_no_straightness():
    x, y = (one.ravel() for one in np.meshgrid(X, [0.0, 100.0, 200.0]))
    heights = given_heights([flat("top", 100)], {"top": (x, y, 0.01 * (x == 250))}, 0.001)
    found = findings(heights, Decision(faces=("top",)))
    assert found.straightness == {} and found.datums is None
    assert found.flatness["top"].value.nominal_value == pytest.approx(0.01)


def _three(cov):
    faces = [flat("a"), flat("b", 100), flat("c", 200)]
    points = {name: (X, [0.0, -0.01, 0.0]) for name in "abc"}
    heights = given_heights(faces, points, cov)
    return findings(heights, Decision(faces=("a", "b", "c"), datum=("c",)))


def test_what_is_not_determined_is_missing():
    cov = 1e-6 * np.eye(9)
    cov[3:6, 3:6] += 100.0  # nothing ties the height of b
    found = _three(cov)
    assert set(found.straightness) == {"a", "b", "c"}
    # twist and direction need no height of a face against the other
    assert set(found.twist) == {("a", "b"), ("a", "c"), ("b", "c")}
    assert set(found.parallelism) == {("a", "c"), ("b", "c")}
    assert found.coplanarity is None


def test_an_unknown_direction_leaves_no_twist_no_parallelism_and_no_rank():
    tilt = X / 500
    cov = 1e-6 * np.eye(9)
    cov[3:6, 3:6] += np.outer(tilt, tilt)
    found = _three(cov)
    assert set(found.straightness) == {"a", "b", "c"}
    assert set(found.twist) == {("a", "c")}
    assert set(found.parallelism) == {("a", "c")}
    assert {one.face for one in found.datums.candidates} == {"a", "c"}


def test_an_unknown_shape_leaves_nothing_of_a_face():
    cov = 1e-6 * np.eye(9)
    cov[3:6, 3:6] += 25.0 * np.eye(3)
    found = _three(cov)
    assert set(found.straightness) == {"a", "c"}
    assert set(found.twist) == {("a", "c")}
    assert found.coplanarity is None


def test_a_form_is_missing_even_where_the_unknown_station_does_not_decide():
    # the zone of 0, -0.04, 0 is set by three known stations; the fourth may be anywhere
    x = [0.0, 200.0, 400.0, 500.0]
    u = [0.001, 0.001, 5.0, 0.001]
    heights = given_heights([flat("a")], {"a": (x, [0.0, -0.04, -0.01, 0.0])}, u)
    assert findings(heights, Decision(faces=("a",))).straightness == {}
    wide = given_heights(
        [flat("top")],
        {"top": ([0, 500, 0, 500, 250], [0, 0, 100, 100, 50], [0.0, 0.0, 0.0, 0.0, 0.001])},
        [0.001, 0.001, 0.001, 0.001, 5.0],
    )
    assert findings(wide, Decision(faces=("top",))).flatness == {}


def test_two_ways_without_a_common_height_are_coplanar_all_the_same():
    # the common plane may roll until it meets both
    cov = 1e-6 * np.eye(6)
    cov[3:, 3:] += 100.0
    points = {"a": (X, [0.0, -0.01, 0.0]), "b": (X, [0.0, 0.0, 0.0])}
    heights = given_heights([flat("a"), flat("b", 100)], points, cov)
    assert findings(heights, Decision(faces=("a", "b"))).coplanarity is not None


def test_exact_heights():
    found = _found({"a": [0, -0.02, 0], "ledge": [0, 0, 0]}, None, ["ledge"], a=0, ledge=100)
    assert found.straightness["a"].value.nominal_value == pytest.approx(0.02)
    assert found.straightness["a"].value.std_dev == 0
    assert found.parallelism["a", "ledge"].value.std_dev == 0
    # nothing tells how near to a line is near enough
    assert found.datums is None


def test_exact_and_uncertain_faces_together():
    found = _found({"a": [0, -0.02, 0], "b": [0, 0.001, 0]}, np.repeat([0.0, 0.001], 3), a=0, b=100)
    assert set(found.straightness) == {"a", "b"}
    assert [one.face for one in found.datums.candidates] == ["b"]


def test_scaling():
    z = {"a": np.array([0, -0.02, 0.01]), "b": np.array([0, 0.01, -0.01])}
    one = _found(z, 0.001, ["b"], a=0, b=100)
    two = _found({name: 2 * values for name, values in z.items()}, 0.002, ["b"], a=0, b=100)
    for results, doubled in (
        (one.straightness, two.straightness),
        (one.parallelism, two.parallelism),
    ):
        for key, result in results.items():
            assert doubled[key].value.nominal_value == pytest.approx(2 * result.value.nominal_value)
            assert doubled[key].value.std_dev == pytest.approx(2 * result.value.std_dev)


def test_order_of_faces_changes_nothing():
    z = {"a": [0, -0.02, 0.01], "b": [0, 0.01, -0.01]}
    one = _found(z, a=0, b=100)
    two = _found(dict(reversed(z.items())), b=100, a=0)
    assert set(one.twist) == set(two.twist)
    assert one.twist["a", "b"].value.nominal_value == pytest.approx(
        two.twist["a", "b"].value.nominal_value
    )


def test_wear_of_an_underside_is_told_along_its_own_normal():
    x = np.linspace(0, 800, 9)
    dip = np.where((x > 250) & (x < 550), -0.03, 0.0)  # metal lost, on whichever side it looks to
    faces = [flat("top", length=800), flat("ledge", 10, length=800, normal=180)]
    points = {"top": (x, dip + 0.0001 * x), "ledge": (x, dip - 0.0001 * x)}
    found = findings(given_heights(faces, points, 0.001), Decision(faces=("top",)))
    for one in found.datums.candidates:
        assert one.unworn.stretches == ((0, 200), (600, 800))
        assert one.unworn.value.nominal_value == pytest.approx(0.03)
        # seen from above both climb 0.1 mm/m
        (slope,) = one.against.values()
        assert slope.nominal_value == pytest.approx(0, abs=1e-9)
        assert not one.disagrees_with


def test_directions_of_top_and_underside_are_compared_as_seen_from_above():
    x = np.linspace(0, 800, 9)
    faces = [flat("top", length=800), flat("ledge", 10, length=800, normal=180)]
    points = {"top": (x, 0.0001 * x), "ledge": (x, 0.0001 * x)}
    found = findings(given_heights(faces, points, 0.001), Decision(faces=("top",)))
    slopes = {one.face: one.against for one in found.datums.candidates}
    # both climb along their own normals: the bar gets thicker by 0.2 mm/m
    assert slopes["top"]["ledge"].nominal_value == pytest.approx(0.2)
    assert all(one.disagrees_with for one in found.datums.candidates)


def test_what_the_last_scraping_left_counts_as_unworn():
    x = np.arange(0, 1000, 100.0)
    scraped = np.array([0, -2, -1, -2, 0, -1, -2, -1, -2, 0]) / 1000
    faces = [flat("a", length=900), flat("b", 200, length=900)]
    heights = given_heights(faces, {"a": (x, scraped), "b": (x, 0 * x)}, u=0.0002)
    decision = Decision(faces=("a", "b"))
    share = [
        {one.face: one.share for one in findings(heights, decision, form=form).datums.candidates}
        for form in (0.0, 0.003)
    ]
    assert share[0]["a"] < 0.5 and share[1]["a"] == share[1]["b"] == 1.0


def test_form_below_zero_is_refused():
    with pytest.raises(InputError, match="form: it must be at least 0"):
        findings(None, Decision(), form=-0.001)

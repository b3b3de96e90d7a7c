"""plan_survey: what a survey will tell before it is taken, and how that is told."""

import warnings
from dataclasses import replace

import numpy as np
import pytest

from metrolib.errors import DoubtfulReadingsWarning, InputError
from metrolib.heights.adjust import adjust
from metrolib.heights.plan import left_open, plan_survey
from metrolib.survey.folder import read_survey
from tests.heights.build import LEVEL, flat
from tests.heights.plans import EXACT, MICROMETER, SURVEYS, leg, planned, stepped


def test_by_hand_bow_of_a_stepped_level():
    # The middle of six steps above the ends: half of three steps less half of the other three. The
    # zero drops out. u of a step is 0.004 mm/m * 0.2 m = 0.0008 mm; sqrt(6) / 2 of it.
    plan = plan_survey(planned([flat()], [stepped()]))
    bow = plan["bow of 'flat'"]
    assert bow.worst == pytest.approx(0.0008 * np.sqrt(6) / 2, rel=EXACT)
    assert bow.x.tolist() == [600.0]
    assert bow.u_after.tolist() == bow.u.tolist() and bow.wanted is None
    assert plan.additions == () and plan.rows == [] and plan.reached and plan.floor is None


def test_by_hand_two_faces_under_a_micrometer():
    # distance of two faces at 0, 500, 1000 mm, each reading 0.003 mm: middle of the line of best
    # fit 0.003 / sqrt(3), change over the length 0.003 sqrt(2); each face's own share is not known
    faces = [flat("top", nominal=20.0), flat("under", normal=180.0)]
    over = leg("over", "micrometer", MICROMETER, [0, 500, 1000], "top", opposite_face="under")
    plan = plan_survey(planned(faces, [over]))
    assert [each.name for each in plan.results] == [
        "height of 'top' against 'under'",
        "slope of 'top' against 'under'",
    ]
    assert plan.results[0].worst == pytest.approx(0.003 / np.sqrt(3), rel=EXACT)
    assert plan.results[1].worst == pytest.approx(0.003 * np.sqrt(2), rel=EXACT)
    assert plan.unchecked.tolist() == [0, 1, 2] and np.isinf(plan.findable).all()


def test_by_hand_twist_from_two_cross_readings():
    # 0.004 mm/m at either end, the bridge's zero drops out: sqrt(2) of it; both ways known to each
    # other's slope from this alone
    faces = [flat("near", y=0.0), flat("far", y=300.0)]
    across = leg("across", "level across", LEVEL, [0, 1200], "", face="near", other_face="far")
    plan = plan_survey(planned(faces, [across]))
    assert plan["twist between 'near' and 'far'"].worst == pytest.approx(
        0.004 * np.sqrt(2), rel=EXACT
    )
    assert plan["twist between 'near' and 'far'"].x.tolist() == [0.0, 1200.0]
    assert [item.what for item in plan.not_determined] == ["height of 'far' against 'near'"]


@pytest.mark.parametrize(
    ("name", "close", "checked"),
    [
        # u comes out of a covariance whose common part is 10 mm: digits of 1e-16 (10 / 0.0004)²
        ("published_autocollimator", 1e-6, 1e-12),
        ("published_forward_backward", 1e-6, 1e-12),
        # Scale errors: adjust lets them act on fitted readings, a plan on the readings as they
        # are. Of most they differ by a residual, of the planted blunder by all of it.
        ("toolroom_lathe", 0.01, 0.03),
        ("milling_table", 0.01, 0.03),
        ("long_rails", 0.01, 0.03),
        ("rectangular_face", 0.01, 0.03),
    ],
)
def test_readings_taken_give_what_the_adjustment_gives(name, close, checked):
    taken = read_survey(SURVEYS / name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # a blunder is planted
        heights = adjust(taken)
    plan = plan_survey(taken)
    np.testing.assert_array_equal(plan.face, heights.face)
    for each in plan.results:
        laws = each.question.laws
        u = np.sqrt(np.einsum("ij,jk,ik->i", laws, heights.cov, laws))
        np.testing.assert_allclose(each.u, u, rtol=close)
    assert [str(item) for item in plan.not_determined] == list(map(str, heights.not_determined))
    np.testing.assert_allclose(plan.redundancy, heights.checks.redundancy, rtol=0, atol=checked)
    np.testing.assert_array_equal(plan.unchecked, heights.checks.unchecked)


def still_open(taken):
    """Return a survey as it was before any reading was taken."""
    return replace(
        taken,
        readings=taken.readings.select(np.zeros(len(taken.readings), dtype=bool)),
        planned=replace(taken.readings, value=np.full(len(taken.readings), np.nan)),
    )


def ratios(one, other):
    assert [each.name for each in one.results] == [each.name for each in other.results]
    return [a.worst / b.worst for a, b in zip(one.results, other.results, strict=True)]


@pytest.mark.parametrize(
    ("name", "least"),
    [("toolroom_lathe", 0.66), ("milling_table", 0.85), ("long_rails", 0.85)],
)
def test_without_a_shape_a_plan_is_too_hopeful_and_with_one_it_is_right(name, least):
    """Only what a scale error adds depends on the readings."""
    taken = read_survey(SURVEYS / name)
    after = plan_survey(taken)
    hopeful = ratios(plan_survey(still_open(taken)), after)
    assert least < min(hopeful) < 0.9 and max(hopeful) < 1.001
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        heights = adjust(taken)
    shape = {}
    for face in dict.fromkeys(heights.face):
        mine, nominal = heights.face == face, heights.faces[face].nominal_height
        shape[face] = (heights.x[mine], heights.values[mine] - nominal)
    right = ratios(plan_survey(still_open(taken), shape=shape), after)
    assert 0.98 < min(right) <= max(right) < 1.02


def test_where_no_scale_is_in_doubt_no_shape_is_needed():
    taken = read_survey(SURVEYS / "rectangular_face")
    assert ratios(plan_survey(still_open(taken)), plan_survey(taken)) == pytest.approx(
        [1], rel=1e-3
    )


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ({"side": ([0], [0])}, "shape: this is not one of the choices, got 'side'"),
        ({"flat": -0.1}, r"shape\['flat'\]: a pair is needed, got -0.1"),
        ({"flat": ([0, 500], [0, -0.1, 0])}, "x and z: lengths differ"),
        ({"flat": ([500, 0], [0, 0])}, r"shape\['flat'\]: x must rise"),
        ({"flat": ([0, np.nan], [0, 0])}, r"shape\['flat'\]: item 1 is not a finite number"),
    ],
)
def test_refuses_a_shape_that_is_none(shape, words):
    with pytest.raises(InputError, match=words):
        plan_survey(planned([flat()], [stepped()]), shape=shape)


def test_a_scale_error_counts_with_the_size_that_a_micrometer_will_read():
    scaled = replace(MICROMETER, sensitivity_uncertainty=1e-3)
    faces = [flat("top", nominal=20.0), flat("under", normal=180.0)]
    over = leg("over", "micrometer", scaled, [0, 1000], "top", opposite_face="under")
    plan = plan_survey(planned(faces, [over]))
    # 20 mm * 0.001 = 0.02 mm common to both readings
    assert plan.results[0].worst == pytest.approx(np.hypot(0.02, 0.003 / np.sqrt(2)), rel=EXACT)


def test_a_survey_filled_in_part_keeps_what_is_read():
    made = planned([flat()], [stepped()])
    half = planned([flat()], [stepped()])
    read = np.arange(6) < 3
    half.readings = replace(made.planned.select(read), value=np.array([0.1, -0.2, 0.3]))
    half.planned = made.planned.select(~read)
    np.testing.assert_allclose(plan_survey(half).cov, plan_survey(made).cov, rtol=1e-9)


def test_noise_twice_as_large_makes_all_twice_as_unsure():
    one = plan_survey(planned([flat()], [stepped()]))
    rough = replace(LEVEL, repeatability=2 * LEVEL.repeatability)
    two = plan_survey(
        planned(
            [flat()],
            [leg("along", "level along", rough, np.arange(0, 1200, 200), foot_spacing=200)],
        )
    )
    for small, large in zip(one.results, two.results, strict=True):
        np.testing.assert_allclose(large.u, 2 * small.u, rtol=EXACT)


def test_stations_left_out_do_not_count():
    from metrolib.survey.machine import LeftOut

    holed = flat(left_out=(LeftOut(390, 410, "oil hole"),))
    plan = plan_survey(planned([holed], [stepped()]))
    assert plan["straightness of 'flat'"].x.tolist() == [0.0, 200.0, 600.0, 800.0, 1000.0, 1200.0]


def test_the_sample_to_be_planned():
    plan = plan_survey(read_survey(SURVEYS / "planer_to_measure"))
    assert [item.faces for item in plan.not_determined] == [("front way", "rear way")]
    assert "across" in plan.not_determined[0].remedy
    assert set(plan.traverse[plan.unchecked]) == {"rear way out", "micrometer over the ledge"}
    words = plan.in_words()
    assert words.startswith("30 readings are intended. Of all figures of straightness the least")
    assert "Nothing checks 12 of the readings" in words
    assert "is not determined: take a level reading across" in words


def test_readings_to_add_go_into_the_folder_and_out_again(tmp_path):
    before = read_survey(SURVEYS / "planer_to_measure")
    plan = plan_survey(
        before, {"straightness": 0.0018, "slope of 'front way' against 'rear way'": 0.0075}
    )
    assert plan.reached
    before.with_readings(plan.rows).write(tmp_path)
    after = read_survey(tmp_path)
    assert len(after.planned) == 30 + len(plan.additions)
    kept = plan_survey(after)
    for each in plan.results:
        np.testing.assert_allclose(kept[each.name].u, each.u_after, rtol=EXACT)


def test_adjust_sends_a_survey_without_readings_to_the_plan():
    with pytest.raises(
        InputError, match=r"none is taken yet, got 30 rows .* plan_survey\(survey\)"
    ):
        adjust(read_survey(SURVEYS / "planer_to_measure"))


def test_tables():
    survey_to_plan = read_survey(SURVEYS / "planer_to_measure")
    plan = plan_survey(survey_to_plan, {"straightness": 0.0018}, most=8)
    results = plan.to_dataframe("thou")
    assert len(results) == len(plan.results)
    row = results[results.result == "straightness"].iloc[0]
    assert row.u == pytest.approx(plan.results[0].worst / 0.0254) and row.unit == "thou"
    assert row.wanted == pytest.approx(0.0018 / 0.0254)
    assert set(results[results.result == "twist"].unit) == {"mm/m"}
    assert len(plan.to_dataframe(what="additions")) == len(plan.additions)
    readings = plan.to_dataframe(what="readings")
    assert len(readings) == 30 and set(readings.unit) == {"mm/m", "µm"}
    with pytest.raises(InputError, match="what: this is not one of the choices"):
        plan.to_dataframe(what="heights")
    with pytest.raises(InputError, match="unit: this is not one of the choices"):
        plan.in_words("mm")
    with pytest.raises(InputError, match="result: this is not one of the choices"):
        plan["straightness of 'side'"]


def test_names_are_escaped_in_the_table():
    made = planned([flat("<b>flat</b>")], [stepped(face="<b>flat</b>")])
    html = plan_survey(made, 0.0005)._repr_html_()
    assert "&lt;b&gt;flat&lt;/b&gt;" in html and "<b>" not in html


def test_what_is_left_open_is_what_the_plan_says():
    lathe = read_survey(SURVEYS / "toolroom_lathe")
    taken = np.arange(len(lathe.readings)) < 88
    rest = lathe.readings.select(~taken)
    part = replace(lathe, readings=lathe.readings.select(taken))
    for name in (None, "level on the vee", "sled to front flank", "measuring arm"):
        some = rest.select(rest.traverse == name)
        survey = replace(part, planned=replace(some, value=np.full(len(some), np.nan)))
        found = left_open(survey, states=["levelled"])
        assert [str(one) for one in found] == [
            str(one) for one in plan_survey(survey, states=["levelled"]).not_determined
        ]
        assert found
    with pytest.raises(InputError, match="states: no row belongs to them"):
        left_open(part, states=[])

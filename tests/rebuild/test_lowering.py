"""Lowering: vee arithmetic by hand, motions by hand, uncertainty, what is free, refusals."""

import json
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat

from metrolib import adjust, given_heights, plan_removal, read_survey
from metrolib.errors import DoubtfulReadingsWarning, InputError, NotDeterminedError
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.uncertain.linear import covariance_of
from tests.rebuild.carriers import FLATS, VEE, faces, saddle

ROOT = Path(__file__).resolve().parents[2]


def motion(found):
    return np.array([[getattr(v, "n", v) for v in row] for row in found.motion])


@pytest.mark.parametrize("half", [30, 45, 55])
def test_a_vee_that_loses_as_much_on_both_flanks(half):
    # common practice, no published source: t off both flanks lowers by t / sin(half angle)
    bed = faces(near=(40, half - 90), far=(40, 90 - half))
    found = lowering(saddle(bed), bed, {"near": 0.1, "far": 0.1}, at=500)
    assert found.drop == pytest.approx(0.1 / np.sin(np.deg2rad(half)))
    assert found.shift == pytest.approx(0, abs=1e-12)
    assert found.free == ("roll",)


@pytest.mark.parametrize("half", [30, 45, 55])
def test_a_vee_that_loses_on_one_flank(half):
    # common practice, no published source: half of the drop, and a sidestep of t / (2 cos half)
    bed = faces(near=(40, half - 90), far=(40, 90 - half))
    found = lowering(saddle(bed), bed, {"near": 0.1}, at=500)
    assert found.drop == pytest.approx(0.05 / np.sin(np.deg2rad(half)))
    assert found.shift == pytest.approx(0.05 / np.cos(np.deg2rad(half)))
    assert found.uncut == ("far",)


def test_no_roll_when_flanks_lose_the_flat_s_depth_times_the_sine():
    found = lowering(
        saddle(VEE), VEE, {"flat": 0.1, **dict.fromkeys(("near", "far"), 0.1 / 2**0.5)}
    )
    np.testing.assert_allclose(found.drop, 0.1, rtol=1e-12)
    np.testing.assert_allclose(motion(found)[:, 1:], 0, atol=1e-12)
    assert not found.hangs and found.free == ()
    assert str(found) == (
        "'saddle' along its travel drops 100.0 µm, does not shift; no roll, pitch or yaw "
        "(at y 106.667, the level of the flats)"
    )


def test_roll_pitch_and_yaw_by_hand():
    # rear flat 0.02 lower 200 mm behind: roll -0.1 mm/m; its middle 0.01 lower
    found = lowering(saddle(FLATS), FLATS, {"rear": 0.02}, at=500)
    assert found.roll == pytest.approx(-0.1)
    assert found.y == pytest.approx(190 / 3)  # the mean of 0, 200 and the guide at -10
    side, up = found.at(100, 150)
    assert up == pytest.approx(-0.01)
    assert side == pytest.approx(0.1 / 1000 * 150)  # the top leans towards the lower side, +y
    # both flats lose 0.02 under the far feet only, 200 mm apart: the far end sinks
    ramp = ([400, 600], [0.0, 0.02])
    found = lowering(saddle(FLATS), FLATS, {"front": ramp, "rear": ramp}, at=500)
    assert found.pitch == pytest.approx(-0.1)
    assert found.at(0, 0, x=100)[1] == pytest.approx(-0.02)
    # the guide looks towards -y; what it loses lets the body follow towards +y
    found = lowering(saddle(FLATS), FLATS, {"guide": ramp}, at=500)
    assert found.shift == pytest.approx(0.01)
    assert found.yaw == pytest.approx(0.1)


def test_what_came_off_the_body_counts_like_what_came_off_the_face():
    a = lowering(saddle(VEE), VEE, {"near": 0.03, "flat": 0.01}, at=500)
    b = lowering(saddle(VEE), VEE, {}, at=500, own={"near": (0.03, 0.03), "flat": 0.01})
    np.testing.assert_allclose(motion(a), motion(b), atol=1e-15)
    c = lowering(saddle(VEE), VEE, {"near": 0.03}, at=500, own={"near": -0.03})  # a shim
    np.testing.assert_allclose(motion(c), 0, atol=1e-15)


def test_between_stations_and_beyond_them():
    # feet at 150 and 350: halfway between 0.0 and 0.02, and beyond the last station
    given = {
        "front": ([100, 200, 300], [0.0, 0.02, 0.04]),
        "rear": ([300, 100, 200], [4e-2, 0, 2e-2]),
    }
    found = lowering(saddle(FLATS), FLATS, given, at=250)
    np.testing.assert_allclose(found.taken["front"], [[0.01, 0.04]])
    np.testing.assert_allclose(found.taken["rear"], [[0.01, 0.04]])


def test_undersides_open_the_keep_plate_and_carry_nothing():
    bed = {**FLATS, **faces(ledge=(0, 180))}
    found = lowering(saddle(bed), bed, {"front": 0.1, "rear": 0.1, "ledge": 0.02}, at=500)
    np.testing.assert_allclose(found.drop, 0.1)
    np.testing.assert_allclose(found.gap["ledge"], 0.12)
    assert not found.hangs


def test_a_dovetail_lets_the_body_aside_as_it_sinks():
    # guided by the flank of a 55 degree dovetail: the flank's normal is 125 degrees from upward.
    # 0.1 off the flats lets the body follow the flank down: aside by 0.1 / tan(55 deg)
    bed = faces(front=0, rear=100, flank=(110, 125))
    found = lowering(saddle(bed), bed, {"front": 0.1, "rear": 0.1}, at=500)
    assert found.drop == pytest.approx(0.1)
    assert found.shift == pytest.approx(-0.1 / np.tan(np.deg2rad(55)))
    assert not found.hangs and found.free == ()


def test_a_body_that_hangs_says_so():
    bed = faces(front=0, near=(40, -45), far=(40, 45), rear=240)
    found = lowering(saddle(bed), bed, {"front": 0.1, "rear": 0.1}, at=500)
    # it hangs on the vee and rocks: with roll r the room is 0.1 - 0.04 r in front and 0.1 + 0.2 r
    # behind; the sum of squares is least at r = -0.016 / 0.0416
    roll = -0.016 / 0.0416
    assert found.at(40, 0)[1] == pytest.approx(0, abs=1e-12)
    assert found.roll == pytest.approx(roll)
    assert found.hangs == pytest.approx({"front": 0.1 - 0.04 * roll, "rear": 0.1 + 0.2 * roll})
    words = "it rocks, and this is its middle: it stands up to 115.4 µm off 'front' and 23.1 µm off"
    assert words in str(found)


def test_what_rocks_less_than_is_known_is_not_said_to_rock():
    bed = faces(front=0, near=(40, -45), far=(40, 45), rear=240)
    depths = {"front": ufloat(0.101, 0.002), "rear": ufloat(0.1, 0.002)}
    depths |= dict.fromkeys(("near", "far"), ufloat(0.1, 0.002) / 2**0.5)
    found = lowering(saddle(bed), bed, depths, at=500)
    assert 0 < max(found.hangs.values()) < 0.004
    assert "it may rock by" in str(found) and "within the uncertainty of what came" in str(found)


def test_the_sentence_tells_the_range_once_and_the_factor_once():
    ramp = ([200, 800], [0.02, ufloat(0.05, 0.001)])
    found = lowering(saddle(FLATS), FLATS, {"front": ramp, "rear": ramp}, at=[300, 700])
    assert "drops 25.0 to 45.0 µm (most at 700 mm, U = 1.7 µm)" in str(found)
    assert str(found).count("k = 2") == 1 and str(found).endswith("; each U with k = 2")
    assert "<th>each U</th><td>with k = 2</td>" in found._repr_html_()
    # an uncertainty that thou would show as 0.00 is left out there
    small = lowering(saddle(FLATS), FLATS, {"front": 0.1, "rear": 0.1}, 0.00005, at=500)
    assert "(U = 0.1 µm)" in str(small) and "(U = 0.00 thou" not in small.in_words("thou")


def test_tilts_of_either_sign_are_told_with_both_places():
    bump = ([300, 500, 700], [0.02, 0.0, 0.02])
    found = lowering(saddle(FLATS), FLATS, {"front": bump, "rear": bump}, at=[350, 650])
    assert "pitch -0.0750 (at 650 mm) to +0.0750 mm/m (at 350 mm)" in str(found)
    fall = ([100, 500, 900], [0.0, 0.01, 0.06])
    found = lowering(saddle(FLATS), FLATS, {"front": fall, "rear": fall}, at=[300, 700])
    assert "pitch -0.0250 to -0.1250 mm/m (most at 700 mm)" in str(found)


def test_uncertainty_by_hand():
    # roll = -(rear - front) / 200: u = 2 sqrt(2) / 200 mm/m for 2 µm each foot, two feet meaned
    given = {"front": ([400, 600], [0, 0]), "rear": ([400, 600], [0, 0])}
    found = lowering(saddle(FLATS), FLATS, given, 0.002, at=500)
    assert found.roll[0].s == pytest.approx(1000 * 0.002 / 200)  # sqrt(2) / sqrt(2)
    shared = correlated_values([0, 0, 0, 0], np.full((4, 4), 0.002**2) + 1e-16 * np.eye(4))
    given = {"front": ([400, 600], shared[:2]), "rear": ([400, 600], shared[2:])}
    found = lowering(saddle(FLATS), FLATS, given, at=500)
    assert found.roll[0].s == pytest.approx(0, abs=1e-6)
    assert found.drop[0].s == pytest.approx(0.002, rel=1e-6)
    # still correlated with what it came from
    assert (found.drop[0] - shared[0]).s == pytest.approx(0, abs=1e-6)


def test_uncertainty_by_draws():
    random = np.random.default_rng(5)
    x = np.array([300.0, 500.0, 700.0])
    depth = {"near": [0.03, 0.05, 0.04], "far": [0.01, 0.02, 0.03], "flat": [0.06, 0.01, 0.09]}
    root = random.normal(0, 0.0005, (9, 9))
    cov = root @ root.T
    given = {name: (x, row) for name, row in depth.items()}
    found = lowering(saddle(VEE), VEE, given, cov, at=[450])
    drawn = []
    for z in random.multivariate_normal(np.concatenate(list(depth.values())), cov, 1500):
        given = {name: (x, row) for name, row in zip(depth, z.reshape(3, 3), strict=True)}
        drawn.append(lowering(saddle(VEE), VEE, given, at=[450]).motion[0])
    u = np.sqrt(np.diag(covariance_of(found.motion[0])))
    np.testing.assert_allclose(np.std(drawn, axis=0), u, rtol=4 / np.sqrt(2 * 1499))


def test_noise_lifts_a_body_with_more_feet_than_it_needs():
    # seven rows for five motions: on exact faces the law is that of the mean, but it stands on the
    # highest feet; on as many feet as motions nothing of the kind happens
    random, u = np.random.default_rng(6), 0.002
    bed = faces(near=(40, -45), far=(40, 45), middle=140, flat=240)
    lift = []
    for _ in range(400):
        given = {name: ([400, 600], random.normal(0, u, 2)) for name in bed}
        lift.append(-lowering(saddle(bed), bed, given, at=500).drop[0])
    law = lowering(saddle(bed), bed, {name: ([400, 600], [0, 0]) for name in bed}, u, at=500)
    assert law.drop[0].n == 0
    assert 0 < np.mean(lift) < 2 * u
    assert law.drop[0].s < np.std(lift) < 2 * law.drop[0].s


def test_own_removal_may_be_uncertain():
    wear = ufloat(0.05, 0.004)
    found = lowering(saddle(FLATS), FLATS, {"front": 0.1, "rear": 0.1}, at=500, own={"front": wear})
    _, up = found.at(0, 0)
    assert up[0].n == pytest.approx(-0.15)
    assert up[0].s == pytest.approx(0.004)
    assert (up[0] + wear).s == pytest.approx(0, abs=1e-9)


def test_scaling():
    one = lowering(saddle(VEE), VEE, {"near": 0.03, "flat": 0.01}, [0.001, 0.002], at=500)
    two = lowering(saddle(VEE), VEE, {"near": 0.06, "flat": 0.02}, [0.002, 0.004], at=500)
    np.testing.assert_allclose(motion(two), 2 * motion(one), atol=1e-15)
    assert two.drop[0].s == pytest.approx(2 * one.drop[0].s)


def test_what_must_not_matter():
    given = {"near": ([100, 900], [0.03, 0.01]), "far": 0.02, "flat": ([100, 900], [0.0, 0.05])}
    here = lowering(saddle(VEE), VEE, given, at=[300, 600])
    again = lowering(saddle(dict(reversed(VEE.items()))), VEE, given, at=[600, 300])
    np.testing.assert_allclose(motion(again)[::-1], motion(here), atol=1e-14)


def test_what_is_free_is_said_and_never_a_number():
    flats = {name: FLATS[name] for name in ("front", "rear")}
    found = lowering(saddle(flats), flats, {"front": 0.1, "rear": 0.1}, at=500)
    assert (found.shift, found.yaw, found.free) == (None, None, ("shift", "yaw"))
    assert found.drop == pytest.approx(0.1)
    words = "'shift' and 'yaw' not determined: name the vee flank or side face that guides it"
    assert words in str(found)
    assert "not determined" in found._repr_html_()
    assert np.isnan(found.to_dataframe()["shift [µm]"]).all()
    with pytest.raises(NotDeterminedError, match="'saddle' at y 0, z 150 mm is not held sideways"):
        found.at(0, 150)


def test_one_flat_leaves_roll_and_height_aside_free():
    flat = {"front": FLATS["front"]}
    found = lowering(saddle(flat), flat, {"front": 0.1}, at=500)
    assert found.free == ("shift", "roll", "yaw")
    assert found.drop == pytest.approx(0.1)  # where it stands


def _worn_plan(u):
    bed = faces(front=0, rear=200)
    x = np.arange(0, 1001, 100.0)
    z = {"front": (x, -0.05 * np.sin(np.pi * x / 1000)), "rear": (x, 0 * x)}
    heights = given_heights(bed.values(), z, u=u)
    return bed, plan_removal(heights, faces=list(bed), clean_up=0.01, confidence=None)


def test_a_plan_gives_its_depths_and_their_uncertainty():
    bed, plan = _worn_plan(0.002)
    found = lowering(saddle(bed), bed, plan, at=500)
    depth = {name: plan.depth[plan.face == name][[4, 6]] for name in bed}
    np.testing.assert_allclose(found.taken["front"][0], depth["front"])
    assert found.drop[0].n == pytest.approx(np.mean([*depth["front"], *depth["rear"]]), abs=1e-4)
    # in the frame of a plane fitted to the faces: correlated with every height
    four = [plan.group.error_law[np.flatnonzero(plan.face == name)[[4, 6]]] for name in bed]
    law = np.concatenate(four).mean(axis=0)
    assert found.drop[0].s == pytest.approx(0.002 * np.linalg.norm(law))


def test_since_new_is_the_same_all_along_when_the_faces_end_straight():
    bed, plan = _worn_plan(0.002)
    since_new = lowering(saddle(bed), bed, plan, since="new")
    now = lowering(saddle(bed), bed, plan)
    lift = plan.motion["lift"].n + plan.motion["pitch"].n * since_new.x / 1e3
    lift = lift + plan.motion["roll"].n * since_new.y / 1e3
    np.testing.assert_allclose([d.n for d in since_new.drop], -lift, atol=1e-12)
    assert np.ptp([d.n for d in now.drop]) > 0.01
    exact_bed, exact = _worn_plan(None)
    assert isinstance(lowering(saddle(exact_bed), exact_bed, exact, at=500).drop[0], float)


def test_what_a_plan_does_not_cut_stays_exact():
    bed, plan = _worn_plan(0.002)
    bed = {**bed, **faces(guide=(-10, -90))}
    found = lowering(saddle(bed), bed, plan, at=500)
    assert found.uncut == ("guide",)
    assert found.shift[0].s == 0
    with pytest.raises(
        InputError, match="'guide' is not in the plan, so how far it ends below new"
    ):
        lowering(saddle(bed), bed, plan, since="new")


def test_the_sample_against_its_truth():
    # what the saddle really does, from the true heights, lies within 5 u of what the survey says
    survey = read_survey(ROOT / "sample_surveys/toolroom_lathe")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)
        heights = adjust(survey)
    flats_and_vee = [*survey.decision.faces, "front flank", "rear flank"]
    plan = plan_removal(heights, survey.decision, faces=flats_and_vee, draws=4000)
    truth = json.loads((ROOT / "tests/samples/truth/toolroom_lathe.json").read_text())["faces"]
    z = np.concatenate([truth[name]["height"] for name in dict.fromkeys(heights.face)])
    assert z.shape == heights.values.shape
    nominal = np.array([heights.faces[name].nominal_height for name in heights.face])
    true_depth = plan.group.law @ (z - nominal) - plan.target
    counts = ~plan.left_out
    true = {}
    for name in plan.faces:
        mine = (plan.face == name) & counts
        true[name] = plan.x[mine], true_depth[mine]
    body = survey.carried["saddle"]
    said = lowering(body, survey.machine.faces, plan)
    was = lowering(body, survey.machine.faces, true)
    for name in ("drop", "shift", "roll", "pitch", "yaw"):
        for a, b in zip(getattr(said, name), getattr(was, name), strict=True):
            assert abs(a.n - b) < 5 * a.s + 1e-4, name


def test_thou_and_the_tables():
    found = lowering(saddle(VEE), VEE, {"flat": 0.0254 * 4}, 0.001, at=[300, 500])
    assert "thou" in found.in_words("thou") and "µm" not in found.in_words("thou")
    table = found.to_dataframe("thou")
    assert table.columns[:3].tolist() == ["x [mm]", "drop [thou]", "u(drop) [thou]"]
    # two thirds of the roll that 4 thou make at the flat, for the reference lies at a third
    assert table["drop [thou]"].tolist() == pytest.approx([4 / 3, 4 / 3])
    assert "<th>roll, +y side up</th>" in found._repr_html_()


@pytest.mark.parametrize(
    ("removed", "options", "words"),
    [
        (
            {"front": 0.1},
            {"at": 950},
            "at: with its middle at 950 mm a foot of 'saddle' stands at 1050",
        ),
        ({"front": 0.1}, {"at": 950}, "off 'front'; that face runs from 0 to 1000"),
        ({"fronnt": 0.1}, {}, "removed: this is not one of the choices, got 'fronnt'"),
        ({"front": 0.1}, {"own": {"side": 0.1}}, "own of 'saddle'"),
        ({"front": 0.1}, {"own": {"rear": (1, 2, 3)}}, "own: 'rear' has two feet, got 3"),
        ({"front": 0.1}, {"since": "new"}, "since: only a plan knows what is new"),
        ({"front": 0.1}, {"since": "old"}, "since: this is not one of the choices"),
        ([0.1], {}, "removed: a removal plan, or depths by face, are needed, got list"),
        ({"front": (1, 2, 3)}, {}, "'front' needs places and depths"),
        ({"front": ([1, 1], [0, 0])}, {}, "'front' has a place twice"),
        ({"front": ([1, 2], [0, 0, 0])}, {}, "lengths differ"),
        ({"front": np.nan}, {}, "front: item 0 is not a finite number"),
        ({"front": ufloat(0.1, 0.01)}, {"u": 0.1}, "bring their own uncertainty"),
    ],
)
def test_refusals(removed, options, words):
    with pytest.raises(InputError, match=words):
        lowering(saddle(FLATS), FLATS, removed, **{"at": 500, **options})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"body": "saddle"}, "body: a Carried is needed, got 'saddle'; describe it as Carried"),
        ({"faces": list(FLATS.values())}, "faces: a dict is needed"),
        ({"own": 0.1}, "own: a dict is needed, got 0.1; give {face: depth}"),
        ({"own": {"front": "x"}}, "own of 'front': a number is needed"),
        (
            {"body": replace(saddle(FLATS), feet=(100, -100))},
            "feet of 'saddle': it does not ascend, got \\(100.0, -100.0\\); turn it round",
        ),
        ({"body": replace(saddle(FLATS), travel=(800, 100))}, "travel of 'saddle': it does not"),
    ],
)
def test_what_is_mistyped(change, words):
    call = {"body": saddle(FLATS), "faces": FLATS, "removed": {"front": 0.1}, "at": 500, **change}
    with pytest.raises(InputError, match=words):
        lowering(**call)


def test_a_body_without_a_face_that_carries():
    bed = faces(ledge=(0, 180))
    with pytest.raises(InputError, match="body: nothing carries 'saddle', got 'ledge'; name the"):
        lowering(saddle(bed), bed, {})
    with pytest.raises(InputError, match="body 'saddle', rides_on: this is not one of the choices"):
        lowering(saddle(bed), FLATS, {})
    bed, plan = _worn_plan(0.002)
    with pytest.raises(InputError, match="u: a plan brings its own, got a second one"):
        lowering(saddle(bed), bed, plan, 0.1)


def test_a_plan_of_a_wide_face_needs_depths_where_the_feet_run():
    bed = faces(table=0)
    x, y = np.repeat([0.0, 500, 1000], 2), np.tile([-8.0, 8], 3)
    heights = given_heights(bed.values(), {"table": (x, y, np.zeros(6))})
    plan = plan_removal(heights, faces=["table"], clean_up=0.01)
    with pytest.raises(InputError, match="'table' was surveyed at several y, got a plan; give the"):
        lowering(saddle(bed), bed, plan)

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from metrolib.errors import MetrolibError
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.conditions import checked_decision
from metrolib.rebuild.removal.group import make_group
from metrolib.rebuild.removal.places import make_places
from metrolib.rebuild.removal.programme import Programme
from metrolib.rebuild.removal.programme_general import solve_linear
from metrolib.rebuild.removal.programme_single import find_target
from metrolib.rebuild.removal.removal import make_programme, plan_removal
from tests.rebuild.beds import HELD, flat, lathe_bed, one_flat
from tests.rebuild.reference import least_removal

# Whole hundredths of a millimetre: plenty of ties, and every depth readable.
HUNDREDTHS = st.integers(-5, 5).map(lambda n: n / 100)
LINES = st.lists(HUNDREDTHS, min_size=5, max_size=5)
FEW = settings(max_examples=25, deadline=None, derandomize=True)

CASES = [
    {"clean_up": 0.01},
    {"band": 0.02},
    {"clean_up": 0.0, "together": "parallel"},
    {"band": 0.01, "together": "parallel", "greatest_cut": {"front": 0.05}},
    {"clean_up": 0.01, "greatest_cut": {"rear": 0.07}},
    {"band": 0.03, "untouchable": ("rear",)},
    {"clean_up": 0.0, **HELD},
    {"band": 0.01, **HELD, "tilt_along": 0.02, "tilt_across": 0.05},
    {"band": 0.01, **HELD, "greatest_cut": {"front": 0.045, "rear": 0.06}, "tilt_across": 0.2},
]


def _programme(heights, **conditions):
    decision = checked_decision(heights, None, {"faces": ["front", "rear"], **conditions})
    group = make_group(heights, decision)
    return make_programme(group, decision, make_places(group, decision, gaps=False))


@pytest.mark.parametrize("minimise", ["volume", "deepest cut"])
@pytest.mark.parametrize("conditions", CASES)
@pytest.mark.parametrize("whole", [True, False])
def test_agrees_with_an_independent_programme(conditions, minimise, whole):
    rng, solved = np.random.default_rng(11), 0
    for _ in range(6):
        z = rng.integers(-3, 4, (2, 6)) / 100 if whole else rng.normal(0, 0.02, (2, 6))
        programme = _programme(lathe_bed(*z), **conditions, minimise=minimise)
        expected = least_removal(
            programme.columns,
            programme.height,
            programme.area,
            low=programme.least,
            band=programme.band,
            greatest=programme.greatest,
            limit=programme.limit,
        )
        target = find_target(programme)
        assert (target is None) == (expected is None)
        if target is None:
            continue
        solved += 1
        depth = programme.depth(target.motion)
        if minimise == "volume":
            # interior-point tolerance 1e-8 mm on 1.1e5 mm2 of face
            assert depth @ programme.area == pytest.approx(expected[0], abs=2e-3, rel=1e-7)
        else:
            assert depth.max() == pytest.approx(expected[1], abs=1e-7)
        level = programme.columns @ target.motion
        assert (level + programme.least <= programme.height + 1e-12).all()
        assert (depth <= programme.greatest + 1e-12).all()
        assert (np.abs(target.motion) <= programme.limit + 1e-12).all()
    assert solved


def test_one_face_rests_on_the_hull_facet_under_its_centroid():
    # With everything to clean up, the best plane is the lower hull facet that the vertical through
    # the area's centroid pierces.
    rng = np.random.default_rng(8)
    for _ in range(5):
        x, y = rng.uniform(0, 1000, 30), rng.uniform(-150, 150, 30)
        z = rng.normal(0, 0.02, 30)
        table = flat("table", width=300, length=1000)
        heights = given_heights([table], {"table": (x, y, z)})
        plan = plan_removal(heights, faces=["table"])
        hull = ConvexHull(np.column_stack([x / 1000, y / 1000, z]))
        facets = hull.equations[hull.equations[:, 2] < 0]
        at = plan.area @ np.column_stack([x, y]) / plan.area.sum() / 1000
        below = -(facets[:, :2] @ at + facets[:, 3]) / facets[:, 2]
        expected = plan.area @ z - plan.area.sum() * below.max()
        assert plan.volume == pytest.approx(expected, rel=1e-9)
        corners = {int(i) for i in hull.simplices[hull.equations[:, 2] < 0][below.argmax()]}
        assert {g.station for g in plan.governing} == corners


@pytest.mark.parametrize("conditions", [c for c in CASES if "untouchable" not in c])
def test_law_and_cost_follow_a_small_change_of_each_height(conditions):
    # Plan again with one height changed: target, volume and cost must follow as promised.
    rng = np.random.default_rng(21)
    z = rng.normal(0, 0.015, (2, 6))
    programme = _programme(lathe_bed(*z), **conditions)
    target = find_target(programme)
    step = 1e-6
    for i in range(len(programme.height)):
        moved = []
        for sign in (-1, 1):
            height = programme.height.copy()
            height[i] += sign * step
            changed = type(programme)(**{**vars(programme), "height": height})
            moved.append(find_target(changed).motion)
        slope = (moved[1] - moved[0]) / (2 * step)
        np.testing.assert_allclose(slope, target.law[:, i], rtol=0, atol=1e-6)


def test_cost_of_a_governing_station_is_what_the_volume_does():
    rng = np.random.default_rng(4)
    front, rear = rng.normal(0, 0.03, (2, 6))
    plan = plan_removal(lathe_bed(front, rear), faces=["front", "rear"], clean_up=0.01)
    assert plan.governing
    for governing in plan.governing:
        lower = [front.copy(), rear.copy()]
        lower[governing.face == "rear"][int(governing.x / 280)] -= 1e-4
        changed = plan_removal(lathe_bed(*lower), faces=["front", "rear"], clean_up=0.01)
        assert (changed.volume - plan.volume) * 100 == pytest.approx(governing.cost, rel=1e-6)


def test_same_input_gives_the_same_plan_bit_by_bit():
    heights = lathe_bed([0, -0.02, 0.01, -0.02, 0], [0, 0, 0, 0, 0], u=0.002)
    first, second = (plan_removal(heights, faces=["front", "rear"]) for _ in range(2))
    assert first.depth.tobytes() == second.depth.tobytes()
    assert first.guard == second.guard


@FEW
@given(LINES, LINES, st.integers(0, 4))
def test_more_metal_on_a_point_never_lowers_the_target(front, rear, where):
    plan = plan_removal(lathe_bed(front, rear), faces=["front", "rear"], **HELD)
    more = [h + 0.03 * (i == where) for i, h in enumerate(front)]
    after = plan_removal(lathe_bed(more, rear), faces=["front", "rear"], **HELD)
    assert (after.target >= plan.target - 1e-12).all()
    # with a free tilt the target may rock, but its mean over the faces does not fall
    free = plan_removal(lathe_bed(front, rear), faces=["front", "rear"], datum=HELD["datum"])
    freer = plan_removal(lathe_bed(more, rear), faces=["front", "rear"], datum=HELD["datum"])
    assert freer.area @ freer.target >= free.area @ free.target - 1e-6


@FEW
@given(LINES, LINES, st.sampled_from(["coplanar", "parallel"]))
def test_a_wider_band_never_costs_more_metal(front, rear, together):
    heights = lathe_bed(front, rear)
    conditions = {"faces": ["front", "rear"], "together": together}
    volumes = [
        plan_removal(heights, **conditions, band=band).volume for band in (0, 0.01, 0.02, 0.05)
    ]
    assert (np.diff(volumes) <= 1e-6).all()


@FEW
@given(
    LINES,
    LINES,
    st.lists(st.integers(-300, 300).map(lambda n: n / 1000), min_size=3, max_size=3),
    st.sampled_from([{"clean_up": 0.01}, {"band": 0.02}]),
)
def test_a_rigid_motion_of_the_whole_machine_changes_no_depth(front, rear, motion, amount):
    lift, pitch, roll = motion
    heights = lathe_bed(front, rear)
    up = np.array([heights.faces[name].up for name in heights.face])
    tilted = heights.values + up * (lift + pitch * heights.x / 1e3 + roll * heights.y / 1e3)
    moved = type(heights)(**{**vars(heights), "values": tilted})
    for held in ({}, HELD):
        one = plan_removal(heights, faces=["front", "rear"], **held, **amount)
        other = plan_removal(moved, faces=["front", "rear"], **held, **amount)
        np.testing.assert_allclose(other.depth, one.depth, rtol=0, atol=1e-10)


@FEW
@given(LINES, LINES, st.sampled_from([("clean_up", 0.01), ("band", 0.02)]))
def test_heights_times_two_give_depths_times_two(front, rear, amount):
    name, value = amount
    faces = ["front", "rear"]
    one = plan_removal(lathe_bed(front, rear, u=0.002), faces=faces, draws=500, **{name: value})
    doubled = lathe_bed(np.multiply(front, 2), np.multiply(rear, 2), u=0.004)
    two = plan_removal(doubled, faces=faces, draws=500, **{name: 2 * value})
    np.testing.assert_allclose(two.depth, 2 * one.depth, rtol=0, atol=1e-9)
    np.testing.assert_allclose(two.depth_u, 2 * one.depth_u, rtol=1e-9)
    assert two.volume == pytest.approx(2 * one.volume, abs=1e-3)
    assert two.volume_u == pytest.approx(2 * one.volume_u, abs=1e-3)
    assert two.guard == pytest.approx(one.guard, abs=1e-6)


@pytest.mark.parametrize("together", ["coplanar", "parallel"])
@pytest.mark.parametrize("amount", [{"clean_up": 0.01}, {"band": 0.015}])
def test_the_order_of_faces_and_stations_changes_nothing(together, amount):
    rng = np.random.default_rng(17)
    x, front, rear = np.arange(0, 501, 100.0), *rng.normal(0, 0.03, (2, 6))
    faces = [flat("front", 0), flat("rear", 200)]
    one = plan_removal(
        given_heights(faces, {"front": (x, front), "rear": (x, rear)}),
        faces=["front", "rear"],
        together=together,
        **amount,
    )
    mirrored = given_heights(
        faces[::-1], {"rear": (x[::-1], rear[::-1]), "front": (x[::-1], front[::-1])}
    )
    two = plan_removal(mirrored, faces=["rear", "front"], together=together, **amount)
    np.testing.assert_allclose(two.depth[::-1], one.depth, rtol=0, atol=1e-12)
    assert two.volume == pytest.approx(one.volume, rel=1e-12)


def test_symmetric_surveys_give_symmetric_targets():
    # a low spot in the very middle: any tilt has the same volume; the depths decide
    plan = plan_removal(one_flat([0.02, 0, -0.04, 0, 0.02]), faces=["flat"])
    np.testing.assert_allclose(plan.depth, plan.depth[::-1], rtol=0, atol=1e-12)
    assert [g.x for g in plan.governing] == [250]


def test_positions_times_two_change_no_depth():
    rng = np.random.default_rng(2)
    z = rng.normal(0, 0.03, 7)
    short, long = (
        plan_removal(one_flat(z, length=n), faces=["flat"], band=0.01) for n in (500, 1000)
    )
    np.testing.assert_allclose(long.depth, short.depth, rtol=0, atol=1e-12)
    assert long.volume == pytest.approx(2 * short.volume, rel=1e-12)


def _two_stations(second, **changes):
    """Return the programme of a line, 0 high at x = 0 and `second` at 1 m, with 3 and 1 of area."""
    given = {
        "motions": ("lift", "pitch"),
        "columns": np.array([[1.0, 0.0], [1.0, 1.0]]),
        "height": np.array([0.0, second]),
        "area": np.array([3.0, 1.0]),
        "least": np.zeros(2),
        "u": np.zeros(2),
        "greatest": np.full(2, np.inf),
        "band": 0.0,
        "limit": np.full(2, np.inf),
        "minimise": "volume",
    }
    return Programme(**{**given, **changes})


def test_depth_cost_and_room_by_hand():
    # the target at -0.01 and -0.03 under heights of 0 and 0.02
    motion = np.array([-0.01, -0.02])
    programme = _two_stations(0.02, least=np.array([0.004, 0.001]))
    np.testing.assert_allclose(programme.depth(motion), [0.01, 0.05])
    np.testing.assert_allclose(programme.room(motion), [0.006, 0.049])
    assert programme.cost(motion) == pytest.approx((3 * 0.01 + 0.05) / 4)
    assert _two_stations(0.02, minimise="deepest cut").cost(motion) == pytest.approx(0.05)
    # with 20 um that may stay, nothing comes off the first
    np.testing.assert_allclose(_two_stations(0.02, band=0.02).depth(motion), [0, 0.03])


def test_places_between_stations_are_held_clear_as_well():
    # a third place in the middle, 10 um deeper than the straight line asks for: both ends go down,
    # the second further, for there is less area there: -20 um
    low = np.vstack([np.eye(2), [[0.5, 0.5]]])
    programme = _two_stations(0.0, low=low, least=np.array([0, 0, 0.01]), u=np.zeros(3))
    np.testing.assert_allclose(programme.at_places(np.array([1.0, 3.0])), [1, 3, 2])
    target = find_target(programme)
    np.testing.assert_allclose(target.motion, [0, -0.02], rtol=0, atol=1e-12)
    assert target.role == {0: "low spot", 2: "low spot"}
    # lift = z at the first, pitch = 2 (z in the middle - z at the first)
    np.testing.assert_allclose(target.law, [[1, 0, 0], [-2, 0, 2]], atol=1e-12)


@pytest.mark.parametrize("side", [1, -1])
def test_of_all_targets_in_the_band_the_pitch_goes_as_near_to_none_as_it_can(side):
    # a band of 10 um over a step of 10.5: half a micrometre in a metre must stay
    target = find_target(_two_stations(side * 0.0105, band=0.01))
    np.testing.assert_allclose(target.motion[1], side * 0.0005, rtol=0, atol=1e-12)
    np.testing.assert_allclose(target.motion[0], 0.0 if side > 0 else -0.01, rtol=0, atol=1e-12)
    level = find_target(_two_stations(side * 0.0095, band=0.01))
    np.testing.assert_allclose(level.motion, [0.0 if side > 0 else -0.0095, 0], atol=1e-12)


def test_the_guard_lowers_each_place_by_its_own_uncertainty():
    programme = _two_stations(0.02, u=np.array([0.001, 0.003]))
    np.testing.assert_allclose(find_target(programme, 2.0).motion, [-0.002, 0.016], atol=1e-12)


def test_a_limit_on_a_motion_is_the_limit_either_way():
    for side in (1, -1):
        programme = _two_stations(side * 0.02, limit=np.array([np.inf, 0.005]))
        assert find_target(programme).motion[1] == pytest.approx(side * 0.005)
    assert find_target(_two_stations(0.02, limit=np.zeros(2))).motion.tolist() == [0, 0]
    assert find_target(_two_stations(-0.02, limit=np.zeros(2))) is None


def test_a_programme_without_a_solution_has_none():
    one = np.ones((1, 1))
    assert solve_linear(np.ones(1), A_ub=one, b_ub=[-1.0], bounds=[(0, None)]) is None
    assert solve_linear(-np.ones(1), A_ub=-one, b_ub=[1.0], bounds=[(0, None)]) is None  # unbounded
    assert solve_linear(np.ones(1), A_ub=-one, b_ub=[-2.0], bounds=[(0, None)]).x == [2.0]


@pytest.mark.parametrize("failures", [1, 2])
def test_a_solver_that_fails_is_asked_once_more_without_its_presolve(failures, monkeypatch):
    import scipy.optimize

    solve, asked = scipy.optimize.linprog, []

    def failing(price, **programme):
        asked.append(programme.get("options"))
        found = solve(price, **programme)
        if len(asked) <= failures:
            found.status, found.message = 4, "numerical difficulties"
        return found

    monkeypatch.setattr(scipy.optimize, "linprog", failing)
    given = {"A_ub": -np.ones((1, 1)), "b_ub": [-2.0], "bounds": [(0, None)]}
    if failures == 1:
        assert solve_linear(np.ones(1), **given).x == [2.0]
    else:
        with pytest.raises(MetrolibError, match="could not be solved: numerical difficulties"):
            solve_linear(np.ones(1), **given)
    assert asked == [None, {"presolve": False}]


def test_where_the_deepest_cut_counts_high_spots_limit_the_target():
    # tilted so that both ends lose alike: the line through the low spot, 0.06 below either end
    heights = given_heights([flat("way")], {"way": ([0, 250, 500], [0.02, -0.05, 0.0])})
    plan = plan_removal(heights, faces=["way"], minimise="deepest cut", confidence=None)
    np.testing.assert_allclose(plan.depth, [0.06, 0.0, 0.06], atol=1e-9)
    found = {(item.role, item.x) for item in plan.governing}
    assert found == {("low spot", 250.0), ("high spot", 0.0), ("high spot", 500.0)}

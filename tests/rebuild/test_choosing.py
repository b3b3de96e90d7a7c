"""Ways side by side: prices by hand, what is left against independent draws, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat

from metrolib.errors import ImpossiblePlanError, InputError
from metrolib.heights.result import given_heights
from metrolib.rebuild.lowering.lowering import lowering
from metrolib.rebuild.removal.options import compare
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.ways.choosing import choose_way
from metrolib.rebuild.ways.foretold import heights_after
from metrolib.rebuild.ways.ways import SentOut
from metrolib.survey.carried import Carried, Drive
from metrolib.survey.decision import Decision
from metrolib.survey.machine import Face
from metrolib.survey.methods import Method
from metrolib.survey.tolerances import Tolerance
from tests.rebuild.beds import HELD, lathe_bed

FACES = ("front", "rear")
HUMP = [0, 0.03, 0.06, 0.03, 0]
PLANE = Decision(FACES, clean_up=0.01, confidence=None, **HELD)
DRESS = Decision(FACES, band=0.02, confidence=None, **HELD)
STRAIGHT = Tolerance("straight", "straightness", 0.01).on("front", "rear")
LEVEL = Tolerance("untwisted", "variation of level", 0.03).on("front", "rear")
FILE = Method("file", 0.0, 0.005, 0.5, rate_uncertainty=0.1)
CENTRES = Tolerance("centres", "number", 0.02)


@pytest.fixture(scope="module")
def bed():
    return lathe_bed(HUMP, [0] * 5, u=0.001, ledge_u=0.0005)


@pytest.fixture(scope="module")
def ways(bed):
    return choose_way(
        bed,
        {
            "one plane": PLANE,
            "high spots": DRESS,
            "spare it": replace(PLANE, untouchable=("front",)),
        },
        rate=ufloat(0.2, 0.05),
        cost_per_hour=30,
        finishing_u=0.002,
        sent_out={"ground": SentOut(replace(PLANE, clean_up=0.05), u=0.003, cost=700)},
        tolerances=[STRAIGHT, LEVEL, CENTRES],
        draws=4000,
    )


def test_they_are_the_plans_of_compare(bed, ways):
    names = [way.name for way in ways.ways]
    assert names == ["leave it alone", "one plane", "high spots", "spare it", "ground"]
    plain = compare(bed, {"one plane": PLANE})["one plane"]
    assert ways["one plane"].outcome.depth.tobytes() == plain.depth.tobytes()
    assert isinstance(ways["spare it"].outcome, ImpossiblePlanError)


def test_hours_and_cost_by_hand(ways):
    way = ways["one plane"]
    # 10 um off all of two flats 1400 x 40, and a hump of 30 + 60 + 30 over 350 x 40 each
    cubic = (0.01 * 2 * 1400 * 40 + 0.12 * 350 * 40) / 1e3
    assert way.volume / 1e3 == pytest.approx(cubic)
    assert way.hours.n == pytest.approx(cubic / 0.2)
    u_volume = way.outcome.volume_u / 1e3
    assert way.hours.s == pytest.approx(cubic / 0.2 * np.hypot(u_volume / cubic, 0.05 / 0.2))
    assert way.cost.n == pytest.approx(30 * way.hours.n)
    assert (ways["ground"].hours, ways["ground"].cost) == (0.0, 700)
    assert (ways["leave it alone"].hours, ways["leave it alone"].cost) == (0.0, 0.0)
    assert ways["spare it"].hours is None and ways["spare it"].cost is None


def test_mean_drop_by_hand(ways):
    # the hump's mean: (30 + 60 + 30) x 350 / 1400
    assert ways["one plane"].drop == pytest.approx({"front": 0.04, "rear": 0.01})
    assert ways["ground"].drop == pytest.approx({"front": 0.08, "rear": 0.05})


def test_heights_after_a_cut_by_hand(bed):
    plan = plan_removal(bed, PLANE)
    after = heights_after(plan, 0.002)
    mine = after.face == "front"
    np.testing.assert_allclose(after.values[mine], -0.01, atol=1e-12)
    np.testing.assert_allclose(np.diag(after.cov)[mine], 0.001**2 + 0.002**2)
    dressed = heights_after(plan_removal(bed, DRESS), 0.002)
    spread = np.diag(dressed.cov)[dressed.face == "front"]
    np.testing.assert_allclose(spread, [1e-6, 5e-6, 5e-6, 5e-6, 1e-6])  # the ends stay
    np.testing.assert_array_equal(dressed.cov[-4:, -4:], bed.cov[-4:, -4:])


def test_heights_after_a_cut_sent_out(bed):
    # between both ledges, known to 0.5 um at their ends, the plane's height in the middle of the
    # four is known to a quarter of a micrometre; at the front, over one ledge, to 0.35 or so
    after = heights_after(plan_removal(bed, PLANE), 0.0, machined_u=0.003)
    mine = np.flatnonzero(after.face == "front")
    own = np.diag(after.cov)[mine] - 0.003**2
    x, y = bed.x[bed.face != "none"], bed.y
    ledge = np.char.endswith(bed.face, "ledge")
    design = np.column_stack([np.ones(4), x[ledge], y[ledge]])
    fit = np.linalg.inv(design.T @ design)
    at = np.column_stack([np.ones(mine.size), x[mine], y[mine]])
    np.testing.assert_allclose(own, 0.0005**2 * np.einsum("ij,jk,ik->i", at, fit, at), rtol=1e-9)


def test_what_is_left_against_draws_of_our_own(ways):
    # five places in one plane, each with 1 um of survey and 2 um of hand: the middle straightness
    # of the worse of two like faces, by draws and the three-point formula of all triples
    random = np.random.default_rng(2)
    z = random.normal(0, np.sqrt(5e-6), (40_000, 5))
    zone = np.zeros(len(z))
    for i in range(5):
        for j in range(i + 1, 5):
            for k in range(j + 1, 5):
                chord = z[:, i] + (z[:, k] - z[:, i]) * (j - i) / (k - i)
                zone = np.maximum(zone, np.abs(z[:, j] - chord))
    expected, most = ways["one plane"].left["straightness"]
    assert expected == pytest.approx(np.median(zone), rel=0.05)
    assert most == pytest.approx(np.quantile(zone, 0.95), rel=0.05)
    chance = ways["one plane"].chances["straight"]
    assert chance == pytest.approx(np.mean(zone <= 0.01), abs=0.01)


def test_leaving_it_alone_is_judged_as_measured(ways):
    alone = ways["leave it alone"]
    assert alone.left["straightness"][0] == pytest.approx(0.06)
    assert alone.chances["straight"] < 1e-3 and alone.after is None
    assert "centres" not in alone.chances


def test_wider_tolerances_and_a_quieter_hand_are_never_worse(bed):
    shares = []
    for limit, finishing_u in ((0.006, 0.003), (0.006, 0.001), (0.009, 0.001)):
        found = choose_way(
            bed,
            {"one plane": PLANE},
            finishing_u=finishing_u,
            tolerances=[replace(STRAIGHT, limit=limit)],
            draws=4000,
        )
        shares.append(found["one plane"].chances["straight"])
    assert shares[0] < shares[1] < shares[2]


def test_without_rates_nothing_is_priced(bed):
    way = choose_way(bed, {"one plane": PLANE}, draws=1000)["one plane"]
    assert way.hours is None and way.cost is None and way.chances == {}


def test_words_and_tables(ways):
    text = str(ways)
    assert "leave it alone: nothing comes off; straightness left 60.0 µm" in text
    assert "spare it: cannot be done: no removal from" in text
    assert "ground: up to 110.0 µm, 7.28 cm³" in text and "cost 700" in text
    assert "one plane: up to 2.76 thou" in ways.in_words("thou")
    table = ways.to_dataframe().set_index("way")
    assert table["deepest cut [µm]"]["one plane"] == pytest.approx(70)
    assert table["hours"]["ground"] == 0 and np.isnan(table["cost"]["spare it"])
    assert 0 <= table["untwisted"]["one plane"] <= 1
    html = ways._repr_html_()
    assert "<th>one plane</th>" in html and "<td>70.0</td>" in html
    assert "nan" not in html.lower()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"rate": 0.0}, "rate: it must be above 0"),
        ({"cost_per_hour": -1}, "cost_per_hour: it must be at least 0"),
        ({"finishing_u": -0.001}, "finishing_u: it must be at least 0"),
        ({"sent_out": {"one plane": SentOut(PLANE, 0.001)}}, "an option has this name"),
        ({"sent_out": {"out": SentOut(PLANE, -0.001)}}, "u of 'out': it must be at least 0"),
        ({"sent_out": {"out": SentOut(PLANE, 0.001, -5)}}, "cost of 'out': it must be at least 0"),
        ({"options": {}}, "options: there is nothing to compare"),
        ({"options": PLANE}, "options: decisions by name are needed, got Decision"),
        ({"options": {"one plane": 3}}, "option 'one plane': it must be a Decision, got 3"),
        (
            {"options": {"leave it alone": PLANE}},
            "this name tells what is there if nothing is done",
        ),
        ({"sent_out": SentOut(PLANE, 0.001)}, "sent_out: orders by name are needed"),
        ({"sent_out": {"out": PLANE}}, "sent_out: each must be a SentOut"),
        ({"rate": "quick"}, "rate: a number is needed, got 'quick'"),
        ({"rate": 0.2, "methods": [FILE]}, "rate and methods: both tell the hours"),
        ({"methods": FILE}, "methods: a list of Method is needed"),
        ({"draws": 0}, "draws: it must be at least 1"),
        ({"length": "long"}, "length: a number is needed"),
        ({"carried": {"saddle": 3}}, "carried: each must be a Carried"),
        ({"drive": 3}, "drive: a Drive is needed"),
        ({"drive": Drive(lead_screw=(-40, -80))}, "drive: it says nothing without what rides"),
    ],
)
def test_refusals(bed, change, words):
    with pytest.raises(InputError, match=words):
        choose_way(**{"heights": bed, "options": {"one plane": PLANE}, **change})


def test_hours_of_methods_are_those_of_the_stages(bed):
    methods = [Method("mill", 0.02, 0.01, 5.0), FILE]
    way = choose_way(bed, {"one plane": PLANE}, methods=methods, cost_per_hour=30, draws=1000)[
        "one plane"
    ]
    alone = stages(plan_removal(bed, PLANE), methods).value
    assert way.hours.nominal_value == pytest.approx(alone.nominal_value)
    assert way.hours.std_dev == pytest.approx(alone.std_dev)
    assert way.cost.nominal_value == pytest.approx(30 * alone.nominal_value)


def test_what_rides_on_faces_that_are_all_cut_drops_with_them(bed):
    """Two flats that end in one plane: a table on both drops as they do, by hand."""
    sled = Carried("sled", FACES, feet=(-100, 100), travel=(100, 1300))
    found = choose_way(bed, {"one plane": PLANE}, carried={"sled": sled}, draws=1000)
    told = found["one plane"].consequences
    # 70 off the hump in the middle of the front, 10 off the rear: the middle of both drops by half
    assert told["sled drops"] == pytest.approx(0.5 * (0.06 - 0.03 * 100 / 350) + 0.01)
    # where the hump ends under one of its feet it rocks, as it did not on the hump
    rocks = lowering(sled, bed.faces, plan_removal(bed, PLANE)).hangs
    assert told["sled stands off a face by"] == pytest.approx(max(rocks.values()))
    assert found["leave it alone"].consequences == {}
    table = found.to_dataframe().set_index("way")
    assert table["sled drops [µm]"]["one plane"] == pytest.approx(1e3 * told["sled drops"])
    assert "sled drops " in str(found["one plane"])


def test_what_rides_on_a_face_that_is_spared_leans():
    heights = lathe_bed([0] * 5, [0] * 5)
    front = Decision(("front",), clean_up=0.05, confidence=None, **HELD)
    sled = Carried("sled", FACES, feet=(-100, 100), travel=(100, 1300))
    found = choose_way(heights, {"front alone": front}, carried={"sled": sled}, draws=1000)
    # down by 50 on the one side, half as much in the middle
    assert found["front alone"].consequences["sled drops"] == pytest.approx(0.025)


def test_flatness_is_told_of_a_wide_face():
    table = Face("table", y=0, width=200, x_from=0, x_to=400)
    x, y = (grid.ravel() for grid in np.meshgrid([0.0, 200, 400], [-80.0, 0, 80]))
    bowl = -0.02 * (1 - ((x - 200) / 200) ** 2) * (1 - (y / 80) ** 2)
    heights = given_heights([table], {"table": (x, y, bowl)})
    found = choose_way(heights, {"true": Decision(("table",), confidence=None)}, draws=1000)
    assert found["leave it alone"].left["flatness"] == pytest.approx((0.02, 0.02))
    assert found["true"].left["flatness"] == pytest.approx((0.0, 0.0), abs=1e-9)


def test_an_order_that_cannot_be_met_costs_nothing(bed):
    order = SentOut(replace(PLANE, untouchable=("front",)), u=0.003, cost=700)
    way = choose_way(bed, {"one plane": PLANE}, sent_out={"ground": order}, draws=1000)["ground"]
    assert way.cost is None and "cannot be done" in str(way)


def test_exact_heights_leave_exact_forms():
    heights = lathe_bed(HUMP, [0] * 5)
    found = choose_way(heights, {"high spots": DRESS}, tolerances=[STRAIGHT], draws=1000)
    way = found["high spots"]
    # within 20 of a target under the rear: 0, 20, 20, 20, 0
    assert way.left["straightness"] == pytest.approx((0.02, 0.02))
    assert way.chances == {"straight": 0.0}


def test_a_stretch_longer_than_the_face_is_refused(bed):
    local = Tolerance("local", "straightness", 0.01, in_any=1500).on("front")
    with pytest.raises(InputError, match="in_any of tolerance 'local'"):
        choose_way(bed, {"one plane": PLANE}, tolerances=[local], draws=1000)

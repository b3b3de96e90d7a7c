"""Acceptance: signed forms by hand, scaled and local limits, reasons and refusals."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.form.parallelism import parallelism
from metrolib.form.straightness import straightness
from metrolib.form.twist import twist
from metrolib.heights.result import given_heights
from metrolib.rebuild.acceptance.acceptance import accept
from metrolib.rebuild.acceptance.tested import of_result
from metrolib.rebuild.acceptance.tolerance_tables import in_words, tolerances
from metrolib.survey.machine import Face
from metrolib.survey.tolerances import Tolerance, check_tolerance
from tests.rebuild.beds import flat, lathe_bed, one_flat

CONVEX = Tolerance("crown", "straightness", 0.02, sign="convex only", faces=("flat",))
CROWN = [0, 0.009, 0.012, 0.009, 0]


def decided(heights, tolerance, **choice):
    (verdict,) = accept(heights, [tolerance], **choice).verdicts
    return verdict


def test_convex_only_by_hand():
    # u of a height over the end points a quarter, half and three quarters along:
    # sqrt(1 + 9/16 + 1/16), sqrt(1 + 1/4 + 1/4), and the first again
    verdict = decided(one_flat(CROWN, u=0.001), CONVEX)
    assert verdict.decision == "accepted" and (verdict.low, verdict.high) == (0.0, 0.02)
    assert verdict.u == pytest.approx(0.001 * np.sqrt(1.5))
    assert verdict.measured.n == pytest.approx(0.012) and verdict.where == "at 250 mm"
    assert verdict.probability == pytest.approx(norm.cdf(0.008 / verdict.u))


@pytest.mark.parametrize(
    ("z", "sign", "decision"),
    [
        (CROWN, "convex only", "accepted"),
        (CROWN, "concave only", "not accepted"),
        (np.negative(CROWN), "convex only", "not accepted"),
        (np.negative(CROWN), "concave only", "accepted"),
        ([0, 0.009, 0.040, 0.009, 0], "convex only", "not accepted"),  # too much of a crown
        ([0, 0.009, -0.012, 0.009, 0], "convex only", "not accepted"),  # a dip in a crown
        ([0, 0.009, 0.001, 0.009, 0], "convex only", "not decided"),
        ([0, 0, 0, 0, 0], "convex only", "not decided"),  # dead straight: neither proved
        ([0, 0.029, 0.052, 0.069, 0.08], "convex only", "accepted"),  # a tilt is no form
    ],
)
def test_signed_straightness(z, sign, decision):
    verdict = decided(one_flat(z, u=0.001), replace(CONVEX, sign=sign))
    assert verdict.decision == decision


def test_convex_only_looks_outward_from_the_metal():
    # an underside that bulges away from the metal: outward normal down, heights along it
    heights = one_flat(CROWN, u=0.001, normal=180)
    assert decided(heights, CONVEX).decision == "accepted"


def test_plain_numbers_follow_the_normal_law():
    centres = Tolerance("centres", "number", 0.04, sign="positive only")
    verdict = decided({"centres": ufloat(0.036, 0.003)}, centres)
    expected = norm.cdf(0.04, 0.036, 0.003) - norm.cdf(0, 0.036, 0.003)
    assert verdict.probability == pytest.approx(expected) and verdict.decision == "not decided"
    for value, decision in ((0.03, "accepted"), (-0.006, "not accepted"), (0.046, "not accepted")):
        assert decided({"centres": ufloat(value, 0.003)}, centres).decision == decision
    plain = decided({"centres": 0.02}, centres)
    assert plain.decision == "not decided" and "nothing is known of its unc" in plain.note


def test_a_scaled_number():
    spindle = Tolerance("spindle", "number", 0.02, per=300, sign="positive only")
    verdict = decided({"spindle": (ufloat(0.012, 0.0005), 150)}, spindle)
    assert verdict.high == pytest.approx(0.01) and verdict.decision == "not accepted"
    assert decided({"spindle": (ufloat(0.012, 0.0005), 300)}, spindle).decision == "accepted"


def test_twist_is_total_and_signed():
    x, front, rear = [0, 500, 1000], [0, 0, 0], [0, 0.004, 0.008]
    result = twist(x, front, rear, 200, 0.0003)
    allowed = Tolerance("twist", "twist", 0.05, sign="positive only")
    verdict = decided({"twist": result}, allowed)
    assert verdict.measured.n == pytest.approx(0.04)
    assert verdict.u == pytest.approx(result.value.s)
    assert decided({"twist": result}, replace(allowed, sign="negative only")).decision == (
        "not accepted"
    )


def test_variation_of_level_by_hand():
    # rolls 0, 30, -20 um over 200 mm: 0, 0.15 and -0.1 mm/m; the greatest change is -0.25
    result = twist([0, 500, 1000], [0, 0, 0], [0, 0.03, -0.02], 200, 0.001)
    verdict = decided({"level": result}, Tolerance("level", "variation of level", 0.3))
    assert verdict.measured.n == pytest.approx(-0.25)
    assert verdict.u == pytest.approx(2 * 0.001 / 0.2)
    assert verdict.where == "between 500 and 1000 mm"
    assert verdict.decision == "accepted"
    assert decided({"level": result}, Tolerance("level", "variation of level", 0.2)).decision == (
        "not accepted"
    )


def test_local_parallelism_against_dense_windows():
    random = np.random.default_rng(2)
    x = np.sort(random.uniform(0, 1000, 9))
    z = random.normal(0, 0.01, 9)
    datum = [0.0, 1000.0]
    result = parallelism(x, z, datum, [0.0, 0.0], 0.0005)
    local = Tolerance("local", "parallelism", 0.02, in_any=300)
    asked = of_result(local, result)
    found = np.abs(asked.values).max()
    dense = np.linspace(x[0], x[-1], 1501)
    height = np.interp(dense, x, z)
    near = np.abs(dense[:, None] - dense) <= 300
    steepest = np.abs(height[:, None] - height)[near].max()
    assert steepest <= found + 1e-12
    assert steepest == pytest.approx(found, abs=5e-4)


def test_local_straightness_of_a_bed():
    local = Tolerance("local", "straightness", 0.004, in_any=200, faces=("flat",))
    dip = [0, 0, 0, -0.02, 0, 0, 0, 0]
    heights = one_flat(dip, length=700, u=0.0005)
    verdict = decided(heights, local)
    # a dip of 20 between stations 100 apart, seen whole by a stretch of 200
    assert verdict.measured.n == pytest.approx(0.02) and verdict.where == "from 200 to 400 mm"
    assert verdict.decision == "not accepted"


def test_on_a_lathe_bed():
    bow = [0, 0.004, 0.006, 0.005, 0.001]
    heights = lathe_bed(bow, bow, u=0.0005, ledge_u=0.0002)
    both = {"faces": ("front", "rear")}
    found = accept(
        heights,
        [
            Tolerance("straight", "straightness", 0.02, **both),
            Tolerance("plane", "coplanarity", 0.02, **both),
            Tolerance("parallel", "parallelism", 0.02, **both, datum=("rear",)),
            Tolerance("untwisted", "variation of level", 0.02, **both),
            Tolerance("no total twist", "twist", 0.02, **both),
        ],
    )
    assert [one.on for one in found.verdicts] == [
        "front",
        "rear",
        "front and rear",
        "front against rear",
        "front and rear",
        "front and rear",
    ]
    assert found.value == "accepted"
    assert found["plane, front and rear"].tolerance.name == "plane"
    stricter = accept(heights, [Tolerance("straight", "straightness", 0.003, **both)])
    assert stricter.value == "not accepted"


def test_a_flat_face():
    face = Face("table", y=0, width=300, x_from=0, x_to=600)
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(0, 600, 5), [-120, 0, 120]))
    z = 0.06 * (x / 600) ** 2
    heights = given_heights([face], {"table": (x, y, z)}, u=0.0005)
    table = tolerances("surface plate", faces=["table"])
    found = accept(heights, [table["grade 0"], table["grade 2"]])
    assert [one.decision for one in found.verdicts] == ["not accepted", "accepted"]
    assert found.verdicts[0].high == pytest.approx(0.004 + 0.6 * 0.004)  # 4 + L/250


def test_level_needs_the_horizon():
    heights = one_flat([0, 0.01, 0.02], length=1000, u=0.0005)
    level = Tolerance("level", "level", 0.03).on("flat")
    verdict = decided(heights, level)
    assert verdict.measured.n == pytest.approx(0.02) and verdict.decision == "accepted"
    tilted = np.linspace(0, 1, 3)
    loose = replace(heights, cov=heights.cov + 100 * np.outer(tilted, tilted))
    verdict = decided(loose, level)
    assert verdict.decision == "not decided" and "no reading ties 'flat' to the horizon" in str(
        verdict
    )


def test_what_the_readings_do_not_determine_is_not_decided():
    heights = lathe_bed([0] * 5, [0] * 5, u=0.001)
    bent = (heights.face == "front") * (heights.x == 700)
    loose = replace(heights, cov=heights.cov + 100.0 * np.diag(bent * 1.0))
    verdict = decided(loose, Tolerance("straight", "straightness", 0.02).on("front"))
    assert (verdict.decision, verdict.measured) == ("not decided", None)
    assert "do not determine the straightness" in verdict.note
    assert accept(loose, [Tolerance("s", "straightness", 0.1).on("front", "rear")]).value == (
        "not decided"
    )


def test_what_was_not_measured_is_not_decided():
    verdict = decided(one_flat(CROWN, u=0.001), Tolerance("centres", "number", 0.02))
    assert verdict.decision == "not decided" and verdict.note == "no figure was given"
    faces = [flat("flat"), flat("other", 90)]
    heights = given_heights(faces, {"flat": ([0, 250, 500], [0, 0, 0])}, u=0.001)
    verdict = decided(heights, CONVEX.on("other"))
    assert verdict.note == "no station of 'other' counts"


def test_tolerances_for_other_lengths_are_left_out_and_named():
    table = tolerances("lathe, ordinary class", faces=["flat"])
    bed = [table[name] for name in table if name.startswith("bed straight")]
    heights = one_flat(CROWN, u=0.0005)
    found = accept(heights, bed)
    assert [one.tolerance.name for one in found.verdicts] == ["bed straight, up to 500 mm"]
    assert "bed straight, over 1000 mm" in found.omitted
    longer = one_flat(CROWN, length=1400, u=0.0005)
    assert [one.high for one in accept(longer, bed).verdicts] == pytest.approx([0.024, 0.015])
    centres = accept(longer, bed, length=1000)  # between centres
    assert [one.high for one in centres.verdicts] == pytest.approx([0.02, 0.0075])


def test_a_wider_tolerance_never_lowers_a_probability():
    heights = one_flat([0, 0.009, 0.001, 0.009, 0.002], u=0.002)
    for kind in ({"sign": "convex only"}, {"sign": "either"}, {"in_any": 200.0}):
        one = Tolerance("t", "straightness", 0.02, faces=("flat",), **kind)
        shares = [
            decided(heights, replace(one, limit=limit)).probability
            for limit in (0.005, 0.01, 0.015, 0.03)
        ]
        assert (np.diff(shares) >= -1e-9).all(), kind


def test_in_words_and_tables():
    table = tolerances("lathe, ordinary class", faces=["flat"])
    one = table["bed straight, up to 500 mm"]
    found = accept(one_flat([0, 0.003, 0.005, 0.004, 0], u=0.0004), [one])
    text = str(found)
    assert text.startswith("1 test: 1 accepted, 0 not accepted, 0 not decided, with a prob")
    assert "allowed 0 to +10.0 µm, convex only" in text and "[from memory, high conf" in text
    assert "0 to +0.39 thou" in found.in_words("thou")
    row = found.to_dataframe().iloc[0]
    assert row["to"] == pytest.approx(10.0) and row["measured"] == pytest.approx(3.0)
    assert "<td>accepted</td>" in found._repr_html_()
    named = accept({"<b>": ufloat(0, 0.001)}, [Tolerance("<b>", "number", 0.02)])
    assert "<b>" not in named.to_html()


def test_all_tables_make_sense_and_say_where_they_come_from():
    names = ("lathe, ordinary class", "lathe, precision class", "lathe, large", "knee mill")
    names += ("lathe, classic chart", "lathe, published record", "surface grinder")
    names += ("surface plate", "straightedge")
    for name in names:
        table = tolerances(name)
        assert len(table) == len(table.to_dataframe()) > 0
        for one in table.values():
            check_tolerance(one)
            assert one.source and one.confidence, one
            assert one.from_memory is ("recalled" in one.source)
            assert not one.source.startswith("to ")
    assert "height of centres: 0 to +40.0" in str(tolerances("lathe, ordinary class"))
    assert in_words(tolerances("straightedge")["grade 1"]) == (
        "up to 4.0 µm, and 16.7 µm more for each metre"
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda h: accept(h, []), "there is nothing to test"),
        (lambda h: accept(h, [CONVEX, CONVEX]), "two have one name"),
        (lambda h: accept(h, ["crown"]), "tolerances: a Tolerance is needed, got .crown."),
        (lambda h: accept([1], [CONVEX]), "heights, or figures by the name"),
        (lambda h: accept(h, [replace(CONVEX, test="round")]), "test of tolerance 'crown'"),
        (lambda h: accept(h, [replace(CONVEX, limit=0)]), "limit of tolerance 'crown': it must be"),
        (lambda h: accept(h, [CONVEX.on()]), "needs at least 1 face, got 0; name them"),
        (lambda h: accept(h, [CONVEX.on("rear")]), "faces of tolerance 'crown'"),
        (
            lambda h: accept(h, [Tolerance("p", "parallelism", 0.02).on("flat")]),
            "parallelism needs a datum",
        ),
        (
            lambda h: accept(h, [Tolerance("t", "twist", 0.02).on("flat")]),
            "twist needs at least 2 faces, got 1",
        ),
        (
            lambda h: accept(h, [Tolerance("w", "straightness", 0.02, in_any=501).on("flat")]),
            "the stretch is longer than what was measured, 500 mm, got 501",
        ),
        (
            lambda h: accept({"n": ufloat(0, 0.1)}, [Tolerance("n", "number", 0.02, per=300)]),
            "'n' depends on the length, got none; give the length",
        ),
        (lambda h: accept({"m": 1.0}, [Tolerance("n", "number", 0.02)]), "figures: this is not"),
        (
            lambda h: accept({"crown": 1.0}, [CONVEX]),
            "a straightness is decided from a Straightness, got float; give what metrolib.straig",
        ),
        (
            lambda h: accept({"crown": straightness([0, 500], [0, 0.01], 0.001)}, [CONVEX]),
            "no station lies between the ends, got 2 stations",
        ),
        (lambda h: accept(h, [CONVEX], coverage=0.3), "coverage: it must be at least 0.5"),
        (lambda h: accept(h, [CONVEX], length=0), "length: it must be above 0"),
        (lambda h: accept(h, [CONVEX], draws=0), "draws: it must be at least 100"),
        (lambda h: accept(h, [CONVEX], seed=-1), "seed: it must be at least 0"),
        (lambda h: accept(h, CONVEX), "tolerances: a list of Tolerance is needed, got Tolerance"),
        (
            lambda h: accept(h, [Tolerance("p", "parallelism", 0.02).on("flat", datum=["flat"])]),
            "tolerance 'p': a face is always parallel to itself, got datum 'flat'; name another",
        ),
        (
            lambda h: accept({"n": (0.01, -150)}, [Tolerance("n", "number", 0.02, per=300)]),
            "length of the figure of 'n': it must be above 0",
        ),
        (
            lambda h: accept({"n": (0.01, 150, 2)}, [Tolerance("n", "number", 0.02, per=300)]),
            "figure of 'n': a number is needed",
        ),
        (lambda h: tolerances("lathe"), "name: this is not one of the choices"),
        (lambda h: tolerances("knee mill", faces="table"), "faces: a list of faces is needed"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(InputError, match=words):
        call(one_flat(CROWN, u=0.001))


def test_flatness_of_one_line_of_stations_says_what_to_ask_instead():
    flat = Tolerance("flat", "flatness", 0.02).on("flat")
    (verdict,) = accept(one_flat(CROWN, u=0.001), [flat]).verdicts
    assert verdict.decision == "not decided"
    assert verdict.note == "'flat' was surveyed along one line: ask for its straightness"


def test_a_result_of_form_instead_of_heights():
    result = straightness(np.linspace(0, 500, 5), CROWN, 0.001)
    assert decided({"crown": result}, CONVEX).decision == "accepted"

"""Stop readings: by hand, on beds of known truth, rounding on the safe side, and refusals."""

import json
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from metrolib.errors import DoubtfulReadingsWarning, InputError, NotDeterminedError
from metrolib.heights.adjust import adjust
from metrolib.heights.result import given_heights
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.gauges import Gauge, gauges_of
from metrolib.rebuild.stages.stages import stages
from metrolib.rebuild.stages.stop_readings import safe_side
from metrolib.survey.folder import read_survey
from metrolib.survey.instruments import Instrument
from metrolib.survey.methods import Method
from metrolib.survey.readings import Traverse
from tests.rebuild.beds import flat

ROOT = Path(__file__).resolve().parents[2]
LAST = Method("scraper", 0.0, 0.005, 1.0)
TWO = (Method("file", 0.02, 0.01, 1.0), LAST)
X = np.array([0.0, 200.0, 400.0, 600.0])


def _micrometer(face="top", opposite="ledge", *, unit="mm", resolution=0.01, **more):
    return Gauge(
        face,
        Traverse("m", "micrometer", "micrometer", settings={"opposite_face": opposite}, **more),
        Instrument("micrometer", unit, resolution, 0.0),
    )


def _carriage(face="top", *, sign=1, zero_at=None, resolution=0.001, feet=(-100.0, 100.0), **more):
    traverse = Traverse("c", "carriage", "dial", sign=sign, settings={"riding": "rail"} | more)
    traverse.settings["feet"] = feet
    return Gauge(face, traverse, Instrument("dial", "mm", resolution, 0.0), zero_at)


def _plan(top=(0.0, -0.05, 0.0, 0.0), ledge=(0.0, 0.0, 0.0, 0.0), rail=None, *, u=None, **more):
    """A flat top of 20 mm over an underside ledge, and a rail beside it; held to the ledge."""
    faces = [
        flat("top", length=600, nominal_height=20.0),
        flat("ledge", length=600, normal=180),
        flat("rail", 100.0, length=600),
    ]
    x = more.pop("x", X)
    points = {
        "top": (X, 20.0 + np.array(top)),
        "ledge": (x, np.array(ledge)),
        "rail": (X, np.zeros(4) if rail is None else rail),
    }
    heights = given_heights(faces, points, u)
    held = {"datum": ["ledge"], "tilt_along": 0.0}
    return plan_removal(heights, **{"faces": ["top"], "clean_up": 0.01, **held, **more})


def test_micrometer_by_hand():
    # target 60 um below nominal: sizes of 19.94; the file stops 0.02 above, at 19.96
    result = stages(_plan(), TWO, gauges=[_micrometer(resolution=0.001)])
    file, last = (stage.readings["top"] for stage in result)
    assert file.reading == pytest.approx([19.96, 19.95, 19.96, 19.96])  # at 200 it is 19.95 now
    assert last.reading == pytest.approx([19.94] * 4)
    assert file.written() == ["19.960 mm", "19.950 mm", "19.960 mm", "19.960 mm"]
    # a metric micrometer cannot be set to inches, however the plan is shown
    assert last.written("thou")[0] == "19.940 mm"


def test_the_opposite_face_counts_at_each_station():
    # a ledge 4 um proud at both ends of its three stations, straight between: 4, 0, 0, 4 with its
    # lowest at 200 and 400, held to its least-squares line at 2 um
    plan = _plan(ledge=(0.004, 0.0, 0.0, 0.004))
    last = stages(plan, [LAST], gauges=[_micrometer(resolution=0.001)])["scraper"].readings["top"]
    final = 20.0 + np.array([0.0, -0.05, 0.0, 0.0]) - plan.depth
    assert last.exact == pytest.approx(final + [0.004, 0.0, 0.0, 0.004])


def test_between_the_stations_of_the_opposite_face_it_is_straight():
    plan = _plan(ledge=(0.0, 0.006), x=np.array([0.0, 600.0]))
    last = stages(plan, [LAST], gauges=[_micrometer()])["scraper"].readings["top"]
    final = 20.0 + np.array([0.0, -0.05, 0.0, 0.0]) - plan.depth
    assert last.exact == pytest.approx(final + [0.0, 0.002, 0.004, 0.006])


def test_an_underside_ledge_that_is_cut_is_stopped_at_the_larger_size_too():
    faces = [flat("top", length=600, nominal_height=20.0), flat("ledge", length=600, normal=180)]
    points = {"top": (X, 20 + np.zeros(4)), "ledge": (X, np.array([0.0, -0.033, 0.0, 0.0]))}
    plan = plan_removal(given_heights(faces, points), faces=["ledge"], datum=["top"], tilt_along=0)
    gauge = _micrometer("ledge", "top", resolution=0.01)
    last = stages(plan, [LAST], gauges=[gauge])["scraper"].readings["ledge"]
    assert last.exact == pytest.approx([19.967] * 4)
    assert last.reading == pytest.approx([19.97] * 4)


def test_the_bench_table_shows_them_under_their_unit():
    result = stages(_plan(), TWO, gauges=[_micrometer(resolution=0.001)])
    bench = result.bench_table("top")
    assert bench["file", "stop at [mm]"].tolist() == ["19.960", "19.950", "19.960", "19.960"]
    assert bench["file", "passes"].tolist() == ["4", "0", "4", "4"]
    assert bench["scraper", "left [µm]"].tolist() == ["0.0"] * 4
    assert bench["", "take off [µm]"].tolist() == ["60.0", "10.0", "60.0", "60.0"]
    assert ("scraper", "stop at [mm]") in result.bench_table("top", "thou").columns
    inches = stages(_plan(), TWO, gauges=[_micrometer(unit="in", resolution=0.0001)])
    assert ("scraper", "stop at [in]") in inches.bench_table("top").columns
    sled = stages(_plan(), TWO, gauges=[_carriage()]).bench_table("top", "thou")
    # beyond the feet's reach nothing is written
    assert sled["file", "stop at [µm]"].tolist() == ["", "0", "10", ""]


@pytest.mark.parametrize("sign", [1, -1])
def test_indicator_on_a_carriage_by_hand(sign):
    # the rail climbs 3 um from station to station; so does the chord under the stylus, in full
    plan = _plan(rail=np.array([0.0, 0.003, 0.006, 0.009]))
    gauge = _carriage(sign=sign, zero_at=400, resolution=0.002)
    result = stages(plan, TWO, gauges=[gauge])
    file, last = (stage.readings["top"] for stage in result)
    # both feet stand on the rail at 200 and at 400 only; at 400 it reads 0 before the work
    assert last.x.tolist() == [200, 400]
    now = np.array([-0.05 - 0.003 + 0.006, 0.0])
    assert last.exact == pytest.approx(sign * (now - [0.01, 0.06]))
    assert file.exact == pytest.approx(sign * (now - [0.0, 0.04]))
    # divisions of 2 um: -57 and -60 end at -56 and -60; where the sign falls 57 and 60 at 56 and 60
    assert last.reading == pytest.approx(sign * np.array([-0.056, -0.060]))
    assert last.written() == (["-56 µm", "-60 µm"] if sign > 0 else ["56 µm", "60 µm"])
    assert result.watches["top"].zero_at == 400


def test_the_zero_is_set_where_least_comes_off_if_nothing_is_said():
    assert stages(_plan(), [LAST], gauges=[_carriage()]).watches["top"].zero_at == 200


def test_an_indicator_scale_that_reads_short_reads_short_at_the_stop():
    gauge = _carriage(zero_at=400)
    plan = _plan()
    from uncertainties import ufloat

    plan.heights.extras["scale of dial"] = ufloat(-0.25, 0.01)
    last = stages(plan, [LAST], gauges=[gauge])["scraper"].readings["top"]
    # reading = true - 0.25 reading
    assert last.exact == pytest.approx(np.array([-0.06, -0.06]) / 1.25)
    assert last.u == pytest.approx(np.hypot(0.01 * 0.048, gauge.instrument.u))


@settings(max_examples=20, deadline=None)
@given(
    top=st.lists(st.floats(-0.2, 0), min_size=4, max_size=4),
    rail=st.lists(st.floats(-0.1, 0.1), min_size=4, max_size=4),
    lift=st.floats(-5, 5),
    pitch=st.floats(-0.5, 0.5),
)
def test_a_machine_that_stands_otherwise_is_stopped_at_the_same_readings(top, rail, lift, pitch):
    def readings(lift, pitch):
        move = lift + pitch * X / 1000
        plan = _plan(np.array(top) + move, -move, np.array(rail) + move)
        result = stages(plan, TWO, gauges=[_micrometer()])
        more = stages(plan, TWO, gauges=[_carriage(zero_at=200)])
        return [stage.readings["top"].exact for stage in (*result, *more)]

    for one, other in zip(readings(0, 0), readings(lift, pitch), strict=True):
        assert one == pytest.approx(other, abs=1e-9)


@settings(max_examples=200, deadline=None)
@given(
    reading=st.floats(-100, 100),
    division=st.sampled_from([0.001, 0.002, 0.01, 0.00254, 0.0127]),
    sign=st.sampled_from([1, -1]),
)
def test_rounding_leaves_metal_and_less_than_a_division_of_it(reading, division, sign):
    more_metal = sign * (safe_side(reading, division, sign) - reading)
    assert -1e-6 * division <= more_metal < division * (1 + 1e-6)
    # a reading that can be read is kept
    kept = safe_side(safe_side(reading, division, sign), division, sign)
    assert kept == pytest.approx(safe_side(reading, division, sign), abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(
    depth=st.floats(-0.2, 0),
    ledge=st.floats(-0.01, 0.01),
    unit=st.sampled_from(["um", "thou"]),
    instrument=st.sampled_from([("mm", 0.01), ("mm", 0.001), ("in", 0.0001), ("in", 0.001)]),
)
def test_what_is_written_leaves_metal_in_either_unit(depth, ledge, unit, instrument):
    plan = _plan((0, depth, 0, 0), (0, ledge, ledge, 0))
    gauge = _micrometer(unit=instrument[0], resolution=instrument[1])
    for stage in stages(plan, TWO, gauges=[gauge]):
        found = stage.readings["top"]
        for text, exact in zip(found.written(unit), found.exact, strict=True):
            number, sign = text.split()
            size = float(number) * {"mm": 1.0, "in": 25.4}[sign]
            # once to its division, and once more to digits that are no coarser
            assert exact - 1e-7 < size < exact + 2 * gauge.division


def _worked():
    survey = read_survey(ROOT / "sample_surveys" / "toolroom_lathe")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DoubtfulReadingsWarning)  # it holds a blunder
        heights = adjust(survey)
    return survey, plan_removal(heights, survey.decision)


def test_cut_to_the_readings_the_true_bed_ends_where_the_stage_says():
    """The made survey's truth: each face is cut until its gauge, with its true zero and scale,
    reads the stop; its true height over the true ledges is compared with the stage's stop."""
    survey, plan = _worked()
    truth = json.loads((ROOT / "tests/samples/truth/toolroom_lathe.json").read_text("utf-8"))
    known = truth["faces"]
    heights = plan.heights
    true = np.concatenate([known[name]["height"] for name in dict.fromkeys(heights.face)])
    nominal = np.array([heights.faces[name].nominal_height for name in heights.face])
    zero = truth["instruments"]["zero"]["micrometer 25-50"]
    scale = truth["instruments"]["scale"]["lever indicator"]
    result = stages(plan, survey.methods, gauges=gauges_of(survey, plan))

    def at(face, x):
        return np.interp(x, known[face]["x"], known[face]["height"])

    def height_under(face, reading, zero_at, x):
        """Return the true height of a face when its gauge reads so much."""
        under = {"front flat": "underside ledge", "rear flat": "rear ledge"}
        if face in under:
            return reading - zero - at(under[face], x)

        def carried(x):
            """The sled in the vee of two flanks at 45 deg rises by the mean over cos 45."""
            feet = [
                at(flank, x + foot)
                for flank in ("front flank", "rear flank")
                for foot in (-100, 100)
            ]
            return np.mean(feet) / np.cos(np.pi / 4)

        start = at(face, zero_at) - carried(zero_at)
        return reading * (1 - scale) + start + carried(x)

    for stage in result:
        for face, found in stage.readings.items():
            cut = true.copy()
            mine = plan.group.index[found.stations]
            zero_at = result.watches[face].zero_at
            cut[mine] = [
                height_under(face, reading, zero_at, x)
                for reading, x in zip(found.reading, found.x, strict=True)
            ]
            # the ledges are the datum, and no station of the flats moves the frame
            end = (plan.group.law @ (cut - nominal))[found.stations]
            over = end - stage.stop[found.stations]
            division = result.watches[face].gauge.division
            assert (over > -4 * found.u).all() and (over < 4 * found.u + division).all(), face


def test_gauges_of_a_survey():
    survey, plan = _worked()
    found = {gauge.face: gauge.traverse.name for gauge in gauges_of(survey, plan)}
    # sleds that ride the tailstock flat are no use: the plan cuts it
    assert found == {
        "front flat": "micrometer over the ledge",
        "tailstock flat": "sled on the vee to tailstock flat",
        "rear flat": "micrometer over the rear ledge",
    }
    (one,) = gauges_of(
        survey,
        plan,
        traverses=["sled on the vee to tailstock flat"],
        zero_at={"tailstock flat": 700.0},
    )
    assert one.zero_at == 700 and not one.absolute
    with pytest.raises(InputError, match="zero_at: this is not one of the choices, got 'ledge'"):
        gauges_of(survey, plan, zero_at={"ledge": 700})
    with pytest.raises(InputError, match="'level on the vee', level along on"):
        gauges_of(survey, plan, traverses=["level on the vee"])
    (riding,) = gauges_of(survey, plan, traverses=["sled to front flat"])
    with pytest.raises(InputError, match="'tailstock flat', which it is read from, is cut by the"):
        stages(plan, survey.methods, gauges=[riding])


def test_uncertainty_of_a_micrometer_stop_is_that_of_the_ledge_and_of_a_reading():
    plan = _plan(u=0.002, confidence=None)
    gauge = _micrometer()
    last = stages(plan, [LAST], gauges=[gauge])["scraper"].readings["top"]
    # the ledge's own residual from the line through its four stations
    line = np.column_stack([np.ones(4), X])
    rest = np.diag(np.eye(4) - line @ np.linalg.pinv(line))
    assert last.u == pytest.approx(np.sqrt(0.002**2 * rest + gauge.instrument.u**2))


@pytest.mark.parametrize("gauge", [_micrometer(resolution=1e-9), _carriage(resolution=1e-9)])
def test_uncertainty_of_the_stop_against_drawn_beds(gauge):
    """Beds as they may truly be are cut until the gauge reads its stop; where do they end?"""
    random = np.random.default_rng(5)
    factor = random.normal(0, 0.001, (12, 12))
    plan = _plan((0, -0.05, -0.02, 0), rail=np.zeros(4), u=factor @ factor.T, confidence=None)
    found = stages(plan, [LAST], gauges=[gauge])["scraper"].readings["top"]
    at = {name: np.flatnonzero(plan.heights.face == name) for name in plan.heights.faces}
    ends = []
    for _ in range(4000):
        true = plan.heights.values + factor @ random.normal(size=12)
        top, ledge, rail = (true[at[name]] for name in ("top", "ledge", "rail"))
        here = found.stations
        if gauge.absolute:
            cut = found.exact - ledge[here]
        else:  # the chord of a sled whose feet stand midway between stations
            chord = np.array([np.interp(X[here] + foot, X, rail) for foot in (-100, 100)]).mean(0)
            zero = list(X[here]).index(200.0)
            cut = found.exact + chord + top[here[zero]] - chord[zero]
        line = np.polynomial.Polynomial.fit(X, ledge, 1)
        # an underside that reads higher stands lower in the machine
        ends.append(cut - 20 + line(X[here]))
    assert np.mean(ends, axis=0) == pytest.approx((plan.target)[found.stations], abs=2e-4)
    assert np.std(ends, axis=0) == pytest.approx(found.u, rel=0.06)


def test_a_stop_less_sure_than_its_allowance_is_told():
    plan = _plan(u=0.002, confidence=None)
    result = stages(plan, [Method("lap", 0.005, 0.005, 1.0), LAST], gauges=[_micrometer()])
    u = result["lap"].readings["top"].u.max()
    assert 2 * u > 0.005
    assert (
        f"On 'top' the stop of lap is sure to U = {2000 * u:.1f} µm (k = 2) only, so 5.0 µm are too"
        " little to leave there."
    ) in str(result)
    assert "is sure to" not in str(stages(plan, TWO, gauges=[_micrometer()]))


@pytest.mark.parametrize(
    ("gauge", "error", "words"),
    [
        (_micrometer("side"), InputError, "face of the gauge: .* got 'side'; use one of 'top'"),
        (_micrometer(opposite="cover"), InputError, "unknown face 'cover'; use one of 'top'"),
        (_micrometer(opposite="rail"), InputError, "do not face opposite ways"),
        (_micrometer(resolution=0), InputError, "its instrument needs a resolution above 0"),
        (_carriage(zero_at=0), InputError, "zero_at: no station .* got 0; use one of 200, 400"),
        (_carriage(feet=(-400.0, 400.0)), InputError, "none of its 4 stations lies between"),
    ],
)
def test_refusals(gauge, error, words):
    with pytest.raises(error, match=words):
        stages(_plan(), [LAST], gauges=[gauge])


def test_two_gauges_on_one_face_are_refused():
    with pytest.raises(InputError, match="gauges: two of them watch 'top'"):
        stages(_plan(), [LAST], gauges=[_micrometer(), _carriage()])


def test_another_kind_is_refused():
    gauge = Gauge("top", Traverse("w", "wire", "i"), Instrument("i", "mm", 0.001, 0.0))
    with pytest.raises(InputError, match="kind of the gauge: .* got 'wire'; use one of 'micromete"):
        stages(_plan(), [LAST], gauges=[gauge])


def test_an_opposite_face_that_nobody_measured_is_refused():
    faces = [flat("top", length=600, nominal_height=20.0), flat("ledge", length=600, normal=180)]
    heights = given_heights(faces, {"top": (X, 20 + np.zeros(4))})
    plan = plan_removal(heights, faces=["top"], clean_up=0.01)
    with pytest.raises(InputError, match="none of its 4 stations lies between stations of 'ledge'"):
        stages(plan, [LAST], gauges=[_micrometer()])


def test_an_opposite_face_that_nothing_ties_is_refused():
    spread = np.repeat([0.001, 10.0, 0.001], 4)
    plan = _plan(u=spread, datum=[], tilt_along=None, confidence=None)
    with pytest.raises(NotDeterminedError, match="take a micrometer reading from 'ledge' first"):
        stages(plan, [LAST], gauges=[_micrometer()])

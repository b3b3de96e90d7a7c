"""Stages: by hand, what must be conserved, and refusals with their words."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from metrolib.errors import InputError
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.stages.stages import stages
from metrolib.survey.machine import LeftOut
from metrolib.survey.methods import Method
from tests.rebuild.beds import one_flat

#: Common practice, no published source: roughing stops 0.05 mm above size, fine filing 0.025 mm
#: above it, stoning takes the last 0.025 mm.
PRACTICE = (
    Method("roughing", 0.05, 0.010, 1.5),
    Method("fine file", 0.025, 0.005, 0.8),
    Method("stone", 0.0, 0.0025, 0.2),
)


def _plan(z=(0.0, -0.05, 0.0), clean_up=0.03, **more):
    return plan_removal(one_flat(z, **more), faces=["flat"], clean_up=clean_up, tilt_along=None)


def test_common_practice_by_hand():
    # depths 80, 30, 80 um
    result = stages(_plan(), PRACTICE)
    taken = [stage.taken.round(6).tolist() for stage in result]
    assert taken == [[0.03, 0.0, 0.03], [0.025, 0.005, 0.025], [0.025, 0.025, 0.025]]
    left = [stage.left.round(6).tolist() for stage in result]
    assert left == [[0.05, 0.03, 0.05], [0.025] * 3, [0.0] * 3]
    assert [stage.passes.tolist() for stage in result] == [[3, 0, 3], [5, 1, 5], [10, 10, 10]]
    # areas 125, 250, 125 mm by 30 mm
    assert [stage.volume for stage in result] == pytest.approx([225.0, 225.0, 375.0])
    assert result.value == pytest.approx(0.225 / 1.5 + 0.225 / 0.8 + 0.375 / 0.2)


def test_stops_lie_the_allowance_over_the_target_or_at_the_face():
    plan = _plan()
    for stage in stages(plan, PRACTICE):
        over = stage.stop - plan.target
        assert over == pytest.approx(np.minimum(plan.depth, stage.method.leaves))


def test_within_a_band_nothing_is_taken_where_the_plan_takes_nothing():
    plan = plan_removal(one_flat([0, 0.01, 0.2, 0, 0]), faces=["flat"], band=0.02)
    result = stages(plan, PRACTICE)
    idle = plan.depth == 0
    assert idle.any()
    for stage in result:
        assert (stage.taken[idle] == 0).all() and (stage.passes[idle] == 0).all()
    assert sum(stage.volume for stage in result) == pytest.approx(plan.volume)


@settings(max_examples=30, deadline=None)
@given(
    z=st.lists(st.floats(-0.3, 0.0), min_size=3, max_size=6),
    allowances=st.lists(st.integers(1, 200), min_size=1, max_size=4, unique=True),
    last=st.sampled_from([0.0, 0.0005]),
)
def test_stages_take_what_the_plan_takes_less_what_the_last_leaves(z, allowances, last):
    plan = _plan(z)
    leaves = [allowance / 1000 for allowance in sorted(allowances, reverse=True)] + [last]
    methods = [Method(f"{a:g}", a, 1e-4, 1.0) for a in leaves]
    result = stages(plan, methods)
    taken = sum(stage.taken for stage in result)
    assert taken + result.stages[-1].left == pytest.approx(plan.depth, abs=1e-12)
    assert result.stages[-1].left == pytest.approx(np.minimum(plan.depth, last), abs=1e-12)
    rest = plan.area @ result.stages[-1].left
    volume = sum(stage.volume for stage in result)
    assert volume + rest == pytest.approx(plan.volume, abs=1e-9)
    stops = np.array([plan.relative_height, *(stage.stop for stage in result)])
    assert (np.diff(stops, axis=0) <= 1e-12).all(), "no stage puts metal on"
    for stage in result:
        assert (stage.passes * stage.method.per_pass >= stage.taken - 1e-9).all()
        assert ((stage.passes - 1) * stage.method.per_pass < stage.taken + 1e-9).all()


def test_one_more_stage_in_between_changes_no_stop():
    plan = _plan()
    fewer = stages(plan, [PRACTICE[0], PRACTICE[2]])
    more = stages(plan, PRACTICE)
    for name in ("roughing", "stone"):
        assert fewer[name].stop.tolist() == more[name].stop.tolist()


def test_words():
    result = stages(_plan(width=32), PRACTICE)  # so that no figure is rounded at a half
    assert str(result) == (
        "roughing: stop 50.0 µm above the target; up to 3 passes, 0.24 cm³, 0.2 h. fine file: stop "
        "25.0 µm above the target; up to 5 passes, 0.24 cm³, 0.3 h. stone: down to the target; up "
        "to 10 passes, 0.40 cm³, 2.0 h. In all 2.5 h."
    )
    doubtful = Method("file", 0.02, 0.01, 1.0, rate_uncertainty=0.2)
    words = stages(_plan([0.0, 0.0, 0.0], 0.01), [Method("mill", 0.2, 0.1, 9.0), doubtful])
    assert "mill: nothing to do, no place is 200.0 µm above the target." in str(words)
    assert "20.0 µm are left on for whatever follows." in str(words)
    assert ", U = " in str(stages(_plan(), [doubtful]))
    # 2.5 passes of 10 um, give or take a fifth: u = 0.5
    uneven = stages(_plan([0.0] * 3, 0.025), [Method("file", 0.0, 0.01, 1.0, 0.002)])
    assert uneven["file"].passes_u.tolist() == pytest.approx([0.5] * 3)
    assert "up to 3 passes (U = 1.0, k = 2), " in str(uneven)
    assert uneven.to_dataframe()["u(passes)"].tolist() == pytest.approx([0.5])
    assert "stop 1.97 thou above" in result.in_words("thou")
    idle = stages(_plan([0.0, 0.0, 0.0], 0.0), PRACTICE)
    assert "stone: nothing to do, no place is above the target. In all 0.0 h." in str(idle)


def test_tables():
    plan = plan_removal(
        one_flat([0, -0.05, 0, 0, 0], left_out=(LeftOut(240, 260, "oil hole"),)), faces=["flat"]
    )
    result = stages(plan, PRACTICE)
    table = result.to_dataframe("thou")
    assert table["leaves [thou]"].round(2).tolist() == [1.97, 0.98, 0.0]
    assert table["time [h]"].sum() == pytest.approx(result.value)
    bench = result.bench_table("flat")
    assert bench["stone", "left [µm]"].tolist() == ["0.0", "0.0", "--", "0.0", "0.0"]
    assert bench["", "x [mm]"].tolist() == ["0", "125", "250", "375", "500"]
    assert not any(head.startswith("stop at") for _, head in bench.columns)
    assert "<th>passes at most</th>" in result._repr_html_()
    assert len(result) == 3
    with pytest.raises(InputError, match="there is no 'lap'; use one of 'roughing', 'fine file'"):
        result["lap"]
    with pytest.raises(InputError, match="face: this is not one of the choices, got 'ledge'"):
        result.bench_table("ledge")


@pytest.mark.parametrize(
    ("methods", "words"),
    [
        ([], "methods: at least one is needed, got none"),
        (PRACTICE[0], "methods: a list of Method is needed, got Method"),
        (["scraper"], "methods: each must be a Method, got 'scraper'"),
        ([Method("file", "little", 0.01, 1.0)], "leaves must be at least 0, got little"),
        ([Method("file", 0.0, 0.01, 0.0)], "method 'file': rate must be above 0, got 0"),
        ([Method("file", 0.0, 0.0, 1.0)], "method 'file': per_pass must be above 0, got 0"),
        ([Method("file", -0.1, 0.1, 1.0)], "leaves must be at least 0, got -0.1"),
        ([Method("file", 0.1, 0.1, np.nan)], "rate must be above 0, got nan"),
        ([PRACTICE[1], PRACTICE[0]], "'roughing': leaves is 0.05 mm, not below the 0.025 mm of"),
        ([PRACTICE[0], PRACTICE[0]], "method 'roughing': the name stands twice"),
        (
            [PRACTICE[1], Method("mill", 0.0, 0.03, 9.0)],
            "one pass takes 0.03 mm, but 'fine file' leaves only 0.025 mm for it; let 'fine file' "
            "leave at least 0.03 mm",
        ),
    ],
)
def test_refusals(methods, words):
    with pytest.raises(InputError, match=words):
        stages(_plan(), methods)


def test_all_faults_come_at_once():
    with pytest.raises(InputError) as error:
        stages(_plan(), [Method("a", 0.0, 0.0, 1.0), Method("b", 0.0, 0.1, 0.0)])
    assert len(str(error.value).splitlines()) == 3

"""What is of another kind than asked for is refused in one sentence."""

import pytest

from metrolib.errors import InputError
from metrolib.heights.rounds import adjust_rounds
from metrolib.rebuild.removal.gaps import between_stations
from metrolib.rebuild.removal.options import compare
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.rebuild.removal.savings import savings
from metrolib.rebuild.removal.study import study_plan
from metrolib.rebuild.rounds.overcut import after_overcut
from metrolib.rebuild.rounds.progress import progress
from metrolib.rebuild.stages.gauges import gauges_of
from metrolib.rebuild.stages.section import Bridge, CrossSection, cross_section
from metrolib.rebuild.stages.spacer import spacer_cut
from metrolib.rebuild.stages.stages import stages
from metrolib.survey.decision import Decision
from metrolib.survey.methods import Method
from tests.rebuild.beds import one_flat

HEIGHTS = one_flat([0, -0.05, 0])
PLAN = plan_removal(HEIGHTS, faces=["flat"])
SCRAPER = Method("scraper", 0.0, 0.005, 0.3)
EMPTY = CrossSection(0.0, {})


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: stages(HEIGHTS, [SCRAPER]), "plan: a RemovalPlan is needed, got Heights; it come"),
        (lambda: stages(PLAN, [SCRAPER], gauges=None), "gauges: a list of Gauge is needed, got No"),
        (lambda: stages(PLAN, [SCRAPER], gauges=[1]), "gauges: a Gauge is needed, got 1"),
        (lambda: gauges_of(None, HEIGHTS), "plan: a RemovalPlan is needed"),
        (lambda: gauges_of(None, PLAN, zero_at=300), "zero_at: places by the name of each face"),
        (lambda: gauges_of(None, PLAN, traverses="over"), "traverses: a list of names is needed"),
        (lambda: study_plan(HEIGHTS), "plan: a RemovalPlan is needed, got Heights"),
        (lambda: between_stations(None), "plan: a RemovalPlan is needed, got None"),
        (lambda: savings(3), "plan: a RemovalPlan is needed, got 3"),
        (lambda: cross_section(HEIGHTS, 100), "plan: a RemovalPlan is needed"),
        (lambda: spacer_cut(PLAN, "flat", None), "section: a CrossSection is needed"),
        (lambda: spacer_cut(EMPTY, "flat", None), "bridge: a Bridge is needed, got None"),
        (lambda: EMPTY.cut("flat", 0.05), "face: this is not one of the choices"),
        (lambda: progress(HEIGHTS, PLAN), "rounds: an AdjustedRounds is needed"),
        (lambda: after_overcut(None, tolerance=0.01), "progress: a Progress is needed"),
        (lambda: compare(PLAN, {"it": Decision(("flat",))}), "heights: a Heights is needed"),
        (lambda: adjust_rounds([1, 2]), "surveys: surveys by the name of each round are needed"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(InputError, match=words):
        call()


def test_a_bridge_is_described_in_numbers():
    section = cross_section(PLAN, 250)
    for bridge, words in (
        (Bridge("flat", "left", 0), "spacer_y: a number is needed, got 'left'"),
        (Bridge("flat", -50, "deep"), "seat: a number is needed, got 'deep'"),
    ):
        with pytest.raises(InputError, match=words):
            spacer_cut(section, "flat", bridge, allowance=0.01)

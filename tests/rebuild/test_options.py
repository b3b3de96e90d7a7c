import numpy as np
import pytest

from metrolib.errors import ImpossiblePlanError, InputError, NotDeterminedError
from metrolib.rebuild.removal.options import AsItIs, compare
from metrolib.rebuild.removal.plan import RemovalPlan
from metrolib.rebuild.removal.removal import plan_removal
from metrolib.survey.decision import Decision
from tests.rebuild.beds import HELD, lathe_bed

FACES = ("front", "rear")
HUMP = [0, 0.03, 0.06, 0.03, 0]


@pytest.fixture
def comparison():
    heights = lathe_bed(HUMP, [0] * 5)
    return compare(
        heights,
        {
            "one plane": Decision(FACES, clean_up=0.01, confidence=None, **HELD),
            "high spots": Decision(FACES, band=0.02, confidence=None, **HELD),
            "spare the front": Decision(FACES, untouchable=("front",), confidence=None, **HELD),
        },
    )


def test_options_stand_side_by_side(comparison):
    names = [name for name, _ in comparison.outcomes]
    assert names == ["leave it alone", "one plane", "high spots", "spare the front"]
    kinds = [type(outcome) for _, outcome in comparison.outcomes]
    assert kinds == [AsItIs, RemovalPlan, RemovalPlan, ImpossiblePlanError]
    assert comparison["high spots"].depth.max() == pytest.approx(0.04)
    with pytest.raises(InputError, match="option: .* choices, got 'send it out'"):
        comparison["send it out"]


def test_plans_are_those_of_plan_removal(comparison):
    plan = comparison["one plane"]
    alone = plan_removal(plan.heights, plan.decision)
    assert plan.depth.tobytes() == alone.depth.tobytes()


def test_table_by_hand(comparison):
    table = comparison.to_dataframe().set_index("option")
    # hump of 60: left alone 60 off; one plane 10 below everything; within 20 the hump loses 40
    deepest, left = table["deepest cut [µm]"], table["deviation left [µm]"]
    np.testing.assert_allclose(deepest.iloc[:3], [0, 70, 40], atol=1e-9)
    np.testing.assert_allclose(left.iloc[:3], [60, 0, 20], atol=1e-9)
    # 350 mm between stations, 40 wide: 10 off all 1400 of both, hump 30 + 60 + 30
    one_plane = 0.01 * 1400 * 40 * 2 + (0.03 + 0.06 + 0.03) * 350 * 40
    high_spots = (0.01 + 0.04 + 0.01) * 350 * 40
    np.testing.assert_allclose(table["volume [cm³]"].iloc[1:3] * 1e3, [one_plane, high_spots])
    assert table["at"]["high spots"] == "700 mm on 'front'"
    assert "'front' must stay untouched" in table["cannot be done"]["spare the front"]
    assert np.isnan(deepest["spare the front"])


def test_table_in_thou(comparison):
    table = comparison.to_dataframe("thou").set_index("option")
    assert table["deepest cut [thou]"]["high spots"] == pytest.approx(0.04 / 0.0254)


def test_text_and_html(comparison):
    text = comparison.to_text()
    assert "spare the front: cannot be done: no removal" in text
    assert "40.0" in text and "nan" not in text.lower()
    assert "high spots: up to 40.0 µm" in str(comparison)
    assert "<td>40.0</td>" in comparison._repr_html_()


def test_left_alone_counts_the_zone_shaped_like_the_target():
    # coplanar: front hollow by 20 and the rear 100 higher; parallel: only the hollow counts
    heights = lathe_bed([0, -0.02, 0], [0.1, 0.1, 0.1])
    held = {"confidence": None, **HELD}
    comparison = compare(
        heights,
        {
            "coplanar": Decision(FACES, **held),
            "parallel": Decision(FACES, together="parallel", **held),
        },
    )
    (name, first), (_, second) = comparison.outcomes[:2]
    assert name == "leave it alone (coplanar asked)"
    assert first.deviation == pytest.approx(0.12)
    assert second.deviation == pytest.approx(0.02)
    assert "left alone: 120.0 µm off from coplanar" in str(first)


def test_an_option_that_the_readings_do_not_determine_says_so():
    heights = lathe_bed([0, 0, 0], [0, 0, 0], u=0.001)
    twisted = (heights.face == "front") * heights.x / 1e3
    loose = 100.0 * np.outer(twisted, twisted)
    heights = type(heights)(**{**vars(heights), "cov": heights.cov + loose})
    comparison = compare(
        heights, {"coplanar": Decision(FACES), "front alone": Decision(("front",))}
    )
    assert isinstance(comparison["coplanar"], NotDeterminedError)
    assert isinstance(
        comparison["leave 'front' and 'rear' alone (coplanar asked)"], NotDeterminedError
    )
    assert isinstance(comparison["front alone"], RemovalPlan)


def test_nothing_to_compare():
    with pytest.raises(InputError, match="options: there is nothing to compare"):
        compare(lathe_bed([0, 0], [0, 0]), {})


def test_a_condition_without_sense_is_not_taken_for_an_impossible_one():
    with pytest.raises(InputError, match="band: it must be at least 0"):
        compare(lathe_bed([0, 0], [0, 0]), {"odd": Decision(FACES, band=-1)})

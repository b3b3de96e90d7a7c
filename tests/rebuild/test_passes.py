"""Pass numbers: by hand, pass by pass on a simulated face, and the odds of a cut too deep."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from metrolib.errors import InputError
from metrolib.rebuild.stages.passes import pass_numbers
from metrolib.rebuild.stages.rates import removal_rate
from metrolib.survey.methods import Method


def test_by_hand():
    # 5 um a pass: 20, 15, 5 um are 4, 3 and 1 pass; one zone has nothing
    found = pass_numbers([0, 100, 200, 300], [0.020, 0.015, 0.005, -0.001], per_pass=0.005)
    assert found.passes.tolist() == [4, 3, 1, 0]
    order = [found.zones(number).tolist() for number in (1, 2, 3, 4)]
    assert order == [
        [True, False, False, False],
        [True, True, False, False],
        [True, True, False, False],
        [True, True, True, False],
    ]
    assert found.stop_after == found.value == 4
    assert found.left == pytest.approx([0, 0, 0, -0.001])


def test_stop_by_hand():
    # r = 5, u = 1: stop while m (5 + 2) < 42, so after 5: 25 are off, u = 5, half of 17 is 8.5;
    # a sixth would leave 12 with u = 6, which has reached its half
    found = pass_numbers([0], [0.042], per_pass=ufloat(0.005, 0.001))
    assert (found.value, found.stop_after) == (8, 5)
    assert (found.taken[0], found.taken_u[0]) == pytest.approx((0.025, 0.005))


def test_a_zone_where_one_pass_is_too_unsure_gets_none_and_holds_up_no_other():
    # 6 < 5 + 2 < 9 um
    found = pass_numbers([0, 100], [0.006, 0.009], per_pass=ufloat(0.005, 0.001))
    assert (found.passes.tolist(), found.stop_after) == ([0, 1], 1)


def test_the_rate_may_come_from_a_log_or_from_a_method():
    log = removal_rate([5, 5, 5], [0.020, 0.025, 0.030])
    one = pass_numbers([0], [0.1], per_pass=log)
    two = pass_numbers([0], [0.1], per_pass=log.value.nominal_value + ufloat(0, log.u))
    three = pass_numbers([0], [0.1], per_pass=Method("scraper", 0, 0.005, 1.0, log.u))
    assert one.stop_after == two.stop_after == three.stop_after
    assert one.per_pass_u == log.u


DEPTHS = st.lists(st.floats(-0.01, 0.3), min_size=1, max_size=12)


@settings(max_examples=150, deadline=None)
@given(depth=DEPTHS, per_pass=st.floats(0.002, 0.02), share=st.floats(0, 0.6))
def test_the_round_pass_by_pass(depth, per_pass, share):
    """The rule applied by walking through the passes, as one would at the bench."""
    u = per_pass * share
    found = pass_numbers(
        np.arange(len(depth)), depth, per_pass=ufloat(per_pass, u) if u else per_pass
    )
    made = np.zeros(len(depth), dtype=int)
    stopped = 0
    for number in range(1, found.value + 1):
        scraped = found.zones(number)
        if number > 1:
            assert (scraped | ~found.zones(number - 1)).all(), "a pass only ever widens the zones"
        after = made + scraped
        left = np.array(depth) - after * per_pass
        touched = after > 0
        assert (left[touched] > -1e-9).all(), "never past the depth"
        if u and (after[touched] * u > left[touched] / 2 + 1e-9).any():
            break
        made, stopped = after, number
    # a zone that reaches its half to the last digit may fall on either side
    assert abs(found.stop_after - stopped) <= 1
    left = found.left[found.made(found.stop_after) > 0]
    uncertain = found.taken_u[found.made(found.stop_after) > 0]
    assert (uncertain <= left / 2 + 1e-9).all()
    if not u:
        assert found.stop_after == found.value == made.max(initial=0)
        assert (found.passes == made).all()


def test_rounds_close_in_and_seldom_cut_too_deep():
    """A zone's true rate is drawn anew in each round; the depth left is measured after it."""
    random = np.random.default_rng(7)
    rate, too_deep, rounds = ufloat(0.005, 0.001), [], []
    for _ in range(300):
        depth = random.uniform(0.02, 0.2, 10)
        count, lowest = 0, 0.0
        while (found := pass_numbers(np.arange(10), depth, per_pass=rate)).stop_after > 0:
            true = random.normal(0.005, 0.001, 10)
            depth = depth - found.made(found.stop_after) * true
            lowest = min(lowest, depth.min())
            count += 1
        rounds.append(count)
        too_deep.append(lowest < 0)
        assert depth.max() < 0.007, "what is left over is less than a pass and its doubt"
    # m (r + 2 u) < depth leaves two standard uncertainties: 2.3 % in the zone that decides, which
    # is a new one in each of the last rounds; the others are further off
    assert np.mean(too_deep) < 0.2
    assert 3 <= np.median(rounds) <= 12


def test_words():
    x, depth = [100, 200, 300], [0.010, 0.042, 0.021]
    found = pass_numbers(x, depth, per_pass=ufloat(0.005, 0.001), face="front")
    assert str(found) == (
        "Up to 8 passes (at 200 mm on 'front'). Begin in the 1 zone with 8, and widen. Stop after "
        "5 and measure: then 25.0 µm (u = 5.0 µm) are off there and 17.0 µm are left."
    )
    assert "Then measure: 40.0 µm (u = 0.0 µm)" in str(pass_numbers(x, depth, per_pass=0.005))
    assert "spot, and scrape what prints" in str(pass_numbers(x, [0.001] * 3, per_pass=0.005))
    unsure = pass_numbers(x, [0.006] * 3, per_pass=ufloat(0.005, 0.002))
    assert "In no zone is a pass sure to stay clear: spot, and scrape" in str(unsure)
    table = found.to_dataframe("thou")
    assert table["passes"].tolist() == [2, 8, 4]
    assert table["left then [thou]"].tolist() == pytest.approx(found.left / 0.0254)
    assert "200 mm on &#x27;front&#x27;" in found._repr_html_()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"per_pass": 0.0}, "per_pass: it must be above 0, got 0.0"),
        ({"per_pass": ufloat(-0.01, 0.001)}, "per_pass: it must be above 0"),
        ({"per_pass": 0.005, "depth": [0.1, 0.2]}, "x and depth: lengths differ"),
        (
            {"per_pass": 0.005, "x": [7, 7], "depth": [0.1, 0.2], "face": "top"},
            "face: two zones of 'top' lie at one place, got x 7; give each line of a wide face",
        ),
        ({"per_pass": 0.005, "face": ["a", "b"]}, "face: one name, or 1 are needed, got shape"),
        ({"per_pass": 0.005, "depth": [np.nan]}, "depth: item 0 is not a finite number"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(InputError, match=words):
        pass_numbers(**{"x": [0], "depth": [0.1], **arguments})


def test_passes_are_numbered_from_one():
    found = pass_numbers([0], [0.02], per_pass=0.005)
    with pytest.raises(InputError, match="the passes are numbered 1 to 4, got 5"):
        found.zones(5)

"""Bearing from counts by hand: means, scatter, chance."""

import numpy as np
import pytest
from scipy import stats

from metrolib.errors import InputError
from metrolib.rebuild.bearing.bearing import bearing_from_counts
from metrolib.rebuild.bearing.bearing_rules import RULES
from metrolib.rebuild.bearing.squares import scatter_of


def test_by_hand():
    # 12, 14, 16: mean 14, s² = (4 + 0 + 4) / 2 = 4, u² = 4 / 3
    bearing = bearing_from_counts([12, 14, 16], [0.3, 0.4, 0.5])
    assert bearing.value.n == pytest.approx(14)
    assert bearing.value.s == pytest.approx((4 / 3) ** 0.5)
    assert bearing.share.n == pytest.approx(0.4)
    assert bearing.share.s == pytest.approx((0.01 / 3) ** 0.5)
    # counts and shares go up together: their difference in units of s does not scatter
    assert (bearing.value / 2 - bearing.share / 0.1).s == pytest.approx(0, abs=1e-6)


def test_the_sentence():
    assert str(bearing_from_counts([12, 14, 16], [0.3, 0.4, 0.5])) == (
        "14.0 spots per 25 mm square (u = 1.2, from 3 squares), 40.0 % of the area bears "
        "(u = 5.8 %); the squares scatter as chance alone would "
        "(spots tell the texture of a face, not its shape)"
    )


def test_another_square_is_told_for_25_mm():
    inch = bearing_from_counts([12, 14, 16], square=25.4)
    plain = bearing_from_counts([12, 14, 16])
    scale = (25 / 25.4) ** 2
    assert inch.value.n == pytest.approx(scale * plain.value.n)
    assert inch.value.s == pytest.approx(scale * plain.value.s)
    half = bearing_from_counts([3, 4, 5], square=12.5)
    assert half.value.n == pytest.approx(16) and half.share is None
    frame = half.to_dataframe()
    assert frame["spots on 12.5 mm"].tolist() == [3, 4, 5]
    assert frame["spots on 25 mm"].tolist() == [12, 16, 20]


def test_one_square_only_says_so_and_takes_chance():
    bearing = bearing_from_counts([16], [0.4])
    assert bearing.value.s == pytest.approx(4)  # root of the count
    assert bearing.share.s == pytest.approx(0.4 / 4)  # four tenths, borne by 16 spots more or less
    assert "from one square only" in str(bearing) and "count some more" in str(bearing)
    assert bearing_from_counts([0]).value.s == pytest.approx(1)
    judged = bearing_from_counts([16], [0.4], u_share=0.05).share
    assert judged.s == pytest.approx((0.1**2 + 0.05**2) ** 0.5)


def test_equal_counts_keep_the_rounding_to_whole_spots():
    assert bearing_from_counts([14, 14, 14, 14]).value.s == pytest.approx((1 / 12 / 4) ** 0.5)


def test_what_is_called_a_spot_is_common_to_all_squares():
    bearing = bearing_from_counts([12, 14, 16], u_count=0.1)
    assert bearing.value.s**2 == pytest.approx(4 / 3 + 1.4**2)
    assert sum(u**2 for u in bearing.parts.values()) == pytest.approx(bearing.value.s**2)
    assert "what is called a spot" in bearing._repr_html_()


def test_no_spots_at_all():
    bearing = bearing_from_counts([0, 0, 0])
    assert bearing.value.n == 0 and "no spots were seen" in str(bearing)


@pytest.mark.parametrize("mean", [6.0, 14.0, 40.0])
def test_chance_is_seldom_called_patchy_or_even(mean):
    random = np.random.default_rng(4)
    draws = random.poisson(mean, (2000, 8)).astype(float)
    kinds = [scatter_of(counts).kind for counts in draws]
    # 5 % by construction; the law is an approximation for few spots, so 2 % are allowed to it, and
    # four standard deviations to 2000 draws
    share = 1 - kinds.count("chance") / len(kinds)
    assert abs(share - 0.05) < 0.02 + 4 * (0.05 * 0.95 / 2000) ** 0.5


def test_the_index_of_dispersion_is_that_of_scipy():
    counts = np.array([3.0, 9.0, 4.0, 11.0, 2.0, 12.0])
    index = stats.chisquare(counts)  # expected: the mean, everywhere
    assert index.pvalue < 0.025 and scatter_of(counts).kind == "patchy"
    assert scatter_of(counts).to_chance * 5 == pytest.approx(index.statistic)
    calm = np.array([5.0, 6.0, 6.0, 7.0])
    assert 0.025 < stats.chisquare(calm).pvalue < 0.99
    even = np.array([14.0, 15.0, 14.0, 15.0, 14.0, 15.0])
    assert stats.chisquare(even).pvalue > 0.975 and scatter_of(even).kind == "even"


def test_u_is_right_for_squares_picked_without_choice():
    # 5000 faces of 6 squares: spots by chance, mean 14; u² is on average the variance of the mean
    random = np.random.default_rng(7)
    found = [bearing_from_counts(counts).value for counts in random.poisson(14, (1500, 6))]
    spread = np.var([one.n for one in found], ddof=1)
    told = np.mean([one.s**2 for one in found])
    # a variance from N draws scatters by sqrt(2 / N); the told one by sqrt(2 / 5 / N) more
    assert told / spread == pytest.approx(1, abs=4 * (2.4 / 1500) ** 0.5)


def test_rules_are_data_with_a_source_and_compared_not_judged():
    assert all("no published source" in rule.source for rule in RULES)
    ways = next(rule for rule in RULES if rule.use == "ways of machine tools")
    assert bearing_from_counts([15, 15, 14, 16, 15, 15, 15, 15]).beside(ways) == "within"
    assert bearing_from_counts([5, 5, 5, 5]).beside(ways) == "fewer"
    assert bearing_from_counts([40, 41, 40, 39]).beside(ways) == "more"
    assert bearing_from_counts([11, 12, 13, 12]).beside(ways) == "cannot tell"
    page = bearing_from_counts([15, 15])._repr_html_()
    assert "12 to 18" in page and "no published source" in page and "not its shape" in page


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"counts": []}, "at least 1 values"),
        ({"counts": [3, -1]}, "counts: a number is below 0, got -1"),
        ({"counts": [3, float("nan")]}, "not a finite number"),
        ({"counts": [3, 4], "shares": [0.3]}, "lengths differ"),
        ({"counts": [3, 4], "shares": [30, 40]}, "a share is above 1.*write 38 % as 0.38"),
        ({"counts": [3, 4], "square": 0}, "square: it must be above 0"),
        ({"counts": [3, 4], "u_count": -1}, "u_count: it must be at least 0"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(InputError, match=words):
        bearing_from_counts(**arguments)

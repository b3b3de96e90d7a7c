"""What a distribution says: figures by hand, words, and the verdict on the linear law."""

import numpy as np
import pytest

from metrolib.uncertain.distribution import Distribution


def distribution(**changes):
    """A distribution with a symmetric interval of 18 to 22 um and u = 1 um."""
    given = {
        "value": 0.020,
        "mean": 0.0203,
        "u": 0.001,
        "symmetric": (0.018, 0.022),
        "shortest": (0.0179, 0.0218),
        "coverage": 0.95,
        "draws": 10_000,
        "samples": np.linspace(0.0179, 0.0221, 10_000),
        "linear_u": 0.001,
        "digits": 1,
        "settled": True,
        "seed": 1,
    }
    return Distribution(**(given | changes))


def test_figures_by_hand():
    found = distribution()
    assert found.bias == pytest.approx(0.0003)
    assert found.linear_interval == pytest.approx((0.020 - 0.00195996, 0.020 + 0.00195996))
    assert found.tolerance == pytest.approx(0.0005)  # u = 1e-3, half of its only digit
    assert found.apart == pytest.approx((0.00004004, 0.00004004), abs=1e-8)
    # sqrt(10 000 x 0.025 x 0.975) = 15.6 places of 0.42 nm
    assert found.ends_u == pytest.approx((15.6 * 0.42e-6, 15.6 * 0.42e-6), rel=0.05)


@pytest.mark.parametrize(
    ("symmetric", "agrees", "clear"),
    [
        ((0.01804, 0.02196), True, True),
        ((0.01804 + 0.00049, 0.02196), True, False),  # within 0.5 um, but by less than 2 ends_u
        ((0.01804, 0.02196 + 0.00051), False, False),
        ((0.01804 - 0.0006, 0.02196), False, True),
    ],
)
def test_the_verdict_on_the_linear_law(symmetric, agrees, clear):
    found = distribution(symmetric=symmetric)
    assert (found.agrees, found.clear) == (agrees, clear)
    assert ("holds to 1 digit of u" in str(found)) is agrees
    assert ("more draws may say otherwise of the law" in str(found)) is not clear


def test_a_value_without_any_uncertainty_agrees():
    sure = distribution(
        mean=0.02, u=0.0, symmetric=(0.02, 0.02), samples=np.full(10_000, 0.02), linear_u=0.0
    )
    assert sure.agrees
    assert sure.clear


def test_words():
    assert distribution().in_words() == (
        "10000 draws: mean 20.3 µm (bias +0.3 µm), u = 1.0 µm; 95 % of them between 18.0 µm and "
        "22.0 µm (shortest: 17.9 µm and 21.8 µm); the linear law, 18.0 µm and 22.0 µm, holds to "
        "1 digit of u"
    )
    said = distribution(digits=2, settled=False).in_words("thou")
    assert (
        "mean 0.80 thou (bias +0.01 thou, which the measured value is likely to hold too)" in said
    )
    assert said.endswith(
        "the linear law, 0.71 thou and 0.86 thou, holds to 2 digits of u; too few draws to be "
        "sure of 2 digits"
    )


def test_a_slope_is_said_in_its_unit():
    said = distribution(quantity="slope", mean=-0.02, value=-0.02).in_words("thou")
    assert said.startswith("10000 draws: mean -0.0200 mm/m (bias +0.0000 mm/m), u = 0.0010 mm/m;")


def test_table():
    html = distribution()._repr_html_()
    assert html.startswith("<table><caption>Draws, coverage 95 %</caption>")
    assert "<tr><th>bias</th><td>+0.3 µm</td></tr>" in html
    assert "<tr><th>linear law</th><td>holds to 1 digit</td></tr>" in html
    assert html.count("<tr>") == html.count("</tr>") == 10


def test_repr_leaves_the_samples_out():
    assert "samples" not in repr(distribution())

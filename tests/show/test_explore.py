"""Explore: a picture that follows its numbers."""

import sys
from base64 import b64encode

import ipywidgets
import pytest

from metrolib import InputError, explore
from metrolib.show.explore import _panel

PNG = b"\x89PNG"


def bow(ax, length, film=3.0):
    """Draw a line as long as asked; refuse what no straightedge is."""
    if length > 900:
        raise InputError(f"length: longer than the way, got {length:g}; shorten it")
    if length > 800:
        raise ValueError("no such bar")
    ax.plot([0, length], [0, film])
    return f"{length:g} mm & {film:g} µm"


@pytest.fixture
def shown():
    return explore(bow, length=(300, 500, 1000), film=(1, 3, 5))


def test_it_starts_with_the_numbers_in_the_middle(shown):
    said, picture = shown.at()
    assert said == str(shown) == "500 mm & 3 µm"
    assert picture.startswith(PNG)


def test_another_number_gives_another_sentence_and_picture(shown):
    said, picture = shown.at(length=700)
    assert said == "700 mm & 3 µm" and picture != shown.at()[1]


def test_the_same_numbers_give_the_same_bytes(shown):
    assert shown.at()[1] == shown.at()[1]


def test_a_slider_moves_picture_and_sentence(shown):
    panel = _panel(shown, ipywidgets)
    length, film, words, image = panel.children
    before = image.value
    length.value = 700
    assert words.value == "700 mm &amp; 3 µm" and image.value != before
    film.value = 4
    assert words.value == "700 mm &amp; 4 µm"


def test_what_cannot_be_drawn_is_said_and_the_picture_stays(shown):
    panel = _panel(shown, ipywidgets)
    length, _, words, image = panel.children
    before = image.value
    length.value = 1000
    assert words.value == "length: longer than the way, got 1000; shorten it"
    length.value = 850
    assert "cannot be drawn" in words.value and "no such bar" in words.value
    assert image.value == before


def test_sliders_run_in_whole_steps_where_the_ends_allow_it(shown):
    length, film = _panel(shown, ipywidgets).children[:2]
    assert (length.min, length.value, length.max, length.step) == (300, 500, 1000, 7)
    assert film.step == pytest.approx(0.04)


def test_a_slider_tells_its_unit_and_as_many_decimals_as_its_steps_have():
    shown = explore(bow, length=(300, 500, 1000, "mm"), film=(1, 3, 5, "µm"))
    assert str(shown) == "500 mm & 3 µm"
    length, film = _panel(shown, ipywidgets).children[:2]
    assert (length.description, length.readout_format) == ("length [mm]", ".0f")
    assert (film.description, film.readout_format) == ("film [µm]", ".2f")
    bare = _panel(explore(bow, length=(300, 500, 1000)), ipywidgets).children[0]
    assert bare.description == "length"


def test_without_widgets_the_picture_stands_alone(shown, monkeypatch):
    monkeypatch.setitem(sys.modules, "ipywidgets", None)
    assert set(shown._repr_mimebundle_()) == {"text/plain", "image/png"}


def test_the_picture_that_is_stored_carries_its_sentence(shown):
    stored = shown._repr_mimebundle_()
    assert stored["text/plain"] == "500 mm & 3 µm", "not what the sliders are made of"
    assert "application/vnd.jupyter.widget-view+json" in stored
    assert stored["image/png"] != b64encode(shown.at()[1]).decode()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: explore(3, length=(1, 2, 3)), "draw: a function is needed, got 3"),
        (lambda: explore(bow), "numbers: none is given"),
        (lambda: explore(bow, length=(3, 2, 1)), "length: least, at the start, most must rise"),
        (lambda: explore(bow, length=(1, 2)), "length: rows of 3 numbers are needed"),
        (lambda: explore(bow, length=5), "length: rows of 3 numbers are needed"),
        (lambda: explore(bow, length=(1, 2, 3, 4)), "length: the fourth is the unit, a word"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value).startswith(words)

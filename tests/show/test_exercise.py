"""Exercises: an answer is compared with the right one."""

import pytest

from metrolib import InputError, check_answer


def test_an_answer_is_right_within_its_tolerance_only():
    assert check_answer(10.5, 10, within=0.5).value is True
    assert check_answer(10.51, 10, within=0.5).value is False
    assert check_answer(None, 10).value is None


def test_words_are_compared_without_capitals_and_blanks():
    assert check_answer(" Rear Flat ", "rear flat").value is True
    assert check_answer("front flat", "rear flat").value is False


@pytest.mark.parametrize(
    ("given", "right", "words"),
    [
        ("ten", 10, "given: a number is needed"),
        (10, "front", "given: words are asked for"),
    ],
)
def test_refusals(given, right, words):
    with pytest.raises(InputError) as caught:
        check_answer(given, right)
    assert str(caught.value).startswith(words)
